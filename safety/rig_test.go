package safety

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"palmero/safety/rulebook"
)

var books = sync.OnceValue(func() *rulebook.Library {
	l, err := rulebook.Load()
	if err != nil {
		panic(err)
	}
	return l
})

type object = map[string]any

// passing is a worker who may go up in the named way, of an invented garden, with nothing left to find.
func passing(way string) object {
	doc := parsed(`{
		"rulebook": "us-ca", "workday": "2026-03-03", "at": "2026-03-03T06:10:00-08:00", "operation": "pollination", "cutting_tool": true,
		"worker": {
			"id": "W7", "birth_date": "1991-04-02", "weight_lb": 172, "first_workday": "2024-02-12", "last_worked_on": "2026-03-02",
			"sign_offs": [
				{"topic": "fall_protection", "on": "2026-02-10"}, {"topic": "attached_ladder", "on": "2026-02-10"}, {"topic": "portable_ladder", "on": "2026-02-10"},
				{"topic": "lift_operator", "on": "2026-02-10"}, {"topic": "palm_climbing", "on": "2026-02-10"}, {"topic": "hand_tools", "on": "2026-02-10"},
				{"topic": "heat_illness", "on": "2026-02-10"}
			],
			"gear": [{"kind": "gloves", "puncture_level": 3}, {"kind": "eye_protection"}, {"kind": "knife", "tethered_or_sheathed": true}]
		},
		"access": {"height_ft": 26, "others_on_palm": 0},
		"fall_protection": {
			"system": "positioning", "body": "belt", "saddle": true, "lanyard": "wire_rope",
			"free_fall_ft": 2, "anchor": "trunk", "anchor_judged_by": "I. Robles", "anchor_lb": 3000
		},
		"equipment": [],
		"checklist": {"passed": true, "by": "I. Robles", "on": "2026-03-03"},
		"site": {
			"power_line_ft": 90, "entry_restricted_until": null, "gust_mph": 6, "lightning": false, "dark": false, "bees": false, "wet": false, "people_below": false
		},
		"crew": {"ground_person": true, "reach_by": "radio", "rescue_plan": true},
		"weather": {"temperature_f": 71, "forecast_high_f": 79, "shade_up": true, "water_ready": true, "high_heat_plan": false}
	}`)
	access := doc["access"].(object)
	access["way"] = way
	kind := way
	switch way {
	case "attached_ladder":
		access["ladder"] = parsed(`{"kind": "attached", "wires": 3, "wire_gauge": 12, "sections": 2, "section_length_ft": 15, "rung_spacing_in": 12, "rung_length_in": 12,
			"rated_load_lb": 250, "chain_ultimate_lb": 2500, "material": "metal", "workers": 1}`)
	case "portable_ladder":
		access["ladder"] = parsed(`{"kind": "extension", "duty_type": "IA", "people_lb": [172], "load_lb": 30, "length_ft": 32, "rungs": 30, "standing_rung": 27,
			"working_length_ft": 28, "base_ft": 7, "sections": 2, "material": "fiberglass"}`)
	case "lift":
		access["lift"] = parsed(`{"type": "boom", "rated_lb": 500, "people_lb": [172], "tools_lb": 30, "fruit_lb": 60, "wind_limit_mph": 28, "slope_deg": 1, "slope_limit_deg": 5,
			"surface_ok": true, "outriggers_set": null, "tied_to": "boom", "resting_on_palm": false, "moving_elevated": false}`)
		doc["fall_protection"] = parsed(`{"system": "lift_tie_off", "body": "harness", "lanyard": "wire_rope"}`)
	case "climb":
		kind = "climbing_gear"
	}
	if way != "ground" {
		doc["equipment"] = []any{object{"id": "E1", "kind": kind, "in_service": true, "pre_use_on": "2026-03-03", "periodic_on": "2026-01-20", "impact_loaded": false}}
	}
	return doc
}

var ways = []string{"ground", "portable_ladder", "attached_ladder", "lift", "climb"}

func parsed(text string) (o object) {
	if err := json.Unmarshal([]byte(text), &o); err != nil {
		panic(err)
	}
	return o
}

// absent takes a fact out of a document.
var absent = new(int)

// set changes a document at a JSON pointer.
func set(doc object, pointer string, value any) object {
	names := strings.Split(strings.TrimPrefix(pointer, "/"), "/")
	var at any = doc
	for i, name := range names {
		last := i == len(names)-1
		switch holder := at.(type) {
		case object:
			if last && value == any(absent) {
				delete(holder, name)
			} else if last {
				holder[name] = value
			} else if holder[name] == nil {
				holder[name] = object{}
			}
			at = holder[name]
		case []any:
			index, err := strconv.Atoi(name)
			if err != nil {
				panic(err)
			}
			if last {
				holder[index] = value
			}
			at = holder[index]
		}
	}
	return doc
}

// with is a passing document with changes: pointer, value, pointer, value.
func with(way string, changes ...any) object {
	doc := passing(way)
	for i := 0; i < len(changes); i += 2 {
		set(doc, changes[i].(string), changes[i+1])
	}
	return doc
}

// ask answers a figure of a document.
func ask(t testing.TB, name string, doc any) (Answer, []Fault) {
	t.Helper()
	figure, ok := FigureOf(name)
	if !ok {
		t.Fatalf("no figure %s", name)
	}
	text, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	in := figure.New()
	if err := json.Unmarshal(text, in); err != nil {
		t.Fatalf("%v in %s", err, text)
	}
	return figure.Answer(books(), in)
}

// clear answers for a climb that can be answered for.
func clear(t testing.TB, doc object) *ClearanceAnswer {
	t.Helper()
	answer, faults := ask(t, "clearance", doc)
	if len(faults) > 0 {
		t.Fatalf("refused: %v", faults)
	}
	return answer.(*ClearanceAnswer)
}

// found lists the reasons as "code pointer".
func found(reasons []Reason) (all []string) {
	for _, r := range reasons {
		all = append(all, r.Code+" "+r.Fact)
	}
	slices.Sort(all)
	return all
}

func codes(reasons []Reason) (all []string) {
	for _, r := range reasons {
		if !slices.Contains(all, r.Code) {
			all = append(all, r.Code)
		}
	}
	slices.Sort(all)
	return all
}

func asMap(t testing.TB, v any) object {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return parsed(string(text))
}

func pointers(faults []Fault) string {
	var all []string
	for _, f := range faults {
		all = append(all, fmt.Sprintf("%s %s", f.Pointer, f.Key))
	}
	slices.Sort(all)
	return strings.Join(all, ", ")
}

// decoded reads a clearance document.
func decoded(t testing.TB, doc object) *Clearance {
	t.Helper()
	text, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	in := new(Clearance)
	if err := json.Unmarshal(text, in); err != nil {
		t.Fatal(err)
	}
	return in
}
