package payroll

import "palmero/payroll/dated"

// ContractHours are the hours of an H-2A contract that is over, or over so far, for the guarantee of 20 CFR 655.122(i).
type ContractHours struct {
	Workdays     int           // of the whole contract, from the first workday after arrival or the advertised day, the later
	DayMinutes   Minutes       // of a workday by the job order
	Holiday      Minutes       // of those workdays, on the worker's religious days and federal holidays
	Days         []ContractDay // each once
	RequiredRate Rate          // the highest of the rates that the contract and the law ask for, an hour
	PieceEarned  Cents         // by the piece in the contract, with PieceTime what it took; zero for who is paid by the hour
	PieceTime    Minutes
}

// ContractDay is what was offered and worked on one day of a contract.
type ContractDay struct {
	Date            dated.Date
	Offered, Worked Minutes
}

// HoursGuarantee says how the hours of a contract compare with what it guarantees.
type HoursGuarantee struct {
	Guaranteed Minutes // rounded up to the minute
	Offered    Minutes
	Worked     Minutes
	Counted    Minutes // what was worked, and what was offered and refused up to the day of the job order
	Shortfall  Minutes
	Rate       Rate  // of the shortfall: the average earned by the piece or the required rate, the higher; shown half up
	Pay        Cents // for the shortfall, rounded up
}

// Guarantee reckons the guarantee of a contract: a share, in millionths, of the job order's hours is to be offered, and
// what falls short is paid as if it had been worked. It returns what is wrong with the contract instead, where something is.
func (c *ContractHours) Guarantee(share int) (HoursGuarantee, []Fault) {
	if faults := c.faults(); len(faults) > 0 {
		return HoursGuarantee{}, faults
	}
	var g HoursGuarantee
	promised := whole(c.DayMinutes * Minutes(c.Workdays)).minus(whole(c.Holiday))
	guaranteed, _ := promised.times(over(share, sharePerUnit)).roundUp()
	g.Guaranteed = Minutes(guaranteed)
	for _, d := range c.Days {
		g.Offered += d.Offered
		g.Worked += d.Worked
		g.Counted += max(d.Worked, min(d.Offered, c.DayMinutes))
	}
	g.Shortfall = max(0, g.Guaranteed-g.Counted)
	rate := whole(c.RequiredRate)
	if c.PieceTime > 0 {
		if average := perHour(c.PieceEarned, c.PieceTime); average.compare(rate) > 0 {
			rate = average
		}
	}
	shown, _ := rate.roundHalfUp()
	pay, _ := payOf(g.Shortfall, rate).roundUp()
	g.Rate, g.Pay = Rate(shown), Cents(pay)
	return g, nil
}

func (c *ContractHours) faults() []Fault {
	k := checker{reckoning: &reckoning{}}
	k.number(int64(c.Workdays), 3_660, "workdays")
	k.minutes(c.DayMinutes, "day_minutes")
	k.number(int64(c.Holiday), max(0, int64(c.DayMinutes)*int64(c.Workdays)), "holiday_minutes")
	k.rate(&c.RequiredRate, "required_rate")
	k.number(int64(c.PieceEarned), centsLimit, "piece_earned")
	k.number(int64(c.PieceTime), mostMinutes, "piece_minutes")
	seen := map[dated.Date]bool{}
	for i, d := range c.Days {
		k.minutes(d.Offered, "days", i, "offered")
		k.minutes(d.Worked, "days", i, "worked")
		if seen[d.Date] {
			k.fault("fault.day_twice", Terms{"date": d.Date}, "days", i, "date")
		}
		seen[d.Date] = true
	}
	return k.faults
}
