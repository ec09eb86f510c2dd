package access

import (
	"context"
	"errors"
	"regexp"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
	"palmero/payroll"
)

// Options of New. What is zero takes its default.
type Options struct {
	Cost            Cost          // of a hash; DefaultCost
	RefreshLifetime time.Duration // how long a refresh token is good; 30 days
	SessionLifetime time.Duration // how long a session lasts, however often it is refreshed; 180 days, a season
	CodeLifetime    time.Duration // how long a first sign-in code is good; 7 days
}

// Gate signs people in.
type Gate struct {
	store   *models.Store
	hasher  *hasher
	refresh time.Duration
	session time.Duration
	code    time.Duration
}

// New returns a gate to the records of a store.
func New(store *models.Store, o Options) *Gate {
	if o.RefreshLifetime == 0 {
		o.RefreshLifetime = 30 * 24 * time.Hour
	}
	if o.SessionLifetime == 0 {
		o.SessionLifetime = 180 * 24 * time.Hour
	}
	if o.CodeLifetime == 0 {
		o.CodeLifetime = 7 * 24 * time.Hour
	}
	return &Gate{store: store, hasher: newHasher(o.Cost), refresh: o.RefreshLifetime, session: o.SessionLifetime, code: o.CodeLifetime}
}

// Granted is what signing in or refreshing yields.
type Granted struct {
	Employer       uuid.UUID
	Caller         Caller
	RefreshToken   string
	RefreshExpires time.Time
	Lifetime       time.Duration // of the refresh token
}

// Name is how somebody names themself: the employer, then the account.
type Name struct {
	Employer string
	Account  string
}

// Bounds on a secret: the least number of characters by role, and the most bytes.
const (
	leastWorkerSecret = 8
	leastStaffSecret  = 12
	mostSecretBytes   = 1024
)

// LeastSecret is how many characters a role's secret has at least.
func LeastSecret(role models.Role) int {
	if role == models.RoleWorker {
		return leastWorkerSecret
	}
	return leastStaffSecret
}

// checkSecret checks a secret that somebody wants to have.
func checkSecret(secret string, least int) error {
	switch {
	case len(secret) > mostSecretBytes:
		return models.FaultAt("/secret", "fault.secret_long", payroll.Terms{"limit": mostSecretBytes})
	case utf8.RuneCountInString(secret) < least:
		return models.FaultAt("/secret", "fault.secret_short", payroll.Terms{"least": least})
	}
	return nil
}

// errSignIn is the one answer to a wrong employer, account or secret.
var errSignIn = refused("problem.sign_in_refused")

// SignIn opens a session for whoever knows the secret. A wrong employer, account or secret are refused alike, in the same time.
func (g *Gate) SignIn(ctx context.Context, name Name, secret string) (granted *Granted, err error) {
	defer func() { g.count(err) }()
	scope, account, err := g.approach(ctx, name)
	if err != nil {
		return nil, err
	}
	known, right, renewed, err := g.verifySecret(ctx, account, secret)
	if err != nil {
		return nil, err
	}
	if !right {
		return nil, errSignIn
	}
	err = g.store.In(ctx, scope, func(tx *models.Tx) error {
		a, err := lockAccount(tx, account.ID)
		if err != nil {
			return err
		}
		if a.Content.SecretHash != known {
			return errSignIn // it was changed in this moment
		}
		if renewed != "" {
			if err := setSecret(tx, a.ID, renewed); err != nil {
				return err
			}
		}
		granted, err = g.open(tx, a, name.Account, "sign_in")
		return err
	})
	return granted, err
}

// count counts a refusal.
func (g *Gate) count(err error) {
	switch models.KindOf(err) {
	case models.Refused:
		g.store.Count(models.CountRefusals, "wrong")
	case models.TooMany:
		g.store.Count(models.CountRefusals, "too_many")
	}
}

// verifySecret returns the hash that was verified, whether the secret is its, and a new hash where the old one was made at another cost.
func (g *Gate) verifySecret(ctx context.Context, account *models.Account, secret string) (known string, right bool, renewed string, err error) {
	if account != nil {
		known = account.Content.SecretHash
	}
	if len(secret) > mostSecretBytes {
		secret = "" // nobody's
	}
	right, current, err := g.hasher.verify(ctx, known, secret)
	if err == nil && right && !current {
		renewed, err = g.hasher.hash(ctx, secret)
	}
	return known, right, renewed, err
}

// approach finds the account of a name and counts the attempt. The account is nil where there is none.
func (g *Gate) approach(ctx context.Context, name Name) (models.Scope, *models.Account, error) {
	if !IsSignInName(name.Employer) {
		return models.Scope{}, nil, nil
	}
	employer, err := g.store.FindEmployer(ctx, name.Employer)
	if models.KindOf(err) == models.NotFound {
		return models.Scope{}, nil, nil
	} else if err != nil {
		return models.Scope{}, nil, err
	}
	scope := models.Scope{Employer: employer.ID}
	if !IsSignInName(name.Account) {
		return scope, nil, nil
	}
	if err := g.charge(ctx, scope, name.Account); err != nil {
		return scope, nil, err
	}
	var found *models.Account
	err = g.store.View(ctx, scope, func(tx *models.Tx) error {
		var a models.Account
		err := tx.DB().Where("sign_in_name = ?", name.Account).Take(&a).Error
		if err == nil {
			found = &a
		} else if notFound(err) {
			err = nil
		}
		return err
	})
	return scope, found, err
}

// open begins a session of an account that has shown who it is.
func (g *Gate) open(tx *models.Tx, a *models.Account, attempted, action string) (*Granted, error) {
	if a.Content.Suspended {
		return nil, &models.Error{Kind: models.Forbidden, Key: "problem.suspended"}
	}
	if err := forgive(tx, attempted); err != nil {
		return nil, err
	}
	if err := g.clearSpent(tx, a.ID); err != nil {
		return nil, err
	}
	s := session{ID: tx.NewID(), AccountID: a.ID, StartedAt: tx.Now}
	if err := tx.DB().Create(&s).Error; err != nil {
		return nil, err
	}
	granted, err := g.issue(tx, a, &s, nil)
	if err != nil {
		return nil, err
	}
	return granted, tx.Audit(models.Audit{Action: action, SubjectKind: "accounts", SubjectID: a.ID})
}

func lockAccount(tx *models.Tx, id uuid.UUID) (*models.Account, error) {
	var a models.Account
	err := tx.Locking().Where("id = ?", id).Take(&a).Error
	return &a, err
}

func setSecret(tx *models.Tx, account uuid.UUID, hash string) error {
	return tx.DB().Model(&models.Account{}).Where("id = ?", account).UpdateColumn("secret_hash", hash).Error
}

var signInName = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{1,62}$`)

// IsSignInName tells whether an employer or an account could have a name.
func IsSignInName(s string) bool {
	return signInName.MatchString(s)
}

func notFound(err error) bool { return errors.Is(err, gorm.ErrRecordNotFound) }
