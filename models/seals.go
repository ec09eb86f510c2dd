package models

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
)

// AuditSeal closes a stretch of an employer's audit entries: whoever changes, adds or removes one of them afterwards, or a seal, breaks the chain of
// hashes from there on. A seal covers the entries after the seal before it, through the entry (LastTx, LastSeq), in the order of (Tx, Seq).
type AuditSeal struct {
	EmployerID   uuid.UUID `gorm:"primaryKey" json:"-"`
	Number       int64     `gorm:"primaryKey" json:"number"` // from 1, without gaps
	SealedAt     time.Time `json:"sealed_at"`
	Entries      int64     `json:"entries"` // how many it covers
	LastTx       int64     `json:"-"`
	LastSeq      int64     `json:"-"`
	PreviousHash string    `json:"previous_hash"` // "" for the first
	Hash         string    `json:"hash"`
}

// TableName tells gorm the table.
func (AuditSeal) TableName() string { return "audit_seals" }

// Covers tells whether an entry comes no later than the last one under the seal.
func (s *AuditSeal) Covers(e *AuditEntry) bool {
	return e.Tx < s.LastTx || e.Tx == s.LastTx && e.Seq <= s.LastSeq
}

// SealedEntry is what a seal takes in of an entry.
type SealedEntry struct {
	ID          uuid.UUID
	ContentHash string
	Tx, Seq     int64
}

// Sum is the hash that a seal over these entries has: SHA-256, in hexadecimal digits, over a line for the seal itself, one for the hash of the seal before
// it, and one for each entry with its identifier and the hash of its content. Where entries stand in the database is no part of it, so that
// it holds after they have moved to another one.
func (s *AuditSeal) Sum(entries []SealedEntry) string {
	h := sha256.New()
	fmt.Fprintf(h, "palmero seal %d of %s at %s over %d entries\nafter %s\n",
		s.Number, s.EmployerID, instant(s.SealedAt).Format(time.RFC3339Nano), len(entries), s.PreviousHash)
	for _, e := range entries {
		fmt.Fprintf(h, "%s %s\n", e.ID, e.ContentHash)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// AuditHead returns the last seal of the employer's chain; nil where nothing is sealed yet.
func AuditHead(tx *Tx) (*AuditSeal, error) {
	var head []AuditSeal
	if err := tx.DB().Order("number DESC").Limit(1).Find(&head).Error; err != nil || len(head) == 0 {
		return nil, translate(err)
	}
	return &head[0], nil
}

// Unsealed counts the entries after the chain's head, which is nil where nothing is sealed yet.
func Unsealed(tx *Tx, head *AuditSeal) (n int64, err error) {
	q := tx.DB().Model(&AuditEntry{})
	if head != nil {
		q = q.Where("(tx, seq) > (?, ?)", head.LastTx, head.LastSeq)
	}
	err = q.Count(&n).Error
	return n, translate(err)
}

// sealAtOnce is how many entries a seal covers at most.
const sealAtOnce = 5000

// Seal adds a seal over the entries that have none and to whose stretch nothing can be added any more; nil where there are none. Sealers of one
// employer wait for one another; those who write entries wait for nobody.
//
// An entry is numbered by the transaction that writes it. All transactions below the oldest that still runs have ended, so that what is to be seen of
// them is all that there will ever be of them, in whatever order they were committed.
func Seal(tx *Tx) (*AuditSeal, error) {
	if err := holdSeals(tx.db, tx.dialect, tx.Employer.String()); err != nil {
		return nil, err
	}
	head, err := AuditHead(tx)
	if err != nil {
		return nil, err
	}
	if head == nil {
		head = &AuditSeal{EmployerID: tx.Employer, LastTx: beforeAllTx}
	}
	if err := tx.checkCounter(head); err != nil {
		return nil, err
	}
	var entries []SealedEntry
	err = tx.DB().Model(&AuditEntry{}).Where("(tx, seq) > (?, ?)", head.LastTx, head.LastSeq).Where(ended(tx.dialect)).
		Order("tx, seq").Limit(sealAtOnce).Find(&entries).Error
	if err != nil || len(entries) == 0 {
		return nil, translate(err)
	}
	last := entries[len(entries)-1]
	next := &AuditSeal{
		EmployerID: tx.Employer, Number: head.Number + 1, SealedAt: tx.Now, Entries: int64(len(entries)), LastTx: last.Tx, LastSeq: last.Seq,
		PreviousHash: head.Hash,
	}
	next.Hash = next.Sum(entries)
	tx.command = "seal"
	failpoint("seal.lines")
	return next, translate(tx.DB().Create(next).Error)
}

// beforeAllTx is below every number that an entry's transaction may have, those included that a restore gives.
const beforeAllTx = -1 << 62

// checkCounter finds out whether the server's transactions are numbered on from those of the last seal. They are not where the tables were copied into
// another server by other means than a restore: new entries would then seem to be older than the seal.
func (t *Tx) checkCounter(head *AuditSeal) error {
	next, err := nextTx(t.db, t.dialect, t.Employer.String())
	if err == nil && next <= head.LastTx {
		err = errors.New("the database numbers its transactions from before the last audit seal, as after a copy by pg_dump into another server; " +
			"move it with \"palmero backup\" and \"palmero restore\", or with a physical copy, and nothing is lost")
	}
	return err
}

// SealAll seals every employer's entries as far as it can now, and returns how many it sealed.
func (s *Store) SealAll(ctx context.Context) (sealed int64, err error) {
	employers, err := s.Employers(ctx)
	if err != nil {
		return 0, err
	}
	var errs []error
	for _, e := range employers {
		n, err := s.SealEmployer(ctx, e.ID)
		sealed += n
		if err != nil {
			errs = append(errs, fmt.Errorf("seal the audit entries of %s: %w", e.SignInName, err))
		}
	}
	if len(errs) == 0 {
		s.counts.sealing(s.now())
	}
	return sealed, errors.Join(errs...)
}

// SealEmployer seals one employer's entries as far as it can now, and returns how many it sealed.
func (s *Store) SealEmployer(ctx context.Context, employer uuid.UUID) (sealed int64, err error) {
	for {
		var seal *AuditSeal
		err := s.In(ctx, Scope{Employer: employer}, func(tx *Tx) (err error) {
			seal, err = Seal(tx)
			return err
		})
		if err != nil || seal == nil {
			return sealed, err
		}
		sealed += seal.Entries
		if seal.Entries < sealAtOnce {
			return sealed, nil // what has come in meanwhile can wait for the next time
		}
	}
}
