package handlers

import (
	"encoding/json"
	"net/http"
	"os"
	"testing"

	"go.yaml.in/yaml/v3"

	"palmero/migrations"
	"palmero/models"
)

// climbing is a worker of an invented garden who may go up.
const climbing = `{
	"rulebook": "us-ca", "workday": "2026-03-03", "at": "2026-03-03T06:10:00-08:00", "operation": "pollination", "cutting_tool": true,
	"worker": {"id": "W7", "birth_date": "1991-04-02", "weight_kg": 78, "first_workday": "2024-02-12", "last_worked_on": "2026-03-02",
		"sign_offs": [{"topic": "fall_protection", "on": "2026-02-10"}, {"topic": "attached_ladder", "on": "2026-02-10"}, {"topic": "hand_tools", "on": "2026-02-10"}, {"topic": "heat_illness", "on": "2026-02-10"}],
		"gear": [{"kind": "gloves", "puncture_level": 3}, {"kind": "eye_protection"}, {"kind": "knife", "tethered_or_sheathed": true}]},
	"access": {"way": "attached_ladder", "height_m": 7.9, "others_on_palm": 0, "lift": null,
		"ladder": {"kind": "attached", "wires": 3, "wire_gauge": 12, "sections": 2, "section_length_m": 4.572, "rung_spacing_mm": 304.8, "rung_length_mm": 304.8,
			"rated_load_lb": 250, "chain_ultimate_lb": 2500, "material": "metal", "workers": 1}},
	"fall_protection": {"system": "positioning", "body": "belt", "saddle": true, "lanyard": "wire_rope", "chain_ultimate_lb": null, "working_load_lb": null,
		"free_fall_m": 0.6096, "anchor": "trunk", "anchor_judged_by": "I. Robles", "anchor_lb": 3000, "clearance": null},
	"equipment": [{"id": "L-2", "kind": "attached_ladder", "in_service": true, "pre_use_on": "2026-03-03", "periodic_on": "2026-01-20", "impact_loaded": false, "returned_by": null}],
	"checklist": {"passed": true, "by": "I. Robles", "on": "2026-03-03"},
	"site": {"power_line_m": 30, "entry_restricted_until": null, "gust_m_s": 3, "lightning": false, "dark": false, "bees": false, "wet": false, "people_below": false},
	"crew": {"ground_person": true, "reach_by": "radio", "rescue_plan": true},
	"weather": {"temperature_c": 22, "forecast_high_c": 26, "shade_up": true, "water_ready": true, "high_heat_plan": false},
	"overrides": []
}`

func TestClearanceByTheAPI(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	var doc object
	if err := json.Unmarshal([]byte(climbing), &doc); err != nil {
		t.Fatal(err)
	}
	may := r.do("POST", "/api/v1/calculations/clearance", r.as(models.RoleWorker), doc).wants(http.StatusOK).object()
	if may["cleared"] != true || may["valid_until"] != "2026-03-03T10:10:00-08:00" || len(may["reasons"].([]any)) != 0 {
		r.Errorf("%v", may)
	}
	delete(doc["site"].(object), "entry_restricted_until")
	doc["access"].(object)["height_m"] = 7.9
	doc["fall_protection"].(object)["free_fall_m"] = 0.6097
	mayNot := r.do("POST", "/api/v1/calculations/clearance", r.as(models.RoleWorker), doc, "Accept-Language", "es").wants(http.StatusOK).object()
	facts := map[string]string{}
	for _, reason := range mayNot["reasons"].([]any) {
		facts[reason.(object)["fact"].(string)] = reason.(object)["text"].(string)
	}
	if mayNot["cleared"] != false || len(facts) != 2 || facts["/fall_protection/free_fall_m"] == "" ||
		facts["/site/entry_restricted_until"] != "No se sabe: si la entrada está restringida por un tratamiento. Nadie sube adivinando; averígüelo y anótelo." {
		r.Errorf("%v", mayNot)
	}
	doc["access"].(object)["height_ft"] = 26
	doc["access"].(object)["hieght"] = 26
	doc["weather"].(object)["temperature_c"] = "warm"
	r.do("POST", "/api/v1/calculations/clearance", r.as(models.RoleWorker), doc).wants(http.StatusUnprocessableEntity)
}

// Every published example that is a document of a figure is taken by the API, and answered as described.
func TestPublishedFiguresByTheAPI(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	content, err := os.ReadFile("../testdata/safety/cases.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Figure string
		Asks   []struct{ Document object }
	}
	if err := yaml.Unmarshal(content, &cases); err != nil {
		t.Fatal(err)
	}
	asked := map[string]bool{}
	for _, c := range cases {
		if c.Figure == "" {
			continue
		}
		asked[c.Figure] = true
		r.do("POST", "/api/v1/calculations/"+c.Figure, r.as(models.RoleWorker), c.Asks[0].Document).wants(http.StatusOK)
	}
	if len(asked) != 6 {
		t.Errorf("only %v", asked)
	}
}

func TestChecklistsAndOpenPoints(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	lists := r.do("GET", "/api/v1/checklists", r.as(models.RoleCrewLead), nil).wants(http.StatusOK).object()["items"].([]any)
	if len(lists) != 5 {
		r.Errorf("%d checklists", len(lists))
	}
	points := r.do("GET", "/api/v1/open-points", r.as(models.RoleSafetyOfficer), nil, "Accept-Language", "es").wants(http.StatusOK).object()["items"].([]any)
	if len(points) < 10 || points[0].(object)["text"] == "" {
		r.Errorf("%v", points)
	}
}
