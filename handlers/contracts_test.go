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
	allowed["GET /api/v1/my/contracts"] = "wl"
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

// A worker reads how their own contract stands, and nobody else's.
func TestWorkersReadTheirContracts(t *testing.T) {
	each(t, func(r *rig) {
		const path = "/api/v1/my/contracts"
		for _, c := range []object{contractOf(r.ours.worker), contractOf(r.ours.lead), contractOf(r.ours.worker)} {
			c["id"] = uuid.Must(uuid.NewV7())
			if c["worker_id"] == r.ours.lead {
				c["job_order"] = "of the lead"
			}
			r.do("POST", "/api/v1/contracts", r.clerk(), c).wants(http.StatusCreated)
		}
		first := r.do("GET", path+"?on=2026-03-03&limit=1", r.worker(), nil).wants(http.StatusOK).object()
		rest := r.do("GET", path+"?limit=10&cursor="+first["next"].(string), r.worker(), nil).wants(http.StatusOK).object()
		mine := append(first["items"].([]any), rest["items"].([]any)...)
		if len(mine) != 2 {
			r.Fatalf("%v", mine)
		}
		for _, c := range mine {
			if c.(object)["job_order"] != "date harvest 7" {
				r.Errorf("another's contract: %v", c)
			}
		}
		// Two workdays of eight hours by the 3rd, of which three quarters are twelve hours.
		if s := mine[0].(object)["standing"].(object); s["guaranteed_minutes"] != float64(720) || s["workdays"] != float64(2) || s["through"] != "2026-03-03" || s["over"] != false {
			r.Errorf("%v", s)
		}
		if leads := r.do("GET", path, r.lead(), nil).wants(http.StatusOK).object()["items"].([]any); len(leads) != 1 || leads[0].(object)["job_order"] != "of the lead" {
			r.Errorf("the lead reads %v", leads)
		}
		r.do("GET", path+"?on=soon", r.worker(), nil).wantsFaults(http.StatusBadRequest, "on")
		r.do("GET", path+"?worker_id="+r.ours.lead.String(), r.worker(), nil).wants(http.StatusBadRequest)
	})
}
