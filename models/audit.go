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
	Tx          int64      `gorm:"->" json:"-"` // the transaction that wrote it: with Seq the order in which entries are sealed
}

// TableName tells gorm the table.
func (AuditEntry) TableName() string { return "audit_entries" }

// Hash is the hash over everything that the entry says, made anew from its fields. It is the same on both databases, and after an entry has moved
// from one to the other.
func (e *AuditEntry) Hash() string {
	return ContentHash([]any{
		"audit entry", e.EmployerID, e.ID, instant(e.At), e.AccountID, e.Action, e.SubjectKind, e.SubjectID, string(e.BeforeDoc), string(e.AfterDoc), e.Reason,
	})
}

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
	t.command, t.audited = a.Action, a.Action+" "+a.SubjectKind
	failpoint(t.command + ".lines")
	e := AuditEntry{
		Keyed: Keyed{EmployerID: t.Employer, ID: t.NewID()}, At: t.Now, Action: a.Action, SubjectKind: a.SubjectKind, SubjectID: a.SubjectID,
		BeforeDoc: before, AfterDoc: after, Reason: a.Reason,
	}
	if t.Actor != uuid.Nil {
		e.AccountID = &t.Actor
	}
	e.ContentHash = e.Hash()
	return translate(t.DB().Create(&e).Error)
}
