package access

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
)

// Caller is an account as it stands at this moment.
type Caller struct {
	Account  uuid.UUID
	Session  uuid.UUID
	Role     models.Role
	Language string
	Name     string
	Worker   *uuid.UUID // whose records are the caller's own
}

// session is one sign-in and what came of it.
type session struct {
	EmployerID uuid.UUID `gorm:"primaryKey"`
	ID         uuid.UUID `gorm:"primaryKey"`
	AccountID  uuid.UUID
	StartedAt  time.Time
	EndedAt    *time.Time
	EndReason  string
}

// TableName tells gorm the table.
func (session) TableName() string { return "sign_in_sessions" }

// Standing asks who is asking, as of now: the session must not have ended, nor the account be suspended. That a worker's work has ended does
// not matter: they still read their statements. The caller is there once the batch was answered.
func Standing(b *models.Batch, account, sessionID uuid.UUID) *Caller {
	var sessions []session
	var a models.Account
	b.Find(b.DB().Where("id = ? AND account_id = ? AND ended_at IS NULL", sessionID, account), &sessions)
	b.Then(func() error {
		if len(sessions) == 0 {
			return refused("problem.session_ended")
		}
		return nil
	})
	models.Take(b, b.DB().Where("id = ?", account), &a)
	var c Caller
	b.Then(func() error {
		if a.Content.Suspended {
			return refused("problem.suspended")
		}
		c = Caller{Account: a.ID, Session: sessionID, Role: a.Content.Role, Language: a.Content.Language, Name: a.Content.Name, Worker: a.Content.WorkerID}
		return nil
	})
	return &c
}

// SignOut ends the caller's session.
func SignOut(tx *models.Tx, caller *Caller) error {
	if err := endSession(tx, caller.Session, "signed out"); err != nil {
		return err
	}
	return tx.Audit(models.Audit{Action: "sign_out", SubjectKind: "accounts", SubjectID: caller.Account})
}

func endSession(tx *models.Tx, id uuid.UUID, reason string) error {
	return tx.DB().Model(&session{}).Where("id = ? AND ended_at IS NULL", id).
		Updates(map[string]any{"ended_at": tx.Now, "end_reason": reason}).Error
}

// endSessions ends all sessions of an account.
func endSessions(tx *models.Tx, account uuid.UUID, reason string) error {
	return tx.DB().Model(&session{}).Where("account_id = ? AND ended_at IS NULL", account).
		Updates(map[string]any{"ended_at": tx.Now, "end_reason": reason}).Error
}

func refused(key string) error { return &models.Error{Kind: models.Refused, Key: key} }
