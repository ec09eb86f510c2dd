package models

import (
	"time"

	"github.com/google/uuid"
)

// Trail says which entries of the audit trail are wanted; what is left out narrows nothing.
type Trail struct {
	From, Before time.Time   // written from one instant on, and before another
	By           []uuid.UUID // by one of these accounts
	Kind, Action string      // of what, and what was done with it
	Subject      uuid.UUID   // of which record
}

// Latest returns the entries that are wanted, the last written first, at most limit: all of them, or those that come after an entry in that order.
func (t Trail) Latest(tx *Tx, after *AuditEntry, limit int) ([]AuditEntry, error) {
	q := tx.DB().Order("at DESC, seq DESC").Limit(limit)
	if !t.From.IsZero() {
		q = q.Where("at >= ?", t.From.UTC())
	}
	if !t.Before.IsZero() {
		q = q.Where("at < ?", t.Before.UTC())
	}
	if t.By != nil {
		q = q.Where("account_id IN ?", t.By)
	}
	if t.Kind != "" {
		q = q.Where("subject_kind = ?", t.Kind)
	}
	if t.Action != "" {
		q = q.Where("action = ?", t.Action)
	}
	if t.Subject != uuid.Nil {
		q = q.Where("subject_id = ?", t.Subject)
	}
	if after != nil {
		q = q.Where("(at, seq) < (?, ?)", after.At, after.Seq)
	}
	var found []AuditEntry
	err := q.Find(&found).Error
	return found, translate(err)
}

// AuditEntryOf returns one entry.
func AuditEntryOf(tx *Tx, id uuid.UUID) (*AuditEntry, error) {
	var e AuditEntry
	if err := tx.DB().Where("id = ?", id).Take(&e).Error; err != nil {
		return nil, translate(err)
	}
	return &e, nil
}
