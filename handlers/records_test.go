package handlers

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/models"
)

func TestKeptRecords(t *testing.T) {
	each(t, func(r *rig) {
		id := models.NewID().String()
		garden := object{"id": id, "name": " North garden ", "time_zone": "America/Phoenix", "rulebook": "us"}
		made := r.do("POST", "/api/v1/gardens", r.admin(), garden).wants(http.StatusCreated)
		if got := made.header.Get("Location"); got != "/api/v1/gardens/"+id || made.header.Get("ETag") != `"1"` || made.header.Get("Repeated") != "" {
			r.Errorf("created: %v", made.header)
		}
		want := object{"id": id, "number": 2.0, "name": "North garden", "time_zone": "America/Phoenix", "rulebook": "us", "version": 1.0,
			"created_at": "2026-03-04T20:00:00Z", "updated_at": "2026-03-04T20:00:00Z"}
		if diff := cmp.Diff(want, made.object()); diff != "" {
			r.Error(diff)
		}
		again := r.do("POST", "/api/v1/gardens", r.admin(), garden).wants(http.StatusOK)
		if again.header.Get("Repeated") != "true" || string(again.body) != string(made.body) {
			r.Errorf("a repeat: %v %s", again.header, again.body)
		}
		garden["name"] = "South garden"
		r.do("POST", "/api/v1/gardens", r.admin(), garden).wantsKey(http.StatusConflict, "problem.id_reused")
		delete(garden, "id")
		path := "/api/v1/gardens/" + id
		r.do("PUT", path, r.admin(), garden).wantsKey(http.StatusPreconditionRequired, "problem.version_needed")
		for _, stale := range []string{`"2"`, `"0"`, `1`, `W/"1"`, `*`, `"1", "2"`, `"01"`} {
			r.do("PUT", path, r.admin(), garden, "If-Match", stale).wantsKey(http.StatusPreconditionFailed, "problem.stale_version")
		}
		put := r.do("PUT", path, r.admin(), garden, "If-Match", `"1"`).wants(http.StatusOK)
		got := r.do("GET", path, r.as(models.RoleSafetyOfficer), nil).wants(http.StatusOK)
		if put.header.Get("ETag") != `"2"` || got.header.Get("ETag") != `"2"` || got.object()["name"] != "South garden" || got.object()["number"] != 2.0 {
			r.Errorf("updated: %v %s", put.header, got.body)
		}
		r.do("GET", "/api/v1/gardens/south", r.admin(), nil).wants(http.StatusNotFound)
		r.do("GET", "/api/v1/gardens/"+strings.ReplaceAll(id, "-", ""), r.admin(), nil).wants(http.StatusNotFound)
		r.do("GET", "/api/v1/gardens/"+models.NewID().String(), r.admin(), nil).wantsKey(http.StatusNotFound, "problem.not_found")
	})
}

func TestPages(t *testing.T) {
	each(t, func(r *rig) {
		for n := range 7 {
			body := content["/api/v1/workers"](r.ours, n)
			body["id"] = models.NewID()
			r.do("POST", "/api/v1/workers", r.clerk(), body).wants(http.StatusCreated)
		}
		var numbers []float64
		cursor, pages := "", 0
		for pages = 1; ; pages++ {
			var p page[object]
			path := "/api/v1/workers?limit=4"
			if cursor != "" {
				path += "&cursor=" + cursor
			}
			r.do("GET", path, r.clerk(), nil).wants(http.StatusOK).into(&p)
			for _, w := range p.Items {
				numbers = append(numbers, w["number"].(float64))
			}
			if cursor = p.Next; cursor == "" {
				break
			}
		}
		if want := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9}; !slices.Equal(numbers, want) || pages != 3 {
			r.Errorf("%v on %d pages", numbers, pages)
		}
		if a := r.do("GET", "/api/v1/accounts?role=worker&suspended=true", r.admin(), nil).wants(http.StatusOK); string(a.body) != `{"items":[]}` {
			r.Errorf("an empty list: %s", a.body)
		}
		for _, c := range []struct{ query, where string }{
			{"limit=0", "limit"}, {"limit=201", "limit"}, {"limit=x", "limit"}, {"limit=", "limit"},
			{"cursor=", "cursor"}, {"cursor=x", "cursor"}, {"cursor=LTE", "cursor"}, {"cursor=MDE", "cursor"},
			{"color=green&colour=green", "color colour"}, {"limit=5&limit=6", "limit"}, {"provisional=perhaps&limit=0&employed_on=yesterday", "limit provisional employed_on"},
		} {
			r.do("GET", "/api/v1/workers?"+c.query, r.clerk(), nil).wantsFaults(http.StatusBadRequest, strings.Fields(c.where)...)
		}
		r.do("GET", "/api/v1/blocks?garden_id=north", r.clerk(), nil).wantsFaults(http.StatusBadRequest, "garden_id")
		r.do("GET", "/api/v1/accounts?role=foreman", r.clerk(), nil).wantsFaults(http.StatusBadRequest, "role")
		r.do("GET", "/api/v1/me?verbose=true", r.clerk(), nil).wantsFaults(http.StatusBadRequest, "verbose")
	})
}

// items reads the identifiers of a list.
func (a *answer) items() []string {
	a.Helper()
	var p page[object]
	a.wants(http.StatusOK).into(&p)
	ids := make([]string, len(p.Items))
	for i, item := range p.Items {
		ids[i] = item["id"].(string)
	}
	return ids
}

func TestFilters(t *testing.T) {
	each(t, func(r *rig) {
		garden := models.NewID().String()
		r.do("POST", "/api/v1/gardens", r.admin(), object{"id": garden, "name": "Far", "time_zone": "America/Los_Angeles", "rulebook": "us-ca"}).wants(http.StatusCreated)
		if got := r.do("GET", "/api/v1/blocks?garden_id="+garden, r.admin(), nil).items(); len(got) != 0 {
			r.Errorf("blocks of an empty garden: %v", got)
		}
		hand := models.NewID().String()
		r.do("POST", "/api/v1/workers", r.clerk(), object{"id": hand, "name": "Chuy", "language": "es", "started_on": "2026-03-04", "provisional": true}).wants(http.StatusCreated)
		if got := r.do("GET", "/api/v1/workers?provisional=true", r.clerk(), nil).items(); !slices.Equal(got, []string{hand}) {
			r.Errorf("those to settle: %v", got)
		}
		if got := r.do("GET", "/api/v1/workers?employed_on=2026-03-03", r.clerk(), nil).items(); !slices.Equal(got, []string{r.ours.worker.String(), r.ours.lead.String()}) {
			r.Errorf("those of the third of March: %v", got)
		}
		if got := r.do("GET", "/api/v1/crew-members?on=2026-01-31", r.clerk(), nil).items(); len(got) != 0 {
			r.Errorf("the crew of January: %v", got)
		}
		if got := r.do("GET", "/api/v1/crew-members?on=2026-02-01&worker_id="+r.ours.worker.String(), r.clerk(), nil).items(); !slices.Equal(got, []string{r.ours.member.String()}) {
			r.Errorf("the worker's crew: %v", got)
		}
	})
}

func TestWorkersInBrief(t *testing.T) {
	each(t, func(r *rig) {
		path := "/api/v1/workers/" + r.ours.worker.String()
		brief := object{"id": r.ours.worker.String(), "number": 1.0, "name": "Ana Rojas"}
		for _, role := range []models.Role{models.RoleCrewLead, models.RoleSafetyOfficer} {
			if diff := cmp.Diff(brief, r.do("GET", path, r.as(role), nil).wants(http.StatusOK).object()); diff != "" {
				r.Errorf("%s: %s", role, diff)
			}
			list := r.do("GET", "/api/v1/workers", r.as(role), nil).wants(http.StatusOK)
			if strings.Contains(string(list.body), "Palm Lane") || strings.Contains(string(list.body), "1990") {
				r.Errorf("%s lists %s", role, list.body)
			}
		}
		if whole := r.do("GET", path, r.clerk(), nil).object(); whole["address"] != "1 Palm Lane" || whole["birth_date"] != "1990-05-05" {
			r.Errorf("the clerk reads %v", whole)
		}
	})
}

// A provisional hand is told to be a worker whom the office knows by replacing the record.
func TestSettlingAHand(t *testing.T) {
	each(t, func(r *rig) {
		id := models.NewID().String()
		hand := object{"name": "Chuy", "language": "es", "started_on": "2026-03-04", "provisional": true}
		first := object{"id": id}
		for k, v := range hand {
			first[k] = v
		}
		r.do("POST", "/api/v1/workers", r.clerk(), first).wants(http.StatusCreated)
		hand["same_as"] = id
		r.do("PUT", "/api/v1/workers/"+id, r.clerk(), hand, "If-Match", `"1"`).wantsFaults(http.StatusUnprocessableEntity, "/same_as")
		hand["same_as"] = r.ours.worker
		r.do("PUT", "/api/v1/workers/"+id, r.clerk(), hand, "If-Match", `"1"`).wants(http.StatusOK)
	})
}

func TestRates(t *testing.T) {
	each(t, func(r *rig) {
		id := models.NewID().String()
		rate := object{"id": id, "operation_id": r.ours.operation, "variety": "medjool", "rate": "1.2", "effective_on": "2026-03-01"}
		made := r.do("POST", "/api/v1/piece-rates", r.clerk(), rate).wants(http.StatusCreated).object()
		if made["rate"] != "1.2000" || made["recorded_by"] != r.clerk().account.String() || made["recorded_at"] != "2026-03-04T20:00:00Z" {
			r.Errorf("recorded %v", made)
		}
		r.do("POST", "/api/v1/piece-rates", r.clerk(), rate).wants(http.StatusOK)
		next := models.NewID().String()
		correction := object{"id": next, "operation_id": r.ours.operation, "variety": "medjool", "rate": "1.25", "effective_on": "2026-03-01", "supersedes": id}
		r.do("POST", "/api/v1/piece-rates", r.clerk(), correction).wantsFaults(http.StatusUnprocessableEntity, "/reason")
		correction["reason"] = "agreed at 1.25"
		r.do("POST", "/api/v1/piece-rates", r.admin(), correction).wants(http.StatusCreated)
		repeat := r.do("POST", "/api/v1/piece-rates", r.clerk(), rate).wants(http.StatusOK).object()
		if repeat["superseded_by"] != next {
			r.Errorf("a repeat of what was corrected: %v", repeat)
		}
		correction["id"] = models.NewID()
		r.do("POST", "/api/v1/piece-rates", r.clerk(), correction).wantsKey(http.StatusConflict, "problem.superseded")
		correction["supersedes"] = r.theirs.pieceRate
		r.do("POST", "/api/v1/piece-rates", r.clerk(), correction).wantsFaults(http.StatusUnprocessableEntity, "/supersedes")
		if got := r.do("GET", "/api/v1/piece-rates?standing=true", r.as(models.RoleCrewLead), nil).items(); !slices.Equal(got, []string{r.ours.pieceRate.String(), next}) {
			r.Errorf("those that stand: %v", got)
		}
		r.do("GET", "/api/v1/piece-rates/"+id, r.clerk(), nil).wants(http.StatusOK)
		r.do("PUT", "/api/v1/piece-rates/"+id, r.clerk(), rate, "If-Match", `"1"`).wantsKey(http.StatusMethodNotAllowed, "problem.method_not_allowed")
		correction["supersedes"], correction["reason"] = next, strings.Repeat("x", 501)
		r.do("POST", "/api/v1/piece-rates", r.clerk(), correction).wantsFaults(http.StatusUnprocessableEntity, "/reason")
	})
}

func TestEmployer(t *testing.T) {
	each(t, func(r *rig) {
		read := r.do("GET", "/api/v1/employer", r.clerk(), nil).wants(http.StatusOK)
		profile := read.object()
		delete(profile, "version")
		delete(profile, "updated_at")
		profile["payday"] = 4
		put := r.do("PUT", "/api/v1/employer", r.admin(), profile, "If-Match", read.header.Get("ETag")).wants(http.StatusOK)
		if put.object()["payday"] != 4.0 || put.header.Get("ETag") != `"2"` {
			r.Errorf("%v %s", put.header, put.body)
		}
		r.do("PUT", "/api/v1/employer", r.admin(), profile, "If-Match", `"1"`).wants(http.StatusPreconditionFailed)
		profile["size"], profile["payday"], profile["legal_name"] = 0, 7, " "
		r.do("PUT", "/api/v1/employer", r.admin(), profile, "If-Match", `"2"`).wantsFaults(http.StatusUnprocessableEntity, "/legal_name", "/size", "/payday")
		if theirs := r.do("GET", "/api/v1/employer", r.theirs.people[models.RoleClerk], nil).object(); theirs["payday"] != 5.0 {
			r.Errorf("another employer's payday moved: %v", theirs)
		}
	})
}

func TestAuditEntries(t *testing.T) {
	each(t, func(r *rig) {
		body := content["/api/v1/workers"](r.ours, 1)
		id := models.NewID()
		body["id"] = id
		r.do("POST", "/api/v1/workers", r.clerk(), body).wants(http.StatusCreated)
		r.do("POST", "/api/v1/workers", r.clerk(), body).wants(http.StatusOK)
		var p page[object]
		r.do("GET", fmt.Sprintf("/api/v1/audit-entries?subject_id=%s&account_id=%s", id, r.clerk().account), r.admin(), nil).wants(http.StatusOK).into(&p)
		if len(p.Items) != 1 || p.Items[0]["action"] != "create" || p.Items[0]["after"].(object)["name"] != "Worker 1" || p.Items[0]["before"] != nil {
			r.Errorf("%v", p.Items)
		}
	})
}

func TestWorkerWeek(t *testing.T) {
	each(t, func(r *rig) {
		week := object{"rulebook": "us-ca", "week_start": "2026-02-15", "days": []object{{
			"date":    "2026-02-16",
			"time":    []object{{"kind": "piece", "minutes": 450}, {"kind": "rest", "minutes": 20}},
			"tallies": []object{{"operation": "pollination", "unit": "bunch", "pieces": 160, "rate": "1.15"}},
		}}}
		got := r.do("POST", "/api/v1/calculations/worker-week", r.as(models.RoleWorker), week).wants(http.StatusOK)
		if !strings.Contains(string(got.body), `"amount":"184.00"`) {
			r.Errorf("%s", got.body)
		}
		week["rulebook"] = "atlantis"
		r.do("POST", "/api/v1/calculations/worker-week", r.as(models.RoleWorker), week).wantsFaults(http.StatusUnprocessableEntity, "/rulebook")
	})
}
