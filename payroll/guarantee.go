package payroll

// guaranteeMakeup pays what the piece work is missing to the hourly rate that a contract offers. Hourly and nonproductive
// time meets the offer by its rate; bonuses do not fill it.
func (r *reckoning) guaranteeMakeup() {
	var due ratio
	var days dayMinutes
	var offers []Rate
	for i := range r.days {
		d := &r.days[i]
		minutes := d.piece
		if r.rules.Rest == included && d.piece > 0 {
			minutes += d.rest
		}
		if d.offered == 0 || minutes == 0 {
			continue
		}
		due = due.plus(payOf(minutes, whole(d.offered)))
		days.add(d, minutes)
		offers = append(offers, d.offered)
	}
	earned := r.paid(PieceLine, SharedPieceLine, MinimumMakeupLine)
	short := due.minus(whole(earned))
	if short.sign() <= 0 {
		return
	}
	r.makeupLine(GuaranteeMakeupLine, days, short, Basis{"basis.guarantee", Terms{
		"offers": sameOrAll(offers), "minutes": days.sum(), "due": *r.shown(inRate(due)), "earned": earned,
	}})
}
