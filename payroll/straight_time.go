package payroll

import (
	"cmp"
	"slices"
	"strconv"

	"palmero/payroll/dated"
)

// straightTime pays the pieces, the hours, the nonproductive time and the bonuses.
func (r *reckoning) straightTime() {
	r.pieces()
	r.hours()
	r.nonproductiveTime()
	r.bonuses()
}

// dayTally is a tally with the day on which it was made and the worker's part of it, in pieces.
type dayTally struct {
	*Tally
	day  *workday
	part ratio
}

// pieces pays each tally at its rate. Lines are made in the order of code, operation, unit and rate.
func (r *reckoning) pieces() {
	n := 0
	for i := range r.days {
		n += len(r.days[i].Tallies)
	}
	tallies := make([]dayTally, 0, n)
	for i := range r.days {
		d := &r.days[i]
		for j := range d.Tallies {
			t := dayTally{Tally: &d.Tallies[j], day: d}
			t.part = t.ownPart()
			d.earned = d.earned.plus(pieceEarnings(t.part, t.Rate))
			tallies = append(tallies, t)
		}
	}
	slices.SortStableFunc(tallies, compareTallies)
	for len(tallies) > 0 {
		n := 1
		for n < len(tallies) && compareTallies(tallies[n], tallies[0]) == 0 {
			n++
		}
		r.pieceLine(tallies[:n])
		tallies = tallies[n:]
	}
}

// ownPart is the worker's part of the pieces: minutes of the lot's minutes, a share, one of a number of heads, or all.
func (t *dayTally) ownPart() ratio {
	all := over(t.Pieces, piecesPerUnit)
	switch p := t.Part; {
	case p == nil:
		return all
	case p.Share != nil:
		return all.times(over(*p.Share, sharePerUnit))
	case p.Heads != nil:
		return all.times(over(1, *p.Heads))
	default:
		return all.times(over(*p.Minutes, *p.LotMinutes))
	}
}

// partText writes how the worker's part came about: "300 × 120/600".
func (t *dayTally) partText() string {
	switch p := t.Part; {
	case p.Share != nil:
		return t.Pieces.String() + " × " + p.Share.String()
	case p.Heads != nil:
		return t.Pieces.String() + " ÷ " + strconv.Itoa(*p.Heads)
	default:
		return t.Pieces.String() + " × " + strconv.Itoa(int(*p.Minutes)) + "/" + strconv.Itoa(int(*p.LotMinutes))
	}
}

func pieceEarnings(pieces ratio, rate Rate) ratio {
	return pieces.times(over(rate, ratePerUnit/centsPerUnit))
}

func compareTallies(a, b dayTally) int {
	return cmp.Or(
		cmp.Compare(btoi(a.Part != nil), btoi(b.Part != nil)),
		cmp.Compare(a.Operation, b.Operation),
		cmp.Compare(a.Unit, b.Unit),
		cmp.Compare(a.Rate, b.Rate),
	)
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// pieceLine makes the line of tallies that are alike but for day and number.
func (r *reckoning) pieceLine(tallies []dayTally) {
	first := tallies[0]
	rate := first.Rate
	l := Line{Code: PieceLine, Operation: first.Operation, Unit: first.Unit, Rate: &rate}
	l.Days = make([]DayQuantity, 0, min(len(tallies), len(r.days)))
	var sum, today ratio
	for i, t := range tallies {
		sum, today = sum.plus(t.part), today.plus(t.part)
		if i+1 == len(tallies) || tallies[i+1].day != t.day {
			l.Days = append(l.Days, DayQuantity{t.day.Date, r.quantity(today)})
			today = ratio{}
		}
	}
	l.Quantity = r.quantity(sum)
	if first.Part == nil {
		l.Basis = Basis{"basis.piece", Terms{"pieces": r.piecesShown(sum), "unit": first.Unit, "rate": rate}}
	} else {
		l.Code = SharedPieceLine
		l.Basis = r.sharedBasis(tallies, sum, l.Quantity)
	}
	r.add(l, pieceEarnings(sum, rate), ratio.roundHalfUp)
}

func (r *reckoning) sharedBasis(tallies []dayTally, sum ratio, quantity string) Basis {
	parts := make([]string, len(tallies))
	for i := range tallies {
		parts[i] = tallies[i].partText()
	}
	key, terms := "basis.shared_piece", Terms{"parts": parts, "quantity": quantity, "unit": tallies[0].Unit, "rate": tallies[0].Rate}
	if exact := sum.text(); exact != quantity {
		key, terms["exact"] = "basis.shared_piece_exact", exact
	}
	return Basis{key, terms}
}

// quantity writes a number of pieces, half up to four decimals, without needless ones.
func (r *reckoning) quantity(pieces ratio) string {
	return trimmed(r.halfUp(pieces.times(whole(10_000)), quantityLimit), 4)
}

func (r *reckoning) piecesShown(pieces ratio) Pieces {
	return Pieces(r.halfUp(pieces.times(whole(piecesPerUnit)), piecesLimit))
}

// hours pays hourly time at the entry's rate, else the week's, else the minimum wage; never below that or the offer.
func (r *reckoning) hours() {
	var times []paidTime
	for i := range r.days {
		d := &r.days[i]
		for j := range d.stretches {
			s := &d.stretches[j]
			if s.kind != Hourly || s.minutes == 0 {
				continue
			}
			asked := cmpOr(s.rate, r.week.HourlyRate, &d.minimum)
			times = append(times, paidTime{d, s.minutes, whole(r.lifted(d, Hourly, *asked)), "basis.hourly"})
		}
	}
	r.timeLines(HourlyLine, times, nil)
}

// nonproductiveTime pays time that makes no pieces at the rate given, never below the minimum wage or the offer. Where
// the pieces cover that time, it is paid only if a rate was given or offered.
func (r *reckoning) nonproductiveTime() {
	var times []paidTime
	for i := range r.days {
		d := &r.days[i]
		for j := range d.stretches {
			s := &d.stretches[j]
			asked := cmpOr(s.rate, r.week.HourlyRate)
			covered := r.rules.Nonproductive == included && asked == nil && d.offered == 0
			if s.kind != Nonproductive || s.minutes == 0 || covered {
				continue
			}
			rate := max(d.minimum, d.offered)
			if asked != nil {
				rate = r.lifted(d, s.entered, *asked)
			}
			times = append(times, paidTime{d, s.minutes, whole(rate), "basis.nonproductive"})
		}
	}
	r.timeLines(NonproductiveLine, times, nil)
}

// lifted raises a rate to the day's minimum wage and offer where it is below, and says so.
func (r *reckoning) lifted(d *workday, kind TimeKind, asked Rate) Rate {
	floor := max(d.minimum, d.offered)
	if asked >= floor {
		return asked
	}
	if said := (liftedRate{d.Date, kind, asked}); !r.liftedRates[said] {
		if r.liftedRates == nil {
			r.liftedRates = map[liftedRate]bool{}
		}
		r.liftedRates[said] = true
		r.raise("below_minimum", d, Terms{"kind": string(kind), "rate": asked, "paid": floor})
	}
	return floor
}

// liftedRate is a rate below the floor of a day, of which it is enough to tell once.
type liftedRate struct {
	date dated.Date
	kind TimeKind
	rate Rate
}

// cmpOr returns the first rate that was given.
func cmpOr(rates ...*Rate) *Rate {
	for _, rate := range rates {
		if rate != nil {
			return rate
		}
	}
	return nil
}

// bonuses pays the bonuses as they were given.
func (r *reckoning) bonuses() {
	for _, b := range r.week.Bonuses {
		key := "basis.bonus_production"
		if b.Kind == Flat {
			key = "basis.bonus_flat"
		}
		r.sumLine(BonusLine, b.Amount, key, Terms{}, "")
	}
}

// flatBonuses sums the bonuses that are a fixed sum, not tied to pieces.
func (r *reckoning) flatBonuses() Cents {
	var sum Cents
	for _, b := range r.week.Bonuses {
		if b.Kind == Flat {
			sum += b.Amount
		}
	}
	return sum
}
