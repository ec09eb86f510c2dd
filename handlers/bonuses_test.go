package handlers

import (
	"net/http"
	"testing"

	"github.com/google/uuid"
)

func init() {
	for route, who := range map[string]string{
		"GET /api/v1/bonuses": "ca", "POST /api/v1/bonuses": "ca", "GET /api/v1/bonuses/{id}": "ca", "GET /api/v1/bonuses/{id}/chain": "ca",
	} {
		allowed[route] = who
	}
	content["/api/v1/bonuses"] = func(e *estate, _ int) object { return bonusFor("worker_id", e.worker) }
}

func bonusFor(whose string, id uuid.UUID) object {
	return object{whose: id, "earned_from": "2026-02-23", "earned_through": "2026-03-03", "pay_week": "2026-03-01", "kind": "production", "amount": "40.00",
		"what_for": "early picking", "promised": true, "measured": false, "basis": "the notice at the shed"}
}

func TestBonusesAreHeldToTheirForm(t *testing.T) {
	each(t, func(r *rig) {
		good := bonusFor("crew_id", r.ours.crew)
		good["id"] = uuid.Must(uuid.NewV7())
		r.do("POST", "/api/v1/bonuses", r.clerk(), good).wants(http.StatusCreated)
		r.do("POST", "/api/v1/bonuses", r.clerk(), good).wants(http.StatusOK)
		bad := bonusFor("worker_id", uuid.Must(uuid.NewV7()))
		bad["id"], bad["pay_week"], bad["kind"], bad["amount"], bad["what_for"], bad["basis"] = uuid.Must(uuid.NewV7()), "2026-03-02", "gift", "-1", "", ""
		r.do("POST", "/api/v1/bonuses", r.clerk(), bad).wantsFaults(http.StatusUnprocessableEntity, "/worker_id", "/pay_week", "/kind", "/amount", "/what_for", "/basis")
	})
}
