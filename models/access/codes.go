package access

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
)

// signInCode is a code for a first sign-in, or a new secret.
type signInCode struct {
	EmployerID uuid.UUID `gorm:"primaryKey"`
	ID         uuid.UUID `gorm:"primaryKey"`
	AccountID  uuid.UUID
	CodeHash   string
	IssuedBy   *uuid.UUID
	IssuedAt   time.Time
	ExpiresAt  time.Time
	UsedAt     *time.Time
}

// TableName tells gorm the table.
func (signInCode) TableName() string { return "sign_in_codes" }

// alphabet leaves out what is misread on paper: I, L, O and U (Crockford's base 32).
const alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// codeLength is ten characters of five bits each.
const codeLength = 10

// Code is a code as it is handed out, once.
type Code struct {
	Code      string // such as "7K3MQ-9XTB2"
	ExpiresAt time.Time
}

func newCode() string {
	b := make([]byte, codeLength)
	random(b)
	for i := range b {
		b[i] = alphabet[b[i]%byte(len(alphabet))]
	}
	return string(b)
}

// plainCode reads a code as people type it: in small letters, with spaces or hyphens, with the letters that look like a digit.
func plainCode(s string) string {
	return misread.Replace(strings.ToUpper(s))
}

var misread = strings.NewReplacer("-", "", " ", "", "O", "0", "I", "1", "L", "1")

// MayIssue tells who may hand out a code for whom: an administrator for anyone, a clerk for workers and crew leads. Whoever records tallies
// may for nobody: with a worker's code they could agree to their own count in the worker's name.
func MayIssue(by, to models.Role) bool {
	switch by {
	case models.RoleAdministrator:
		return true
	case models.RoleClerk:
		return to == models.RoleWorker || to == models.RoleCrewLead
	}
	return false
}

// IssueCode makes a code with which an account's owner signs in and sets a secret. Earlier codes are void from then on. The role is that of
// whoever asks; the command line acts as an administrator.
func (g *Gate) IssueCode(ctx context.Context, scope models.Scope, by models.Role, account uuid.UUID) (*Code, error) {
	plain := newCode()
	hash, err := g.hasher.hash(ctx, plain)
	if err != nil {
		return nil, err
	}
	code := &Code{Code: plain[:codeLength/2] + "-" + plain[codeLength/2:]}
	err = g.store.In(ctx, scope, func(tx *models.Tx) error {
		a, err := lockAccount(tx, account) // one code after another
		if err != nil {
			return err
		}
		if !MayIssue(by, a.Content.Role) {
			return &models.Error{Kind: models.Forbidden, Key: "problem.code_not_yours"}
		}
		code.ExpiresAt = tx.Now.Add(g.code)
		return keepCode(tx, a.ID, hash, code.ExpiresAt)
	})
	if err != nil {
		return nil, err
	}
	return code, nil
}

func keepCode(tx *models.Tx, account uuid.UUID, hash string, expires time.Time) error {
	if err := voidCodes(tx, account); err != nil {
		return err
	}
	c := signInCode{ID: tx.NewID(), AccountID: account, CodeHash: hash, IssuedAt: tx.Now, ExpiresAt: expires}
	if tx.Actor != uuid.Nil {
		c.IssuedBy = &tx.Actor
	}
	if err := tx.DB().Create(&c).Error; err != nil {
		return err
	}
	return tx.Audit(models.Audit{Action: "issue_code", SubjectKind: "accounts", SubjectID: account, After: map[string]any{"expires_at": expires}})
}

// voidCodes ends the codes of an account that were not used.
func voidCodes(tx *models.Tx, account uuid.UUID) error {
	return tx.DB().Model(&signInCode{}).Where("account_id = ? AND used_at IS NULL AND expires_at > ?", account, tx.Now).
		UpdateColumn("expires_at", tx.Now).Error
}

// liveCode returns the code of an account that can be used now; nil where there is none.
func liveCode(tx *models.Tx, account uuid.UUID) (*signInCode, error) {
	var c signInCode
	err := tx.DB().Where("account_id = ? AND used_at IS NULL AND expires_at > ?", account, tx.Now).Order("issued_at DESC").Take(&c).Error
	if notFound(err) {
		return nil, nil
	}
	return &c, err
}

// FirstSignIn opens a session for whoever holds the code of an account, sets the secret that they choose, and ends the account's other
// sessions. A wrong name or code are refused alike, and count as attempts to sign in.
func (g *Gate) FirstSignIn(ctx context.Context, name Name, code, secret string) (granted *Granted, err error) {
	defer func() { g.count(err) }()
	if err := checkSecret(secret, leastWorkerSecret); err != nil {
		return nil, err
	}
	scope, account, err := g.approach(ctx, name)
	if err != nil {
		return nil, err
	}
	live, err := g.verifyCode(ctx, scope, account, code)
	if err != nil {
		return nil, err
	}
	if live == nil {
		return nil, refused("problem.code_refused")
	}
	if err := checkSecret(secret, LeastSecret(account.Content.Role)); err != nil {
		return nil, err
	}
	hash, err := g.hasher.hash(ctx, secret)
	if err != nil {
		return nil, err
	}
	err = g.store.In(ctx, scope, func(tx *models.Tx) (err error) {
		granted, err = g.redeem(tx, account.ID, live.ID, hash, name.Account)
		return err
	})
	return granted, err
}

// verifyCode returns the account's code where it is the one given. It takes as long where there is no account or no code.
func (g *Gate) verifyCode(ctx context.Context, scope models.Scope, account *models.Account, code string) (*signInCode, error) {
	var live *signInCode
	hash := ""
	if account != nil {
		err := g.store.View(ctx, scope, func(tx *models.Tx) (err error) {
			live, err = liveCode(tx, account.ID)
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	if live != nil {
		hash = live.CodeHash
	}
	if len(code) > mostSecretBytes {
		code = ""
	}
	right, _, err := g.hasher.verify(ctx, hash, plainCode(code))
	if err != nil || !right {
		return nil, err
	}
	return live, nil
}

// redeem uses a code up.
func (g *Gate) redeem(tx *models.Tx, account, code uuid.UUID, secretHash, attempted string) (*Granted, error) {
	a, err := lockAccount(tx, account)
	if err != nil {
		return nil, err
	}
	live, err := liveCode(tx, account)
	if err != nil {
		return nil, err
	}
	if live == nil || live.ID != code {
		return nil, refused("problem.code_refused") // it was used or voided in this moment
	}
	if err := tx.DB().Model(&signInCode{}).Where("id = ?", code).UpdateColumn("used_at", tx.Now).Error; err != nil {
		return nil, err
	}
	if err := setSecret(tx, account, secretHash); err != nil {
		return nil, err
	}
	if err := endSessions(tx, account, "a new secret was set"); err != nil {
		return nil, err
	}
	return g.open(tx, a, attempted, "set_secret")
}
