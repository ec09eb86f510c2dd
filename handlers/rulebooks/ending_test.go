package rulebooks

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/handlers/text"
	"palmero/payroll/dated"
)

// What was announced for 2027, invented.
const announced = `
book: us-az-2027
title: Announced for 2027
parent: us-az
local: announcement
sources:
  source: {title: Invented, section: "1", link: "https://law.example/az"}
parameters:
  minimum_wage:
    about: What is set
    way: higher
    values: [{from: 2027-01-01, through: 2027-12-31, value: "15.95", source: source, read: 2026-12-01, standing: read}]
authorities: {}
`

// A value that ends with nothing after it is told in the reader's words, from the day on which its end comes near until something is announced.
func TestEnding(t *testing.T) {
	law := books(t)
	more, err := law.With(map[string][]byte{"us-az-2027.yaml": []byte(announced)})
	if err != nil {
		t.Fatal(err)
	}
	last := dated.MustDate("2026-12-31")
	for _, c := range []struct {
		name, key, on, through, language string
		want                             []End
	}{
		{"the year is long", "us-az", "2026-06-01", "2026-12-31", text.English, nil},
		{"it ends", "us-az", "2026-12-01", "2027-01-01", text.English, []End{{"Minimum wage", "Arizona", last, "minimum_wage", "us-az"}}},
		{"in Spanish", "us-az", "2026-12-01", "2027-01-01", text.Spanish, []End{{"Salario mínimo", "Arizona", last, "minimum_wage", "us-az"}}},
		{"it has ended already", "us-az", "2027-01-01", "2027-02-01", text.English, nil},
		{"nothing is announced yearly", "us", "2026-12-01", "2027-01-30", text.English, nil},
		{"no such book", "us-xx", "2026-12-01", "2027-01-30", text.English, nil},
	} {
		if diff := cmp.Diff(c.want, Ending(law, c.key, dated.MustDate(c.on), dated.MustDate(c.through), text.For(c.language)), cmp.Comparer(sameDay)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
	if ends := Ending(more, "us-az", dated.MustDate("2026-12-01"), dated.MustDate("2027-01-30"), text.For(text.English)); len(ends) != 0 {
		t.Errorf("what was announced is not seen: %v", ends)
	}
	want := []End{{"Minimum wage", "Announced for 2027 (announced value)", dated.MustDate("2027-12-31"), "minimum_wage", "us-az-2027"}}
	if diff := cmp.Diff(want, Ending(more, "us-az", dated.MustDate("2027-12-01"), dated.MustDate("2028-01-30"), text.For(text.English)), cmp.Comparer(sameDay)); diff != "" {
		t.Errorf("the end of what was announced (-want +got):\n%s", diff)
	}
}

func sameDay(a, b dated.Date) bool { return a == b }
