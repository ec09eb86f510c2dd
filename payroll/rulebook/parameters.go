package rulebook

import (
	"fmt"

	"palmero/payroll/dated"
)

// parameters are what a book itself says; what it does not say is nil.
type parameters struct {
	largeFrom     *dated.Series[int]
	minimumWage   sized[Wage]
	makeup        *dated.Series[Makeup]
	nonproductive *dated.Series[Treatment]
	rest          *dated.Series[Treatment]
	average       *dated.Series[Hours]
	flatBonus     *dated.Series[Hours]
	missedPeriods *dated.Series[MissedPeriods]
	shortMeal     *dated.Series[int]
	agriculture   sized[Limits]
	general       sized[Limits]
	seventhDay    *dated.Series[int]
	premiumFactor *dated.Series[PremiumFactor]
	reportingTime *dated.Series[ReportingTime]
	meals         *dated.Series[[]Meal]
	restPeriods   *dated.Series[RestPeriods]

	byCoverage map[string]map[string]string // sections by coverage and code
}

// sized is a parameter that may differ with the size of the employer: one series for all, or one each.
type sized[T any] struct {
	all, large, small *dated.Series[T]
}

// of returns the series for an employer, nil where the book has none.
func (s *sized[T]) of(large bool) *dated.Series[T] {
	switch {
	case s.all != nil:
		return s.all
	case large:
		return s.large
	}
	return s.small
}

func (s *sized[T]) given() bool { return s.all != nil || s.large != nil || s.small != nil }

// whole tells whether no size of employer is left out.
func (s *sized[T]) whole() bool {
	return (s.all == nil) == (s.large != nil) && (s.large == nil) == (s.small == nil) || !s.given()
}

// A reader takes one parameter of a book from its node.
type reader func(n dated.Node, book, name string, sources *dated.Sources)

// readers are all parameters that a book may have, by name.
func (p *parameters) readers() map[string]reader {
	return map[string]reader{
		"large_from_size":            into(&p.largeFrom, dated.NotComparable, readCount),
		"minimum_wage":               into(&p.minimumWage.all, dated.Higher, readWage),
		"minimum_wage.large":         into(&p.minimumWage.large, dated.Higher, readWage),
		"minimum_wage.small":         into(&p.minimumWage.small, dated.Higher, readWage),
		"makeup":                     into(&p.makeup, dated.NotComparable, readMakeup),
		"nonproductive":              into(&p.nonproductive, dated.NotComparable, readTreatment),
		"rest":                       into(&p.rest, dated.NotComparable, readTreatment),
		"average":                    into(&p.average, dated.NotComparable, readAverage),
		"flat_bonus":                 into(&p.flatBonus, dated.NotComparable, readFlatBonus),
		"missed_periods":             into(&p.missedPeriods, dated.NotComparable, readMissedPeriods),
		"short_meal":                 into(&p.shortMeal, dated.Higher, readCount),
		"overtime.agriculture":       into(&p.agriculture.all, dated.Lower, readLimits),
		"overtime.agriculture.large": into(&p.agriculture.large, dated.Lower, readLimits),
		"overtime.agriculture.small": into(&p.agriculture.small, dated.Lower, readLimits),
		"overtime.general":           into(&p.general.all, dated.Lower, readLimits),
		"overtime.general.large":     into(&p.general.large, dated.Lower, readLimits),
		"overtime.general.small":     into(&p.general.small, dated.Lower, readLimits),
		"seventh_day":                into(&p.seventhDay, dated.NotComparable, readHours),
		"premium_factor":             into(&p.premiumFactor, dated.NotComparable, readPremiumFactor),
		"reporting_time":             into(&p.reportingTime, dated.NotComparable, readReportingTime),
		"meals":                      into(&p.meals, dated.NotComparable, readMeals),
		"rest_periods":               into(&p.restPeriods, dated.NotComparable, readRestPeriods),
	}
}

// into makes a reader for a parameter of which the engine knows which way protects more.
func into[T any](series **dated.Series[T], way dated.Way, read func(dated.Node) T) reader {
	return func(n dated.Node, book, name string, sources *dated.Sources) {
		s := dated.ReadSeries(n, book, name, sources, read)
		if s.Way != way && s.Way != "" {
			n.Report("declares the way %s; what is more protective in this parameter is %s", s.Way, way)
		}
		*series = s
	}
}

func (b *Book) readParameters(n dated.Node, sources *dated.Sources) {
	readers := b.readers()
	for _, e := range n.Entries() {
		read, known := readers[e.Key]
		if !known {
			e.Report("is no parameter that the engine knows; correct the name")
			continue
		}
		read(e.Node, b.key, e.Key, sources)
	}
	if !b.minimumWage.whole() || !b.agriculture.whole() || !b.general.whole() {
		n.Report("gives a parameter for some sizes of employer only; give one for all, or one large and one small")
	}
	if b.largeFrom == nil && (b.minimumWage.large != nil || b.agriculture.large != nil || b.general.large != nil) {
		n.Report("tells large employers from small ones; say from which size in large_from_size")
	}
}

// complete checks that the book and its forebears say what every week needs.
func (b *Book) complete() error {
	needs := map[string]bool{
		"makeup":         says(b, func(b *Book) *dated.Series[Makeup] { return b.makeup }),
		"nonproductive":  says(b, func(b *Book) *dated.Series[Treatment] { return b.nonproductive }),
		"rest":           says(b, func(b *Book) *dated.Series[Treatment] { return b.rest }),
		"flat_bonus":     says(b, func(b *Book) *dated.Series[Hours] { return b.flatBonus }),
		"missed_periods": says(b, func(b *Book) *dated.Series[MissedPeriods] { return b.missedPeriods }),
		"premium_factor": says(b, func(b *Book) *dated.Series[PremiumFactor] { return b.premiumFactor }),
		"minimum_wage":   b.minimumWage.given(),
		"average":        !b.paysRestApart() || says(b, func(b *Book) *dated.Series[Hours] { return b.average }),
	}
	for _, name := range []string{"minimum_wage", "makeup", "nonproductive", "rest", "average", "flat_bonus", "missed_periods", "premium_factor"} {
		if !needs[name] {
			return fmt.Errorf("%s.yaml: lacks the parameter %s; add it", b.key, name)
		}
	}
	return nil
}

// says tells whether the book or a forebear has a parameter.
func says[T any](b *Book, pick func(*Book) *dated.Series[T]) bool {
	for at := b; at != nil; at = at.parent {
		if pick(at) != nil {
			return true
		}
	}
	return false
}

// paysRestApart tells whether the book itself ever pays rest at an average.
func (b *Book) paysRestApart() bool {
	if b.rest != nil {
		for i := range b.rest.Values {
			if b.rest.Values[i].Value == Separate {
				return true
			}
		}
	}
	if b.missedPeriods != nil {
		for i := range b.missedPeriods.Values {
			if b.missedPeriods.Values[i].Value.ExtraMinutes > 0 {
				return true
			}
		}
	}
	return false
}
