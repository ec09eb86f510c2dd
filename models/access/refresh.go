package access

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"time"

	"github.com/google/uuid"

	"palmero/models"
)

// refreshToken is one step of a session. What is handed out is the employer and 32 random bytes; what is kept is their hash.
type refreshToken struct {
	EmployerID    uuid.UUID `gorm:"primaryKey"`
	ID            uuid.UUID `gorm:"primaryKey"`
	SessionID     uuid.UUID
	PredecessorID *uuid.UUID
	TokenHash     string
	IssuedAt      time.Time
	ExpiresAt     time.Time
	FirstUsedAt   *time.Time
}

// TableName tells gorm the table.
func (refreshToken) TableName() string { return "refresh_tokens" }

const randomLength = 32

// newToken makes what a client is handed: the employer, so that the records can be found again, and the random part.
func newToken(employer uuid.UUID) string {
	b := make([]byte, len(employer)+randomLength)
	copy(b, employer[:])
	random(b[len(employer):])
	return base64.RawURLEncoding.EncodeToString(b)
}

func employerOf(token string) (uuid.UUID, bool) {
	b, err := base64.RawURLEncoding.Strict().DecodeString(token)
	if err != nil || len(b) != len(uuid.UUID{})+randomLength {
		return uuid.Nil, false
	}
	employer, err := uuid.FromBytes(b[:len(uuid.UUID{})])
	return employer, err == nil && employer != uuid.Nil
}

func hashToken(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// issue hands out a refresh token of a session, good no longer than the session.
func (g *Gate) issue(tx *models.Tx, a *models.Account, s *session, predecessor *uuid.UUID) (*Granted, error) {
	token := newToken(tx.Employer)
	t := refreshToken{
		ID: tx.NewID(), SessionID: s.ID, PredecessorID: predecessor, TokenHash: hashToken(token),
		IssuedAt: tx.Now, ExpiresAt: tx.Now.Add(g.refresh),
	}
	if end := s.StartedAt.Add(g.session); t.ExpiresAt.After(end) {
		t.ExpiresAt = end
	}
	if err := tx.DB().Create(&t).Error; err != nil {
		return nil, err
	}
	return &Granted{
		Employer: tx.Employer, RefreshToken: token, RefreshExpires: t.ExpiresAt, Lifetime: t.ExpiresAt.Sub(tx.Now),
		Caller: Caller{Account: a.ID, Session: s.ID, Role: a.Content.Role, Language: a.Content.Language, Name: a.Content.Name, Worker: a.Content.WorkerID},
	}, nil
}

// clearSpent drops the tokens of an account's sessions that are over; the sessions themselves stay on record. A session's tokens refer to one
// another and go together.
func (g *Gate) clearSpent(tx *models.Tx, account uuid.UUID) error {
	return tx.DB().Where(`session_id IN (SELECT s.id FROM sign_in_sessions s WHERE s.employer_id = ?
		AND s.account_id = ? AND (s.ended_at IS NOT NULL OR s.started_at <= ?))`, tx.Employer, account, tx.Now.Add(-g.session)).Delete(&refreshToken{}).Error
}

// Refresh hands out the successor of a refresh token. See the package's description for what becomes of the token itself.
func (g *Gate) Refresh(ctx context.Context, token string) (*Granted, error) {
	employer, ok := employerOf(token)
	if !ok {
		return nil, refused("problem.refresh_refused")
	}
	var granted *Granted
	var refusal error
	err := g.store.In(ctx, models.Scope{Employer: employer}, func(tx *models.Tx) (err error) {
		granted, refusal, err = g.step(tx, hashToken(token))
		return err
	})
	if err != nil {
		return nil, err
	}
	return granted, refusal // the end of a session is kept, though the answer is a refusal
}

func (g *Gate) step(tx *models.Tx, hash string) (granted *Granted, refusal, err error) {
	s, t, err := heldSession(tx, hash)
	switch {
	case notFound(err):
		return nil, refused("problem.refresh_refused"), nil
	case err != nil:
		return nil, nil, err
	case s.EndedAt != nil, !tx.Now.Before(t.ExpiresAt):
		return nil, refused("problem.session_ended"), nil
	}
	if copied, err := overtaken(tx, t); err != nil {
		return nil, nil, err
	} else if copied {
		return nil, refused("problem.refresh_reused"), endReused(tx, s)
	}
	if t.FirstUsedAt == nil {
		if err := tx.DB().Model(&refreshToken{}).Where("id = ?", t.ID).UpdateColumn("first_used_at", tx.Now).Error; err != nil {
			return nil, nil, err
		}
	}
	a, err := models.Get[models.AccountContent](tx, s.AccountID)
	if err != nil {
		return nil, nil, err
	}
	if a.Content.Suspended {
		return nil, refused("problem.suspended"), nil
	}
	granted, err = g.issue(tx, a, s, &t.ID)
	return granted, nil, err
}

// heldSession finds the session of a token and holds it, so that its tokens are used one after another.
func heldSession(tx *models.Tx, hash string) (*session, *refreshToken, error) {
	var s session
	err := tx.Locking().Where("id = (SELECT session_id FROM refresh_tokens t WHERE t.employer_id = sign_in_sessions.employer_id AND t.token_hash = ?)", hash).
		Take(&s).Error
	if err != nil {
		return nil, nil, err
	}
	var t refreshToken
	return &s, &t, tx.DB().Where("token_hash = ?", hash).Take(&t).Error
}

// overtaken tells whether the session has gone on without this token: a successor or a sibling of it was used.
func overtaken(tx *models.Tx, t *refreshToken) (bool, error) {
	var n int64
	query := tx.DB().Model(&refreshToken{}).Where("session_id = ? AND first_used_at IS NOT NULL", t.SessionID)
	if t.PredecessorID == nil {
		query = query.Where("predecessor_id = ?", t.ID)
	} else {
		query = query.Where("(predecessor_id = ? OR predecessor_id = ? AND id <> ?)", t.ID, *t.PredecessorID, t.ID)
	}
	err := query.Count(&n).Error
	return n > 0, err
}

func endReused(tx *models.Tx, s *session) error {
	if err := endSession(tx, s.ID, "a used refresh token was presented"); err != nil {
		return err
	}
	return tx.Audit(models.Audit{Action: "end_session", SubjectKind: "accounts", SubjectID: s.AccountID, Reason: "a refresh token was presented that had been replaced"})
}
