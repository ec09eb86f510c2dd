package payroll

import (
	"slices"
	"time"

	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// DayOwed says what breaks a day of work has under the book, and what the records show of them.
type DayOwed struct {
	Date         dated.Date
	Worked       Minutes
	Rests        int     // rest periods owed
	RestLength   Minutes // of one
	RestRecorded Minutes // of rest periods together
	Meals        []MealOwed
	CoolDowns    int     // periods owed in high heat, beside those that fall together with a rest or meal
	CoolDown     Minutes // length of one
	Recovery     Minutes // of recovery periods recorded
	Decisions    []Decision
}

// MealOwed is a meal period that a day has.
type MealOwed struct {
	Which    Meal
	Length   Minutes
	StartBy  *time.Time // by which it is to begin; nil where the day's work has no clock times, or no hour is set
	Waivable bool       // whether the day is short enough to waive it
	Waived   bool       // whether it lawfully was
	Recorded *MealRecorded
}

// MealRecorded is a meal period of the records, in their order.
type MealRecorded struct {
	Minutes Minutes
	Start   *time.Time // nil where the entry has no clock times
	Short   bool
	Late    bool
}

// Decision is left to the clerk: the records speak against the employer until they are answered, either by what happened or by
// listing the period as not provided, which costs Premium.
type Decision struct {
	Period  Period
	Reasons []string // codes of the statement's notes, such as "meal_late"
	Premium Cents    // what the week's gross grows by
}

// Entitlements says for each day of a week what rest, meal and cool-down periods are owed and recorded, and proposes a premium where
// the two do not agree. Heat lists the days that reached the temperature from which the book's rule of high heat holds. It
// returns what is wrong with the week instead, where something is.
func Entitlements(books *rulebook.Library, w *Week, heat []dated.Date) ([]DayOwed, []Fault) {
	s, faults := Reckon(books, w)
	if len(faults) > 0 {
		return nil, faults
	}
	r, _ := open(books, w)
	owed := make([]DayOwed, len(r.days))
	for i := range r.days {
		d := &r.days[i]
		owed[i] = r.dayOwed(d, slices.Contains(heat, d.Date))
		owed[i].Decisions = decisions(books, w, s, d.Date)
	}
	return owed, nil
}

func (r *reckoning) dayOwed(d *workday, hot bool) DayOwed {
	o := DayOwed{Date: d.Date, Worked: d.worked}
	if rest := r.rules.RestPeriods; rest != nil {
		o.Rests, o.RestLength = rest.Due(int(d.worked)), Minutes(rest.Minutes)
	}
	for i := range d.stretches {
		switch s := &d.stretches[i]; s.entered {
		case Rest:
			o.RestRecorded += s.minutes
		case Recovery:
			o.Recovery += s.minutes
		}
	}
	if _, rule := r.book.CoolDowns(d.Date); hot && rule != nil {
		o.CoolDowns, o.CoolDown = rule.Extra(int(d.worked)), Minutes(rule.Minutes)
	}
	o.Meals = r.mealsOwed(d)
	return o
}

// mealsOwed are the meal periods of a day. A waived one is among them, so that it is seen.
func (r *reckoning) mealsOwed(d *workday) []MealOwed {
	var owed []MealOwed
	recorded := d.meals()
	for i, which := range []Meal{FirstMeal, SecondMeal}[:len(r.rules.Meals)] {
		rule := r.rules.Meals[i]
		if d.worked <= Minutes(rule.DueOver) {
			continue
		}
		m := MealOwed{
			Which: which, Length: Minutes(rule.Minutes), StartBy: d.instantAfter(Minutes(rule.StartBy)),
			Waivable: d.worked <= Minutes(rule.WaivableUpTo), Waived: !r.mealDue(d, i),
		}
		if i < len(recorded) {
			m.Recorded = d.mealRecorded(&recorded[i], rule)
		}
		owed = append(owed, m)
	}
	return owed
}

func (d *workday) mealRecorded(s *stretchOfTime, rule rulebook.Meal) *MealRecorded {
	m := &MealRecorded{Minutes: s.minutes, Short: s.minutes < Minutes(rule.Minutes)}
	if s.clocked {
		start := d.instant(s.start)
		m.Start, m.Late = &start, d.workedBefore(s.start) > Minutes(rule.StartBy)
	}
	return m
}

// instantAfter is the moment of a day at which so much was worked; nil where not all of its work has clock times, or less was done.
func (d *workday) instantAfter(worked Minutes) *time.Time {
	var work []stretchOfTime
	for i := range d.stretches {
		s := d.stretches[i]
		if s.kind == MealPeriod {
			continue
		}
		if !s.clocked {
			return nil
		}
		work = append(work, s)
	}
	slices.SortFunc(work, func(a, b stretchOfTime) int { return int(a.start - b.start) })
	for i := range work {
		if worked <= work[i].minutes {
			at := d.instant(work[i].start + int64(worked))
			return &at
		}
		worked -= work[i].minutes
	}
	return nil
}

// instant is a minute since 1970 as a time, in the zone in which the day's entries were written.
func (d *workday) instant(minute int64) time.Time {
	at := time.Unix(minute*60, 0).UTC()
	for i := range d.Time {
		if d.Time[i].Start != nil {
			return at.In(d.Time[i].Start.Location())
		}
	}
	return at
}

// decisions are what the notes of a day leave to decide, meals before rests. A period that is listed as not provided is decided.
func decisions(books *rulebook.Library, w *Week, s *Statement, date dated.Date) []Decision {
	reasons := map[Period][]string{}
	for _, n := range s.Notes {
		if n.Date != date {
			continue
		}
		switch n.Code {
		case "meal_due", "second_meal_due", "meal_short", "meal_late":
			reasons[MissedMeal] = append(reasons[MissedMeal], n.Code)
		case "rest_short":
			reasons[MissedRest] = append(reasons[MissedRest], n.Code)
		}
	}
	var all []Decision
	for _, period := range []Period{MissedMeal, MissedRest} {
		if len(reasons[period]) > 0 && !notProvided(w, date, period) {
			all = append(all, Decision{period, reasons[period], premiumFor(books, w, s, date, period)})
		}
	}
	return all
}

func notProvided(w *Week, date dated.Date, period Period) bool {
	return slices.ContainsFunc(w.Days, func(d Day) bool { return d.Date == date && slices.Contains(d.PeriodsNotProvided, period) })
}

// premiumFor is what a week's gross grows by where a period of a day is listed as not provided.
func premiumFor(books *rulebook.Library, w *Week, s *Statement, date dated.Date, period Period) Cents {
	with := *w
	with.Days = slices.Clone(w.Days)
	for i := range with.Days {
		if d := &with.Days[i]; d.Date == date {
			d.PeriodsNotProvided = append(slices.Clone(d.PeriodsNotProvided), period)
		}
	}
	after, faults := Reckon(books, &with)
	if len(faults) > 0 {
		return 0
	}
	return after.Totals.Gross - s.Totals.Gross
}
