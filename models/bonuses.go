package models

import (
	"github.com/google/uuid"

	"palmero/payroll"
)

// Bonus is a sum that a worker, or each worker of a crew, earned over one or several weeks.
type Bonus = Recorded[BonusContent]

// BonusContent says who earned what, over which days, and the week whose statement pays it. A bonus that was neither promised nor measured by
// work is discretionary (29 CFR 778.211) and stays out of the regular rate; any other is spread over the weeks that hold its days.
type BonusContent struct {
	WorkerID      *uuid.UUID        `json:"worker_id,omitempty"`
	CrewID        *uuid.UUID        `json:"crew_id,omitempty"` // each worker who belonged to it on one of the days gets the amount
	EarnedFrom    Date              `json:"earned_from"`
	EarnedThrough Date              `json:"earned_through"`
	PayWeek       Date              `json:"pay_week"` // its first day
	Kind          payroll.BonusKind `json:"kind"`
	Amount        payroll.Cents     `json:"amount"` // none: a correction that takes the bonus back before it is paid
	WhatFor       string            `json:"what_for"`
	Promised      bool              `json:"promised"` // in a contract, at hiring, by an announcement or by custom, so that workers expect it
	Measured      bool              `json:"measured"` // by hours, production, quality, attendance, or staying to the end
	Basis         string            `json:"basis"`    // what the two answers rest on
}

func (*BonusContent) table() string { return "bonuses" }

// Discretionary tells whether the bonus is left out of the regular rate.
func (b *BonusContent) Discretionary() bool { return !b.Promised && !b.Measured }

// longestBonus is how many days a bonus may have been earned over: a year and a season's slack.
const longestBonus = 400

func (b *BonusContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	switch {
	case (b.WorkerID == nil) == (b.CrewID == nil):
		c.Fault("/worker_id", "fault.worker_or_crew", nil)
	case b.WorkerID != nil:
		c.Reference("/worker_id", "workers", *b.WorkerID)
	default:
		c.Reference("/crew_id", "crews", *b.CrewID)
	}
	if c.Day("/earned_from", b.EarnedFrom.Date) && c.DayUntil("/earned_through", b.EarnedThrough.Date, b.EarnedFrom.AddDays(longestBonus)) && b.EarnedThrough.Before(b.EarnedFrom.Date) {
		c.Fault("/earned_through", "fault.ends_before_start", nil)
	}
	profile, err := tx.Profile()
	if err != nil {
		return nil, err
	}
	c.Planned("/pay_week", b.PayWeek.Date)
	if first := WeekOf(b.PayWeek.Date, profile.Content.WeekStart); first != b.PayWeek.Date {
		c.Fault("/pay_week", "fault.not_week_start", payroll.Terms{"nearest": first})
	} else if b.PayWeek.AddDays(6).Before(b.EarnedThrough.Date) {
		c.Fault("/pay_week", "fault.bonus_paid_early", payroll.Terms{"through": b.EarnedThrough.Date})
	}
	c.OneOf("/kind", string(b.Kind), string(payroll.Production), string(payroll.Flat))
	c.Range("/amount", int64(b.Amount), 0, 10_000_000)
	c.Text("/what_for", &b.WhatFor, shortText)
	c.Text("/basis", &b.Basis, longText)
	return c.Done()
}
