package payroll_test

import (
	"encoding/json"
	"fmt"

	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// A day of pollination in California: the pieces, a meeting, and a rest period paid at the week's average.
func ExampleReckon() {
	books, err := rulebook.Load()
	if err != nil {
		panic(err)
	}
	var w payroll.Week
	err = json.Unmarshal([]byte(`{"rulebook": "us-ca", "week_start": "2026-02-15", "days": [{"date": "2026-02-16",
		"time": [{"kind": "piece", "minutes": 210}, {"kind": "nonproductive", "minutes": 15}, {"kind": "rest", "minutes": 10}],
		"tallies": [{"operation": "pollination", "unit": "bunch", "pieces": "80", "rate": "1.15"}]}]}`), &w)
	if err != nil {
		panic(err)
	}
	s, faults := payroll.Reckon(books, &w)
	for _, f := range faults {
		fmt.Println(f.Pointer, f.Key)
	}
	for _, l := range s.Lines {
		fmt.Println(l.Code, l.Quantity, l.Unit, l.Rate, l.Amount)
	}
	fmt.Println("gross", s.Totals.Gross)
	// Output:
	// piece 80 bunch 1.1500 92.00
	// nonproductive 15 minute 16.9000 4.23
	// rest_recovery 10 minute 25.6613 4.28
	// gross 100.51
}
