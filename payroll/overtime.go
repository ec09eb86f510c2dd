package payroll

import (
	"strconv"

	"palmero/payroll/rulebook"
)

// overtimeMinutes finds the minutes of overtime and double time, day by day. No minute is counted twice.
func (r *reckoning) overtimeMinutes() {
	weekly := Minutes(rulebook.NoLimit)
	for i := range 7 {
		limits := r.book.Limits(r.week.WeekStart.AddDays(i), r.coverage, r.week.EmployerSize)
		weekly = min(weekly, Minutes(limits.Weekly))
	}
	var straight Minutes
	for i := range r.days {
		d := &r.days[i]
		r.dailyOvertime(d)
		today := d.worked - d.overtime - d.doubleTime
		beyond := min(today, max(0, straight+today-weekly))
		d.overtime += beyond
		straight += today - beyond
		r.overtime += d.overtime
		r.doubleTime += d.doubleTime
	}
	r.statement.Minutes.Overtime, r.statement.Minutes.DoubleTime = r.overtime, r.doubleTime
}

// dailyOvertime parts a day by the limits of that day, or by those of a seventh day of work.
func (r *reckoning) dailyOvertime(d *workday) {
	if r.rules.SeventhDay != nil && d.Date == r.seventhDay() && r.allSevenWorked() {
		d.overtime = min(d.worked, Minutes(*r.rules.SeventhDay))
		d.doubleTime = d.worked - d.overtime
		return
	}
	limits := r.book.Limits(d.Date, r.coverage, r.week.EmployerSize)
	d.doubleTime = max(0, d.worked-Minutes(limits.DoubleDaily))
	d.overtime = max(0, d.worked-Minutes(limits.Daily)-d.doubleTime)
}

// premiums pays what overtime and double time cost on top of straight time.
func (r *reckoning) premiums() {
	factor := r.rules.PremiumFactor
	r.premium(OvertimePremiumLine, factor.Overtime, r.overtime, func(d *workday) Minutes { return d.overtime })
	r.premium(DoubleTimePremiumLine, factor.DoubleTime, r.doubleTime, func(d *workday) Minutes { return d.doubleTime })
}

// premium makes one line: the part of the factor beyond 1 of the regular rate, whose 1 is paid as straight time, and the whole
// factor of the flat bonus rate, which is not.
func (r *reckoning) premium(code Code, factor int, minutes Minutes, of func(*workday) Minutes) {
	if minutes == 0 {
		return
	}
	extra := r.regular.times(over(factor-10, 10))
	rate := extra.plus(r.flat.times(over(factor, 10)))
	var days dayMinutes
	for i := range r.days {
		days.add(&r.days[i], of(&r.days[i]))
	}
	basis := Basis{"basis.premium", r.regularTerms()}
	basis.Terms["minutes"] = minutes
	basis.Terms["factor"] = trimmed(int64(factor-10), 1)
	if r.flat.sign() > 0 {
		basis.Key = "basis.premium_flat"
		basis.Terms["flat_factor"] = trimmed(int64(factor), 1)
	}
	r.add(Line{
		Code: code, Quantity: strconv.Itoa(int(minutes)), Unit: minuteUnit, Rate: r.shown(rate), Days: days.quantities(), Basis: basis,
	}, payOf(minutes, rate), ratio.roundUp)
}
