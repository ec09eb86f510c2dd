package payroll

import (
	"cmp"
	"slices"
	"strconv"
)

// add puts a line on the statement, its exact amount in cents rounded by the rule given. A line that comes to nothing is
// left out, unless it is one of pieces.
func (r *reckoning) add(l Line, exact ratio, round func(ratio) (int64, bool)) {
	amount, ok := round(exact)
	if !ok || amount > centsLimit || amount < -centsLimit {
		r.beyond = true
		return
	}
	if amount == 0 && l.Code != PieceLine && l.Code != SharedPieceLine {
		return
	}
	l.Amount = Cents(amount)
	if l.Authority == "" {
		l.Authority = r.book.Authority(string(l.Code), r.coverage)
	}
	r.statement.Lines = append(r.statement.Lines, l)
}

// paid sums the lines of some codes, as they were paid.
func (r *reckoning) paid(codes ...Code) Cents {
	var sum Cents
	for i := range r.statement.Lines {
		if slices.Contains(codes, r.statement.Lines[i].Code) {
			sum += r.statement.Lines[i].Amount
		}
	}
	return sum
}

// shown rounds a rate for display.
func (r *reckoning) shown(q ratio) *Rate {
	rate := Rate(r.halfUp(q, rateLimit))
	return &rate
}

// halfUp rounds to the nearest integer, within a limit.
func (r *reckoning) halfUp(q ratio, limit int64) int64 {
	n, ok := q.roundHalfUp()
	if !ok || n > limit {
		r.beyond = true
		return 0
	}
	return n
}

const minuteUnit = "minute"

// paidTime is time of one day at one rate, which may be exact.
type paidTime struct {
	day     *workday
	minutes Minutes
	rate    ratio
	why     string // key of the basis
}

// timeLines makes one line for each rate of some paid time; terms adds to the minutes and the rate what else the basis tells.
func (r *reckoning) timeLines(code Code, times []paidTime, terms Terms) {
	slices.SortStableFunc(times, func(a, b paidTime) int { return a.rate.compare(b.rate) })
	for len(times) > 0 {
		n := 1
		for n < len(times) && times[n].rate.compare(times[0].rate) == 0 {
			n++
		}
		r.timeLine(code, times[:n], terms)
		times = times[n:]
	}
}

func (r *reckoning) timeLine(code Code, times []paidTime, more Terms) {
	var sum Minutes
	var days dayMinutes
	for i := range times {
		sum += times[i].minutes
		days.add(times[i].day, times[i].minutes)
	}
	rate := r.shown(times[0].rate)
	terms := Terms{"minutes": sum, "rate": *rate}
	for name, value := range more {
		terms[name] = value
	}
	r.add(Line{
		Code: code, Quantity: strconv.Itoa(int(sum)), Unit: minuteUnit, Rate: rate, Days: days.quantities(),
		Basis: Basis{Key: times[0].why, Terms: terms},
	}, payOf(sum, times[0].rate), ratio.roundUp)
}

// dayMinutes gathers the minutes of a line by day.
type dayMinutes []minutesOfDay

type minutesOfDay struct {
	day     *workday
	minutes Minutes
}

func (d *dayMinutes) add(day *workday, minutes Minutes) {
	if minutes == 0 {
		return
	}
	if n := len(*d); n > 0 && (*d)[n-1].day == day {
		(*d)[n-1].minutes += minutes
		return
	}
	if *d == nil {
		*d = make(dayMinutes, 0, 7)
	}
	*d = append(*d, minutesOfDay{day, minutes})
}

func (d dayMinutes) quantities() []DayQuantity {
	if len(d) == 0 {
		return nil
	}
	q := make([]DayQuantity, len(d))
	for i := range d {
		q[i] = DayQuantity{d[i].day.Date, strconv.Itoa(int(d[i].minutes))}
	}
	return q
}

// sumLine makes a line of one sum as it was given.
func (r *reckoning) sumLine(code Code, amount Cents, key string, terms Terms, authority string) {
	terms["amount"] = amount
	r.add(Line{Code: code, Quantity: "1", Unit: "sum", Basis: Basis{key, terms}, Authority: authority}, whole(amount), ratio.roundUp)
}

// raise puts a note on the statement.
func (r *reckoning) raise(code string, day *workday, terms Terms) {
	n := Note{Code: code, Terms: terms, Authority: r.book.Authority(code, r.coverage)}
	if day != nil {
		n.Date = day.Date
	}
	r.statement.Notes = append(r.statement.Notes, n)
}

// totals adds up the lines.
func (r *reckoning) totals() {
	t := &r.statement.Totals
	for i := range r.statement.Lines {
		switch l := &r.statement.Lines[i]; l.Code {
		case OvertimePremiumLine, DoubleTimePremiumLine, MealPremiumLine, RestPremiumLine, ReportingTimeLine:
			t.Premiums += l.Amount
		case SickLine, LeaveLine, AdjustmentLine:
			t.Other += l.Amount
		case ReimbursementLine:
			t.Reimbursements += l.Amount
		default:
			t.StraightTime += l.Amount
		}
	}
	t.Gross = t.StraightTime + t.Premiums + t.Other
	t.Net = t.Gross + t.Taxes + t.Deductions + t.Reimbursements
	r.beyond = r.beyond || max(t.Gross, -t.Gross, t.Reimbursements, t.Net, -t.Net) > centsLimit
}

func sortNotes(notes []Note) {
	slices.SortStableFunc(notes, func(a, b Note) int {
		if a.Date.IsZero() != b.Date.IsZero() {
			return cmp.Compare(b.Date.Compare(a.Date), 0)
		}
		return a.Date.Compare(b.Date)
	})
}
