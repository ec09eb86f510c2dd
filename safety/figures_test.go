package safety

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// of is a document of a figure with the head that all have.
func of(fields object) object {
	doc := object{"rulebook": "us-ca", "on": "2026-07-14"}
	for k, v := range fields {
		doc[k] = v
	}
	return doc
}

func TestHeatIndexBandsAndDuties(t *testing.T) {
	for _, tc := range []struct {
		t, rh  float64
		sun    any
		index  string
		band   Band
		duties []string
	}{
		{70, 40, false, "69.29", Lower, []string{"water"}},
		{80, 20, nil, "79.32", Lower, []string{"water"}},
		{80.1, 20, nil, "79.42", Lower, []string{"water", "shade"}},
		{94.9, 20, true, "91.37", High, []string{"water", "shade"}},
		{95, 20, true, "91.48", High, []string{"water", "shade", "high_heat_plan", "observation", "cool_down"}},
		{112, 12.9, nil, "108.91", High, []string{"water", "shade", "high_heat_plan", "observation", "cool_down"}},
		{112, 30, true, "127.02", VeryHigh, []string{"water", "shade", "high_heat_plan", "observation", "cool_down"}},
	} {
		doc := of(object{"temperature_f": tc.t, "relative_humidity": tc.rh, "direct_sun": tc.sun})
		answer, faults := ask(t, "heat-index", doc)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		a := answer.(*HeatIndexAnswer)
		var duties []string
		for _, d := range a.Duties {
			duties = append(duties, d.Code)
		}
		if diff := cmp.Diff(tc.duties, duties); a.HeatIndex.String() != tc.index || a.Band != tc.band || diff != "" {
			t.Errorf("%v: %s %s %s", doc, a.HeatIndex, a.Band, diff)
		}
	}
}

// The dry correction fades to nothing at 112 °F: there is no jump.
func TestTheDryCorrectionFadesOut(t *testing.T) {
	at, _ := feelsLike(112, 5)
	above, _ := feelsLike(112.0001, 5)
	if math.Abs(at-above) > 0.01 {
		t.Errorf("%v jumps to %v", at, above)
	}
}

func TestFallClearance(t *testing.T) {
	for _, tc := range []struct {
		doc                       object
		free, required, swing, ok string
	}{
		{object{"free_fall_ft": 6, "deceleration_ft": 3.5, "shift_ft": 1, "d_ring_height_ft": 5, "available_ft": 18.5}, "6", "18.5", "", "true"},
		{object{"free_fall_ft": 6, "deceleration_ft": 3.5, "shift_ft": 1, "d_ring_height_ft": 5, "available_ft": 18.4999}, "6", "18.5", "", "false"},
		{object{"lanyard_ft": 6, "anchor_above_d_ring_ft": -2, "deceleration_ft": 3.5, "shift_ft": 1, "d_ring_height_ft": 0}, "8", "15.5", "", ""},
		{object{"lanyard_ft": 6, "anchor_above_d_ring_ft": 7, "deceleration_ft": 0.1, "shift_ft": 0.1, "d_ring_height_ft": 0, "stretch_ft": 0.1, "margin_ft": 0}, "0", "0.3", "", ""},
		{object{"free_fall_ft": 2, "deceleration_ft": 3, "shift_ft": 1, "d_ring_height_ft": 5, "swing_line_ft": 5, "swing_offset_ft": 3}, "2", "15", "1", ""},
	} {
		answer, faults := ask(t, "fall-clearance", of(tc.doc))
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		a := answer.(*FallClearanceAnswer)
		swing, ok := "", ""
		if a.SwingDrop != nil {
			swing = a.SwingDrop.String()
		}
		if a.Enough != nil {
			ok = map[bool]string{true: "true", false: "false"}[*a.Enough]
		}
		if a.FreeFall.String() != tc.free || a.Required.String() != tc.required || swing != tc.swing || ok != tc.ok {
			t.Errorf("%v: %s, %s, %s, %s", tc.doc, a.FreeFall, a.Required, swing, ok)
		}
	}
}

func TestFiguresThatAreRefused(t *testing.T) {
	fall := object{"free_fall_ft": 6, "deceleration_ft": 3.5, "shift_ft": 1, "d_ring_height_ft": 5}
	without := func(name string, more object) object {
		doc := of(fall)
		delete(doc, name)
		for k, v := range more {
			doc[k] = v
		}
		return doc
	}
	for _, tc := range []struct {
		figure string
		doc    object
		want   string
	}{
		{"heat-index", of(object{"relative_humidity": 100.1}), "/relative_humidity fault.beyond_range, /temperature_f fault.needed"},
		{"heat-index", object{"rulebook": "us-ca", "temperature_f": 90, "relative_humidity": 20}, "/on fault.empty"},
		{"fall-clearance", without("shift_ft", nil), "/shift_ft fault.needed"},
		{"fall-clearance", without("free_fall_ft", nil), "/free_fall_ft fault.free_fall_ways"},
		{"fall-clearance", without("", object{"lanyard_ft": 6}), "/free_fall_ft fault.free_fall_ways"},
		{"fall-clearance", without("", object{"swing_line_ft": 6}), "/swing_line_ft fault.swing_ways"},
		{"fall-clearance", without("", object{"swing_line_ft": 6, "swing_offset_ft": 6.1}), "/swing_offset_ft fault.swing_offset"},
		{"incident-rate", of(object{"hours": 100}), "/cases fault.cases_ways"},
		{"incident-rate", of(object{"hours": 100, "cases": 1, "away": 1}), "/cases fault.cases_ways"},
		{"incident-rate", of(object{"hours": 100, "away": 1}), "/other fault.needed, /restricted fault.needed"},
		{"incident-rate", of(object{"hours": 0, "cases": 1}), "/hours fault.beyond_range"},
		{"ladder-setup", of(nil), "/kind fault.needed"},
		{"recordable", of(object{"treatment": "prayer"}), "/treatment fault.not_one_of"},
		{"lift-load", object{"rulebook": "us-xx", "on": "2026-07-14"}, "/rulebook fault.rulebook_unknown"},
	} {
		if _, faults := ask(t, tc.figure, tc.doc); pointers(faults) != tc.want {
			t.Errorf("%s %v: %s, want %s", tc.figure, tc.doc, pointers(faults), tc.want)
		}
	}
}

// What a ladder or a lift does not say is a reason against it.
func TestWhatIsNotSaidIsNoPass(t *testing.T) {
	whole := map[string][]object{
		"ladder-setup": {
			passing("attached_ladder")["access"].(object)["ladder"].(object),
			passing("portable_ladder")["access"].(object)["ladder"].(object),
		},
		"lift-load": {{"rated_lb": 500, "people_lb": []any{172}, "tools_lb": 30, "fruit_lb": 60, "wind_mph": 5, "slope_deg": 1, "slope_limit_deg": 5}},
	}
	spare := map[string]bool{"base_ft": true} // the answer says where the foot goes
	for figure, docs := range whole {
		for _, doc := range docs {
			if answer, _ := ask(t, figure, of(doc)); asMap(t, answer)["ok"] != true {
				t.Fatalf("%s %v does not pass", figure, doc)
			}
			for name := range doc {
				less := of(doc)
				delete(less, name)
				answer, faults := ask(t, figure, less)
				if ok := len(faults) == 0 && asMap(t, answer)["ok"] == true; ok != spare[name] {
					t.Errorf("%s without %s: ok is %v", figure, name, ok)
				}
			}
		}
	}
}

func TestRecordable(t *testing.T) {
	none := object{"treatment": "bandage", "days_away": 0, "restricted_days": 0, "loss_of_consciousness": false, "death": false, "inpatient": false, "amputation": false, "eye_loss": false, "disfigurement": false}
	if answer, _ := ask(t, "recordable", of(none)); *answer.(*RecordableAnswer).Recordable {
		t.Error("a bandage is recorded")
	}
	for name, value := range map[string]any{"treatment": "medical", "days_away": 1, "restricted_days": 1, "loss_of_consciousness": true, "death": true, "inpatient": true, "amputation": true, "eye_loss": true, "disfigurement": true} {
		doc := of(none)
		doc[name] = value
		answer, _ := ask(t, "recordable", doc)
		a := answer.(*RecordableAnswer)
		if a.Recordable == nil || !*a.Recordable || len(a.Reasons) != 1 {
			t.Errorf("%s: %+v", name, a)
		}
		delete(doc, name)
		answer, _ = ask(t, "recordable", doc)
		if a := answer.(*RecordableAnswer); a.Recordable != nil {
			t.Errorf("it is told without %s", name)
		}
	}
}

// Under reference values every answer says that they do not bind.
func TestEveryReferenceSaysSo(t *testing.T) {
	docs := map[string]object{
		"heat-index":     of(object{"temperature_f": 90, "relative_humidity": 20}),
		"fall-clearance": of(object{"free_fall_ft": 6, "deceleration_ft": 3.5, "shift_ft": 1, "d_ring_height_ft": 5}),
		"incident-rate":  of(object{"hours": 100, "cases": 1}), "ladder-setup": of(object{"kind": "single"}), "lift-load": of(nil), "recordable": of(nil),
		"clearance": passing("climb"),
	}
	for _, f := range Figures() {
		for book, want := range map[string]bool{"us": true, "us-ca": false} {
			docs[f.Name]["rulebook"] = book
			answer, faults := ask(t, f.Name, docs[f.Name])
			if len(faults) > 0 {
				t.Fatal(f.Name, faults)
			}
			answer.Speak(func(key string, _ Terms) string { return key })
			said := asMap(t, answer)
			reference := false
			for _, n := range said["notes"].([]any) {
				reference = reference || n.(object)["code"] == "reference"
			}
			if reference != want || said["advice"] != "safety.advice" || len(said["provisions"].([]any)) == 0 {
				t.Errorf("%s by %s: %v", f.Name, book, said["notes"])
			}
		}
	}
}

// What of a provision could not be read stands in every answer that rests on it.
func TestTheUnreadIsSaid(t *testing.T) {
	for _, way := range ways {
		said := 0
		for _, n := range clear(t, passing(way)).Notes {
			if n.Code == "live_text" {
				said++
			}
		}
		if said == 0 {
			t.Errorf("%s: nothing is said of what nobody has read", way)
		}
	}
}

// FuzzFigures hands every figure whatever can be read as its document. It answers or tells what is wrong, and never panics.
func FuzzFigures(f *testing.F) {
	for _, way := range ways {
		text, err := json.Marshal(passing(way))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(uint8(0), text)
	}
	f.Add(uint8(1), []byte(`{"rulebook":"us","on":"0001-01-01","lanyard_ft":1e2,"anchor_above_d_ring_ft":-1e2,"swing_line_ft":1e-9,"swing_offset_ft":1e-9}`))
	f.Add(uint8(2), []byte(`{"rulebook":"us-ca","on":"9999-12-31","temperature_f":150,"relative_humidity":100}`))
	f.Add(uint8(4), []byte(`{"rulebook":"us-ca","on":"2026-07-14","kind":"attached","rated_load_lb":0,"chain_ultimate_lb":1,"people_lb":[0],"load_lb":0}`))
	f.Fuzz(func(t *testing.T, which uint8, doc []byte) {
		figures := Figures()
		figure := figures[int(which)%len(figures)]
		in := figure.New()
		if json.Unmarshal(doc, in) != nil {
			return
		}
		answer, faults := figure.Answer(books(), in)
		if (answer == nil) == (len(faults) == 0) {
			t.Fatal("neither, or both, an answer and faults")
		}
		if answer == nil {
			return
		}
		answer.Speak(func(key string, _ Terms) string { return key })
		if _, err := json.Marshal(answer); err != nil {
			t.Fatal(err)
		}
	})
}
