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

// Standing reads who is asking, as of now: the session must not have ended, nor the account be suspended. That a worker's work has ended does
// not matter: they still read their statements.
func Standing(tx *models.Tx, account, sessionID uuid.UUID) (*Caller, error) {
	var s session
	err := tx.DB().Where("id = ? AND account_id = ?", sessionID, account).Take(&s).Error
	if notFound(err) || err == nil && s.EndedAt != nil {
		return nil, refused("problem.session_ended")
	} else if err != nil {
		return nil, err
	}
	a, err := models.Get[models.AccountContent](tx, account)
	if err != nil {
		return nil, err
	}
	if a.Content.Suspended {
		return nil, refused("problem.suspended")
	}
	return &Caller{Account: a.ID, Session: s.ID, Role: a.Content.Role, Language: a.Content.Language, Name: a.Content.Name, Worker: a.Content.WorkerID}, nil
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
