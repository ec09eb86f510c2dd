package access

import (
	"context"

	"palmero/models"
)

// What everybody changes of their own account.

// ChangeSecret sets another secret for the caller, who must know the one there is, and ends the account's other sessions. A wrong one counts as
// an attempt to sign in.
func (g *Gate) ChangeSecret(ctx context.Context, scope models.Scope, caller *Caller, current, secret string) error {
	if err := checkSecret(secret, LeastSecret(caller.Role)); err != nil {
		return err
	}
	account, err := g.own(ctx, scope, caller)
	if err != nil {
		return err
	}
	known, right, _, err := g.verifySecret(ctx, account, current)
	if err != nil {
		return err
	}
	if !right {
		return models.FaultAt("/current", "fault.secret_wrong", nil)
	}
	hash, err := g.hasher.hash(ctx, secret)
	if err != nil {
		return err
	}
	return g.store.In(ctx, scope, func(tx *models.Tx) error {
		a, err := lockAccount(tx, caller.Account)
		if err != nil {
			return err
		}
		if a.Content.SecretHash != known {
			return models.FaultAt("/current", "fault.secret_wrong", nil) // it was changed in this moment
		}
		if err := setSecret(tx, a.ID, hash); err != nil {
			return err
		}
		if err := endOthers(tx, caller, "a new secret was set"); err != nil {
			return err
		}
		if err := forgive(tx, a.Content.SignInName); err != nil {
			return err
		}
		return tx.Audit(models.Audit{Action: "set_secret", SubjectKind: "accounts", SubjectID: a.ID})
	})
}

// own reads the caller's account, and counts the attempt on its name.
func (g *Gate) own(ctx context.Context, scope models.Scope, caller *Caller) (*models.Account, error) {
	var account *models.Account
	err := g.store.View(ctx, scope, func(tx *models.Tx) (err error) {
		account, err = models.Get[models.AccountContent](tx, caller.Account)
		return err
	})
	if err == nil {
		err = g.charge(ctx, scope, account.Content.SignInName)
	}
	return account, err
}

// endOthers ends the sessions of the caller's account but the one that asks.
func endOthers(tx *models.Tx, caller *Caller, reason string) error {
	return tx.DB().Model(&session{}).Where("account_id = ? AND id <> ? AND ended_at IS NULL", caller.Account, caller.Session).
		Updates(map[string]any{"ended_at": tx.Now, "end_reason": reason}).Error
}

// SetLanguage sets the language in which the caller is spoken to.
func SetLanguage(tx *models.Tx, caller *Caller, language string) error {
	account, err := models.Get[models.AccountContent](tx, caller.Account)
	if err != nil {
		return err
	}
	if language == account.Content.Language {
		return nil
	}
	c := account.Content
	c.Language = language
	_, err = models.Update(tx, account.ID, account.Version, c)
	return err
}
