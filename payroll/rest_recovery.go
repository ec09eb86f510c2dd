package payroll

import "palmero/payroll/rulebook"

const (
	separate = rulebook.Separate
	included = rulebook.Included
)

// restAndRecovery pays rest and recovery periods at the week's average hourly rate, never below the day's minimum wage or
// offer, where the book pays them apart from the pieces. Where it does not, they count as worked and the other pay covers them.
func (r *reckoning) restAndRecovery() {
	if r.rules.Rest != separate || r.rest == 0 {
		return
	}
	var times []paidTime
	for i := range r.days {
		if d := &r.days[i]; d.rest > 0 {
			times = append(times, r.atAverage(d, d.rest, &restKeys))
		}
	}
	r.timeLines(RestRecoveryLine, times, r.averageTerms())
}

// hourAverage is the average hourly rate of the week and what it is made of.
type hourAverage struct {
	rate    ratio // in 1/10,000 an hour
	pay     Cents
	minutes Minutes // 0: nothing to average, and the rate is the week's hourly rate
}

// averageRate is the average hourly rate, reckoned when it is first asked for.
func (r *reckoning) averageRate() *hourAverage {
	if r.average != nil {
		return r.average
	}
	a := hourAverage{
		pay:     r.paid(PieceLine, SharedPieceLine, HourlyLine, NonproductiveLine, BonusLine, MinimumMakeupLine, GuaranteeMakeupLine),
		minutes: r.worked - r.rest,
	}
	if r.rules.Average == rulebook.PieceHours && r.piece > 0 {
		a.pay = r.paid(PieceLine, SharedPieceLine, BonusLine, MinimumMakeupLine, GuaranteeMakeupLine)
		a.minutes = r.piece
	}
	switch {
	case a.minutes > 0:
		a.rate = perHour(a.pay, a.minutes)
	case r.week.HourlyRate != nil:
		a.rate = whole(*r.week.HourlyRate)
	}
	r.average = &a
	r.statement.Rates.AverageHourly = r.shown(a.rate)
	return &a
}

// averageKeys are the keys of a basis by which rate it was that was paid.
type averageKeys struct{ average, floor, hourly string }

var (
	restKeys   = averageKeys{"basis.rest_average", "basis.rest_floor", "basis.rest_hourly"}
	missedKeys = averageKeys{"basis.missed_rest_average", "basis.missed_rest_floor", "basis.missed_rest_hourly"}
)

// atAverage pays minutes of a day at the average or, where that is lower, the day's floor.
func (r *reckoning) atAverage(d *workday, minutes Minutes, keys *averageKeys) paidTime {
	a := r.averageRate()
	floor := whole(max(d.minimum, d.offered))
	switch {
	case a.rate.compare(floor) < 0:
		return paidTime{d, minutes, floor, keys.floor}
	case a.minutes == 0:
		return paidTime{d, minutes, a.rate, keys.hourly}
	}
	return paidTime{d, minutes, a.rate, keys.average}
}

func (r *reckoning) averageTerms() Terms {
	a := r.averageRate()
	return Terms{"average": *r.shown(a.rate), "pay": a.pay, "hours": a.minutes}
}
