package rulebook

import "palmero/payroll/dated"

// Rules are what a chain of books says for a workweek, as far as it does not change from day to day. Nil: no such rule.
type Rules struct {
	Makeup        Makeup
	Nonproductive Treatment
	Rest          Treatment
	Average       Hours // "" where nothing is paid at an average
	FlatBonus     Hours
	MissedPeriods MissedPeriods
	ShortMeal     int  // minutes up to which a meal period counts as work
	SeventhDay    *int // first minutes of a seventh day, which are overtime
	PremiumFactor PremiumFactor
	ReportingTime *ReportingTime
	Meals         []Meal
	RestPeriods   *RestPeriods
}

// Rules returns what holds for the workweek that begins on start, and an error for each parameter that a week needs
// and that has no value on that day.
func (b *Book) Rules(start dated.Date) (Rules, []*dated.NoValueError) {
	var missing []*dated.NoValueError
	r := Rules{
		Makeup:        must(b, start, &missing, "makeup", func(b *Book) *dated.Series[Makeup] { return b.makeup }),
		Nonproductive: must(b, start, &missing, "nonproductive", func(b *Book) *dated.Series[Treatment] { return b.nonproductive }),
		Rest:          must(b, start, &missing, "rest", func(b *Book) *dated.Series[Treatment] { return b.rest }),
		FlatBonus:     must(b, start, &missing, "flat_bonus", func(b *Book) *dated.Series[Hours] { return b.flatBonus }),
		MissedPeriods: must(b, start, &missing, "missed_periods", func(b *Book) *dated.Series[MissedPeriods] { return b.missedPeriods }),
		PremiumFactor: must(b, start, &missing, "premium_factor", func(b *Book) *dated.Series[PremiumFactor] { return b.premiumFactor }),
		SeventhDay:    nearest(b, start, func(b *Book) *dated.Series[int] { return b.seventhDay }),
		ReportingTime: nearest(b, start, func(b *Book) *dated.Series[ReportingTime] { return b.reportingTime }),
		RestPeriods:   nearest(b, start, func(b *Book) *dated.Series[RestPeriods] { return b.restPeriods }),
		ShortMeal:     b.shortMealOn(start),
	}
	if meals := nearest(b, start, func(b *Book) *dated.Series[[]Meal] { return b.meals }); meals != nil {
		r.Meals = *meals
	}
	if r.Rest == Separate || r.MissedPeriods.ExtraMinutes > 0 {
		r.Average = must(b, start, &missing, "average", func(b *Book) *dated.Series[Hours] { return b.average })
	}
	return r, missing
}

// nearest returns the value of the first book of the chain that has one on the day, nil where none has.
func nearest[T any](b *Book, day dated.Date, pick func(*Book) *dated.Series[T]) *T {
	for at := b; at != nil; at = at.parent {
		if v := on(pick(at), day); v != nil {
			return v
		}
	}
	return nil
}

func must[T any](b *Book, day dated.Date, missing *[]*dated.NoValueError, name string, pick func(*Book) *dated.Series[T]) (value T) {
	if v := nearest(b, day, pick); v != nil {
		return *v
	}
	*missing = append(*missing, &dated.NoValueError{Book: b.Jurisdiction().key, Parameter: name, Date: day})
	return value
}

// on returns the value of a series on a day, nil where the book has no such series or the series no value.
func on[T any](s *dated.Series[T], day dated.Date) *T {
	if s == nil {
		return nil
	}
	v, err := s.On(day)
	if err != nil {
		return nil
	}
	return &v.Value
}

func (b *Book) shortMealOn(day dated.Date) int {
	longest := 0
	for at := b; at != nil; at = at.parent {
		if v := on(at.shortMeal, day); v != nil {
			longest = max(longest, *v)
		}
	}
	return longest
}

// large tells whether an employer counts as large in this book; one of unknown size (nil) does.
func (b *Book) large(day dated.Date, size *int) bool {
	if size == nil {
		return true
	}
	from := on(b.largeFrom, day)
	if from == nil && b.IsLocal() {
		return b.parent.large(day, size)
	}
	return from == nil || *size >= *from
}

// MinimumWage returns the highest minimum wage of the chain on a day for an employer of a size (nil: large). The book
// itself must have one, or, where it is a local book, the jurisdiction that it adds to; a forebear's does not stand in, and
// the error is a [*dated.NoValueError].
func (b *Book) MinimumWage(day dated.Date, size *int) (Wage, error) {
	var wage Wage
	if v := on(b.minimumWage.of(b.large(day, size)), day); v != nil {
		wage = *v
	} else if b.IsLocal() {
		return b.parent.MinimumWage(day, size)
	} else {
		_, err := b.minimumWage.of(b.large(day, size)).On(day)
		return 0, err
	}
	for at := b.parent; at != nil; at = at.parent {
		if v := on(at.minimumWage.of(at.large(day, size)), day); v != nil {
			wage = max(wage, *v)
		}
	}
	return wage, nil
}

// Covers tells whether the book itself, or the jurisdiction that a local book adds to, has overtime rules for a coverage,
// "agriculture" or "general". Farm work without any has no overtime.
func (b *Book) Covers(coverage string) bool {
	return coverage == "agriculture" || b.limitsFor(coverage).given() || b.IsLocal() && b.parent.Covers(coverage)
}

func (b *Book) limitsFor(coverage string) *sized[Limits] {
	if coverage == "general" {
		return &b.general
	}
	return &b.agriculture
}

// Limits returns the strictest overtime limits of the chain on a day under a coverage, for an employer of a size (nil: large).
func (b *Book) Limits(day dated.Date, coverage string, size *int) Limits {
	limits := Limits{NoLimit, NoLimit, NoLimit}
	for at := b; at != nil; at = at.parent {
		if v := on(at.limitsFor(coverage).of(at.large(day, size)), day); v != nil {
			limits = limits.stricter(*v)
		}
	}
	return limits
}
