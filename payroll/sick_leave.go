package payroll

// sickPay pays sick time at the rate given, else the average of earlier weeks where one is given, else the regular rate, else the hourly rate; never below the minimum wage.
func (r *reckoning) sickPay() {
	var times []paidTime
	var terms Terms
	for i := range r.days {
		d := &r.days[i]
		if d.SickMinutes == 0 {
			continue
		}
		rate, key := r.sickRate()
		if floor := whole(d.minimum); rate.compare(floor) < 0 {
			rate, key = floor, "basis.sick_floor"
		} else if key == "basis.sick_average" {
			terms = Terms{"pay": r.week.SickAverage.Wages, "hours": r.week.SickAverage.Minutes}
		}
		times = append(times, paidTime{d, d.SickMinutes, rate, key})
	}
	r.timeLines(SickLine, times, terms)
}

func (r *reckoning) sickRate() (rate ratio, key string) {
	switch {
	case r.week.SickRate != nil:
		return whole(*r.week.SickRate), "basis.sick_given"
	case r.week.SickAverage != nil:
		return perHour(r.week.SickAverage.Wages, r.week.SickAverage.Minutes), "basis.sick_average"
	case r.worked > 0:
		return r.regularAndFlat(), "basis.sick_regular"
	}
	return whole(*r.week.HourlyRate), "basis.sick_hourly"
}

// leave pays other leave as it was agreed.
func (r *reckoning) leave() {
	var times []paidTime
	for i := range r.days {
		if d := &r.days[i]; d.LeaveMinutes > 0 {
			times = append(times, paidTime{d, d.LeaveMinutes, whole(*r.week.LeaveRate), "basis.leave"})
		}
	}
	r.timeLines(LeaveLine, times, nil)
}
