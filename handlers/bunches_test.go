package handlers

import (
	"net/http"
	"testing"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/bunches"
	"palmero/safety/quantity"
)

func init() {
	for name, who := range map[string]string{
		"GET /api/v1/work-standards": "la", "POST /api/v1/work-standards": "a", "GET /api/v1/work-standards/{id}": "la", "GET /api/v1/work-standards/{id}/chain": "a",
		"GET /api/v1/bunch-checks": "la", "POST /api/v1/bunch-checks": "l", "GET /api/v1/bunch-checks/{id}": "la", "GET /api/v1/bunch-checks/{id}/chain": "la",
		"GET /api/v1/bunch-results": "la", "GET /api/v1/my/bunch-checks": "wl",
	} {
		allowed[name] = who
	}
	content["/api/v1/work-standards"] = func(e *estate, _ int) object {
		return object{"operation_id": e.operation, "variety": "of nobody", "effective_on": "2026-03-05", "points": []object{
			{"point": "tie_length", "name_en": "Length of the tie", "name_es": "Largo del amarre", "kind": "number", "unit": "in", "low": 16, "high": 20.5, "reason": "Common practice, no source"}}}
	}
	content["/api/v1/bunch-checks"] = func(e *estate, _ int) object {
		return object{"standard_id": e.more["/api/v1/work-standards"], "crew_id": e.crew, "worker_id": e.worker, "workday": "2026-03-04", "block_id": e.block, "recorded_at": "2026-03-04T11:00:00-08:00",
			"bunches": []object{{"marks": []object{{"point": "strands_kept", "number": 33}, {"point": "thorns_off", "yes": true}}}, {"marks": []object{{"point": "strands_kept", "number": 41}}}}}
	}
	for _, collection := range []string{"/api/v1/work-standards", "/api/v1/bunch-checks"} {
		one[collection] = func(e *estate) uuid.UUID { return e.more[collection] }
	}
	planting = append(planting, plantBunches)
}

// plantBunches gives an estate a standard for its operation and a check of its worker's bunches.
func plantBunches(r *rig, e *estate) {
	r.Helper()
	standard, check := models.NewID(), models.NewID()
	c := models.WorkStandardContent{OperationID: e.operation, EffectiveOn: day("2026-03-04"), Points: models.StandardPoints{
		{Point: "strands_kept", NameEN: "Strands kept", NameES: "Hebras que quedan", Kind: models.NumberPoint, Unit: "strand", High: models.QuantityOf(quantity.Of(40)), Reason: "Common practice, no source"},
		{Point: "thorns_off", NameEN: "Thorns off first", NameES: "Sin espinas antes", Kind: models.YesNoPoint, Reason: "Common practice, no source"},
	}}
	r.in(models.Scope{Employer: e.Employer, Actor: e.people[models.RoleAdministrator].account}, func(tx *models.Tx) error {
		_, _, err := bunches.SetStandard(tx, standard, c, models.Recording{RecordedAt: tx.Now})
		return err
	})
	yes := true
	r.in(models.Scope{Employer: e.Employer, Actor: e.people[models.RoleCrewLead].account}, func(tx *models.Tx) error {
		_, _, err := bunches.Record(tx, bunches.Look{ID: check, StandardID: standard, CrewID: e.crew, WorkerID: &e.worker, Workday: day("2026-03-04"), BlockID: e.block, RecordedAt: tx.Now,
			Bunches: models.SampledBunches{{Marks: []models.BunchMark{{Point: "thorns_off", Yes: &yes}}}}})
		return err
	})
	e.more["/api/v1/work-standards"], e.more["/api/v1/bunch-checks"] = standard, check
}

func TestBunchChecks(t *testing.T) {
	each(t, func(r *rig) {
		lead, owner, worker := r.as(models.RoleCrewLead), r.as(models.RoleAdministrator), r.as(models.RoleWorker)
		body := content["/api/v1/bunch-checks"](r.ours, 0)
		body["id"] = models.NewID()
		kept := r.do("POST", "/api/v1/bunch-checks", lead, body).wants(http.StatusCreated).object()
		if points := kept["points"].([]any); kept["as_asked"] != 1.0 || kept["looked_at"] != 2.0 || points[0].(object)["over"] != 1.0 || points[1].(object)["looked_at"] != 1.0 {
			r.Errorf("%v", kept)
		}
		r.do("POST", "/api/v1/bunch-checks", lead, body).wants(http.StatusOK)
		body["remark"] = "Otra"
		r.do("POST", "/api/v1/bunch-checks", lead, body).wantsKey(http.StatusConflict, "problem.id_reused")
		body["id"], body["bunches"], body["block_id"] = models.NewID(), []object{{"marks": []object{{"point": "strands_kept", "yes": true}}}}, models.NewID()
		r.do("POST", "/api/v1/bunch-checks", lead, body).wantsFaults(http.StatusUnprocessableEntity, "/block_id", "/bunches/0/marks/0/number")
		// A slip is corrected, and the chain tells.
		body = content["/api/v1/bunch-checks"](r.ours, 0)
		body["id"], body["supersedes"], body["reason"], body["worker_id"] = models.NewID(), kept["id"], "It was the whole crew", nil
		delete(body, "worker_id")
		second := r.do("POST", "/api/v1/bunch-checks", lead, body).wants(http.StatusCreated).object()
		if chain := r.do("GET", "/api/v1/bunch-checks/"+second["id"].(string)+"/chain", lead, nil).wants(http.StatusOK).object()["items"].([]any); len(chain) != 2 {
			r.Errorf("%v", chain)
		}
		// The worker sees what stands of the own bunches, and the owner all.
		if own := r.do("GET", "/api/v1/my/bunch-checks", worker, nil).wants(http.StatusOK).object()["items"].([]any); len(own) != 1 {
			r.Errorf("%v", own)
		}
		if all := r.do("GET", "/api/v1/bunch-checks", owner, nil).wants(http.StatusOK).object()["items"].([]any); len(all) != 3 {
			r.Errorf("%v", all)
		}
		for by, want := range map[string]int{"crew": 1, "worker": 2, "operation": 1, "block": 1} {
			items := r.do("GET", "/api/v1/bunch-results?by="+by, lead, nil).wants(http.StatusOK).object()["items"].([]any)
			if len(items) != want || len(items[0].(object)["weeks"].([]any)) != bunches.UsualWeeks {
				r.Errorf("by %s: %v", by, items)
			}
		}
		r.do("GET", "/api/v1/bunch-results?from=2020-01-01", owner, nil).wantsFaults(http.StatusBadRequest, "from")
		r.do("GET", "/api/v1/bunch-results?from=2026-03-04&to=2026-03-03", owner, nil).wantsFaults(http.StatusBadRequest, "to")
		r.do("GET", "/api/v1/bunch-results?by=palm", owner, nil).wantsFaults(http.StatusBadRequest, "by")
	})
}

// Another crew's checks are nobody's business but the administrator's.
func TestLeadsSeeOwnCrewsBunchChecks(t *testing.T) {
	each(t, func(r *rig) {
		var crew, check uuid.UUID
		owner := models.Scope{Employer: r.ours.Employer, Actor: r.ours.people[models.RoleAdministrator].account}
		r.in(owner, func(tx *models.Tx) error {
			crew = keep(r, tx, models.Create[models.CrewContent], models.CrewContent{Name: "Another"})
			return nil
		})
		check = models.NewID()
		yes := true
		r.in(owner, func(tx *models.Tx) error {
			_, _, err := bunches.Record(tx, bunches.Look{ID: check, StandardID: r.ours.more["/api/v1/work-standards"], CrewID: crew, Workday: day("2026-03-04"), BlockID: r.ours.block, RecordedAt: tx.Now,
				Bunches: models.SampledBunches{{Marks: []models.BunchMark{{Point: "thorns_off", Yes: &yes}}}}})
			return err
		})
		lead := r.as(models.RoleCrewLead)
		r.do("GET", "/api/v1/bunch-checks/"+check.String(), lead, nil).wants(http.StatusNotFound)
		r.do("GET", "/api/v1/bunch-checks/"+check.String()+"/chain", lead, nil).wants(http.StatusNotFound)
		r.do("GET", "/api/v1/bunch-checks/"+check.String(), r.as(models.RoleAdministrator), nil).wants(http.StatusOK)
		if items := r.do("GET", "/api/v1/bunch-results", lead, nil).wants(http.StatusOK).object()["items"].([]any); len(items) != 1 || items[0].(object)["id"] == crew.String() {
			r.Errorf("%v", items)
		}
		body := content["/api/v1/bunch-checks"](r.ours, 0)
		body["id"], body["crew_id"] = models.NewID(), crew
		r.do("POST", "/api/v1/bunch-checks", lead, body).wantsKey(http.StatusForbidden, "problem.not_your_crew")
	})
}

func TestWorkStandards(t *testing.T) {
	each(t, func(r *rig) {
		owner := r.as(models.RoleAdministrator)
		body := content["/api/v1/work-standards"](r.ours, 0)
		body["id"], body["effective_on"] = models.NewID(), "2026-03-03"
		r.do("POST", "/api/v1/work-standards", owner, body).wantsFaults(http.StatusUnprocessableEntity, "/effective_on")
		body["effective_on"] = "2026-03-06"
		kept := r.do("POST", "/api/v1/work-standards", owner, body).wants(http.StatusCreated).object()
		if point := kept["points"].([]any)[0].(object); point["high"] != 20.5 || point["low"] != 16.0 {
			r.Errorf("%v", point)
		}
		for on, want := range map[string]int{"2026-03-03": 0, "2026-03-04": 1, "2026-03-06": 2} {
			if items := r.do("GET", "/api/v1/work-standards?on="+on, owner, nil).wants(http.StatusOK).object()["items"].([]any); len(items) != want {
				r.Errorf("on %s: %v", on, items)
			}
		}
		body["id"], body["withdrawn"] = models.NewID(), true
		delete(body, "points")
		r.do("POST", "/api/v1/work-standards", owner, body).wants(http.StatusCreated)
		if items := r.do("GET", "/api/v1/work-standards?on=2026-03-06", owner, nil).wants(http.StatusOK).object()["items"].([]any); len(items) != 1 {
			r.Errorf("after the withdrawal: %v", items)
		}
	})
}
