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
	recovery      *dated.Series[int]
	highHeat      *dated.Series[HighHeat]

	withBenefits *dated.Series[Wage]
	dailyCutOff  *dated.Series[DailyCutOff]

	discharge, quit  *dated.Series[FinalPayClock]
	lateDays         *dated.Series[int]
	retention        map[RecordKind]*dated.Series[Keep]
	farmPaydays      *dated.Series[[]PaydayWindow]
	generalPaydays   *dated.Series[[]PaydayWindow]
	weeklyPaydays    *dated.Series[int]
	contractorPay    *dated.Series[ContractorPay]
	leastOften       *dated.Series[Rhythm]
	leastOftenH2A    *dated.Series[Rhythm]
	statementItems   *dated.Series[[]Item]
	deductions       *dated.Series[[]Item]
	noDeductions     *dated.Series[[]Item]
	deductionFloor   *dated.Series[DeductionFloor]
	sickAccrual      *dated.Series[int]
	sickWaiting      *dated.Series[int]
	sickUseCap       *dated.Series[[]SickCap]
	sickBankCap      *dated.Series[[]SickCap]
	sickReinstatedIn *dated.Series[int]
	sickRateDays     *dated.Series[int]
	guaranteedShare  *dated.Series[int]

	byCoverage map[string]map[string]authority // by coverage and code
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

// kind is a parameter that a book may have.
type kind struct {
	name string
	way  dated.Way
	read func(b *Book, n dated.Node, sources *dated.Sources)
	// guard finds where a local book protects less than its forebears, and is nil for the sizes of a parameter of which
	// the entry for all sizes sees to it.
	guard func(local *Book) []*Loosening
}

// kinds are all parameters that a book may have.
var kinds = append([]kind{
	one("large_from_size", dated.NotComparable, readCount, same, func(p *parameters) **dated.Series[int] { return &p.largeFrom }),
	bySize("minimum_wage", dated.Higher, readWage, func(local, held Wage) bool { return local >= held }, func(p *parameters) *sized[Wage] { return &p.minimumWage }),
	ofSize("minimum_wage.large", dated.Higher, readWage, func(p *parameters) **dated.Series[Wage] { return &p.minimumWage.large }),
	ofSize("minimum_wage.small", dated.Higher, readWage, func(p *parameters) **dated.Series[Wage] { return &p.minimumWage.small }),
	one("minimum_wage.with_benefits", dated.Higher, readWage, func(local, held Wage) bool { return local >= held }, func(p *parameters) **dated.Series[Wage] { return &p.withBenefits }),
	one("makeup", dated.NotComparable, readMakeup, Makeup.protectsLike, func(p *parameters) **dated.Series[Makeup] { return &p.makeup }),
	one("nonproductive", dated.NotComparable, readTreatment, Treatment.protectsLike, func(p *parameters) **dated.Series[Treatment] { return &p.nonproductive }),
	one("rest", dated.NotComparable, readTreatment, Treatment.protectsLike, func(p *parameters) **dated.Series[Treatment] { return &p.rest }),
	one("average", dated.NotComparable, readAverage, same, func(p *parameters) **dated.Series[Hours] { return &p.average }),
	one("flat_bonus", dated.NotComparable, readFlatBonus, same, func(p *parameters) **dated.Series[Hours] { return &p.flatBonus }),
	one("missed_periods", dated.NotComparable, readMissedPeriods, MissedPeriods.protectsLike, func(p *parameters) **dated.Series[MissedPeriods] { return &p.missedPeriods }),
	one("short_meal", dated.Higher, readCount, atLeast, func(p *parameters) **dated.Series[int] { return &p.shortMeal }),
	bySize("overtime.agriculture", dated.Lower, readLimits, Limits.protectsLike, func(p *parameters) *sized[Limits] { return &p.agriculture }),
	ofSize("overtime.agriculture.large", dated.Lower, readLimits, func(p *parameters) **dated.Series[Limits] { return &p.agriculture.large }),
	ofSize("overtime.agriculture.small", dated.Lower, readLimits, func(p *parameters) **dated.Series[Limits] { return &p.agriculture.small }),
	bySize("overtime.general", dated.Lower, readLimits, Limits.protectsLike, func(p *parameters) *sized[Limits] { return &p.general }),
	ofSize("overtime.general.large", dated.Lower, readLimits, func(p *parameters) **dated.Series[Limits] { return &p.general.large }),
	ofSize("overtime.general.small", dated.Lower, readLimits, func(p *parameters) **dated.Series[Limits] { return &p.general.small }),
	one("overtime.daily_cut_off", dated.NotComparable, readDailyCutOff, same, func(p *parameters) **dated.Series[DailyCutOff] { return &p.dailyCutOff }),
	one("seventh_day", dated.NotComparable, readHours, atMost, func(p *parameters) **dated.Series[int] { return &p.seventhDay }),
	one("premium_factor", dated.NotComparable, readPremiumFactor, PremiumFactor.protectsLike, func(p *parameters) **dated.Series[PremiumFactor] { return &p.premiumFactor }),
	one("reporting_time", dated.NotComparable, readReportingTime, ReportingTime.protectsLike, func(p *parameters) **dated.Series[ReportingTime] { return &p.reportingTime }),
	one("meals", dated.NotComparable, readMeals, mealsProtectLike, func(p *parameters) **dated.Series[[]Meal] { return &p.meals }),
	one("rest_periods", dated.NotComparable, readRestPeriods, RestPeriods.protectsLike, func(p *parameters) **dated.Series[RestPeriods] { return &p.restPeriods }),
	one("recovery_periods", dated.Higher, readCount, atLeast, func(p *parameters) **dated.Series[int] { return &p.recovery }),
	one("high_heat", dated.NotComparable, readHighHeat, same, func(p *parameters) **dated.Series[HighHeat] { return &p.highHeat }),
	one("final_pay.discharge", dated.NotComparable, readFinalPayClock, FinalPayClock.protectsLike, func(p *parameters) **dated.Series[FinalPayClock] { return &p.discharge }),
	one("final_pay.quit", dated.NotComparable, readFinalPayClock, FinalPayClock.protectsLike, func(p *parameters) **dated.Series[FinalPayClock] { return &p.quit }),
	one("final_pay.late_days", dated.Higher, readCount, atLeast, func(p *parameters) **dated.Series[int] { return &p.lateDays }),
	one("paydays.farm", dated.NotComparable, readPaydays, same, func(p *parameters) **dated.Series[[]PaydayWindow] { return &p.farmPaydays }),
	one("paydays.general", dated.NotComparable, readPaydays, same, func(p *parameters) **dated.Series[[]PaydayWindow] { return &p.generalPaydays }),
	one("paydays.weekly", dated.Lower, readCount, atMost, func(p *parameters) **dated.Series[int] { return &p.weeklyPaydays }),
	one("paydays.contractor", dated.NotComparable, readContractorPay, same, func(p *parameters) **dated.Series[ContractorPay] { return &p.contractorPay }),
	one("paydays.least_often", dated.NotComparable, readRhythm, Rhythm.protectsLike, func(p *parameters) **dated.Series[Rhythm] { return &p.leastOften }),
	one("paydays.least_often_h2a", dated.NotComparable, readRhythm, Rhythm.protectsLike, func(p *parameters) **dated.Series[Rhythm] { return &p.leastOftenH2A }),
	one("statement_items", dated.NotComparable, readItems, hasAllOf, func(p *parameters) **dated.Series[[]Item] { return &p.statementItems }),
	one("deductions.allowed", dated.NotComparable, readItems, func(local, held []Item) bool { return hasAllOf(held, local) }, func(p *parameters) **dated.Series[[]Item] { return &p.deductions }),
	one("deductions.refused", dated.NotComparable, readItems, hasAllOf, func(p *parameters) **dated.Series[[]Item] { return &p.noDeductions }),
	one("deductions.floor", dated.NotComparable, readDeductionFloor, same, func(p *parameters) **dated.Series[DeductionFloor] { return &p.deductionFloor }),
	one("sick_leave.accrual", dated.Lower, readHours, atMost, func(p *parameters) **dated.Series[int] { return &p.sickAccrual }),
	one("sick_leave.waiting_days", dated.Lower, readCount, atMost, func(p *parameters) **dated.Series[int] { return &p.sickWaiting }),
	one("sick_leave.use_cap", dated.NotComparable, readSickCaps, sickCapsProtectLike, func(p *parameters) **dated.Series[[]SickCap] { return &p.sickUseCap }),
	one("sick_leave.bank_cap", dated.NotComparable, readSickCaps, sickCapsProtectLike, func(p *parameters) **dated.Series[[]SickCap] { return &p.sickBankCap }),
	one("sick_leave.reinstated_within_days", dated.Higher, readCount, atLeast, func(p *parameters) **dated.Series[int] { return &p.sickReinstatedIn }),
	one("sick_leave.rate_days", dated.NotComparable, readCount, same, func(p *parameters) **dated.Series[int] { return &p.sickRateDays }),
	one("h2a.guaranteed_share", dated.Higher, readShare, atLeast, func(p *parameters) **dated.Series[int] { return &p.guaranteedShare }),
}, retentionKinds()...)

// one makes a parameter that is the same for every size of employer.
func one[T any](name string, way dated.Way, read func(dated.Node) T, protects func(local, held T) bool, of func(*parameters) **dated.Series[T]) kind {
	return kind{name, way, into(name, way, read, of), func(local *Book) []*Loosening {
		return guard(local, func(b *Book) *dated.Series[T] { return *of(&b.parameters) }, protects)
	}}
}

// bySize makes a parameter that may differ with the size of the employer, as far as it stands for all sizes, and guards it for every size.
func bySize[T any](name string, way dated.Way, read func(dated.Node) T, protects func(local, held T) bool, of func(*parameters) *sized[T]) kind {
	all := func(p *parameters) **dated.Series[T] { return &of(p).all }
	return kind{name, way, into(name, way, read, all), func(local *Book) []*Loosening {
		large := guard(local, func(b *Book) *dated.Series[T] { return of(&b.parameters).of(true) }, protects)
		if len(large) > 0 {
			return large
		}
		return guard(local, func(b *Book) *dated.Series[T] { return of(&b.parameters).of(false) }, protects)
	}}
}

// ofSize makes the part of a parameter that is for employers of one size.
func ofSize[T any](name string, way dated.Way, read func(dated.Node) T, of func(*parameters) **dated.Series[T]) kind {
	return kind{name, way, into(name, way, read, of), nil}
}

func retentionKinds() []kind {
	all := make([]kind, len(RecordKinds))
	for i, record := range RecordKinds {
		name := "retention." + string(record)
		all[i] = kind{name, dated.NotComparable, func(b *Book, n dated.Node, sources *dated.Sources) {
			b.retention[record] = seriesOf(b, n, name, dated.NotComparable, sources, readKeep)
		}, func(local *Book) []*Loosening {
			return guard(local, func(b *Book) *dated.Series[Keep] { return b.retention[record] }, Keep.protectsLike)
		}}
	}
	return all
}

// into makes a reader for a parameter of which the engine knows which way protects more.
func into[T any](name string, way dated.Way, read func(dated.Node) T, of func(*parameters) **dated.Series[T]) func(*Book, dated.Node, *dated.Sources) {
	return func(b *Book, n dated.Node, sources *dated.Sources) {
		*of(&b.parameters) = seriesOf(b, n, name, way, sources, read)
	}
}

// seriesOf reads a parameter, and keeps it for showing as well.
func seriesOf[T any](b *Book, n dated.Node, name string, way dated.Way, sources *dated.Sources, read func(dated.Node) T) *dated.Series[T] {
	s := dated.ReadSeries(n, b.key, name, sources, read)
	if s.Way != way && s.Way != "" {
		n.Report("declares the way %s; what is more protective in this parameter is %s", s.Way, way)
	}
	b.shown = append(b.shown, s.Figures())
	return s
}

func (b *Book) readParameters(n dated.Node, sources *dated.Sources) {
	b.retention = map[RecordKind]*dated.Series[Keep]{}
	for _, e := range n.Entries() {
		k := kindNamed(e.Key)
		if k == nil {
			e.Report("is no parameter that the engine knows; correct the name")
			continue
		}
		k.read(b, e.Node, sources)
	}
	if b.IsLocal() { // what it leaves out, its parent says
		return
	}
	if !b.minimumWage.whole() || !b.agriculture.whole() || !b.general.whole() {
		n.Report("gives a parameter for some sizes of employer only; give one for all, or one large and one small")
	}
	if b.largeFrom == nil && (b.minimumWage.large != nil || b.agriculture.large != nil || b.general.large != nil) {
		n.Report("tells large employers from small ones; say from which size in large_from_size")
	}
}

func kindNamed(name string) *kind {
	for i := range kinds {
		if kinds[i].name == name {
			return &kinds[i]
		}
	}
	return nil
}

// complete checks that the book and its forebears say what every week needs.
func (b *Book) complete() error {
	needs := []struct {
		name string
		met  bool
	}{
		{"minimum_wage", b.minimumWage.given() || b.IsLocal()},
		{"makeup", says(b, func(b *Book) *dated.Series[Makeup] { return b.makeup })},
		{"nonproductive", says(b, func(b *Book) *dated.Series[Treatment] { return b.nonproductive })},
		{"rest", says(b, func(b *Book) *dated.Series[Treatment] { return b.rest })},
		{"average", !b.paysRestApart() || says(b, func(b *Book) *dated.Series[Hours] { return b.average })},
		{"flat_bonus", says(b, func(b *Book) *dated.Series[Hours] { return b.flatBonus })},
		{"missed_periods", says(b, func(b *Book) *dated.Series[MissedPeriods] { return b.missedPeriods })},
		{"premium_factor", says(b, func(b *Book) *dated.Series[PremiumFactor] { return b.premiumFactor })},
	}
	for _, need := range needs {
		if !need.met {
			return &Refusal{b.key, "lacks", map[string]any{"parameter": need.name}, fmt.Sprintf("lacks the parameter %s; add it", need.name)}
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
