package models

import (
	"sync"
	"time"

	"palmero/payroll/dated"
)

// WorkdayBegin is the instant at which the workday named by a civil date begins where the clocks show loc: startMinutes after midnight on
// the clock, whatever the length of the night.
func WorkdayBegin(day dated.Date, startMinutes int, loc *time.Location) time.Time {
	y, m, d := day.Civil()
	return time.Date(y, m, d, startMinutes/60, startMinutes%60, 0, 0, loc)
}

// WorkdayOf names the workday that an instant falls in where the clocks show loc.
func WorkdayOf(at time.Time, startMinutes int, loc *time.Location) dated.Date {
	day := dated.DateOf(at.In(loc))
	if at.Before(WorkdayBegin(day, startMinutes, loc)) {
		return day.AddDays(-1)
	}
	return day
}

// WeekOf is the first day of the workweek that a day falls in.
func WeekOf(day dated.Date, weekStart time.Weekday) dated.Date {
	return day.AddDays(-(int(day.Weekday()-weekStart) + 7) % 7)
}

// zones keeps the time zones that were loaded: reading one takes longer than all that is done with it.
var zones sync.Map

// Zone returns a time zone of the IANA database by name.
func Zone(name string) (*time.Location, error) {
	if loc, ok := zones.Load(name); ok {
		return loc.(*time.Location), nil
	}
	loc, err := time.LoadLocation(name)
	if err == nil {
		zones.Store(name, loc)
	}
	return loc, err
}
