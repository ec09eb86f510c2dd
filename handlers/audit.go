package handlers

import (
	"net/http"

	"palmero/models"
)

var auditFilters = []filter{byID("subject_id"), byID("account_id")}

func auditRoutes() []Route {
	return []Route{
		{Method: "GET", Path: "/api/v1/audit-entries", Roles: admins, Query: pageQuery(auditFilters), Status: http.StatusOK, handle: listAudit},
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
