package safety

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"palmero/payroll/dated"
)

func TestEveryWayCanPass(t *testing.T) {
	for _, book := range books().Keys() {
		for _, way := range ways {
			a := clear(t, with(way, "/rulebook", book))
			if !a.Cleared || len(a.Reasons) > 0 || len(a.Overridden) > 0 || a.ValidUntil == nil || a.ValidUntil.Format(time.RFC3339) != "2026-03-03T10:10:00-08:00" {
				t.Errorf("%s, %s: %v, %v", book, way, found(a.Reasons), a.ValidUntil)
			}
		}
	}
}

// arrest is a passing climber on arrest gear.
func arrest(changes ...any) []any {
	return append([]any{"/fall_protection", parsed(`{"system": "arrest", "body": "harness", "saddle": false, "lanyard": "wire_rope", "free_fall_ft": 6, "anchor": "structure",
		"anchor_judged_by": "I. Robles", "anchor_lb": 5000, "clearance": {"free_fall_ft": 6, "deceleration_ft": 3.5, "shift_ft": 1, "d_ring_height_ft": 5, "available_ft": 18.5}}`)}, changes...)
}

// codeCases reach every code of clearance once or more; the near misses beside them are right at the limit, or a day off, and reach none.
var codeCases = []struct {
	code, way, fact string
	hit, miss       []any
}{
	// people
	{"training_missing", "climb", "/worker/sign_offs", []any{"/worker/sign_offs/4/topic", "knitting"}, []any{"/worker/sign_offs/1/topic", "knitting"}},
	{"training_missing", "climb", "/worker/sign_offs", []any{"/worker/sign_offs/5/on", "2026-03-04"}, []any{"/worker/sign_offs/5/on", "2026-03-03"}},
	{"training_missing", "ground", "/worker/sign_offs", []any{"/site/entry_restricted_until", "2026-02-01"}, []any{"/site/entry_restricted_until", "2026-01-31"}},
	{"training_expired", "climb", "/worker/sign_offs", []any{"/worker/sign_offs/0/on", "2025-03-02"}, []any{"/worker/sign_offs/0/on", "2025-03-03"}},
	{"training_expired", "lift", "/worker/sign_offs", []any{"/worker/sign_offs/3/on", "2023-03-02"}, []any{"/worker/sign_offs/3/on", "2023-03-03"}},
	{"gloves_missing", "ground", "/worker/gear", []any{"/worker/gear/0/kind", "hat"}, []any{"/worker/gear/0/puncture_level", 1}},
	{"knife_untethered", "climb", "/worker/gear/2/tethered_or_sheathed", []any{"/worker/gear/2/tethered_or_sheathed", false}, []any{"/worker/gear/2", object{"kind": "hat"}}},
	{"eye_protection_missing", "ground", "/worker/gear", []any{"/worker/gear/1/kind", "hat"}, nil},
	{"minor_height", "attached_ladder", "/access/height_ft", []any{"/worker/birth_date", "2010-03-04", "/access/height_ft", 20.1}, []any{"/worker/birth_date", "2010-03-04", "/access/height_ft", 20}},
	{"minor_height", "attached_ladder", "/access/height_m", []any{"/worker/birth_date", "2010-03-04", "/access/height_ft", metres("6.0961")}, nil},
	{"minor_height", "portable_ladder", "/access/height_ft", []any{"/worker/birth_date", "2010-03-04"}, []any{"/worker/birth_date", "2010-03-03"}},
	{"minor_equipment", "lift", "/worker/birth_date", []any{"/worker/birth_date", "2010-03-04"}, []any{"/worker/birth_date", "2010-03-03"}},
	{"palm_occupied", "climb", "/access/others_on_palm", []any{"/access/others_on_palm", 1}, []any{"/access/others_on_palm", 0}},
	{"alone_aloft", "climb", "/crew/ground_person", []any{"/crew/ground_person", false, "/crew/reach_by", "none"}, []any{"/crew/ground_person", false}},
	{"rescue_missing", "climb", "/crew/rescue_plan", []any{"/crew/rescue_plan", false}, nil},
	{"close_observation", "ground", "/worker/first_workday", []any{"/worker/first_workday", "2026-02-18"}, []any{"/worker/first_workday", "2026-02-17"}},
	{"close_observation", "ground", "/worker/last_worked_on", []any{"/worker/last_worked_on", "2026-02-23"}, []any{"/worker/last_worked_on", "2026-02-24"}},
	// paper
	{"checklist_missing", "ground", "/checklist", []any{"/checklist/on", "2026-03-02"}, nil},
	{"checklist_missing", "ground", "/checklist", []any{"/checklist", absent}, nil},
	{"checklist_missing", "ground", "/checklist", []any{"/checklist/by", ""}, nil},
	{"checklist_failed", "ground", "/checklist/passed", []any{"/checklist/passed", false}, nil},
	{"fact_missing", "climb", "/access/height_ft", []any{"/access/height_ft", absent}, nil},
	{"fact_missing", "climb", "/worker/gear/2/tethered_or_sheathed", []any{"/worker/gear/2", object{"kind": "saw"}}, []any{"/worker/gear/2", object{"kind": "saw", "tethered_or_sheathed": true}}},
	{"fact_missing", "climb", "/worker/last_worked_on", []any{"/worker/last_worked_on", absent}, []any{"/worker/last_worked_on", "2026-03-01"}},
	{"fact_missing", "lift", "/access/lift/people_lb", []any{"/access/lift/people_lb", []any{}}, nil},
	{"override_refused", "ground", "/overrides/0", []any{"/overrides", []any{override("shade_missing")}}, []any{"/overrides", []any{override("bees")}}},
	{"way_unknown", "kite", "/access/way", nil, nil},
	// gear
	{"equipment_missing", "climb", "/equipment", []any{"/equipment", []any{}}, nil},
	{"inspection_missing", "climb", "/equipment/0/pre_use_on", []any{"/equipment/0/pre_use_on", absent}, nil},
	{"inspection_missing", "climb", "/equipment/0/periodic_on", []any{"/equipment/0/periodic_on", "2026-03-04"}, []any{"/equipment/0/periodic_on", "2026-03-03"}},
	{"inspection_overdue", "climb", "/equipment/0/pre_use_on", []any{"/equipment/0/pre_use_on", "2026-03-02"}, nil},
	{"inspection_overdue", "climb", "/equipment/0/periodic_on", []any{"/equipment/0/periodic_on", "2025-03-02"}, []any{"/equipment/0/periodic_on", "2025-03-03"}},
	{"inspection_overdue", "lift", "/equipment/0/periodic_on", []any{"/equipment/0/periodic_on", "2025-12-02"}, []any{"/equipment/0/periodic_on", "2025-12-03"}},
	{"out_of_service", "climb", "/equipment/0/in_service", []any{"/equipment/0/in_service", false}, nil},
	{"impact_loaded", "climb", "/equipment/0/impact_loaded", []any{"/equipment/0/impact_loaded", true}, []any{"/equipment/0/impact_loaded", true, "/equipment/0/returned_by", "I. Robles"}},
	// falling
	{"fall_protection_missing", "climb", "/fall_protection/system", []any{"/fall_protection/system", "none", "/fall_protection/saddle", false, "/access/height_ft", 7.501}, []any{"/fall_protection/system", "none", "/access/height_ft", 7.5}},
	{"fall_protection_missing", "climb", "/fall_protection/system", []any{"/fall_protection/system", "none", "/fall_protection/saddle", false, "/access/height_ft", metres("2.287")}, []any{"/fall_protection/system", "none", "/access/height_ft", metres("2.286")}},
	{"lanyard_can_be_cut", "climb", "/fall_protection/lanyard", []any{"/fall_protection/lanyard", "synthetic"}, []any{"/fall_protection/lanyard", "synthetic", "/cutting_tool", false}},
	{"lanyard_can_be_cut", "lift", "/fall_protection/lanyard", []any{"/fall_protection/lanyard", "synthetic"}, []any{"/fall_protection/lanyard", "synthetic", "/cutting_tool", false}},
	{"chain_factor_low", "climb", "/fall_protection/chain_ultimate_lb", []any{"/fall_protection/lanyard", "chain", "/fall_protection/chain_ultimate_lb", 2999, "/fall_protection/working_load_lb", 300}, []any{"/fall_protection/lanyard", "chain", "/fall_protection/chain_ultimate_lb", 3000, "/fall_protection/working_load_lb", 300}},
	{"saddle_needs_positioning", "climb", "/fall_protection/saddle", arrest("/fall_protection/saddle", true, "/fall_protection/body", "belt_and_harness"), arrest("/fall_protection/body", "belt_and_harness")},
	{"body_belt_missing", "climb", "/fall_protection/body", []any{"/fall_protection/body", "harness"}, []any{"/fall_protection/body", "belt_and_harness"}},
	{"body_belt_missing", "climb", "/fall_protection/body", []any{"/fall_protection/body", "none", "/fall_protection/saddle", false}, []any{"/fall_protection/body", "harness", "/fall_protection/saddle", false}},
	{"belt_not_for_arrest", "climb", "/fall_protection/body", arrest("/fall_protection/body", "belt"), arrest()},
	{"free_fall_over", "climb", "/fall_protection/free_fall_ft", []any{"/fall_protection/free_fall_ft", 2.01}, []any{"/fall_protection/free_fall_ft", metres("0.6096")}},
	{"free_fall_over", "climb", "/fall_protection/free_fall_ft", arrest("/fall_protection/free_fall_ft", 6.01), arrest()},
	{"anchor_weak", "climb", "/fall_protection/anchor_lb", []any{"/fall_protection/anchor_lb", 2999}, []any{"/fall_protection/anchor_lb", 3000}},
	{"anchor_weak", "climb", "/fall_protection/anchor_lb", arrest("/fall_protection/anchor_lb", 4999), arrest()},
	{"anchor_weak", "climb", "/fall_protection/anchor", arrest("/fall_protection/anchor", "crown", "/fall_protection/anchor_lb", 100000), arrest("/fall_protection/anchor", "trunk")},
	{"anchor_weak", "climb", "/fall_protection/anchor_lb", []any{"/fall_protection/system", "restraint", "/fall_protection/saddle", false, "/fall_protection/anchor_lb", 687}, []any{"/fall_protection/system", "restraint", "/fall_protection/saddle", false, "/fall_protection/anchor_lb", 688}},
	{"anchor_unjudged", "climb", "/fall_protection/anchor_judged_by", []any{"/fall_protection/anchor_judged_by", absent}, nil},
	{"clearance_short", "climb", "/fall_protection/clearance/available_ft", arrest("/fall_protection/clearance/available_ft", 18.4), arrest()},
	// ladders
	{"ladder_wires", "attached_ladder", "/access/ladder/wires", []any{"/access/ladder/wires", 2}, []any{"/access/ladder/wires", 4}},
	{"ladder_wires", "attached_ladder", "/access/ladder/wire_gauge", []any{"/access/ladder/wire_gauge", 13}, []any{"/access/ladder/wire_gauge", 10}},
	{"ladder_sections", "attached_ladder", "/access/ladder/sections", []any{"/access/ladder/sections", 3}, []any{"/access/ladder/sections", 1}},
	{"ladder_section_length", "attached_ladder", "/access/ladder/section_length_ft", []any{"/access/ladder/section_length_ft", 15.1}, []any{"/access/ladder/section_length_ft", 15}},
	{"ladder_rungs", "attached_ladder", "/access/ladder/rung_spacing_in", []any{"/access/ladder/rung_spacing_in", 12.1}, []any{"/access/ladder/rung_spacing_in", 12}},
	{"ladder_rungs", "attached_ladder", "/access/ladder/rung_length_in", []any{"/access/ladder/rung_length_in", 11.9}, []any{"/access/ladder/rung_length_in", 12}},
	{"ladder_load", "attached_ladder", "/access/ladder/rated_load_lb", []any{"/access/ladder/rated_load_lb", 249}, []any{"/access/ladder/rated_load_lb", 250}},
	{"ladder_load", "attached_ladder", "/access/ladder/rated_load_lb", []any{"/access/ladder/load_lb", 78.1, "/access/ladder/chain_ultimate_lb", 9000}, []any{"/access/ladder/load_lb", 78}},
	{"ladder_material", "attached_ladder", "/access/ladder/material", []any{"/access/ladder/material", "wood"}, nil},
	{"ladder_occupied", "attached_ladder", "/access/ladder/workers", []any{"/access/ladder/workers", 2}, []any{"/access/ladder/workers", 1}},
	{"ladder_chain", "attached_ladder", "/access/ladder/chain_ultimate_lb", []any{"/access/ladder/chain_ultimate_lb", 1719}, []any{"/access/ladder/chain_ultimate_lb", 1720}},
	{"ladder_standing_rung", "portable_ladder", "/access/ladder/standing_rung", []any{"/access/ladder/standing_rung", 28}, []any{"/access/ladder/standing_rung", 27}},
	{"ladder_standing_rung", "portable_ladder", "/access/ladder/standing_rung", []any{"/access/ladder/kind", "orchard", "/access/ladder/standing_rung", 29}, []any{"/access/ladder/kind", "orchard", "/access/ladder/standing_rung", 28}},
	{"ladder_too_long", "portable_ladder", "/access/ladder/length_ft", []any{"/access/ladder/length_ft", 72.1}, []any{"/access/ladder/length_ft", 72}},
	{"ladder_too_long", "portable_ladder", "/access/ladder/length_ft", []any{"/access/ladder/kind", "stepladder", "/access/ladder/length_ft", 20.1}, []any{"/access/ladder/kind", "stepladder", "/access/ladder/length_ft", 20}},
	{"duty_rating_exceeded", "portable_ladder", "/access/ladder/duty_type", []any{"/access/ladder/load_lb", 128.5}, []any{"/access/ladder/load_lb", 128}},
	{"ladder_pitch", "portable_ladder", "/access/ladder/base_ft", []any{"/access/ladder/base_ft", 7.71}, []any{"/access/ladder/base_ft", 7.7}},
	{"ladder_pitch", "portable_ladder", "/access/ladder/base_ft", []any{"/access/ladder/base_ft", 6.29}, []any{"/access/ladder/base_ft", 6.3}},
	// lifts
	{"lift_overloaded", "lift", "/access/lift/rated_lb", []any{"/access/lift/fruit_lb", 298.1}, []any{"/access/lift/fruit_lb", 298}},
	{"wind_limit", "lift", "/site/gust_mph", []any{"/site/gust_mph", 28}, []any{"/site/gust_mph", 27.9}},
	{"wind_limit", "lift", "/site/gust_mph", []any{"/site/gust_mph", 20, "/access/lift/wind_limit_mph", 20}, []any{"/site/gust_mph", 27.9, "/access/lift/wind_limit_mph", 40}},
	{"lift_slope", "lift", "/access/lift/slope_deg", []any{"/access/lift/slope_deg", 5.1}, []any{"/access/lift/slope_deg", 5}},
	{"lift_surface", "lift", "/access/lift/surface_ok", []any{"/access/lift/surface_ok", false}, nil},
	{"outriggers", "lift", "/access/lift/outriggers_set", []any{"/access/lift/outriggers_set", false}, []any{"/access/lift/outriggers_set", true}},
	{"tie_off_missing", "lift", "/access/lift/tied_to", []any{"/access/lift/tied_to", "none"}, []any{"/access/lift/tied_to", "none", "/access/lift/type", "scissor"}},
	{"tie_off_missing", "lift", "/fall_protection/system", []any{"/fall_protection/system", "none"}, []any{"/fall_protection/system", "none", "/access/lift/type", "scissor"}},
	{"tied_to_palm", "lift", "/access/lift/tied_to", []any{"/access/lift/tied_to", "palm", "/access/lift/type", "scissor"}, nil},
	{"basket_on_palm", "lift", "/access/lift/resting_on_palm", []any{"/access/lift/resting_on_palm", true}, nil},
	{"moving_elevated", "lift", "/access/lift/moving_elevated", []any{"/access/lift/moving_elevated", true}, nil},
	// place
	{"power_line_near", "climb", "/site/power_line_ft", []any{"/site/power_line_ft", 5.9}, []any{"/site/power_line_ft", 6}},
	{"power_line_near", "lift", "/site/power_line_ft", []any{"/site/power_line_ft", 9.9}, []any{"/site/power_line_ft", 10}},
	{"entry_restricted", "ground", "/site/entry_restricted_until", []any{"/site/entry_restricted_until", "2026-03-03T06:10:01-08:00", "/worker/sign_offs/1/topic", "pesticide_worker"}, []any{"/site/entry_restricted_until", "2026-03-03T06:10:00-08:00", "/worker/sign_offs/1/topic", "pesticide_worker"}},
	{"entry_restricted", "ground", "/site/entry_restricted_until", []any{"/site/entry_restricted_until", "2026-03-03", "/worker/sign_offs/1/topic", "pesticide_worker"}, []any{"/site/entry_restricted_until", "2026-03-02", "/worker/sign_offs/1/topic", "pesticide_worker"}},
	{"storm", "ground", "/site/lightning", []any{"/site/lightning", true}, nil},
	{"storm", "climb", "/site/gust_mph", []any{"/site/gust_mph", 28}, []any{"/site/gust_mph", 27.9}},
	{"too_dark", "ground", "/site/dark", []any{"/site/dark", true}, nil},
	{"bees", "ground", "/site/bees", []any{"/site/bees", true}, nil},
	{"wet", "climb", "/site/wet", []any{"/site/wet", true}, nil},
	{"overhead_work", "ground", "/site/people_below", []any{"/site/people_below", true}, nil},
	// heat
	{"shade_missing", "ground", "/weather/shade_up", []any{"/weather/temperature_f", 80.1, "/weather/shade_up", false}, []any{"/weather/temperature_f", 80, "/weather/shade_up", false}},
	{"water_missing", "ground", "/weather/water_ready", []any{"/weather/temperature_f", 80.1, "/weather/water_ready", false}, []any{"/weather/temperature_f", 80, "/weather/water_ready", false}},
	{"high_heat_duties", "ground", "/weather/temperature_f", []any{"/weather/temperature_f", 95, "/weather/high_heat_plan", true}, []any{"/weather/temperature_f", 94.9, "/weather/high_heat_plan", true}},
	{"high_heat_duties", "ground", "/weather/forecast_high_f", []any{"/weather/forecast_high_f", 95}, []any{"/weather/forecast_high_f", 94.9}},
}

// metres stands for a quantity given in metric, which only the strict reader of JSON knows; see metric.
type metres string

func TestEveryCodeAndItsNearMiss(t *testing.T) {
	reached := map[string]bool{"high_heat_plan_missing": false}
	for i, tc := range codeCases {
		t.Run(fmt.Sprintf("%d %s", i, tc.code), func(t *testing.T) {
			a := clear2(t, tc.way, tc.hit)
			if diff := cmp.Diff([]string{tc.code + " " + tc.fact}, found(a.Reasons)); diff != "" {
				t.Errorf("hit: %s", diff)
			}
			reached[tc.code] = true
			if a.Cleared != warns[tc.code] {
				t.Errorf("cleared is %v", a.Cleared)
			}
			for _, r := range a.Reasons {
				if r.Blocks == warns[r.Code] || r.Class == "" || r.Result == "" || r.Authority == "" || r.key == "" {
					t.Errorf("it says too little: %+v", r)
				}
			}
			if tc.miss == nil {
				return
			}
			if a := clear2(t, tc.way, tc.miss); len(a.Reasons) > 0 {
				t.Errorf("near miss: %v", found(a.Reasons))
			}
		})
	}
	hot := clear(t, with("ground", "/weather/temperature_f", 95))
	if diff := cmp.Diff([]string{"high_heat_duties /weather/temperature_f", "high_heat_plan_missing /weather/high_heat_plan"}, found(hot.Reasons)); diff != "" {
		t.Error(diff)
	}
	reached["high_heat_plan_missing"] = true
	book, _ := books().Book("us-ca")
	rules, err := book.Reasons(dated.MustDate("2026-03-03"))
	if err != nil {
		t.Fatal(err)
	}
	for code := range rules.Value {
		if code, _, _ = strings.Cut(code, "."); !reached[code] {
			t.Errorf("no test reaches %s", code)
		}
	}
}

// clear2 is clear for changes of which some may be metric.
func clear2(t *testing.T, way string, changes []any) *ClearanceAnswer {
	t.Helper()
	changes = slices.Clone(changes)
	metric := map[string]string{}
	for i := 1; i < len(changes); i += 2 {
		if m, ok := changes[i].(metres); ok {
			metric[changes[i-1].(string)] = string(m)
			changes[i] = 1
		}
	}
	figure, _ := FigureOf("clearance")
	in := decoded(t, with(way, changes...))
	for pointer, text := range metric {
		number := in.Access.Height
		if pointer == "/fall_protection/free_fall_ft" {
			number = in.FallProtection.FreeFall
		}
		if err := number.UnmarshalNumber("x_m", text); err != nil {
			t.Fatal(err)
		}
	}
	answer, faults := figure.Answer(books(), in)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return answer.(*ClearanceAnswer)
}

func override(code string) object {
	return object{"code": code, "by": "I. Robles", "reason": "the hive was moved", "at": "2026-03-03T06:00:00-08:00"}
}

func TestAllReasonsAtOnce(t *testing.T) {
	a := clear(t, with("attached_ladder", "/fall_protection/lanyard", "synthetic", "/access/ladder/wires", 2, "/site/bees", true, "/site/lightning", true,
		"/checklist/passed", false, "/equipment/0/pre_use_on", "2026-03-02", "/worker/gear", []any{}, "/weather/temperature_f", 96, "/weather/shade_up", false, "/crew/rescue_plan", absent))
	want := []string{"bees", "checklist_failed", "eye_protection_missing", "fact_missing", "gloves_missing", "high_heat_duties", "high_heat_plan_missing", "inspection_overdue",
		"ladder_wires", "lanyard_can_be_cut", "shade_missing", "storm"}
	if diff := cmp.Diff(want, codes(a.Reasons)); diff != "" || a.Cleared {
		t.Error(diff)
	}
}

// From the ground, and at or below the height that calls for protection, what concerns falling and ladders is not asked.
func TestOnTheGroundAndLow(t *testing.T) {
	for _, doc := range []object{
		with("ground", "/fall_protection", absent, "/access/height_ft", absent, "/equipment", absent, "/crew", absent),
		with("climb", "/access/height_ft", 7.5, "/fall_protection", absent, "/equipment", absent),
		with("attached_ladder", "/access/height_ft", 7.5, "/fall_protection", absent, "/equipment", absent, "/access/ladder", object{"wires": 1}),
	} {
		if a := clear(t, doc); !a.Cleared || len(a.Reasons) > 0 {
			t.Errorf("%v", found(a.Reasons))
		}
		for _, change := range []any{"/site/bees", "/site/lightning", "/site/dark"} {
			if a := clear(t, set(doc, change.(string), true)); a.Cleared {
				t.Errorf("%s is not seen from the ground", change)
			}
		}
	}
}

func TestOverrides(t *testing.T) {
	incomplete := override("bees")
	delete(incomplete, "by")
	lapsed := override("bees")
	lapsed["at"] = "2026-03-02T18:00:00-08:00"
	for _, tc := range []struct {
		name       string
		doc        object
		reasons    []string
		overridden []string
		cleared    bool
	}{
		{"house", with("climb", "/site/bees", true, "/overrides", []any{override("bees")}), []string{"bees"}, []string{"bees"}, true},
		{"another rule of the house", with("climb", "/site/bees", true, "/overrides", []any{override("alone_aloft")}), []string{"bees"}, nil, false},
		{"law", with("climb", "/fall_protection/lanyard", "synthetic", "/overrides", []any{override("lanyard_can_be_cut")}), []string{"lanyard_can_be_cut", "override_refused"}, nil, false},
		{"a missing fact", with("climb", "/site/bees", absent, "/overrides", []any{override("fact_missing")}), []string{"fact_missing", "override_refused"}, nil, false},
		{"what is no code", with("climb", "/overrides", []any{override("everything")}), []string{"override_refused"}, nil, false},
		{"a refusal", with("climb", "/overrides", []any{override("override_refused")}), []string{"override_refused"}, nil, false},
		{"by nobody", with("climb", "/site/bees", true, "/overrides", []any{incomplete}), []string{"bees", "fact_missing"}, nil, false},
		{"of yesterday", with("climb", "/site/bees", true, "/overrides", []any{lapsed}), []string{"bees"}, nil, false},
		{"house by lift, law otherwise", with("climb", "/site/lightning", true, "/overrides", []any{override("storm")}), []string{"storm"}, []string{"storm"}, true},
		{"law by lift", with("lift", "/site/lightning", true, "/overrides", []any{override("storm")}), []string{"override_refused", "storm"}, nil, false},
		{"expired by the house's rule", with("climb", "/worker/sign_offs/0/on", "2024-01-01", "/overrides", []any{override("training_expired")}), []string{"training_expired"}, []string{"training_expired"}, true},
		{"never trained", with("climb", "/worker/sign_offs/0/topic", "x", "/overrides", []any{override("training_missing")}), []string{"override_refused", "training_missing"}, nil, false},
	} {
		a := clear(t, tc.doc)
		var overridden []string
		for _, o := range a.Overridden {
			overridden = append(overridden, o.Code)
		}
		if diff := cmp.Diff(tc.reasons, codes(a.Reasons)) + cmp.Diff(tc.overridden, overridden); diff != "" || a.Cleared != tc.cleared {
			t.Errorf("%s: cleared %v, %s", tc.name, a.Cleared, diff)
		}
	}
}

func TestValidUntil(t *testing.T) {
	for at, want := range map[string]string{
		"2026-03-03T06:10:00-08:00": "2026-03-03T10:10:00-08:00",
		"2026-03-03T20:00:00-08:00": "2026-03-04T00:00:00-08:00",
		"2026-03-03T20:00:01-08:00": "2026-03-04T00:00:00-08:00",
		"2026-03-02T18:00:00-08:00": "2026-03-02T22:00:00-08:00",
	} {
		if got := clear(t, with("climb", "/at", at)).ValidUntil.Format(time.RFC3339); got != want {
			t.Errorf("asked at %s it holds until %s, want %s", at, got, want)
		}
	}
	if a := clear(t, with("climb", "/at", absent)); a.ValidUntil != nil || a.Cleared {
		t.Error("a moment that is not known holds until something")
	}
}

func TestDocumentsThatAreRefused(t *testing.T) {
	for want, doc := range map[string]object{
		"/access/ladder/kind fault.ladder_of_way":             with("attached_ladder", "/access/ladder/kind", "single"),
		"/at fault.after_workday":                             with("climb", "/at", "2026-03-04T00:00:00-08:00"),
		"/worker/first_workday fault.after_workday":           with("climb", "/worker/first_workday", "2026-03-04"),
		"/rulebook fault.rulebook_unknown":                    with("climb", "/rulebook", "us-xx"),
		"/access/height_ft fault.beyond_range":                with("climb", "/access/height_ft", 200.1),
		"/access/lift/people_lb/1 fault.beyond_range":         with("lift", "/access/lift/people_lb", []any{172, 1001}),
		"/access/others_on_palm fault.beyond_range":           with("climb", "/access/others_on_palm", -1),
		"/fall_protection/system fault.not_one_of":            with("climb", "/fall_protection/system", "luck"),
		"/access/ladder/base_ft fault.base_beyond_length":     with("portable_ladder", "/access/ladder/base_ft", 29),
		"/fall_protection/working_load_lb fault.beyond_range": with("climb", "/fall_protection/working_load_lb", 0),
	} {
		if _, faults := ask(t, "clearance", doc); pointers(faults) != want {
			t.Errorf("%s, want %s", pointers(faults), want)
		}
	}
}

// Whichever fact is taken out of a document that passes, it never passes unless the table says that the way does not need it.
func TestNoFactIsTakenAsGiven(t *testing.T) {
	// These the table of the named ways does not ask for.
	unneeded := map[string][]string{
		"/worker/id": ways, "/equipment/0/id": ways,
		"/worker/weight_lb":                   {"ground", "portable_ladder", "lift", "climb"},
		"/worker/gear/0/puncture_level":       ways,
		"/worker/gear/2/tethered_or_sheathed": {"ground"},
		"/access/height_ft":                   {"ground"}, "/access/others_on_palm": {"ground"},
		"/crew": {"ground"}, "/crew/ground_person": {"ground"}, "/crew/reach_by": {"ground"}, "/crew/rescue_plan": {"ground"},
		"/fall_protection": {"ground"}, "/fall_protection/system": {"ground"}, "/fall_protection/body": {"ground"}, "/fall_protection/saddle": {"ground"},
		"/fall_protection/lanyard": {"ground"}, "/fall_protection/free_fall_ft": {"ground"}, "/fall_protection/anchor": {"ground"},
		"/fall_protection/anchor_judged_by": {"ground"}, "/fall_protection/anchor_lb": {"ground"},
		"/equipment":                  {"ground"},
		"/equipment/0/periodic_on":    {"portable_ladder"}, // looked over before each use, and by no calendar
		"/access/ladder/kind":         {"attached_ladder"}, // the way says it
		"/access/lift/wind_limit_mph": {"lift"},            // the rulebook's limit holds without the maker's
	}
	docs := map[string]func() object{"climb, arrest": func() object { return with("climb", arrest()...) }, "climb, chain": func() object {
		return with("climb", "/fall_protection/lanyard", "chain", "/fall_protection/chain_ultimate_lb", 3000, "/fall_protection/working_load_lb", 300)
	}}
	for _, way := range ways {
		docs[way] = func() object { return passing(way) }
	}
	for name, make := range docs {
		way, _, _ := strings.Cut(name, ",")
		if !clear(t, make()).Cleared {
			t.Fatalf("%s does not pass", name)
		}
		for _, pointer := range factsOf(make(), "") {
			answer, faults := ask(t, "clearance", set(make(), pointer, absent))
			passes := len(faults) == 0 && answer.(*ClearanceAnswer).Cleared
			if may := slices.Contains(unneeded[pointer], way); passes != may && !sparable(pointer) {
				t.Errorf("%s without %s: passes is %v", name, pointer, passes)
			}
		}
	}
}

// sparable facts are those that may be left out of what is not looked at, or where another says the same.
func sparable(pointer string) bool {
	return strings.HasPrefix(pointer, "/worker/sign_offs/") || strings.HasPrefix(pointer, "/fall_protection/clearance/margin")
}

// factsOf lists the pointers of all that a document says, but for rulebook, workday and way.
func factsOf(v any, at string) (all []string) {
	switch v := v.(type) {
	case object:
		for name, inner := range v {
			pointer := at + "/" + name
			if !slices.Contains([]string{"/rulebook", "/workday", "/access", "/access/way"}, pointer) && !strings.HasSuffix(pointer, "/kind") || pointer == "/access/ladder/kind" {
				all = append(all, pointer)
			}
			all = append(all, factsOf(inner, pointer)...)
		}
	case []any:
		for i, inner := range v {
			all = append(all, factsOf(inner, fmt.Sprintf("%s/%d", at, i))...)
		}
	}
	return all
}
