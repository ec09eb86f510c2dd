package handlers

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"palmero/models"
)

func init() {
	for route, who := range map[string]string{
		"GET /api/v1/sick-uses":                        "c",
		"POST /api/v1/sick-uses":                       "c",
		"GET /api/v1/sick-uses/{id}":                   "c",
		"GET /api/v1/workers/{id}/sick-leave":          "ca",
		"GET /api/v1/workers/{id}/sick-leave/entries":  "ca",
		"POST /api/v1/workers/{id}/sick-leave/entries": "c",
		"GET /api/v1/my/sick-leave":                    "wl",
		"GET /api/v1/my/sick-leave/entries":            "wl",
	} {
		allowed[route] = who
	}
	steps["/api/v1/workers/{id}/sick-leave/entries"] = object{"id": models.NewID(), "kind": "adjustment", "on_date": "2026-03-01", "minutes": 60, "reason": "agreed"}
}

// sickEntry is a good entry of sixteen hours brought in.
func sickEntry() object {
	return object{"id": models.NewID(), "kind": "opening", "on_date": "2026-02-01", "minutes": 16 * 60, "reason": "brought in from the paper ledger"}
}

func TestSickLeaveFromTheLedgerToTheStatement(t *testing.T) {
	each(t, func(r *rig) {
		path := "/api/v1/workers/" + r.ours.worker.String() + "/sick-leave"
		entry := sickEntry()
		r.do("POST", path+"/entries", r.clerk(), entry).wants(http.StatusCreated)
		if a := r.do("POST", path+"/entries", r.clerk(), entry).wants(http.StatusOK); a.header.Get("Repeated") != "true" {
			r.Error("the same entry again is no repeat")
		}
		r.do("POST", path+"/entries", r.clerk(), sickEntry()).wantsFaults(http.StatusUnprocessableEntity, "/kind")
		r.do("POST", path+"/entries", r.clerk(), object{"id": models.NewID(), "kind": "gift", "on_date": "2026-01-31", "minutes": 0, "reason": " "}).
			wantsFaults(http.StatusUnprocessableEntity, "/kind", "/on_date", "/minutes", "/reason")
		r.do("POST", path+"/entries", r.clerk(), object{"id": models.NewID(), "kind": "adjustment", "on_date": "2026-02-01", "minutes": 60, "used_this_year_minutes": 60, "reason": "agreed"}).
			wantsFaults(http.StatusUnprocessableEntity, "/used_this_year_minutes")

		use := object{"id": models.NewID(), "worker_id": r.ours.worker, "workday": "2026-03-03", "garden_id": r.ours.garden, "minutes": 480, "note": "a fever"}
		refused := r.do("POST", "/api/v1/sick-uses", r.clerk(), use).wantsFaults(http.StatusUnprocessableEntity, "/workday")
		if said := string(refused.body); !strings.Contains(said, "May 1, 2026") || !strings.Contains(said, "16:00 h") { // hired 1 February: the 90th day
			r.Errorf("the refusal says %s", said)
		}
		// Whoever has worked there since last year may.
		record := r.do("GET", "/api/v1/workers/"+r.ours.worker.String(), r.clerk(), nil).wants(http.StatusOK)
		was := record.object()
		for _, own := range []string{"id", "created_at", "updated_at", "version"} {
			delete(was, own)
		}
		was["started_on"], was["usual_day_minutes"] = "2025-02-01", 600
		r.do("PUT", "/api/v1/workers/"+r.ours.worker.String(), r.clerk(), was, "If-Match", record.header.Get("ETag")).wants(http.StatusOK)
		kept := r.do("POST", "/api/v1/sick-uses", r.clerk(), use).wants(http.StatusCreated)
		if kept.object()["note"] != "a fever" {
			r.Errorf("%s", kept.body)
		}
		r.do("POST", "/api/v1/sick-uses", r.clerk(), use).wants(http.StatusOK)
		use["note"] = "a cold"
		r.do("POST", "/api/v1/sick-uses", r.clerk(), use).wantsKey(http.StatusConflict, "problem.id_reused")
		for _, hidden := range []*answer{
			r.do("GET", "/api/v1/audit-entries", r.admin(), nil), r.do("GET", path+"/entries", r.admin(), nil), r.do("GET", "/api/v1/my/sick-leave/entries", r.as(models.RoleWorker), nil),
		} {
			if hidden.wants(http.StatusOK); strings.Contains(string(hidden.body), "fever") {
				r.Errorf("%s tells why: %s", hidden.what, hidden.body)
			}
		}
		r.do("POST", "/api/v1/sick-uses", r.clerk(), object{"id": models.NewID(), "worker_id": r.ours.worker, "workday": "2026-03-04", "garden_id": r.ours.garden, "minutes": 481}).
			wantsFaults(http.StatusUnprocessableEntity, "/minutes")

		mine := r.do("GET", "/api/v1/my/sick-leave?on=2026-03-04", r.as(models.RoleWorker), nil).wants(http.StatusOK).object()
		if got := strings.TrimSpace(fmt.Sprintln(mine["balance_minutes"], mine["usable_minutes"], mine["used_this_year_minutes"], mine["usable_from"], mine["next_year_from"])); got != "480 480 480 2025-05-01 2027-02-01" {
			r.Errorf("the worker reads %s: %v", got, mine)
		}
		if rules := mine["rules"].(object); fmt.Sprint(rules["use_cap_minutes"], rules["bank_cap_minutes"], rules["usual_day_minutes"]) != "3000 6000 600" { // five and ten days of ten hours
			r.Errorf("rules %v", rules)
		}
		r.do("GET", path, r.admin(), nil).wants(http.StatusOK)
		r.do("GET", path+"?on=someday", r.admin(), nil).wants(http.StatusBadRequest)

		// Monday's 460 + 20 minutes at 2 seconds a minute: 960 s; the balance before them is 8 h.
		_, v := r.drafted()
		r.approved(v)
		whole := r.do("GET", "/api/v1/statements/"+r.briefs(v)[0].ID.String(), r.clerk(), nil).wants(http.StatusOK).object()
		leave := whole["heading"].(object)["sick_leave"].(object)
		if got := fmt.Sprint(leave["earned_seconds"], leave["balance_minutes"], leave["used_minutes"]); got != "960 496 0" {
			r.Errorf("the statement tells %s: %v", got, leave)
		}
		html := r.do("GET", "/api/v1/statements/"+r.briefs(v)[0].ID.String(), r.clerk(), nil, "Accept", "text/html").wants(http.StatusOK)
		if !strings.Contains(string(html.body), "Available after this week: 8:16 h.") {
			r.Errorf("the page does not tell the balance")
		}
	})
}
