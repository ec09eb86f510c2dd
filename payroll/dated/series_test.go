package dated

import (
	"errors"
	"testing"
)

// Every way to cut nine days into up to three values, with open ends or without, asked for every day around them: the
// answer is what a list of days would say.
func TestLookupsExhaustively(t *testing.T) {
	start := MustDate("2026-02-15")
	day := func(n int) Date { return start.AddDays(n) }
	for first := range 3 {
		for second := first + 1; second < 6; second++ {
			for last := second; last < 9; last++ {
				for ends := range 4 {
					s := Series[int]{Book: "b", Name: "p", Values: []Value[int]{
						{From: day(first), Through: day(second - 1), Value: 1},
						{From: day(second), Through: day(last), Value: 2},
					}}
					if ends&1 != 0 {
						s.Values[0].From = Date{}
					}
					if ends&2 != 0 {
						s.Values[1].Through = Date{}
					}
					for n := -2; n < 11; n++ {
						want := 0
						switch {
						case n < first && ends&1 == 0, n > last && ends&2 == 0:
						case n < second:
							want = 1
						default:
							want = 2
						}
						checkLookup(t, &s, day(n), want)
					}
				}
			}
		}
	}
}

func checkLookup(t *testing.T, s *Series[int], d Date, want int) {
	t.Helper()
	v, err := s.On(d)
	var missing *NoValueError
	switch {
	case want == 0 && (!errors.As(err, &missing) || missing.Book != "b" || missing.Parameter != "p" || missing.Date != d):
		t.Fatalf("on %s of %v: %v, %v, want no value", d, s.Values, v, err)
	case want != 0 && (err != nil || v.Value != want):
		t.Fatalf("on %s of %v: %v, %v, want %d", d, s.Values, v, err, want)
	}
}

func TestNoValueErrorNamesWhatIsMissing(t *testing.T) {
	err := &NoValueError{Book: "garden", Parameter: "toll", Date: MustDate("2027-01-01")}
	if got, want := err.Error(), "book garden has no value of toll for 2027-01-01"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
