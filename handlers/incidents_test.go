package handlers

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/injuries"
)

func init() {
	for name, who := range map[string]string{
		"GET /api/v1/incidents": "lcsa", "POST /api/v1/incidents": "lsa", "GET /api/v1/incidents/{id}": "lsa", "GET /api/v1/incidents/{id}/chain": "sa", "POST /api/v1/incidents/{id}/events": "sa",
		"GET /api/v1/incident-deadlines": "sa", "GET /api/v1/injury-log": "sa", "GET /api/v1/injury-log.csv": "sa", "GET /api/v1/injury-summary.csv": "sa", "GET /api/v1/injury-privacy-list": "sa",
		"GET /api/v1/injury-summaries": "sa", "POST /api/v1/injury-summaries": "sa", "GET /api/v1/injury-summaries/{id}": "sa", "GET /api/v1/injury-summaries/{id}/chain": "sa",
		"GET /api/v1/my/incidents": "wl",
	} {
		allowed[name] = who
	}
	content["/api/v1/incidents"] = func(e *estate, n int) object {
		return object{"kind": "knife_cut", "happened_at": "2026-03-04T08:00:00-08:00", "worker_id": e.worker, "garden_id": e.garden, "block_id": e.block, "description": fmt.Sprint("The knife slipped ", n),
			"body_part": "left thumb", "height_m": 6, "facts": object{"treatment": "medical", "inpatient": false}}
	}
	content["/api/v1/injury-summaries"] = func(_ *estate, _ int) object {
		return object{"year": 2025, "average_employees": 38, "certified_by": "The owner", "certified_title": "owner", "certified_on": "2026-01-20"}
	}
	one["/api/v1/incidents"] = func(e *estate) uuid.UUID { return e.more["/api/v1/incidents"] }
	planting = append(planting, func(r *rig, e *estate) {
		id := models.NewID()
		officer := models.Scope{Employer: e.Employer, Actor: e.people[models.RoleSafetyOfficer].account}
		r.in(officer, func(tx *models.Tx) error {
			near := models.IncidentReport{Kind: models.NearMiss, HappenedAt: start, GardenID: e.garden, Description: "A frond came down"}
			_, _, err := injuries.Report(tx, figuring.Books(), id, injuries.NewReport{IncidentReport: near}, models.Recording{RecordedAt: start}, uuid.Nil)
			return err
		})
		e.more["/api/v1/incidents"] = id
	})
	steps["/api/v1/incidents/{id}/events"] = object{"id": models.NewID(), "kind": "note", "happened_at": start, "note": "rested in the shade"}
}

// reported reports something and returns its identifier.
func (r *rig) reported(as *person, change object) string {
	r.Helper()
	body := content["/api/v1/incidents"](r.ours, 1)
	body["id"] = models.NewID()
	for k, v := range change {
		body[k] = v
	}
	return r.do("POST", "/api/v1/incidents", as, body).wants(http.StatusCreated).object()["id"].(string)
}

func (r *rig) event(id string, body object) {
	r.Helper()
	body["id"] = models.NewID()
	if body["happened_at"] == nil {
		body["happened_at"] = "2026-03-04T08:30:00-08:00"
	}
	r.do("POST", "/api/v1/incidents/"+id+"/events", r.as(models.RoleSafetyOfficer), body).wants(http.StatusCreated)
}

// Each sees of an incident what is theirs to see.
func TestWhoSeesWhatOfAnIncident(t *testing.T) {
	each(t, func(r *rig) {
		lead, officer, clerk := r.as(models.RoleCrewLead), r.as(models.RoleSafetyOfficer), r.as(models.RoleClerk)
		mine := r.reported(lead, nil)
		others := r.reported(officer, object{"worker_id": r.ours.lead, "privacy": "infection", "description": "A fever after the bite"})
		r.event(mine, object{"kind": "facts", "disfigurement": true})
		r.event(mine, object{"kind": "work", "work_status": "away", "from_date": "2026-03-04"})

		for id, want := range map[string]int{mine: http.StatusOK, others: http.StatusNotFound} {
			r.do("GET", "/api/v1/incidents/"+id, lead, nil).wants(want)
		}
		seen := string(r.do("GET", "/api/v1/incidents", lead, nil).wants(http.StatusOK).body)
		if !strings.Contains(seen, "left thumb") || strings.Contains(seen, "disfigurement") || strings.Contains(seen, "fever") {
			r.Errorf("the crew lead sees %s", seen)
		}
		seen = string(r.do("GET", "/api/v1/incidents", clerk, nil).wants(http.StatusOK).body)
		for _, never := range []string{"thumb", "medical", "knife", "fever", "infection", "disfigurement", r.ours.lead.String(), "The knife slipped"} {
			if strings.Contains(seen, never) {
				r.Errorf("the clerk sees %s", seen)
			}
		}
		if !strings.Contains(seen, `"work_status":"away"`) {
			r.Errorf("the clerk does not see who is away: %s", seen)
		}
		own := r.do("GET", "/api/v1/my/incidents", r.as(models.RoleWorker), nil, "Accept-Language", "es").wants(http.StatusOK).object()["items"].([]any)
		if len(own) != 1 || own[0].(object)["incident"].(object)["id"] != mine || own[0].(object)["class"] != "other" {
			r.Errorf("the worker sees %v", own)
		}
		whole := r.do("GET", "/api/v1/incidents/"+mine, officer, nil).wants(http.StatusOK).object()
		if whole["assessment"].(object)["recordable"] != true || whole["logged"] != true || len(whole["events"].([]any)) != 3 {
			r.Errorf("the officer sees %v", whole)
		}
		// A crew lead corrects their own report, and nobody else's.
		correction := content["/api/v1/incidents"](r.ours, 2)
		correction["id"], correction["supersedes"], correction["reason"] = models.NewID(), others, "no"
		r.do("POST", "/api/v1/incidents", lead, correction).wantsFaults(http.StatusUnprocessableEntity, "/supersedes")
		correction["supersedes"], correction["body_part"] = mine, "right thumb"
		r.do("POST", "/api/v1/incidents", lead, correction).wants(http.StatusCreated)
		r.do("POST", "/api/v1/incidents", lead, correction).wants(http.StatusOK)
		if chain := r.do("GET", "/api/v1/incidents/"+mine+"/chain", officer, nil).wants(http.StatusOK).object()["items"].([]any); len(chain) != 2 {
			r.Errorf("%v", chain)
		}
		whole = r.do("GET", "/api/v1/incidents/"+mine, officer, nil).wants(http.StatusOK).object()
		if whole["incident"].(object)["body_part"] != "right thumb" {
			r.Errorf("%v", whole)
		}
	})
}

func TestIncidentsThatCannotBe(t *testing.T) {
	each(t, func(r *rig) {
		lead := r.as(models.RoleCrewLead)
		body := content["/api/v1/incidents"](r.ours, 1)
		body["id"], body["height_m"], body["facts"], body["palm_ids"], body["worker_id"] = models.NewID(), 61, object{"treatment": "prayer"}, []any{models.NewID()}, models.NewID()
		r.do("POST", "/api/v1/incidents", lead, body).wantsFaults(http.StatusUnprocessableEntity, "/worker_id", "/height_m", "/palm_ids/0", "/facts/treatment")
		body["description"] = strings.Repeat("a", noteLimit)
		r.do("POST", "/api/v1/incidents", lead, body).wants(http.StatusRequestEntityTooLarge)
		r.do("POST", "/api/v1/incidents", lead, `{"kind": "fall"`).wants(http.StatusBadRequest)
		r.do("GET", "/api/v1/injury-log", r.admin(), nil).wantsFaults(http.StatusBadRequest, "year")
		r.do("GET", "/api/v1/injury-log?year=99999", r.admin(), nil).wantsFaults(http.StatusBadRequest, "year")
		r.do("GET", "/api/v1/injury-log?year=2026&garden_id="+models.NewID().String(), r.admin(), nil).wants(http.StatusNotFound)
	})
}

// The log by the columns of the recordkeeping rule, the names of privacy cases apart, and nothing that a spreadsheet would run.
func TestInjuryLog(t *testing.T) {
	each(t, func(r *rig) {
		lead, officer := r.as(models.RoleCrewLead), r.as(models.RoleSafetyOfficer)
		cut := r.reported(lead, object{"description": "=HYPERLINK(1)", "job_title": "pollination"})
		r.event(cut, object{"kind": "work", "work_status": "away", "from_date": "2026-03-04"})
		r.wait(5 * 24 * 60 * 60 * 1e9)
		for _, p := range []*person{lead, officer} { // the tokens are good for minutes
			r.enroll(r.ours, p)
		}
		r.event(cut, object{"kind": "work", "work_status": "restricted", "from_date": "2026-03-07"})
		r.event(cut, object{"kind": "work", "work_status": "working", "from_date": "2026-03-10"})
		r.reported(officer, object{"worker_id": r.ours.lead, "kind": "heat_illness", "privacy": "asked"})
		near := r.reported(lead, object{"kind": "near_miss"})
		r.event(near, object{"kind": "decision", "recordable": false, "note": "nobody was hurt"})

		log := r.do("GET", "/api/v1/injury-log?year=2026", officer, nil).wants(http.StatusOK).object()
		if entries := log["entries"].([]any); len(entries) != 2 || log["required"] != true || log["rates"] != nil {
			r.Errorf("%v", log)
		}
		file := r.do("GET", "/api/v1/injury-log.csv?year=2026&language=es", officer, nil).wants(http.StatusOK)
		rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(file.body), "\ufeff"))).ReadAll()
		if err != nil || len(rows) != 3 || len(rows[0]) != 18 {
			r.Fatalf("%v %q", err, rows)
		}
		want := "2|Ana Rojas|polinización|2026-03-04|Home garden, B-07|'=HYPERLINK(1); left thumb||X|||2|3|X|||||"
		if got := strings.Join(rows[1], "|"); got != want {
			r.Errorf("%s\nwant %s", got, want)
		}
		if rows[2][1] != "Caso privado" || rows[2][17] != "X" || strings.Contains(string(file.body), "Berta") {
			r.Errorf("%q", rows[2])
		}
		private := r.do("GET", "/api/v1/injury-privacy-list?year=2026", officer, nil).wants(http.StatusOK).object()["items"].([]any)
		if len(private) != 1 || private[0].(object)["name"] != "Berta Luz" {
			r.Errorf("%v", private)
		}
		summary := content["/api/v1/injury-summaries"](r.ours, 0)
		summary["id"], summary["year"], summary["posted_on"], summary["certified_on"] = models.NewID(), 2026, "2026-03-05", "2026-03-05"
		r.do("POST", "/api/v1/injury-summaries", officer, summary).wants(http.StatusCreated)
		printed := string(r.do("GET", "/api/v1/injury-summary.csv?year=2026&language=en", officer, nil).wants(http.StatusOK).body)
		for _, line := range []string{"Cases with days away,1\r\n", "Other recordable cases,1\r\n", "Days away from work,2\r\n", "All other illnesses,1\r\n", "Average number of employees,38\r\n", "Certified by,The owner\r\n", "Keep until,2031-12-31\r\n"} {
			if !strings.Contains(printed, line) {
				r.Errorf("the summary lacks %q:\n%s", line, printed)
			}
		}
		deadlines := r.do("GET", "/api/v1/incident-deadlines", officer, nil).wants(http.StatusOK).object()["items"].([]any)
		if len(deadlines) != 2 || deadlines[0].(object)["code"] != "record_case" || deadlines[0].(object)["due_on"] != "2026-03-12" {
			r.Errorf("%v", deadlines)
		}
	})
}
