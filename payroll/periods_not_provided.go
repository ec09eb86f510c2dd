package payroll

import (
	"slices"
	"strconv"

	"palmero/payroll/dated"
)

// periodsNotProvided pays what the book owes for meal, rest and recovery periods that the employer did not provide. The
// time so paid was not worked.
func (r *reckoning) periodsNotProvided() {
	if r.worked == 0 {
		return
	}
	if minutes := Minutes(r.rules.MissedPeriods.HourPerDay); minutes > 0 {
		r.hourForEachDay(MealPremiumLine, minutes, MissedMeal, MissedMeal)
		r.hourForEachDay(RestPremiumLine, minutes, MissedRest, MissedRecovery)
	}
	if minutes := Minutes(r.rules.MissedPeriods.ExtraMinutes); minutes > 0 {
		r.minutesForEachRest(minutes)
	}
}

// hourForEachDay pays an hour for each day on which one of two kinds of period was missed, however many were.
func (r *reckoning) hourForEachDay(code Code, hour Minutes, kind, or Period) {
	var dates []dated.Date
	var days []DayQuantity
	for i := range r.days {
		d := &r.days[i]
		if slices.Contains(d.PeriodsNotProvided, kind) || slices.Contains(d.PeriodsNotProvided, or) {
			dates = append(dates, d.Date)
			days = append(days, DayQuantity{d.Date, "1"})
		}
	}
	if len(days) == 0 {
		return
	}
	rate := inRate(payOf(hour, r.regularAndFlat())) // of a day
	basis := Basis{"basis.missed_hour", r.regularTerms()}
	if r.flat.sign() > 0 {
		basis.Key = "basis.missed_hour_flat"
	}
	basis.Terms["dates"], basis.Terms["count"] = dates, len(dates)
	basis.Terms["minutes"], basis.Terms["rate"] = hour, *r.shown(rate)
	r.add(Line{
		Code: code, Quantity: strconv.Itoa(len(days)), Unit: "day", Rate: r.shown(rate), Days: days, Basis: basis,
	}, payOf(hour*Minutes(len(days)), r.regularAndFlat()), ratio.roundUp)
}

// minutesForEachRest pays the minutes of each rest period that was missed, at the rate of rest that was taken.
func (r *reckoning) minutesForEachRest(minutes Minutes) {
	var times []paidTime
	for i := range r.days {
		d := &r.days[i]
		missed := 0
		for _, period := range d.PeriodsNotProvided {
			if period == MissedRest {
				missed++
			}
		}
		if missed > 0 {
			times = append(times, r.atAverage(d, minutes*Minutes(missed), &missedKeys))
		}
	}
	if len(times) > 0 {
		r.timeLines(RestPremiumLine, times, r.averageTerms())
	}
}
