package handlers

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"palmero/models"
)

func init() {
	for name, who := range map[string]string{
		"GET /api/v1/entry-restrictions": "lcsa", "POST /api/v1/entry-restrictions": "lsa", "GET /api/v1/entry-restrictions/{id}": "lcsa", "GET /api/v1/entry-restrictions/{id}/chain": "sa",
		"GET /api/v1/power-lines": "lcsa", "POST /api/v1/power-lines": "sa", "GET /api/v1/power-lines/{id}": "lcsa", "PUT /api/v1/power-lines/{id}": "sa",
		"GET /api/v1/heat-readings": "lcsa", "POST /api/v1/heat-readings": "lsa", "GET /api/v1/heat-readings/{id}": "lcsa", "GET /api/v1/heat-readings/{id}/chain": "sa",
		"GET /api/v1/heat-plans": "lsa", "POST /api/v1/heat-plans": "lsa", "GET /api/v1/heat-plans/{id}": "lsa", "GET /api/v1/heat-plans/{id}/chain": "sa",
		"POST /api/v1/heat-imports": "sa", "GET /api/v1/gardens/{id}/heat-day": "lsa", "GET /api/v1/cool-downs": "lcsa",
	} {
		allowed[name] = who
	}
	content["/api/v1/entry-restrictions"] = func(e *estate, n int) object {
		return object{"block_id": e.block, "product": fmt.Sprint("Sulfur ", n), "restricted_from": "2026-03-04T08:00:00-08:00", "restricted_until": "2026-03-05T09:00:00-08:00", "interval_hours": 24,
			"source": "label 10-20", "posted_by": "Berta Luz"}
	}
	content["/api/v1/power-lines"] = func(e *estate, n int) object {
		return object{"block_id": e.block, "kind": "overhead", "volts": 12_000, "distance_ft": 40 + n}
	}
	content["/api/v1/heat-readings"] = func(e *estate, n int) object {
		return object{"garden_id": e.garden, "read_at": "2026-03-04T10:00:00-08:00", "temperature_f": 60 + float64(n%300)/10}
	}
	content["/api/v1/heat-plans"] = func(e *estate, _ int) object {
		return object{"garden_id": e.garden, "workday": "2026-03-04", "forecast_high_c": 36, "water_ready": true, "observers": []any{e.lead}}
	}
	content["/api/v1/heat-imports"] = func(e *estate, n int) object {
		return object{"garden_id": e.garden, "csv": fmt.Sprintf("read_at;temperature_c\n2026-03-04 09:00;%d,5\n", n%40)}
	}
}

func TestEntryRestrictionsAndPowerLines(t *testing.T) {
	each(t, func(r *rig) {
		lead, officer := r.as(models.RoleCrewLead), r.as(models.RoleSafetyOfficer)
		body := content["/api/v1/entry-restrictions"](r.ours, 1)
		body["id"] = models.NewID()
		first := r.do("POST", "/api/v1/entry-restrictions", lead, body).wants(http.StatusCreated).object()
		r.do("POST", "/api/v1/entry-restrictions", lead, body).wants(http.StatusOK)
		body["product"] = "Another"
		r.do("POST", "/api/v1/entry-restrictions", lead, body).wantsKey(http.StatusConflict, "problem.id_reused")
		body["id"], body["interval_hours"], body["block_id"] = models.NewID(), 26, models.NewID()
		r.do("POST", "/api/v1/entry-restrictions", lead, body).wantsFaults(http.StatusUnprocessableEntity, "/block_id", "/restricted_until")
		for at, want := range map[string]int{"2026-03-05T16:59:00Z": 1, "2026-03-05T17:00:00Z": 0} {
			if items := r.do("GET", "/api/v1/entry-restrictions?at="+at, lead, nil).wants(http.StatusOK).object()["items"].([]any); len(items) != want {
				r.Errorf("at %s: %v", at, items)
			}
		}
		r.do("GET", "/api/v1/entry-restrictions?at=noon", lead, nil).wantsFaults(http.StatusBadRequest, "at")
		// It is over sooner: the record is corrected, and the chain tells.
		body["interval_hours"], body["block_id"], body["supersedes"], body["reason"] = 12, r.ours.block, first["id"], "the label says 12"
		second := r.do("POST", "/api/v1/entry-restrictions", officer, body).wants(http.StatusCreated).object()
		chain := r.do("GET", "/api/v1/entry-restrictions/"+second["id"].(string)+"/chain", officer, nil).wants(http.StatusOK).object()["items"].([]any)
		if len(chain) != 2 {
			r.Errorf("%v", chain)
		}
		line := object{"id": models.NewID(), "block_id": r.ours.block, "kind": "overhead", "distance_m": 3.048, "height_m": 600}
		refused := r.do("POST", "/api/v1/power-lines", officer, line).wantsFaults(http.StatusUnprocessableEntity, "/height_m")
		if detail := refused.problem().Errors[0].Detail; !strings.Contains(detail, "152.4") {
			r.Errorf("the range is told as %q", detail)
		}
		delete(line, "height_m")
		kept := r.do("POST", "/api/v1/power-lines", officer, line).wants(http.StatusCreated).object()
		if kept["distance_ft"] != 10.0 {
			r.Errorf("3.048 m are %v ft", kept["distance_ft"])
		}
		delete(line, "distance_m")
		line["id"] = models.NewID()
		r.do("POST", "/api/v1/power-lines", officer, line).wantsFaults(http.StatusUnprocessableEntity, "/distance_ft")
	})
}

// What is longer than a record can be is refused before it is read whole.
func TestLongNotesAreRefusedUnread(t *testing.T) {
	each(t, func(r *rig) {
		body := content["/api/v1/heat-readings"](r.ours, 1)
		body["id"], body["source"] = models.NewID(), strings.Repeat("a", noteLimit)
		r.do("POST", "/api/v1/heat-readings", r.as(models.RoleCrewLead), body).wants(http.StatusRequestEntityTooLarge)
		body["source"] = strings.Repeat("a", 101)
		r.do("POST", "/api/v1/heat-readings", r.as(models.RoleCrewLead), body).wantsFaults(http.StatusUnprocessableEntity, "/source")
	})
}

func TestHeatImports(t *testing.T) {
	each(t, func(r *rig) {
		officer := r.as(models.RoleSafetyOfficer)
		in := object{"id": models.NewID(), "garden_id": r.ours.garden, "csv": "Read_At,temperature_f,relative_humidity\n2026-03-04 09:00,95,12\n2026-03-04T18:00:00Z,94.9,\n"}
		kept := r.do("POST", "/api/v1/heat-imports", officer, in).wants(http.StatusCreated).object()
		if kept["readings"] != 2.0 {
			r.Errorf("%v", kept)
		}
		r.do("POST", "/api/v1/heat-imports", officer, in).wants(http.StatusOK)
		items := r.do("GET", "/api/v1/heat-readings?read_from=2026-03-04T17:00:00Z&read_before=2026-03-04T18:00:00Z", officer, nil).wants(http.StatusOK).object()["items"].([]any)
		if len(items) != 1 || items[0].(object)["temperature_f"] != 95.0 || items[0].(object)["relative_humidity"] != 12.0 {
			r.Errorf("nine o'clock on the garden's clock: %v", items)
		}
		in["csv"] = "read_at,temperature_f\nnoon,95\n2026-03-04 10:00,hot\n"
		r.do("POST", "/api/v1/heat-imports", officer, in).wantsKey(http.StatusConflict, "problem.id_reused")
		in["id"] = models.NewID()
		r.do("POST", "/api/v1/heat-imports", officer, in).wantsFaults(http.StatusUnprocessableEntity, "/csv/2/read_at", "/csv/3/temperature_f")
		in["csv"] = "read_at,temperature_f\n2026-03-04 10:00,951\n"
		r.do("POST", "/api/v1/heat-imports", officer, in).wantsFaults(http.StatusUnprocessableEntity, "/csv/2/temperature_f")
		in["csv"] = "time,temperature_f\n2026-03-04 10:00,95\n"
		r.do("POST", "/api/v1/heat-imports", officer, in).wants(http.StatusUnprocessableEntity)
		in["csv"] = "\x00\x01"
		r.do("POST", "/api/v1/heat-imports", officer, in).wants(http.StatusUnprocessableEntity)
		delete(in, "csv")
		r.do("POST", "/api/v1/heat-imports", officer, in).wantsFaults(http.StatusUnprocessableEntity, "/rows")
		in["rows"] = []object{{"read_at": "2026-03-04T10:00:00Z", "temperature_c": 35}, {"read_at": "2027-03-04T10:00:00Z", "temperature_c": 80, "relative_humidity": 101}}
		r.do("POST", "/api/v1/heat-imports", officer, in).wantsFaults(http.StatusUnprocessableEntity, "/rows/1/read_at", "/rows/1/temperature_c", "/rows/1/relative_humidity")
		in["rows"] = []object{{"read_at": "2026-03-04T10:00:00Z", "temperature_c": 35}}
		r.do("POST", "/api/v1/heat-imports", officer, in).wants(http.StatusCreated)
	})
}

func TestHeatDay(t *testing.T) {
	each(t, func(r *rig) {
		lead := r.as(models.RoleCrewLead)
		path := "/api/v1/gardens/" + r.ours.garden.String() + "/heat-day"
		day := r.do("GET", path, lead, nil, "Accept-Language", "es").wants(http.StatusOK).object()
		if day["temperature_f"] != nil || day["ready"] != nil || len(day["duties"].([]any)) != 5 || day["workday"] != "2026-03-04" {
			r.Errorf("%v", day)
		}
		reading := content["/api/v1/heat-readings"](r.ours, 0)
		reading["id"], reading["temperature_f"] = models.NewID(), 80.1
		r.do("POST", "/api/v1/heat-readings", lead, reading).wants(http.StatusCreated)
		ready := content["/api/v1/heat-plans"](r.ours, 0)
		ready["id"], ready["forecast_high_c"] = models.NewID(), 26
		r.do("POST", "/api/v1/heat-plans", lead, ready).wants(http.StatusCreated)
		day = r.do("GET", path+"?day=2026-03-04&crew_id="+r.ours.crew.String(), lead, nil).wants(http.StatusOK).object()
		if duties := day["duties"].([]any); len(duties) != 2 || duties[0].(object)["ready"] != true || duties[1].(object)["code"] != "shade" || day["people"] != 2.0 {
			r.Errorf("%v", day)
		}
		if watched := day["watched"].([]any); len(watched) != 2 || watched[0].(object)["text"] == "" {
			r.Errorf("%v", watched)
		}
		r.do("GET", path+"?day=tomorrow", lead, nil).wantsFaults(http.StatusBadRequest, "day")
		r.do("GET", "/api/v1/cool-downs?day=2026-03-04", lead, nil).wants(http.StatusOK)
	})
}
