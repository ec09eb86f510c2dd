package handlers

import (
	"net/http"
	"testing"

	"github.com/google/uuid"
)

func init() {
	for _, route := range []string{
		"GET /api/v1/contracts", "POST /api/v1/contracts", "GET /api/v1/contracts/{id}", "PUT /api/v1/contracts/{id}", "GET /api/v1/contracts/{id}/standing",
		"GET /api/v1/contract-days", "POST /api/v1/contract-days", "GET /api/v1/contract-days/{id}", "GET /api/v1/contract-days/{id}/chain",
	} {
		allowed[route] = "ca"
	}
	content["/api/v1/contracts"] = func(e *estate, _ int) object { return contractOf(e.worker) }
}

func contractOf(worker uuid.UUID) object {
	return object{"worker_id": worker, "job_order": "date harvest 7", "first_day": "2026-03-02", "last_day": "2026-04-30", "workdays": "12345", "day_minutes": 480, "offered_rate": "20.00", "rate_source": "the job order"}
}

func TestContractsAreHeldToTheirForm(t *testing.T) {
	each(t, func(r *rig) {
		good := contractOf(r.ours.worker)
		good["id"] = uuid.Must(uuid.NewV7())
		made := r.do("POST", "/api/v1/contracts", r.clerk(), good).wants(http.StatusCreated).object()
		if made["settle_week"] != "2026-04-26" {
			r.Errorf("%v", made)
		}
		path := "/api/v1/contracts/" + good["id"].(uuid.UUID).String()
		r.do("GET", path+"/standing?on=2026-03-03", r.clerk(), nil).wants(http.StatusOK)
		r.do("GET", path+"/standing", r.clerk(), nil).wants(http.StatusOK)
		day := object{"id": uuid.Must(uuid.NewV7()), "contract_id": good["id"], "workday": "2026-03-03", "kind": "offered", "offered_minutes": 480, "note": "refused at the gate"}
		r.do("POST", "/api/v1/contract-days", r.clerk(), day).wants(http.StatusCreated)
		day["id"], day["workday"], day["kind"] = uuid.Must(uuid.NewV7()), "2026-05-01", "gift"
		r.do("POST", "/api/v1/contract-days", r.clerk(), day).wantsFaults(http.StatusUnprocessableEntity, "/workday", "/kind")
		day["id"], day["workday"], day["kind"] = uuid.Must(uuid.NewV7()), "2026-03-03", "holiday"
		r.do("POST", "/api/v1/contract-days", r.clerk(), day).wantsFaults(http.StatusUnprocessableEntity, "/workday")
		bad := contractOf(r.ours.worker)
		bad["id"], bad["last_day"], bad["workdays"], bad["day_minutes"], bad["offered_rate"], bad["settle_week"] = uuid.Must(uuid.NewV7()), "2026-03-01", "1123", 0, "0", "2026-03-02"
		r.do("POST", "/api/v1/contracts", r.clerk(), bad).wantsFaults(http.StatusUnprocessableEntity, "/last_day", "/workdays", "/day_minutes", "/offered_rate", "/settle_week")
	})
}
