package rulebook

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/payroll/dated"
)

var day = dated.MustDate("2026-03-03")

func load(t *testing.T) *Library {
	t.Helper()
	l, err := Load()
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// The numbers, typed again from the texts that the books name: California, and federal where it differs.
func TestNumbersTypedAgain(t *testing.T) {
	california := map[Number]string{
		TriggerHeight: "7.5", ArrestFreeFall: "6", ArrestForce: "1800", Deceleration: "3.5", ArrestAnchor: "5000", PositioningFreeFall: "2", PositioningAnchor: "3000",
		RestraintFactor: "4", ChainFactor: "10", ClearanceMargin: "3",
		BaseShare: "0.25", BaseTolerance: "0.1", TopRungs: "3", TopSteps: "2", AttachedWires: "3", AttachedGauge: "12", AttachedLoad: "250", AttachedChain: "10",
		AttachedSections: "2", AttachedLength: "15", AttachedSpacing: "12", AttachedRungWidth: "12", AttachedWorkers: "1",
		LiftWind: "28", StormGust: "28", PowerLineHand: "6", PowerLineBoom: "10",
		HeatModerate: "91", HeatHigh: "103", HeatVeryHigh: "115", ShadeOver: "80", WaterOver: "80", HighHeat: "95", WeatherHours: "4", TrainingNotice: "30", NewWorkerDays: "14",
		NewWorkerShare: "0.2", AwayDays: "7", WaterQuarts: "1", PerObserver: "20", CoolDownMinutes: "10", CoolDownHours: "2", SanitationPeople: "20",
		MinorAge: "16", MinorHeight: "20", TreatedDays: "30", RateHours: "200000", LogExempt: "10", KeepYears: "5", DaysCap: "180",
		RecordDays: "7", SummaryMonth: "2", SummaryDay: "1", SummaryToMonth: "4", SummaryToDay: "30",
		DeathHours: "8", InpatientHours: "8", AmputationHrs: "8", EyeLossHours: "8", DisfigureHours: "8",
	}
	federal := map[Number]string{InpatientHours: "24", AmputationHrs: "24", EyeLossHours: "24", DisfigureHours: ""}
	for key, differs := range map[string]map[Number]string{"us-ca": nil, "us": federal} {
		book, _ := load(t).Book(key)
		for _, name := range Numbers() {
			want := california[name]
			if other, ok := differs[name]; ok {
				want = other
			}
			v, err := book.Number(name, day)
			switch {
			case want == "" && err == nil, want != "" && err != nil:
				t.Errorf("%s %s: %v, %v", key, name, v, err)
			case err == nil && v.Value.String() != want:
				t.Errorf("%s %s is %s, want %s", key, name, v.Value, want)
			}
		}
	}
}

func TestTablesTypedAgain(t *testing.T) {
	book, _ := load(t).Book("us-ca")
	ratings, err := book.DutyRatings(day)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{"IAA": "375", "IA": "300", "I": "250", "II": "225", "III": "200"} {
		if got := ratings.Value[name].String(); got != want {
			t.Errorf("type %s carries %s", name, got)
		}
	}
	aid, err := book.FirstAid(day)
	if err != nil || len(aid.Value) != 14 { // letters A to N of the section
		t.Errorf("%v, %v", aid, err)
	}
	lengths, err := book.LadderLengths(day)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, l := range lengths.Value {
		got[strings.TrimSpace(l.Kind+" "+l.Material)+strings.Repeat("+", l.Sections)] = l.Most.String()
	}
	want := map[string]string{"stepladder": "20", "extension metal++": "48", "extension wood++": "60", "extension fiberglass++": "72", "extension metal+++": "60"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// The reference book makes law of nothing but what binds farms everywhere, and both books know the same reasons, ways, topics and kinds.
func TestTheTwoBooksKnowTheSame(t *testing.T) {
	names := map[string][]string{}
	for _, key := range load(t).Keys() {
		book, _ := load(t).Book(key)
		reasons, err := book.Reasons(day)
		if err != nil {
			t.Fatal(err)
		}
		for code, rule := range reasons.Value {
			binds := map[string]bool{"fact_missing": true, "way_unknown": true, "override_refused": true, "minor_height": true, "minor_equipment": true, "entry_restricted": true}
			if !book.Binding() && (rule.Class == Law) != binds[code] {
				t.Errorf("%s: %s is class %s", key, code, rule.Class)
			}
		}
		table, err := book.Clearance(day)
		if err != nil {
			t.Fatal(err)
		}
		for name, way := range table.Value.Ways {
			names[key] = append(names[key], name+": "+strings.Join(way.Facts, " ")+"; "+strings.Join(way.Equipment, " ")+"; "+strings.Join(way.Topics, " "))
		}
		names[key] = append(names[key], table.Value.WayNames()...)
	}
	sorted := cmp.Transformer("sort", func(all []string) map[string]bool {
		set := map[string]bool{}
		for _, s := range all {
			set[s] = true
		}
		return set
	})
	if diff := cmp.Diff(names["us"], names["us-ca"], sorted); diff != "" {
		t.Error(diff)
	}
}

func TestUnread(t *testing.T) {
	book, _ := load(t).Book("us-ca")
	for section, want := range map[string]int{"8 CCR 3458": 1, "8 CCR 3458(b)(2)": 1, "8 CCR 3458.1(a)(1)": 0, "8 CCR 34580": 0, "8 CCR 3395(e)(6)": 1, "OSHA 3842": 0} {
		if got := book.UnreadIn(section); len(got) != want {
			t.Errorf("%s: %v", section, got)
		}
	}
	if book.Title() != "California" || !book.Binding() || len(book.Digest()) != 64 || len(book.Text()) == 0 || len(book.Unread()) < 5 {
		t.Errorf("%s says little of itself", book.Key())
	}
}

// Each change makes a book wrong in one way, and the problem says so.
func TestBrokenBooks(t *testing.T) {
	text := string(Texts()["us-ca.yaml"])
	for _, tc := range []struct{ old, new, want string }{
		{"book: us-ca", "book: us-xx", "in a file of another name"},
		{"force: binding", "force: strong", "use one of binding, reference"},
		{"  chain_factor:", "  chain_factors:", "is no number that the engine knows"},
		{"  chain_factor:", "  chain_factors:", "lacks chain_factor; add it"},
		{"value: \"7.5\"", "value: 7.5", "a decimal number in quotes"},
		{"from: open, through: open, value: \"7.5\"", "from: 2026-02-01, through: 2026-01-01, value: \"7.5\"", "lies before from"},
		{"source: t8_3458_a, ", "source: t8_none, ", "which the file does not list"},
		{"  t8_3458_b2:", "  t8_spare:\n    title: x\n    section: y\n    link: z\n  t8_3458_b2:", "is a source that nothing rests on"},
		{"{class: law, source: t8_3458_b,", "{class: custom, source: t8_3458_b,", "use one of law, house"},
		{"when: [above, chain]", "when: [above, rope]", "use one of above, cutting"},
		{"topics: [hand_tools, heat_illness, pesticide_worker], checklist: ground", "topics: [hand_tool], checklist: ground", "names \"hand_tool\", which the table does not hold"},
		{"place: ground", "place: hole", "use one of aloft, ground"},
		{"months: 12", "months: 0", "a whole number of 1 or more"},
		{"III: \"200\"", "IV: \"200\"", "lacks III"},
		{"[\"20\", \"60\"", "[\"60\", \"20\"", "list them upwards"},
		{"kind: stepladder", "kind: rope", "use one of single, extension"},
		{"duty: water", "duty: ice", "use one of water, shade"},
		{"parts: \"(c)(2)", "part: \"(c)(2)", "lacks parts"},
	} {
		broken := strings.Replace(text, tc.old, tc.new, 1)
		if broken == text {
			t.Errorf("%q is not in the book", tc.old)
			continue
		}
		if _, err := Parse(map[string][]byte{"us-ca.yaml": []byte(broken)}); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v, want %q", tc.new, err, tc.want)
		}
	}
}

func TestBookForAGarden(t *testing.T) {
	books, err := Load()
	if err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]string{"us-ca": "us-ca", "us-az": "us", "us-ca-east": "us-ca", "us": "us"} {
		if b, ok := books.For(key); !ok || b.Key() != want {
			t.Errorf("%s: %v", key, ok)
		}
	}
	for _, key := range []string{"", "mx", "-"} {
		if _, ok := books.For(key); ok {
			t.Errorf("%q has a book", key)
		}
	}
}
