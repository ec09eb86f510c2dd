package dated

import (
	"testing"
	"time"
)

// Every day of two centuries, against the standard library.
func TestDatesAgreeWithTheCalendar(t *testing.T) {
	d := MustDate("1899-12-25")
	for day := time.Date(1899, 12, 25, 0, 0, 0, 0, time.UTC); day.Year() < 2101; day = day.AddDate(0, 0, 1) {
		y, m, n := d.Civil()
		if d.String() != day.Format(Layout) || d.Weekday() != day.Weekday() || y != day.Year() || m != day.Month() || n != day.Day() || d.Year() != y {
			t.Fatalf("%s is %s, %s", day.Format(Layout), d, d.Weekday())
		}
		if parsed, err := ParseDate(d.String()); err != nil || parsed != d || DateOf(day) != d || !d.Midnight(time.UTC).Equal(day) {
			t.Fatalf("%s comes back as %s, %v", d, parsed, err)
		}
		next := d.AddDays(1)
		if !d.Before(next) || !next.After(d) || d.Compare(next) != -1 || next.Compare(d) != 1 || d.Compare(d) != 0 || next.DaysSince(d) != 1 {
			t.Fatalf("%s and %s are out of order", d, next)
		}
		d = next
	}
}

// The civil date of an instant is that of the place it is told in.
func TestADateBelongsToAPlace(t *testing.T) {
	instant := time.Date(2026, 2, 16, 5, 0, 0, 0, time.UTC)
	if got := DateOf(instant.In(time.FixedZone("west", -8*3600))); got != MustDate("2026-02-15") {
		t.Errorf("in the west it is %s", got)
	}
}

func TestWhatIsNoDate(t *testing.T) {
	for _, s := range []string{"", "2026-2-16", "2026-02-30", "2026-13-01", "16.02.2026", "2026-02-16T00:00:00Z", "0000-01-01", "2026-02-1x", "２026-02-1"} {
		var d Date
		if err := d.UnmarshalText([]byte(s)); err == nil || !d.IsZero() {
			t.Errorf("%q was read as %s", s, d)
		}
	}
	if text, err := (Date{}).MarshalText(); err != nil || len(text) != 0 {
		t.Errorf("no date is written as %q, %v", text, err)
	}
}
