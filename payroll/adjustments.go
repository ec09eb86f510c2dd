package payroll

// adjustments pays, or takes back, money of other weeks as given. It is in gross, and in no rate of this week.
func (r *reckoning) adjustments() {
	for _, a := range r.week.Adjustments {
		r.sumLine(AdjustmentLine, a.Amount, "basis.adjustment", Terms{"week": a.ForWeek, "reason": a.Reason}, a.Authority)
	}
}

// reimbursements repays expenses as given. They are no wage, and in net only.
func (r *reckoning) reimbursements() {
	for _, a := range r.week.Reimbursements {
		r.sumLine(ReimbursementLine, a.Amount, "basis.reimbursement", Terms{"kind": a.Kind}, "")
	}
}
