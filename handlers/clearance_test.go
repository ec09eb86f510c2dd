package handlers

import (
	"maps"
	"net/http"
	"testing"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/clearance"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /api/v1/climb-setups":              "lcsa",
		"POST /api/v1/climb-setups":             "ls",
		"GET /api/v1/climb-setups/{id}":         "lcsa",
		"GET /api/v1/climb-setups/{id}/chain":   "lcsa",
		"GET /api/v1/clearance":                 "lcsa",
		"GET /api/v1/my/clearance":              "wl",
		"GET /api/v1/clearances":                "lcsa",
		"POST /api/v1/clearances":               "ls",
		"GET /api/v1/clearance-exceptions":      "sa",
		"POST /api/v1/clearance-exceptions":     "s",
		"POST /api/v1/clearance-exception-sets": "s",
	})
	maps.Copy(content, map[string]func(e *estate, n int) object{
		"/api/v1/climb-setups": func(e *estate, _ int) object { return goingUp(e) },
		"/api/v1/clearances":   func(e *estate, _ int) object { return object{"crew_id": e.crew, "workday": "2026-03-04"} },
		"/api/v1/clearance-exceptions": func(e *estate, n int) object {
			return object{"worker_id": e.worker, "workday": day("2026-03-01").AddDays(-n).String(), "finding": "did_not_climb", "reason": "from the ground"}
		},
	})
	content["/api/v1/clearance-exception-sets"] = func(e *estate, n int) object {
		return object{"days": []object{{"worker_id": e.worker, "workday": day("2026-02-01").AddDays(-n).String()}}, "finding": "did_not_climb", "reason": "from the ground"}
	}
	one["/api/v1/climb-setups"] = func(e *estate) uuid.UUID { return e.more["/api/v1/climb-setups"] }
	planting = append(planting, plantSetup)
}

func goingUp(e *estate) object {
	return object{
		"crew_id": e.crew, "workday": "2026-03-04", "block_id": e.block, "operation_id": e.operation, "way": "ground", "equipment": []string{},
		"setup": object{"height_m": 3, "heaviest_kg": 80, "site": object{"bees": false, "gust_mph": 4}, "ladder": object{"workers": 1}},
	}
}

// plantSetup says how an estate's crew goes up.
func plantSetup(r *rig, e *estate) {
	r.Helper()
	officer := models.Scope{Employer: e.Employer, Actor: e.people[models.RoleSafetyOfficer].account}
	r.in(officer, func(tx *models.Tx) error {
		c := models.ClimbSetupContent{CrewID: e.crew, Workday: day("2026-03-03"), BlockID: e.block, OperationID: e.operation, Way: "ground"}
		kept, _, err := clearance.RecordSetup(tx, figuring.Books(), models.NewID(), c, models.Recording{RecordedAt: tx.Now})
		if err == nil {
			e.more["/api/v1/climb-setups"] = kept.ID
		}
		return err
	})
}

// A lead says how the crew goes up, asks, and is told by name and with every reason what stands against each; in Spanish as well.
func TestClearanceOverTheAPI(t *testing.T) {
	each(t, func(r *rig) {
		lead := r.as(models.RoleCrewLead)
		where := "/api/v1/clearance?on=2026-03-04&crew_id=" + r.ours.crew.String()
		before := r.do("GET", where, lead, nil).wants(http.StatusOK).object()
		ways := before["ways"].([]any)
		if len(ways) != 1 || ways[0].(object)["setup_id"] != nil {
			r.Errorf("before anything was said: %v", before)
		}
		setup := goingUp(r.ours)
		setup["id"] = models.NewID()
		r.do("POST", "/api/v1/climb-setups", lead, setup).wants(http.StatusCreated)
		r.do("POST", "/api/v1/climb-setups", lead, setup).wants(http.StatusOK)

		asked := object{"id": models.NewID(), "crew_id": r.ours.crew, "workday": "2026-03-04"}
		given := r.do("POST", "/api/v1/clearances", lead, asked, "Accept-Language", "es").wants(http.StatusCreated)
		again := r.do("POST", "/api/v1/clearances", lead, asked).wants(http.StatusOK)
		if string(given.body) != string(again.body) {
			r.Errorf("asked again: %s", again.body)
		}
		way := given.object()["answer"].(object)["ways"].([]any)[0].(object)
		worker := way["workers"].([]any)[0].(object)
		if way["cleared"] != 0.0 || worker["cleared"] != false || len(worker["reasons"].([]any)) < 5 {
			r.Errorf("%s", given.body)
		}
		r.do("GET", "/api/v1/my/clearance?on=2026-03-04", r.as(models.RoleWorker), nil).wants(http.StatusOK)
	})
}

// What cannot be is refused with its range and its place, and another crew's lead is no lead here.
func TestNonsenseAboutClimbs(t *testing.T) {
	each(t, func(r *rig) {
		lead := r.as(models.RoleCrewLead)
		bad := goingUp(r.ours)
		bad["id"], bad["way"], bad["equipment"] = models.NewID(), "trampoline", []uuid.UUID{models.NewID()}
		bad["setup"] = object{"height_ft": 900, "heaviest_kg": 5, "site": object{"gust_mph": 300}}
		r.do("POST", "/api/v1/climb-setups", lead, bad).wantsFaults(http.StatusUnprocessableEntity,
			"/way", "/equipment/0", "/setup/height_ft", "/setup/heaviest_kg", "/setup/site/gust_mph")
		early := goingUp(r.ours)
		early["id"], early["workday"] = models.NewID(), "2025-03-04"
		r.do("POST", "/api/v1/climb-setups", lead, early).wantsKey(http.StatusForbidden, "problem.not_your_crew")
		r.do("GET", "/api/v1/clearance?on=soon&crew_id=1&at=noon", lead, nil).wantsFaults(http.StatusBadRequest, "crew_id", "on", "at")
		r.do("GET", "/api/v1/clearance?on=2026-03-04&at=2026-03-09T06:00:00-08:00&crew_id="+r.ours.crew.String(), r.as(models.RoleSafetyOfficer), nil).wants(http.StatusOK)
		r.do("GET", "/api/v1/clearance-exceptions?cursor=x&limit=0&from=x", r.as(models.RoleSafetyOfficer), nil).wantsFaults(http.StatusBadRequest, "cursor", "from", "limit")
	})
}
