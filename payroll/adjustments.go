package payroll

// adjustments pays, or takes back, money of other weeks as given. It is in gross, and in no rate of this week.
func (r *reckoning) adjustments() {
	for i := range r.week.Adjustments {
		a := &r.week.Adjustments[i]
		key, terms := a.basis()
		r.sumLine(AdjustmentLine, a.Amount, key, terms, a.Authority)
	}
}

func (a *Adjustment) basis() (key string, terms Terms) {
	terms = Terms{"week": a.ForWeek, "reason": a.Reason}
	switch s, g := a.Spread, a.Guarantee; {
	case s != nil:
		terms["bonus"], terms["share"], terms["more"], terms["minutes"], terms["all"] = s.Bonus, s.Share, a.Amount-s.Share, s.Minutes, s.AllMinutes
		return "basis.bonus_share", terms
	case g != nil:
		terms["guaranteed"], terms["counted"], terms["short"], terms["rate"] = g.Guaranteed, g.Counted, g.Guaranteed-g.Counted, g.Rate
		return "basis.hours_guarantee", terms
	}
	return "basis.adjustment", terms
}

// reimbursements repays expenses as given. They are no wage, and in net only.
func (r *reckoning) reimbursements() {
	for _, a := range r.week.Reimbursements {
		r.sumLine(ReimbursementLine, a.Amount, "basis.reimbursement", Terms{"kind": a.Kind}, "")
	}
}
