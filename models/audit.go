package models

import (
	"encoding/json"
	"time"

	"github.com/google/uuid"
)

// AuditEntry says who did what, when, and what stood before and after. A command writes exactly one, in its own transaction.
type AuditEntry struct {
	Keyed
	At          time.Time  `json:"at"`
	AccountID   *uuid.UUID `json:"account_id"` // nil: the command line, or signing in
	Action      string     `json:"action"`
	SubjectKind string     `json:"subject_kind"`
	SubjectID   uuid.UUID  `json:"subject_id"`
	BeforeDoc   Document   `json:"before"`
	AfterDoc    Document   `json:"after"`
	Reason      string     `json:"reason"`
}

// TableName tells gorm the table.
func (AuditEntry) TableName() string { return "audit_entries" }

// Audit is what a command says of itself. Before and After are written as JSON; neither may hold a secret.
type Audit struct {
	Action      string
	SubjectKind string
	SubjectID   uuid.UUID
	Before      any
	After       any
	Reason      string
}

// Audit writes the command's entry.
func (t *Tx) Audit(a Audit) error {
	before, err := json.Marshal(a.Before)
	if err != nil {
		return err
	}
	after, err := json.Marshal(a.After)
	if err != nil {
		return err
	}
	e := AuditEntry{
		Keyed: Keyed{ID: t.NewID()}, At: t.Now, Action: a.Action, SubjectKind: a.SubjectKind, SubjectID: a.SubjectID,
		BeforeDoc: before, AfterDoc: after, Reason: a.Reason,
	}
	if t.Actor != uuid.Nil {
		e.AccountID = &t.Actor
	}
	e.ContentHash = ContentHash(e)
	return translate(t.DB().Create(&e).Error)
}
