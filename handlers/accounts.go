package handlers

import (
	"net/http"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/access"
)

// accountRoutes let the office open accounts and hand out codes; which, is for package access to say.
func accountRoutes() []Route {
	accounts := kept[models.AccountContent]{
		path: "/api/v1/accounts", read: office, write: office,
		filters: []filter{byID("worker_id"), byWord("role", roleNames()...), byFlag("suspended", models.Suspended)},
		create: func(rq *request, tx *models.Tx, id uuid.UUID, c models.AccountContent) (*models.Account, bool, error) {
			return access.CreateAccount(tx, rq.caller.Role, id, c)
		},
		update: func(rq *request, tx *models.Tx, id uuid.UUID, version int64, c models.AccountContent) (*models.Account, error) {
			return access.UpdateAccount(tx, rq.caller.Role, id, version, c)
		},
	}
	return slices.Concat(accounts.routes(), []Route{
		{Method: "POST", Path: "/api/v1/accounts/{id}/sign-in-code", Roles: office, Status: http.StatusCreated, handle: issueCode},
	})
}

func roleNames() []string {
	names := make([]string, len(everyone))
	for i, r := range everyone {
		names[i] = string(r)
	}
	return names
}

// signInCode is a code as it is handed out. It is shown this once.
type signInCode struct {
	Code      string    `json:"code"`
	ExpiresAt time.Time `json:"expires_at"`
}

func issueCode(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	code, err := rq.gate.IssueCode(rq.ctx(), rq.scope, rq.caller.Role, id)
	if err != nil {
		return nil, err
	}
	return plain(signInCode{code.Code, code.ExpiresAt}), nil
}
