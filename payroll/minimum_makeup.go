package payroll

import (
	"strconv"

	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// minimumMakeup pays what is missing to the minimum wage, on the hours and over the span that the book tests.
func (r *reckoning) minimumMakeup() {
	switch m := r.rules.Makeup; {
	case m.Basis == rulebook.AllHours:
		r.makeupOfWeek(r.worked, func(d *workday) Minutes { return d.worked }, "basis.makeup_week_all",
			r.paid(PieceLine, SharedPieceLine, HourlyLine, NonproductiveLine, BonusLine))
	case m.Span == rulebook.Workday:
		r.makeupByDay()
	default:
		r.makeupOfWeek(r.piece, func(d *workday) Minutes { return d.piece }, "basis.makeup_week_pieces", r.paid(PieceLine, SharedPieceLine))
	}
}

// makeupByDay tests each day's piece time by itself: a good day fills no other, and no other time fills it.
func (r *reckoning) makeupByDay() {
	var missing, earned ratio
	var days dayMinutes
	var dates []dated.Date
	var wages []Rate
	var due ratio
	for i := range r.days {
		d := &r.days[i]
		floor := payOf(d.piece, whole(d.minimum))
		short := floor.minus(d.earned)
		if d.piece == 0 || short.sign() <= 0 {
			continue
		}
		missing, due, earned = missing.plus(short), due.plus(floor), earned.plus(d.earned)
		days.add(d, d.piece)
		dates, wages = append(dates, d.Date), append(wages, d.minimum)
	}
	if len(days) == 0 {
		return
	}
	r.makeupLine(MinimumMakeupLine, days, missing, Basis{"basis.makeup_day", Terms{
		"dates": dates, "wages": sameOrAll(wages), "minutes": days.sum(), "due": *r.shown(inRate(due)), "earned": *r.shown(inRate(earned)),
	}})
}

// makeupOfWeek tests the week as a whole.
func (r *reckoning) makeupOfWeek(hours Minutes, of func(*workday) Minutes, key string, earned Cents) {
	if hours == 0 {
		return
	}
	var due ratio
	var days dayMinutes
	var wages []Rate
	for i := range r.days {
		d := &r.days[i]
		due = due.plus(payOf(of(d), whole(d.minimum)))
		days.add(d, of(d))
		if of(d) > 0 {
			wages = append(wages, d.minimum)
		}
	}
	short := due.minus(whole(earned))
	if short.sign() <= 0 {
		return
	}
	r.makeupLine(MinimumMakeupLine, days, short, Basis{key, Terms{
		"wages": sameOrAll(wages), "minutes": hours, "due": *r.shown(inRate(due)), "earned": earned,
	}})
}

// makeupLine makes a line of what is missing to a floor, and says so in a note.
func (r *reckoning) makeupLine(code Code, days dayMinutes, missing ratio, basis Basis) {
	r.add(Line{
		Code: code, Quantity: strconv.Itoa(int(days.sum())), Unit: minuteUnit, Days: days.quantities(), Basis: basis,
	}, missing, ratio.roundUp)
	r.raise("makeup_due", nil, Terms{"line": string(code), "amount": r.paid(code)})
}

func (d dayMinutes) sum() Minutes {
	var sum Minutes
	for i := range d {
		sum += d[i].minutes
	}
	return sum
}

// inRate turns an exact amount of cents into 1/10,000 of the unit, for terms that show more than cents.
func inRate(cents ratio) ratio { return cents.times(whole(ratePerUnit / centsPerUnit)) }

// sameOrAll returns one rate where all are the same.
func sameOrAll(rates []Rate) []Rate {
	for _, rate := range rates {
		if rate != rates[0] {
			return rates
		}
	}
	return rates[:1]
}
