package handlers

import (
	"net/http"

	"palmero/handlers/documents"
	"palmero/models"
)

var auditFilters = []filter{byID("subject_id"), byID("account_id")}

func auditRoutes() []Route {
	return []Route{
		{Method: "GET", Path: "/api/v1/audit-entries", Roles: admins, Query: pageQuery(auditFilters), Status: http.StatusOK, handle: listAudit},
		{Method: "GET", Path: "/api/v1/audit-head", Roles: admins, Status: http.StatusOK, handle: getAuditHead},
	}
}

func listAudit(rq *request) (*reply, error) {
	p, conditions, err := rq.page(auditFilters...)
	if err != nil {
		return nil, err
	}
	var entries []models.AuditEntry
	err = rq.view(func(tx *models.Tx) (err error) {
		entries, err = models.List[models.AuditEntry](tx, p, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(e *models.AuditEntry) int64 { return e.Seq }
	return plain(paged(entries, p.Limit, seq, func(e *models.AuditEntry) *models.AuditEntry { return e })), nil
}

// auditHead is where the chain of seals stands, and how much it does not cover yet.
type auditHead struct {
	Seal     *models.AuditSeal `json:"seal"` // null where nothing is sealed yet
	Unsealed int64             `json:"unsealed"`
}

func getAuditHead(rq *request) (*reply, error) {
	var h auditHead
	err := rq.view(func(tx *models.Tx) (err error) {
		if h.Seal, err = models.AuditHead(tx); err == nil {
			h.Unsealed, err = models.Unsealed(tx, h.Seal)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(h), nil
}

// chainHead is the head to print on a document.
func chainHead(tx *models.Tx) (*documents.ChainHead, error) {
	seal, err := models.AuditHead(tx)
	if err != nil || seal == nil {
		return &documents.ChainHead{}, err
	}
	return &documents.ChainHead{Seal: seal.Number, At: seal.SealedAt, Hash: seal.Hash}, nil
}
