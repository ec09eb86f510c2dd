package checklists

import (
	"slices"
	"strings"
	"testing"

	"palmero/payroll/dated"
	"palmero/safety/rulebook"
)

func load(t *testing.T) map[string]*Checklist {
	t.Helper()
	lists, err := Load()
	if err != nil {
		t.Fatal(err)
	}
	return lists
}

// Every way of every rulebook has its list, and no list is for nobody.
func TestEveryWayHasItsList(t *testing.T) {
	lists := load(t)
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	for _, key := range books.Keys() {
		book, _ := books.Book(key)
		table, err := book.Clearance(dated.MustDate("2026-03-03"))
		if err != nil {
			t.Fatal(err)
		}
		for name, way := range table.Value.Ways {
			if lists[way.Checklist] == nil {
				t.Errorf("%s: %s has the list %q, which is not there", key, name, way.Checklist)
				continue
			}
			for _, item := range lists[way.Checklist].Items {
				for _, kind := range item.About {
					if table.Value.Equipment[kind] == nil {
						t.Errorf("%s: %s is about %q, which %s does not know", way.Checklist, item.ID, kind, key)
					}
				}
			}
			used[way.Checklist] = true
		}
	}
	for _, key := range Keys(lists) {
		if !used[key] {
			t.Errorf("nobody uses %s", key)
		}
		for _, item := range lists[key].Items {
			if item.Ask["en"] == item.Ask["es"] || item.Authority == "" || !item.Required {
				t.Errorf("%s: %s is not said in both languages, or rests on nothing", key, item.ID)
			}
			if item.Stops && item.Note == Never {
				t.Errorf("%s: %s stops a climb and wants no note", key, item.ID)
			}
		}
	}
}

func TestJudge(t *testing.T) {
	list := load(t)["attached_ladder"]
	good := map[string]Answer{}
	for _, item := range list.Items {
		good[item.ID] = OK
	}
	with := func(id string, a Answer) map[string]Answer {
		changed := map[string]Answer{}
		for k, v := range good {
			changed[k] = v
		}
		changed[id] = a
		return changed
	}
	if o := list.Judge(good); !o.Passed || o.Stopped != nil || o.Unanswered != nil {
		t.Errorf("all in order: %+v", o)
	}
	if o := list.Judge(nil); o.Passed || len(o.Unanswered) != len(list.Items) {
		t.Errorf("nothing answered: %+v", o)
	}
	for _, item := range list.Items {
		if o := list.Judge(with(item.ID, Defect)); o.Passed == item.Stops || slices.Contains(o.Stopped, item.ID) != item.Stops {
			t.Errorf("a defect of %s: %+v", item.ID, o)
		}
		if o := list.Judge(with(item.ID, DoesNotApply)); o.Passed != item.MayNotApply {
			t.Errorf("%s does not apply: %+v", item.ID, o)
		}
		if o := list.Judge(with(item.ID, "")); o.Passed || !slices.Equal(o.Unanswered, []string{item.ID}) {
			t.Errorf("%s left out: %+v", item.ID, o)
		}
	}
}

// An employer adds, and never takes away or replaces.
func TestAdditions(t *testing.T) {
	list := load(t)["ground"]
	before := len(list.Items)
	own := Item{ID: "own_dog", Ask: Words{"en": "The dog", "es": "El perro"}, Stops: true, Required: true}
	longer, err := list.With([]Item{own})
	if err != nil || len(longer.Items) != before+1 || len(list.Items) != before || longer.Items[before].Required {
		t.Fatalf("%v, %+v", err, longer)
	}
	for i := range list.Items {
		if longer.Items[i].ID != list.Items[i].ID || !longer.Items[i].Required {
			t.Errorf("item %d became %+v", i, longer.Items[i])
		}
	}
	if o := longer.Judge(map[string]Answer{"own_dog": Defect}); !slices.Contains(o.Stopped, "own_dog") {
		t.Error("an item of the employer's own stops nothing")
	}
	for _, bad := range [][]Item{{{ID: "gloves", Ask: own.Ask}}, {own, own}, {{ID: "x"}}, {{Ask: own.Ask}}} {
		if _, err := list.With(bad); err == nil {
			t.Errorf("%+v was added", bad)
		}
	}
}

func TestBrokenLists(t *testing.T) {
	text, err := files.ReadFile("ground.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct{ old, new, want string }{
		{"checklist: ground", "checklist: air", "another name"},
		{"id: gloves", "id: bees", "a second time"},
		{"stops: yes", "stops: maybe", "use one of yes, no"},
		{"es: \"Guantes\"", "fr: \"Gants\"", "lacks es"},
		{"photo: defect", "photo: often", "use one of never, defect, always"},
	} {
		if _, err := Parse("ground.yaml", []byte(strings.Replace(string(text), tc.old, tc.new, 1))); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v", tc.new, err)
		}
	}
}
