package access

import (
	"github.com/google/uuid"

	"palmero/models"
)

// mayKeep tells who may open or change an account: an administrator any, a clerk those of workers.
func mayKeep(by models.Role, roles ...models.Role) bool {
	if by == models.RoleClerk {
		for _, r := range roles {
			if r != models.RoleWorker {
				return false
			}
		}
		return true
	}
	return by == models.RoleAdministrator
}

var errNotYours = &models.Error{Kind: models.Forbidden, Key: "problem.account_not_yours"}

// CreateAccount opens an account. Its owner signs in first with a code.
func CreateAccount(tx *models.Tx, by models.Role, id uuid.UUID, c models.AccountContent) (*models.Account, bool, error) {
	if !mayKeep(by, c.Role) {
		return nil, false, errNotYours
	}
	return models.Create(tx, id, c)
}

// UpdateAccount changes an account. Suspending it ends its sessions. Nobody suspends themself or gives themself another role, so that the last
// administrator cannot lock the office by mistake.
func UpdateAccount(tx *models.Tx, by models.Role, id uuid.UUID, version int64, c models.AccountContent) (*models.Account, error) {
	before, err := models.Get[models.AccountContent](tx, id)
	if err != nil {
		return nil, err
	}
	if !mayKeep(by, c.Role, before.Content.Role) {
		return nil, errNotYours
	}
	if id == tx.Actor && (c.Suspended || c.Role != before.Content.Role) {
		return nil, &models.Error{Kind: models.Forbidden, Key: "problem.own_account"}
	}
	if c.Suspended && !before.Content.Suspended {
		if err := endSessions(tx, id, "the account was suspended"); err != nil {
			return nil, err
		}
	}
	return models.Update(tx, id, version, c)
}

// NeverSignedIn lists the accounts, in order, to which nobody has set a secret yet. Those that are suspended wait for nobody.
func NeverSignedIn(tx *models.Tx) ([]models.Account, error) {
	var waiting []models.Account
	err := tx.DB().Where("secret_hash = '' AND NOT suspended").Order("seq").Find(&waiting).Error
	return waiting, err
}
