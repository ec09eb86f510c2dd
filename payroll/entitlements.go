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
	// CoolDownsIfHot are the periods that the day has if it was as hot as that.
	CoolDownsIfHot int
	Recovery       Minutes // of recovery periods recorded
	Decisions      []Decision
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

// Decision is left to the clerk: the records of a day speak against the employer until they are answered, either by what happened or by listing the period
// as not provided Missed times, which costs Premium. What costs one premium together is one decision: the meal periods of a day, and its rest and recovery
// periods where the book pays an hour for a day on which any was missed.
type Decision struct {
	Date        dated.Date `json:"date"`
	Period      Period     `json:"period"` // recovery where no rest period is amiss
	Missed      int        `json:"missed"`
	Reasons     []Reason   `json:"reasons"`                // why, the most telling last
	Premium     Cents      `json:"premium"`                // what the week's gross grows by, the other decisions left aside
	Basis       Basis      `json:"basis"`                  // the arithmetic of the premium; without a key where the book pays none
	Authority   string     `json:"authority"`              // of the premium
	Waivable    Meal       `json:"waivable,omitempty"`     // the meal period that the day is short enough to waive by mutual consent; empty where there is none
	RestDue     Minutes    `json:"rest_due,omitempty"`     // rest periods that are owed and not recorded
	RecoveryDue Minutes    `json:"recovery_due,omitempty"` // and recovery periods
}

// Reason is one thing that the records of a day show: a code such as "meal_late", and its figures.
type Reason struct {
	Code  string `json:"code"`
	Terms Terms  `json:"terms"`
}

// Entitlements says for each day of a week what rest, meal and cool-down periods are owed and recorded, and proposes a premium where
// the two do not agree. Heat lists the days that reached the temperature from which the book's rule of high heat holds. It
// returns what is wrong with the week instead, where something is.
func Entitlements(books *rulebook.Library, w *Week, heat []dated.Date) ([]DayOwed, []Fault) {
	s, faults := Reckon(books, w)
	if len(faults) > 0 {
		return nil, faults
	}
	owed, prices := EntitlementsOf(books, w, s, heat), NewPrices(books, w, s)
	for i := range owed {
		for j := range owed[i].Decisions {
			prices.Put(&owed[i].Decisions[j])
		}
	}
	return owed, nil
}

// EntitlementsOf says the same of a week of which the statement is at hand, but for the premiums: they depend on what else is decided.
func EntitlementsOf(books *rulebook.Library, w *Week, s *Statement, heat []dated.Date) []DayOwed {
	r, _ := open(books, w)
	owed := make([]DayOwed, len(r.days))
	for i := range r.days {
		d := &r.days[i]
		owed[i] = r.dayOwed(d, slices.Contains(heat, d.Date))
		owed[i].Decisions = r.decisions(s, d, &owed[i])
	}
	return owed
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
	if _, rule := r.book.CoolDowns(d.Date); rule != nil {
		o.CoolDown, o.CoolDownsIfHot = Minutes(rule.Minutes), rule.Extra(int(d.worked))
		if hot {
			o.CoolDowns = o.CoolDownsIfHot
		}
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
