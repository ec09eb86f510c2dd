package payroll

import "palmero/payroll/rulebook"

// reportingTime pays part of the schedule to a worker who reported for work that the employer then cut short. The time
// so paid was not worked.
func (r *reckoning) reportingTime() {
	rule := r.rules.ReportingTime
	if rule == nil || (r.week.EmployerSize != nil && *r.week.EmployerSize < rule.FromSize) {
		return
	}
	var minutes, pay ratio
	var days []DayQuantity
	var rates []ratio
	for i := range r.days {
		d := &r.days[i]
		owed := reportingMinutes(d, rule)
		if owed.sign() == 0 {
			continue
		}
		rate := r.reportingRate(d)
		minutes, pay = minutes.plus(owed), pay.plus(payOf(1, rate).times(owed))
		days = append(days, DayQuantity{d.Date, r.quantity(owed)})
		rates = append(rates, rate)
	}
	if len(days) == 0 {
		return
	}
	quantity := r.quantity(minutes)
	l := Line{Code: ReportingTimeLine, Quantity: quantity, Unit: minuteUnit, Days: days}
	l.Rate, l.Basis = r.reportingBasis(quantity, rates)
	r.add(l, pay, ratio.roundUp)
}

// reportingMinutes are the minutes that a day's reports still owe. They need not be whole, as half a schedule is exact.
func reportingMinutes(d *workday, rule *rulebook.ReportingTime) ratio {
	var owed ratio
	for i := range d.Reports {
		report := &d.Reports[i]
		if report.EndedBy != EndedByEmployer {
			continue
		}
		worked := d.worked
		if report.WorkedMinutes != nil {
			worked = *report.WorkedMinutes
		}
		due := whole(Minutes(rule.LaterReportLeast))
		if i == 0 {
			part := over(report.ScheduledMinutes*Minutes(rule.ScheduleTenths), 10)
			if whole(worked).compare(part) >= 0 {
				continue
			}
			due = clamp(part, Minutes(rule.AtLeast), Minutes(rule.AtMost))
		}
		if short := due.minus(whole(worked)); short.sign() > 0 {
			owed = owed.plus(short)
		}
	}
	return owed
}

func clamp(q ratio, low, high Minutes) ratio {
	if q.compare(whole(low)) < 0 {
		return whole(low)
	}
	if q.compare(whole(high)) > 0 {
		return whole(high)
	}
	return q
}

// reportingRate is the regular rate, or in a week without work the hourly rate, never below the day's minimum wage.
func (r *reckoning) reportingRate(d *workday) ratio {
	switch {
	case r.worked > 0:
		return r.regularAndFlat()
	case r.week.HourlyRate != nil:
		return whole(max(*r.week.HourlyRate, d.minimum))
	}
	return whole(d.minimum)
}

// reportingBasis gives the rate of the line, nil where the days have different ones, and says how it came about.
func (r *reckoning) reportingBasis(quantity string, rates []ratio) (*Rate, Basis) {
	shown := make([]Rate, len(rates))
	for i, rate := range rates {
		shown[i] = *r.shown(rate)
	}
	shown = sameOrAll(shown)
	terms := Terms{}
	key := "basis.reporting_no_work"
	if r.worked > 0 {
		key, terms = "basis.reporting", r.regularTerms()
	}
	if r.flat.sign() > 0 {
		key = "basis.reporting_flat"
	}
	terms["quantity"], terms["unit"], terms["rates"] = quantity, minuteUnit, shown
	if len(shown) > 1 {
		return nil, Basis{key, terms}
	}
	return &shown[0], Basis{key, terms}
}
