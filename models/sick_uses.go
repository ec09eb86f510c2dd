package models

import (
	"github.com/google/uuid"

	"palmero/payroll"
)

// SickUse is sick leave that a worker took. One that takes the place of another may have no minutes: the leave was not taken after all.
type SickUse = Recorded[SickUseContent]

// SickUseContent says whose day and how long. The garden is where the worker would have worked: its rulebook governs. The note says why, which is
// nobody's business but that of whoever runs the pay: neither the audit trail nor the content's hash has it.
type SickUseContent struct {
	WorkerID uuid.UUID       `json:"worker_id"`
	Workday  Date            `json:"workday"`
	GardenID uuid.UUID       `json:"garden_id"`
	Minutes  payroll.Minutes `json:"minutes"`
	Note     string          `json:"-"`
}

func (*SickUseContent) table() string { return "sick_uses" }

func (u *SickUseContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/worker_id", "workers", u.WorkerID)
	c.Planned("/workday", u.Workday.Date)
	c.Reference("/garden_id", "gardens", u.GardenID)
	c.Range("/minutes", int64(u.Minutes), 0, 24*60)
	c.OptionalText("/note", &u.Note, longText)
	return c.Done()
}
