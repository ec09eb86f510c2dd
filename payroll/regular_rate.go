package payroll

import "palmero/payroll/rulebook"

// regularRate spreads the straight-time pay over the hours worked, and the flat bonuses apart over the hours that are no
// overtime, where the book says so. Without work there is no regular rate.
func (r *reckoning) regularRate() {
	if r.worked == 0 {
		return
	}
	r.regularPay = r.paid(PieceLine, SharedPieceLine, HourlyLine, NonproductiveLine, BonusLine,
		MinimumMakeupLine, GuaranteeMakeupLine, RestRecoveryLine)
	r.nonOvertime = r.worked - r.overtime - r.doubleTime
	if flat := r.flatBonuses(); flat > 0 && r.rules.FlatBonus == rulebook.NonOvertimeHours && r.nonOvertime > 0 {
		r.flatPay = flat
		r.regularPay -= flat
		r.flat = perHour(flat, r.nonOvertime)
		r.statement.Rates.FlatBonus = r.shown(r.flat)
	}
	r.regular = perHour(r.regularPay, r.worked)
	r.statement.Rates.Regular = r.shown(r.regular)
}

// regularAndFlat is the rate at which the law pays an hour that was not worked.
func (r *reckoning) regularAndFlat() ratio { return r.regular.plus(r.flat) }

// regularTerms are the terms of a basis that rests on the regular rate, and on the flat bonus rate where there is one.
func (r *reckoning) regularTerms() Terms {
	terms := Terms{"regular": *r.shown(r.regular), "pay": r.regularPay, "worked": r.worked}
	if r.flat.sign() > 0 {
		terms["flat"], terms["flat_pay"], terms["flat_hours"] = *r.shown(r.flat), r.flatPay, r.nonOvertime
	}
	return terms
}
