package payrun

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
	"palmero/safety/quantity"
)

// heat is the temperature that was measured in the gardens, in °F by the hour.
type heat map[place]quantity.Number

// place is a garden at an hour, or (beginning at its midnight UTC) on a day.
type place struct {
	garden uuid.UUID
	from   int64 // seconds since 1970
}

// findHeat reads the heat of a week in all gardens, or where only a few workers are named, in those where they were.
func (g *ground) findHeat(b *models.Batch, sel selection) {
	g.heat, g.unmeasured = heat{}, map[place]bool{}
	gardens := models.Everything
	if sel.hands != nil {
		gardens = models.Where(`garden_id IN (SELECT t.garden_id FROM time_entries t WHERE t.employer_id = ? AND t.worker_id IN ? AND t.workday BETWEEN ? AND ?)`,
			b.Employer, sel.hands, sel.before(), sel.last())
	}
	var readings []models.HeatReading
	// A day on either side holds every zone, and workdays that begin late.
	models.FindReadings(b, gardens, sel.before().Midnight(time.UTC), sel.last().AddDays(3).Midnight(time.UTC), &readings)
	b.Then(func() error {
		zones, err := g.zones()
		hours := models.HeatHours(readings, zones)
		for i := range hours {
			g.heat[place{hours[i].GardenID, hours[i].Hour.Unix()}] = hours[i].Temperature.Number
		}
		return err
	})
}

// zones are the time zones of the gardens.
func (g *ground) zones() (map[uuid.UUID]*time.Location, error) {
	zones := make(map[uuid.UUID]*time.Location, len(g.gardens))
	for id, garden := range g.gardens {
		zone, err := models.Zone(garden.Content.TimeZone)
		if err != nil {
			return nil, fmt.Errorf("garden %s: %w", id, err)
		}
		zones[id] = zone
	}
	return zones, nil
}

// hotDays are the days on which the worker was at work where and when it was hot enough for cool-down periods, among those long enough to have some of their
// own. A day of which not every hour at work was measured, and none found as hot as that, is noted as unknown.
func (w *workerWeek) hotDays(r *records, book *rulebook.Book) (hot []dated.Date) {
	for i := range w.week.Days {
		d := &w.week.Days[i]
		_, rule := book.CoolDowns(d.Date)
		if rule == nil || rule.Extra(int(atWork(d))) == 0 {
			continue
		}
		reached, known := false, true
		limit := quantity.Of(int64(rule.Fahrenheit))
		for _, at := range w.hours[d.Date] {
			t, measured := r.heat[at]
			known = known && measured
			reached = reached || measured && !t.Under(limit)
		}
		switch {
		case reached:
			hot = append(hot, d.Date)
		case !known || len(w.hours[d.Date]) == 0:
			for _, garden := range w.places[d.Date] {
				r.unmeasured[place{garden, d.Date.Midnight(time.UTC).Unix()}] = true
			}
		}
	}
	return hot
}

// spend notes where the worker was, and in which hours where the clock times are known.
func (w *workerWeek) spend(garden uuid.UUID, day dated.Date, t *payroll.Time) {
	if !slices.Contains(w.places[day], garden) {
		w.places[day] = append(w.places[day], garden)
	}
	if t.Start == nil {
		return
	}
	for hour := models.HourOf(*t.Start, t.Start.Location()); hour.Before(*t.End); hour = hour.Add(time.Hour) {
		if at := (place{garden, hour.Unix()}); !slices.Contains(w.hours[day], at) {
			w.hours[day] = append(w.hours[day], at)
		}
	}
}

// atWork are the minutes of a day's entries apart from its meal periods.
func atWork(d *payroll.Day) (sum payroll.Minutes) {
	for i := range d.Time {
		switch t := &d.Time[i]; {
		case t.Kind == payroll.MealPeriod:
		case t.Minutes != nil:
			sum += *t.Minutes
		default:
			sum += payroll.Minutes(t.End.Sub(*t.Start).Minutes())
		}
	}
	return sum
}

// noteUnmeasured tells of days that may have had cool-down periods of their own, had it been hot, and of whose heat nothing is known.
func (res *result) noteUnmeasured(g *ground) {
	days := map[uuid.UUID][]dated.Date{}
	for p := range g.unmeasured {
		if g.gardens[p.garden] == nil {
			continue // founded while the week was read; the next draft tells
		}
		days[p.garden] = append(days[p.garden], dated.DateOf(time.Unix(p.from, 0).UTC()))
	}
	var found []Problem
	for garden, dates := range days {
		slices.SortFunc(dates, dated.Date.Compare)
		found = append(found, Problem{Kind: Note, Code: "pay_problem.heat_unknown", Subject: garden.String(),
			Terms: payroll.Terms{"garden": g.gardens[garden].Content.Name, "dates": dates}})
	}
	slices.SortFunc(found, func(a, b Problem) int { return strings.Compare(a.Subject, b.Subject) })
	res.problems = append(res.problems, found...)
}
