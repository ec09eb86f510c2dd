package payroll

import (
	"testing"
	"time"
)

// The largest week that is read at all, made to be as costly as it can: every lot of another size, every rate below the floor and
// another. It must be answered in a moment.
func TestAHostileWeekIsCheap(t *testing.T) {
	w := week(t, `{}`)
	for n := range 7 {
		d := Day{Date: w.WeekStart.AddDays(n)}
		for i := range mostEntries {
			k := n*mostEntries + i
			lot, own, none, rate := longestLot-Minutes(k), Minutes(k), Minutes(i%2), Rate(k)
			d.Time = append(d.Time, Time{Kind: Hourly, Minutes: &none, Rate: &rate})
			d.Tallies = append(d.Tallies, Tally{Operation: "tying", Unit: "bunch", Pieces: 1_000, Rate: 10_000, Part: &Part{Minutes: &own, LotMinutes: &lot}})
		}
		w.Days = append(w.Days, d)
	}
	start := time.Now()
	_, faults := Reckon(books(), w)
	if took := time.Since(start); took > 5*time.Second {
		t.Errorf("it took %s", took)
	} else {
		t.Log(took)
	}
	if len(faults) != 1 || faults[0].Key != "fault.out_of_range" {
		t.Errorf("%d faults", len(faults))
	}
}
