package handlers

import (
	"net/http"
	"strings"
	"testing"

	"palmero/models"
)

// The head of the audit chain: none, then a seal over everything, then what came after it; and on the list of a run that was approved.
func TestAuditHead(t *testing.T) {
	each(t, func(r *rig) {
		head := func() (h auditHead) {
			r.do("GET", "/api/v1/audit-head", r.admin(), nil).wants(http.StatusOK).into(&h)
			return h
		}
		before := head()
		if before.Seal != nil || before.Unsealed == 0 {
			r.Errorf("before any seal: %+v", before)
		}
		_, v := r.drafted()
		v = r.approved(v)
		unsealed := head().Unsealed
		if n, err := r.store.SealEmployer(r.Context(), r.ours.Employer); err != nil || n != unsealed {
			r.Errorf("sealed %d, %v; want %d", n, err, unsealed)
		}
		sealed := head()
		if sealed.Seal == nil || sealed.Seal.Number != 1 || sealed.Seal.Entries != unsealed || len(sealed.Seal.Hash) != 64 || sealed.Unsealed != 0 {
			r.Errorf("sealed: %+v, %+v", sealed, sealed.Seal)
		}
		list := string(r.do("GET", v.path("/pay-list.csv?language=en"), r.admin(), nil).wants(http.StatusOK).body)
		if !strings.Contains(list, "Audit chain: seal 1 of 20") || !strings.HasSuffix(list, ","+sealed.Seal.Hash+"\r\n") {
			r.Errorf("the list ends %q", list[max(0, len(list)-200):])
		}
		r.in(models.Scope{Employer: r.ours.Employer}, func(tx *models.Tx) error {
			return tx.Audit(models.Audit{Action: "look", SubjectKind: "palms", SubjectID: tx.NewID()})
		})
		if h := head(); h.Unsealed != 1 || h.Seal.Hash != sealed.Seal.Hash {
			r.Errorf("after the seal: %+v", h)
		}
	})
}
