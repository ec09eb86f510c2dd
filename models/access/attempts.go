package access

import (
	"context"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// How many attempts a name has, within which time, and for how long it is blocked after them.
const (
	maxAttempts   = 10
	attemptWindow = 15 * time.Minute
	blockedFor    = 15 * time.Minute
)

// attempt counts the attempts on one name since first_at. The name need not be any account's: what is refused tells nothing.
type attempt struct {
	EmployerID   uuid.UUID `gorm:"primaryKey"`
	SignInName   string    `gorm:"primaryKey"`
	Failures     int64
	FirstAt      time.Time
	BlockedUntil *time.Time
}

// TableName tells gorm the table.
func (attempt) TableName() string { return "sign_in_attempts" }

// charge counts an attempt before it is made, in a transaction of its own, so that neither many at once nor a failure go uncounted;
// success forgives. It refuses once the name is blocked.
func (g *Gate) charge(ctx context.Context, scope models.Scope, name string) error {
	var until *time.Time
	var now time.Time
	err := g.store.In(ctx, scope, func(tx *models.Tx) error {
		until, now = nil, tx.Now
		a, err := holdAttempt(tx, name)
		if err != nil {
			return err
		}
		if a.BlockedUntil != nil && tx.Now.Before(*a.BlockedUntil) {
			until = a.BlockedUntil
			return nil
		}
		if a.BlockedUntil != nil || tx.Now.Sub(a.FirstAt) >= attemptWindow {
			a.Failures, a.FirstAt, a.BlockedUntil = 0, tx.Now, nil
		}
		a.Failures++
		if a.Failures >= maxAttempts {
			end := tx.Now.Add(blockedFor)
			a.BlockedUntil = &end
		}
		if err := tx.DB().Select("failures", "first_at", "blocked_until").Updates(a).Error; err != nil {
			return err
		}
		return tidy(tx)
	})
	if err != nil || until == nil {
		return err
	}
	wait := until.Sub(now)
	return &models.Error{Kind: models.TooMany, Key: "problem.too_many_attempts", Terms: payroll.Terms{
		"seconds": int(wait.Round(time.Second).Seconds()), "minutes": int((wait + time.Minute - 1) / time.Minute),
	}}
}

// holdAttempt returns the row of a name, made if it is missing, and held until the transaction ends.
func holdAttempt(tx *models.Tx, name string) (*attempt, error) {
	err := tx.DB().Exec(`INSERT INTO sign_in_attempts (employer_id, sign_in_name, failures, first_at) VALUES (?, ?, 0, ?)
		ON CONFLICT (employer_id, sign_in_name) DO UPDATE SET failures = sign_in_attempts.failures`, tx.Employer, name, tx.Now).Error
	if err != nil {
		return nil, err
	}
	var a attempt
	return &a, tx.DB().Where("sign_in_name = ?", name).Take(&a).Error
}

// forgive takes the attempts on a name back.
func forgive(tx *models.Tx, name string) error {
	return tx.DB().Model(&attempt{}).Where("sign_in_name = ?", name).
		Updates(map[string]any{"failures": 0, "blocked_until": nil}).Error
}

// tidy drops the counts that no longer count, so that invented names do not pile up.
func tidy(tx *models.Tx) error {
	return tx.DB().Where("first_at < ?", tx.Now.Add(-attemptWindow-blockedFor)).Delete(&attempt{}).Error
}
