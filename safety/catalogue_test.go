package safety

import (
	"encoding/json"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"palmero/payroll/dated"
)

func catalogue(t *testing.T, lang string) map[string]string {
	t.Helper()
	text, err := os.ReadFile("../handlers/text/catalogue/" + lang + "/safety.json")
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]string
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	return all
}

var placeholder = regexp.MustCompile(`\{([a-z_]+)(?::([a-z]+))?\}`)

// listener is a reader who wants every message and every term in it.
func listener(t *testing.T, said map[string]bool) Say {
	english, spanish := catalogue(t, "en"), catalogue(t, "es")
	return func(key string, terms Terms) string {
		said[key] = true
		for _, words := range []map[string]string{english, spanish} {
			text, ok := words[key]
			if !ok {
				t.Errorf("%s is not in the catalogue", key)
			}
			for _, m := range placeholder.FindAllStringSubmatch(text, -1) {
				value, given := terms[m[1]]
				if !given {
					t.Errorf("%s wants %s, and it is not given", key, m[1])
				}
				if word, ok := value.(string); ok && m[2] != "" && m[2] != "iso" && words[m[2]+"."+word] == "" && word != "knitting" && word != "x" {
					t.Errorf("%s: there is no word for %s %q", key, m[2], word)
				}
			}
		}
		return key
	}
}

// Whatever the engine says, in every test above that makes it say something, has its words in both languages; and the catalogue says nothing that nobody says.
func TestEverythingIsSaidInBothLanguages(t *testing.T) {
	said := map[string]bool{}
	say := listener(t, said)
	for _, tc := range codeCases {
		clear2(t, tc.way, tc.hit).Speak(say)
	}
	clear(t, with("ground", "/weather/temperature_f", 96)).Speak(say)
	clear(t, with("climb", "/worker/sign_offs/0/on", "2025-03-10", "/equipment/0/kind", "rocket", "/site/bees", true,
		"/overrides", []any{set(override("bees"), "/at", "2026-03-02T00:00:00-08:00")})).Speak(say)
	for figure, docs := range map[string][]object{
		"heat-index": {of(object{"temperature_f": 100, "relative_humidity": 20, "direct_sun": true}), of(object{"temperature_f": 100, "relative_humidity": 20})},
		"fall-clearance": {
			of(object{"free_fall_ft": 7, "deceleration_ft": 4, "shift_ft": 1, "d_ring_height_ft": 0}), of(object{"free_fall_ft": 7, "deceleration_ft": 4, "shift_ft": 1, "d_ring_height_ft": 5}),
		},
		"incident-rate": {of(object{"hours": 100, "away": 1, "restricted": 0, "other": 0})},
		"ladder-setup":  {of(object{"kind": "single", "length_ft": 20})},
		"lift-load":     {of(nil), {"rulebook": "us", "on": "2026-07-14"}},
		"recordable": {
			of(object{"treatment": "bandage"}), of(object{"treatment": "medical", "days_away": 200, "restricted_days": 1, "loss_of_consciousness": true, "death": true,
				"inpatient": true, "amputation": true, "eye_loss": true, "disfigurement": true}),
		},
	} {
		for _, doc := range docs {
			answer, faults := ask(t, figure, doc)
			if len(faults) > 0 {
				t.Fatal(figure, faults)
			}
			answer.Speak(say)
		}
	}
	for key := range catalogue(t, "en") {
		family, _, _ := strings.Cut(key, ".")
		if slices.Contains([]string{"reason", "note", "duty", "criterion"}, family) && !said[key] {
			t.Errorf("%s is said by nobody", key)
		}
	}
}

// Every fact that a table may ask for, every topic and every kind of equipment has its word.
func TestFactsTopicsAndEquipmentHaveWords(t *testing.T) {
	english := catalogue(t, "en")
	for _, key := range books().Keys() {
		book, _ := books().Book(key)
		table, err := book.Clearance(dated.MustDate("2026-03-03"))
		if err != nil {
			t.Fatal(err)
		}
		for _, rows := range table.Value.Facts {
			for _, row := range rows {
				for _, fact := range row.Pointers {
					given(filled(&Clearance{Access: Access{Ladder: &Ladder{}, Lift: &Lift{}}}), fact) // panics where no document has it
					if english["fact."+nameIn(fact)] == "" {
						t.Errorf("%s has no word", fact)
					}
				}
			}
		}
		for topic := range table.Value.Topics {
			if english["topic."+topic] == "" {
				t.Errorf("topic %s has no word", topic)
			}
		}
		for kind := range table.Value.Equipment {
			if english["equipment."+kind] == "" {
				t.Errorf("equipment %s has no word", kind)
			}
		}
	}
	for _, l := range []*Ladder{{Kind: "attached"}, {Kind: "single"}, {Kind: "extension"}} {
		for _, fact := range ladderNeeds(l) {
			if english["fact."+nameIn(fact)] == "" {
				t.Errorf("%s has no word", fact)
			}
		}
	}
}
