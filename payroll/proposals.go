package payroll

import (
	"maps"
	"slices"
	"time"

	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Prices puts their premiums to the decisions of a week.
type Prices struct {
	books     *rulebook.Library
	week      *Week
	statement *Statement
	hourly    map[Period]*Decision // by period: what a day costs, where the book pays an hour whatever the day
}

// NewPrices prices decisions in a week of which the statement is at hand. It may list their periods or not.
func NewPrices(books *rulebook.Library, w *Week, s *Statement) *Prices {
	return &Prices{books, w, s, map[Period]*Decision{}}
}

// decisions are those that a day leaves, meals before rests. A period that is listed as not provided is decided.
func (r *reckoning) decisions(s *Statement, d *workday, o *DayOwed) []Decision {
	var all []Decision
	if reasons := r.mealReasons(s, d, o); len(reasons) > 0 && !slices.Contains(d.PeriodsNotProvided, MissedMeal) {
		all = append(all, Decision{Date: d.Date, Period: MissedMeal, Missed: 1, Reasons: reasons, Waivable: o.waivable()})
	}
	rest, recovery := s.noted(d.Date, "rest_short"), o.recoveryShort()
	hour := r.rules.MissedPeriods.HourPerDay > 0
	if slices.Contains(d.PeriodsNotProvided, MissedRecovery) {
		recovery = nil
		if hour {
			rest = nil // the day's one premium is paid
		}
	} else if hour && slices.Contains(d.PeriodsNotProvided, MissedRest) {
		recovery = nil
	}
	if len(rest)+len(recovery) == 0 {
		return all
	}
	decision := Decision{Date: d.Date, Period: MissedRecovery, Missed: 1, Reasons: slices.Concat(recovery, rest)}
	if len(recovery) > 0 {
		decision.RecoveryDue = Minutes(o.CoolDowns)*o.CoolDown - o.Recovery
	}
	if len(rest) > 0 {
		decision.Period, decision.RestDue = MissedRest, Minutes(o.Rests)*o.RestLength-o.RestRecorded
		if !hour {
			decision.Missed = int((decision.RestDue + o.RestLength - 1) / o.RestLength)
		}
	}
	return append(all, decision)
}

// noted are the statement's notes of a day with a code.
func (s *Statement) noted(date dated.Date, codes ...string) (reasons []Reason) {
	for _, n := range s.Notes {
		if n.Date == date && slices.Contains(codes, n.Code) {
			reasons = append(reasons, Reason{n.Code, n.Terms})
		}
	}
	return reasons
}

// mealReasons are what the notes say of a day's meals, with the hours that a late one began and was to begin at. One that was lawfully waived is not late.
func (r *reckoning) mealReasons(s *Statement, d *workday, o *DayOwed) []Reason {
	reasons := s.noted(d.Date, "meal_due", "second_meal_due", "meal_short")
	for i := range o.Meals {
		m := &o.Meals[i]
		if m.Waived || m.Recorded == nil || !m.Recorded.Late || len(s.noted(d.Date, "meal_late")) == 0 {
			continue
		}
		limit := Minutes(r.rules.Meals[i].StartBy)
		terms := Terms{"start": m.Recorded.Start.Format(clock), "limit": limit, "before": d.workedBefore(m.Recorded.Start.Unix() / 60)}
		if by := d.instantAfter(limit); by != nil {
			terms["latest"] = by.Format(clock)
			reasons = append(reasons, Reason{"meal_late", terms})
		} else {
			reasons = append(reasons, Reason{"meal_late_unclocked", terms})
		}
	}
	return reasons
}

// clock is how an hour of the day is written.
const clock = "15:04"

// waivable is the meal period that is owed last, where the day is short enough to waive it.
func (o *DayOwed) waivable() Meal {
	for _, m := range slices.Backward(o.Meals) {
		if m.Waived {
			break
		}
		if m.Waivable {
			return m.Which
		}
	}
	return ""
}

// recoveryShort is the reason that too few cool-down periods are recorded on a hot day.
func (o *DayOwed) recoveryShort() []Reason {
	due := Minutes(o.CoolDowns) * o.CoolDown
	if o.Recovery >= due {
		return nil
	}
	return []Reason{{"recovery_short", Terms{"recorded": o.Recovery, "due": due, "worked": o.Worked}}}
}

// Put sets a decision's premium: the difference that it makes to the week's gross whether the period is listed as not provided. An hour a day costs the same on
// every day.
func (p *Prices) Put(d *Decision) {
	price := p.hourly[d.Period]
	if price == nil {
		var hour bool
		if price, hour = p.price(*d); hour {
			p.hourly[d.Period] = price
		}
	}
	d.Premium, d.Basis, d.Authority = price.Premium, price.Basis, price.Authority
	if _, ok := d.Basis.Terms["dates"]; ok {
		d.Basis.Terms = maps.Clone(d.Basis.Terms)
		d.Basis.Terms["dates"], d.Basis.Terms["count"] = []dated.Date{d.Date}, 1
	}
}

// price reckons the week once more, with the period where it is not listed and without it where it is, and tells whether the book pays it by the day.
func (p *Prices) price(d Decision) (priced *Decision, hour bool) {
	other := *p.week
	other.Days = slices.Clone(p.week.Days)
	listed := false
	for i := range other.Days {
		day := &other.Days[i]
		if day.Date != d.Date {
			continue
		}
		if listed = slices.Contains(day.PeriodsNotProvided, d.Period); listed {
			day.PeriodsNotProvided = slices.DeleteFunc(slices.Clone(day.PeriodsNotProvided), func(period Period) bool { return period == d.Period })
		} else {
			day.Miss(d)
		}
	}
	priced = &Decision{}
	second, faults := Reckon(p.books, &other)
	if len(faults) > 0 {
		return priced, false
	}
	without, with := p.statement, second
	if listed {
		without, with = second, p.statement
	}
	priced.Premium = with.Totals.Gross - without.Totals.Gross
	code := RestPremiumLine
	if d.Period == MissedMeal {
		code = MealPremiumLine
	}
	for _, l := range with.Lines {
		if l.Code == code {
			priced.Basis, priced.Authority, hour = l.Basis, l.Authority, l.Unit == "day"
		}
	}
	return priced, hour
}

// Miss lists the period of a decision as not provided. The day's list is made anew, so that days that share it stay as they are.
func (d *Day) Miss(decision Decision) {
	listed := slices.Clone(d.PeriodsNotProvided)
	for range decision.Missed {
		listed = append(listed, decision.Period)
	}
	slices.Sort(listed)
	d.PeriodsNotProvided = listed
}

// Rested turns so many minutes that were recorded as work into rest or recovery that was taken within it. They come off the end of the day's longest entries, so that
// the hours of all else stay; the list of entries is made anew. It returns the minutes for which there was no work to take them from.
func (d *Day) Rested(minutes Minutes, kind TimeKind) (left Minutes) {
	d.Time = slices.Clone(d.Time)
	for left = minutes; left > 0; {
		i := d.longestWork()
		if i < 0 {
			break
		}
		t := &d.Time[i]
		take := min(left, t.length())
		left -= take
		rest := Time{Kind: kind, Minutes: &take}
		if t.Minutes != nil {
			kept := *t.Minutes - take
			t.Minutes = &kept
		} else {
			from := t.End.Add(-time.Duration(take) * time.Minute)
			rest = Time{Kind: kind, Start: &from, End: t.End}
			t.End = &from
		}
		if t.length() == 0 {
			*t = rest
		} else {
			d.Time = slices.Insert(d.Time, i+1, rest)
		}
	}
	return left
}

// longestWork is the longest entry of work of a day; -1 where there is none.
func (d *Day) longestWork() int {
	longest := -1
	for i := range d.Time {
		t := &d.Time[i]
		if t.Kind != Piece && t.Kind != Hourly && t.Kind != Nonproductive || t.length() == 0 {
			continue
		}
		if longest < 0 || t.length() > d.Time[longest].length() {
			longest = i
		}
	}
	return longest
}

func (t *Time) length() Minutes {
	if t.Minutes != nil {
		return *t.Minutes
	}
	return Minutes(wholeMinute(*t.End) - wholeMinute(*t.Start))
}
