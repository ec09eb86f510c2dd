package payroll

import (
	"fmt"
	"math/big"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"palmero/payroll/dated"
)

// slow is a second reckoner, written apart from the engine and without its cleverness: fractions of any size, cents summed
// in maps, the values of the books retyped. It pays by code, and takes weeks without clock times.
type slow struct {
	w     *Week
	law   slowLaw
	days  map[dated.Date]*slowDay
	order []dated.Date
	lines map[Code]*big.Rat // cents
}

type slowLaw struct {
	separateN, separateR, avgAll, weekBasis, allBasis bool
	flatApart, seventh                                bool
	hourPerDay, extraMinutes, reportingFrom           int
	daily, double                                     int64
	weekly                                            func(dated.Date) int64
	minimum                                           func(dated.Date) int64 // cents
}

var slowLaws = map[string]slowLaw{
	"us": {allBasis: true, daily: 1 << 40, double: 1 << 40,
		weekly: func(dated.Date) int64 { return 1 << 40 }, minimum: func(dated.Date) int64 { return 725 }},
	"us-ca": {separateN: true, separateR: true, avgAll: true, flatApart: true, seventh: true, hourPerDay: 1, reportingFrom: 5,
		daily: 480, double: 720, weekly: func(dated.Date) int64 { return 2400 }, minimum: func(dated.Date) int64 { return 1690 }},
	"us-az": slowFederal(1515), "us-fl": slowFederal(1400), "us-nv": slowFederal(1200), "us-tx": slowFederal(725),
	"us-wa": {separateN: true, separateR: true, weekBasis: true, extraMinutes: 10, daily: 1 << 40, double: 1 << 40,
		weekly: func(dated.Date) int64 { return 2400 }, minimum: func(dated.Date) int64 { return 1713 }},
	"orchard": {separateN: true, separateR: true, weekBasis: true, extraMinutes: 10, daily: 1 << 40, double: 1 << 40,
		weekly: orchardWeekly, minimum: orchardMinimum},
	"strict": {separateN: true, separateR: true, avgAll: true, weekBasis: true, extraMinutes: 10, flatApart: true, daily: 480, double: 690,
		weekly: orchardWeekly, minimum: orchardMinimum},
}

// slowFederal is the law of a state that has its own minimum wage, in cents, and otherwise follows the federation.
func slowFederal(cents int64) slowLaw {
	return slowLaw{allBasis: true, daily: 1 << 40, double: 1 << 40,
		weekly: func(dated.Date) int64 { return 1 << 40 }, minimum: func(dated.Date) int64 { return cents }}
}

func orchardWeekly(d dated.Date) int64 {
	if d.After(dated.MustDate("2026-02-18")) {
		return 2400
	}
	return 2880
}

func orchardMinimum(d dated.Date) int64 {
	if d.After(dated.MustDate("2026-02-17")) {
		return 1713
	}
	return 1600
}

// slowDay holds a day's minutes and its floors in cents an hour.
type slowDay struct {
	day                        *Day
	p, h, n, r, ot, dt         int64
	minimum, offered           *big.Rat
	pieceCents                 *big.Rat
	straightHourly, straightNP map[string]*big.Rat // minutes by rate
}

func (d *slowDay) worked() int64 { return d.p + d.h + d.n + d.r }

func rat(a, b int64) *big.Rat         { return big.NewRat(a, b) }
func sum(a, b *big.Rat) *big.Rat      { return new(big.Rat).Add(a, b) }
func less(a, b *big.Rat) *big.Rat     { return new(big.Rat).Sub(a, b) }
func product(a, b *big.Rat) *big.Rat  { return new(big.Rat).Mul(a, b) }
func quotient(a, b *big.Rat) *big.Rat { return new(big.Rat).Quo(a, b) }

func most(rats ...*big.Rat) *big.Rat {
	top := rats[0]
	for _, r := range rats {
		if r.Cmp(top) > 0 {
			top = r
		}
	}
	return top
}

func up(r *big.Rat) *big.Rat {
	q, m := new(big.Int).DivMod(r.Num(), r.Denom(), new(big.Int))
	if m.Sign() > 0 {
		q.Add(q, big.NewInt(1))
	}
	return new(big.Rat).SetInt(q)
}

func nearest(r *big.Rat) *big.Rat {
	twice := sum(product(r, rat(2, 1)), rat(1, 1))
	q := new(big.Int).Div(twice.Num(), new(big.Int).Mul(twice.Denom(), big.NewInt(2)))
	return new(big.Rat).SetInt(q)
}

// centsOf is a rate in cents.
func centsOf(r Rate) *big.Rat { return rat(int64(r), 100) }

// timePay is minutes at cents an hour.
func timePay(minutes int64, rate *big.Rat) *big.Rat {
	return product(rat(minutes, 60), rate)
}

func (s *slow) pay(code Code, cents *big.Rat) {
	if s.lines[code] == nil {
		s.lines[code] = new(big.Rat)
	}
	s.lines[code].Add(s.lines[code], cents)
}

func (s *slow) sumOf(codes ...Code) *big.Rat {
	total := new(big.Rat)
	for _, c := range codes {
		if s.lines[c] != nil {
			total.Add(total, s.lines[c])
		}
	}
	return total
}

// byRate pays minutes gathered by rate, each rate a line rounded up.
func (s *slow) byRate(code Code, minutes map[string]*big.Rat) {
	for text, m := range minutes {
		rate, ok := new(big.Rat).SetString(text)
		if !ok {
			panic(text)
		}
		s.pay(code, up(quotient(product(m, rate), rat(60, 1))))
	}
}

func gather(into map[string]*big.Rat, rate *big.Rat, minutes *big.Rat) {
	key := rate.RatString()
	if into[key] == nil {
		into[key] = new(big.Rat)
	}
	into[key].Add(into[key], minutes)
}

func slowReckon(w *Week) map[Code]string {
	s := &slow{w: w, law: slowLaws[w.Rulebook], days: map[dated.Date]*slowDay{}, lines: map[Code]*big.Rat{}}
	for i := range w.Days {
		s.addDay(&w.Days[i])
	}
	slices.SortFunc(s.order, dated.Date.Compare)
	s.run()
	out := map[Code]string{}
	for code, cents := range s.lines {
		if !cents.IsInt() {
			panic("a line that is not whole cents")
		}
		if cents.Sign() != 0 || code == PieceLine || code == SharedPieceLine {
			out[code] = Cents(cents.Num().Int64()).String()
		}
	}
	return out
}

func (s *slow) addDay(day *Day) {
	d := &slowDay{day: day, minimum: rat(s.law.minimum(day.Date), 1), offered: new(big.Rat), pieceCents: new(big.Rat),
		straightHourly: map[string]*big.Rat{}, straightNP: map[string]*big.Rat{}}
	if s.w.OfferedRate != nil {
		d.offered = centsOf(*s.w.OfferedRate)
	}
	if day.OfferedRate != nil {
		d.offered = centsOf(*day.OfferedRate)
	}
	for _, t := range day.Time {
		given := t.Rate
		if given == nil {
			given = s.w.HourlyRate
		}
		m := int64(*t.Minutes)
		nonproductive := t.Kind == Nonproductive || t.Kind == MealOnDuty || (t.Kind == MealPeriod && m <= 20)
		switch {
		case t.Kind == Piece:
			d.p += m
		case t.Kind == Rest || t.Kind == Recovery:
			d.r += m
		case t.Kind == Hourly:
			d.h += m
			rate := most(d.minimum, d.offered)
			if given != nil {
				rate = most(rate, centsOf(*given))
			}
			gather(d.straightHourly, rate, rat(m, 1))
		case nonproductive:
			d.n += m
			if s.law.separateN || given != nil || d.offered.Sign() > 0 {
				rate := most(d.minimum, d.offered)
				if given != nil {
					rate = most(rate, centsOf(*given))
				}
				gather(d.straightNP, rate, rat(m, 1))
			}
		}
	}
	s.days[day.Date] = d
	s.order = append(s.order, day.Date)
}

func (s *slow) run() {
	var P, W, R int64
	pieces := map[string]*big.Rat{}
	shared := map[string]*big.Rat{}
	hourly, np := map[string]*big.Rat{}, map[string]*big.Rat{}
	for _, date := range s.order {
		d := s.days[date]
		P, W, R = P+d.p, W+d.worked(), R+d.r
		for _, t := range d.day.Tallies {
			count, into := rat(int64(t.Pieces), 1000), pieces
			if t.Part != nil {
				into = shared
				switch {
				case t.Part.Share != nil:
					count = product(count, rat(int64(*t.Part.Share), 1_000_000))
				case t.Part.Heads != nil:
					count = quotient(count, rat(int64(*t.Part.Heads), 1))
				default:
					count = product(count, rat(int64(*t.Part.Minutes), int64(*t.Part.LotMinutes)))
				}
			}
			earned := product(count, centsOf(t.Rate))
			d.pieceCents = sum(d.pieceCents, earned)
			key := fmt.Sprintf("%s|%s|%d", t.Operation, t.Unit, t.Rate)
			if into[key] == nil {
				into[key] = new(big.Rat)
			}
			into[key].Add(into[key], earned)
		}
		for rate, m := range d.straightHourly {
			r, _ := new(big.Rat).SetString(rate)
			gather(hourly, r, m)
		}
		for rate, m := range d.straightNP {
			r, _ := new(big.Rat).SetString(rate)
			gather(np, r, m)
		}
	}
	for _, cents := range pieces {
		s.pay(PieceLine, nearest(cents))
	}
	for _, cents := range shared {
		s.pay(SharedPieceLine, nearest(cents))
	}
	s.byRate(HourlyLine, hourly)
	s.byRate(NonproductiveLine, np)
	flatGiven := new(big.Rat)
	for _, b := range s.w.Bonuses {
		s.pay(BonusLine, rat(int64(b.Amount), 1))
		if b.Kind == Flat {
			flatGiven.Add(flatGiven, rat(int64(b.Amount), 1))
		}
	}
	s.floors(P, W)
	average := func(withMinutes int64) *big.Rat {
		switch {
		case !s.law.avgAll && P > 0:
			return quotient(product(s.sumOf(PieceLine, SharedPieceLine, BonusLine, MinimumMakeupLine, GuaranteeMakeupLine), rat(60, 1)), rat(P, 1))
		case withMinutes > 0:
			return quotient(product(s.sumOf(PieceLine, SharedPieceLine, HourlyLine, NonproductiveLine, BonusLine, MinimumMakeupLine, GuaranteeMakeupLine), rat(60, 1)), rat(withMinutes, 1))
		case s.w.HourlyRate != nil:
			return centsOf(*s.w.HourlyRate)
		}
		return new(big.Rat)
	}(W - R)
	if s.law.separateR {
		rest := map[string]*big.Rat{}
		for _, date := range s.order {
			if d := s.days[date]; d.r > 0 {
				gather(rest, most(average, d.minimum, d.offered), rat(d.r, 1))
			}
		}
		s.byRate(RestRecoveryLine, rest)
	}
	s.overtime(W)
	s.afterWork(W, flatGiven, average)
}

func (s *slow) floors(P, W int64) {
	short, need, offer := new(big.Rat), new(big.Rat), new(big.Rat)
	for _, date := range s.order {
		d := s.days[date]
		if d.p > 0 {
			short = sum(short, most(new(big.Rat), less(timePay(d.p, d.minimum), d.pieceCents)))
		}
		if s.law.allBasis {
			need = sum(need, timePay(d.worked(), d.minimum))
		} else {
			need = sum(need, timePay(d.p, d.minimum))
		}
		g := d.p
		if !s.law.separateR && d.p > 0 {
			g += d.r
		}
		offer = sum(offer, timePay(g, d.offered))
	}
	switch {
	case s.law.allBasis:
		short = less(need, s.sumOf(PieceLine, SharedPieceLine, HourlyLine, NonproductiveLine, BonusLine))
	case s.law.weekBasis:
		short = less(need, s.sumOf(PieceLine, SharedPieceLine))
		if P == 0 {
			short = new(big.Rat)
		}
	}
	if short.Sign() > 0 {
		s.pay(MinimumMakeupLine, up(short))
	}
	if gap := less(offer, s.sumOf(PieceLine, SharedPieceLine, MinimumMakeupLine)); gap.Sign() > 0 {
		s.pay(GuaranteeMakeupLine, up(gap))
	}
}

func (s *slow) overtime(W int64) {
	seven := len(s.order) == 7
	weekly := int64(1 << 40)
	for i := range 7 {
		weekly = min(weekly, s.law.weekly(s.w.WeekStart.AddDays(i)))
	}
	for _, date := range s.order {
		seven = seven && s.days[date].worked() > 0
	}
	// minute by minute, so that nothing of the engine's arithmetic is repeated
	var straight int64
	for _, date := range s.order {
		d := s.days[date]
		for minute := int64(1); minute <= d.worked(); minute++ {
			last := s.law.seventh && seven && date == s.w.WeekStart.AddDays(6)
			switch {
			case last && minute > 480, !last && minute > s.law.double:
				d.dt++
			case last, minute > s.law.daily:
				d.ot++
			case straight >= weekly:
				d.ot++
			default:
				straight++
			}
		}
	}
}

func (s *slow) afterWork(W int64, flatGiven, average *big.Rat) {
	var ot, dt int64
	for _, d := range s.days {
		ot, dt = ot+d.ot, dt+d.dt
	}
	r, f := new(big.Rat), new(big.Rat)
	if W > 0 {
		all := s.sumOf(PieceLine, SharedPieceLine, HourlyLine, NonproductiveLine, BonusLine, MinimumMakeupLine, GuaranteeMakeupLine, RestRecoveryLine)
		if rest := W - ot - dt; s.law.flatApart && rest > 0 {
			all = less(all, flatGiven)
			f = quotient(product(flatGiven, rat(60, 1)), rat(rest, 1))
		}
		r = quotient(product(all, rat(60, 1)), rat(W, 1))
		s.pay(OvertimePremiumLine, up(timePay(ot, sum(product(r, rat(1, 2)), product(f, rat(3, 2))))))
		s.pay(DoubleTimePremiumLine, up(timePay(dt, sum(r, product(f, rat(2, 1))))))
	}
	rf := sum(r, f)
	meals, rests, reporting := int64(0), int64(0), new(big.Rat)
	extra, sick, leave := map[string]*big.Rat{}, map[string]*big.Rat{}, int64(0)
	for _, date := range s.order {
		d := s.days[date]
		missed := map[Period]int64{}
		for _, p := range d.day.PeriodsNotProvided {
			missed[p]++
		}
		if missed[MissedMeal] > 0 {
			meals++
		}
		if missed[MissedRest]+missed[MissedRecovery] > 0 {
			rests++
		}
		if missed[MissedRest] > 0 {
			gather(extra, most(average, d.minimum, d.offered), rat(missed[MissedRest]*int64(s.law.extraMinutes), 1))
		}
		off := rf
		if W == 0 {
			off = d.minimum
			if s.w.HourlyRate != nil {
				off = most(off, centsOf(*s.w.HourlyRate))
			}
		}
		for i, rep := range d.day.Reports {
			worked := d.worked()
			if rep.WorkedMinutes != nil {
				worked = int64(*rep.WorkedMinutes)
			}
			due := rat(120, 1)
			if i == 0 {
				half := rat(int64(rep.ScheduledMinutes), 2)
				if rat(worked, 1).Cmp(half) >= 0 {
					continue
				}
				due = most(rat(120, 1), half)
				if due.Cmp(rat(240, 1)) > 0 {
					due = rat(240, 1)
				}
			}
			owed := less(due, rat(worked, 1))
			large := s.w.EmployerSize == nil || *s.w.EmployerSize >= s.law.reportingFrom
			if s.law.reportingFrom > 0 && large && rep.EndedBy == EndedByEmployer && owed.Sign() > 0 {
				reporting = sum(reporting, product(owed, quotient(off, rat(60, 1))))
			}
		}
		rate := rf
		switch {
		case s.w.SickRate != nil:
			rate = centsOf(*s.w.SickRate)
		case W == 0 && s.w.HourlyRate != nil:
			rate = centsOf(*s.w.HourlyRate)
		}
		if m := int64(d.day.SickMinutes); m > 0 {
			gather(sick, most(rate, d.minimum), rat(m, 1))
		}
		leave += int64(d.day.LeaveMinutes)
	}
	if W > 0 && s.law.hourPerDay > 0 {
		s.pay(MealPremiumLine, up(product(rf, rat(meals, 1))))
		s.pay(RestPremiumLine, up(product(rf, rat(rests, 1))))
	}
	if W > 0 && s.law.extraMinutes > 0 {
		s.byRate(RestPremiumLine, extra)
	}
	s.pay(ReportingTimeLine, up(reporting))
	s.byRate(SickLine, sick)
	if leave > 0 {
		s.pay(LeaveLine, up(timePay(leave, centsOf(*s.w.LeaveRate))))
	}
	for _, a := range s.w.Adjustments {
		s.pay(AdjustmentLine, rat(int64(a.Amount), 1))
	}
	for _, a := range s.w.Reimbursements {
		s.pay(ReimbursementLine, rat(int64(a.Amount), 1))
	}
}

func TestTheEngineAgreesWithASlowerOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWeek(t)
		s, faults := Reckon(books(), w)
		if len(faults) > 0 {
			t.Fatalf("faults in a good week: %v", faults)
		}
		if diff := cmp.Diff(slowReckon(w), amounts(s)); diff != "" {
			t.Fatalf("the slow reckoner pays otherwise (-slow +engine):\n%s", diff)
		}
	})
}
