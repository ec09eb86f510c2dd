package models

import (
	"time"

	"github.com/google/uuid"
)

// Employment is an employment that ended before the worker was hired anew; the present one is the worker's own dates.
type Employment struct {
	EmployerID  uuid.UUID  `gorm:"primaryKey" json:"-"`
	ID          uuid.UUID  `gorm:"primaryKey" json:"id"`
	Seq         int64      `gorm:"->" json:"-"`
	WorkerID    uuid.UUID  `json:"worker_id"`
	FromDate    Date       `json:"from_date"`
	ThroughDate Date       `json:"through_date"`
	RecordedAt  time.Time  `json:"recorded_at"`
	RecordedBy  *uuid.UUID `json:"recorded_by"`
}

// follow keeps the employment that ended where an update begins another after it: what was earned in the first may come back.
func (w *WorkerContent) follow(tx *Tx, id uuid.UUID, old *WorkerContent) error {
	if old.EndedOn.IsZero() || !w.StartedOn.After(old.EndedOn.Date) {
		return nil
	}
	e := Employment{ID: tx.NewID(), WorkerID: id, FromDate: old.StartedOn, ThroughDate: old.EndedOn, RecordedAt: tx.Now}
	if tx.Actor != uuid.Nil {
		e.RecordedBy = &tx.Actor
	}
	return tx.DB().Create(&e).Error
}
