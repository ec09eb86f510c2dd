package dated

import (
	"fmt"
	"time"
)

// Date is a civil date: a day in the calendar of wherever it is used, with no clock and no zone.
// The zero Date is no date at all; IsZero tells.
type Date struct {
	days int32 // days since 0000-12-31, the day before the first that is read, so that the zero value is no date
}

// Layout is the ISO 8601 form in which dates are read and written.
const Layout = "2006-01-02"

// NewDate returns the civil date of a year, month and day; values out of range roll over as in [time.Date].
func NewDate(year int, month time.Month, day int) Date {
	return fromUnixDays(floorDiv(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix(), 86400))
}

// DateOf returns the civil date that the instant t falls on in its own location.
func DateOf(t time.Time) Date {
	return NewDate(t.Date())
}

func fromUnixDays(days int64) Date { return Date{int32(days + unixEpoch)} }

// unixEpoch is 1970-01-01 in days since 0000-12-31.
const unixEpoch = 719_163

func (d Date) unixDays() int64 { return int64(d.days) - unixEpoch }

// ParseDate reads an ISO 8601 date such as "2026-02-16".
func ParseDate(s string) (Date, error) {
	if len(s) != len(Layout) {
		return Date{}, fmt.Errorf("%q is not a date like 2026-02-16", s)
	}
	t, err := time.Parse(Layout, s)
	if err != nil || t.Year() < 1 {
		return Date{}, fmt.Errorf("%q is not a date like 2026-02-16", s)
	}
	return fromUnixDays(floorDiv(t.Unix(), 86400)), nil
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// MustDate is ParseDate for dates written in source; it panics on a bad one.
func MustDate(s string) Date {
	d, err := ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

// IsZero tells whether d is no date.
func (d Date) IsZero() bool { return d.days == 0 }

// Midnight returns the instant at which d begins in loc.
func (d Date) Midnight(loc *time.Location) time.Time {
	y, m, day := d.Civil()
	return time.Date(y, m, day, 0, 0, 0, 0, loc)
}

// Civil returns d's year, month and day.
func (d Date) Civil() (year int, month time.Month, day int) {
	return time.Unix(d.unixDays()*86400, 0).UTC().Date()
}

// Year returns the year in which d falls.
func (d Date) Year() int { y, _, _ := d.Civil(); return y }

// Weekday returns the day of the week of d.
func (d Date) Weekday() time.Weekday {
	return time.Weekday(((d.unixDays()+4)%7 + 7) % 7)
}

// AddDays returns the date n days after d (before it where n is negative).
func (d Date) AddDays(n int) Date { return Date{d.days + int32(n)} }

// DaysSince returns how many days d lies after from.
func (d Date) DaysSince(from Date) int { return int(d.days - from.days) }

// Before tells whether d lies before other.
func (d Date) Before(other Date) bool { return d.days < other.days }

// After tells whether d lies after other.
func (d Date) After(other Date) bool { return d.days > other.days }

// Compare orders dates: -1, 0 or 1.
func (d Date) Compare(other Date) int {
	switch {
	case d.days < other.days:
		return -1
	case d.days > other.days:
		return 1
	}
	return 0
}

// String writes d in ISO 8601; the zero Date is "".
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return time.Unix(d.unixDays()*86400, 0).UTC().Format(Layout)
}

// MarshalText writes d in ISO 8601.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads an ISO 8601 date.
func (d *Date) UnmarshalText(b []byte) error {
	parsed, err := ParseDate(string(b))
	if err != nil {
		return err
	}
	*d = parsed
	return nil
}
