package rulebook

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/payroll/dated"
)

func TestRegister(t *testing.T) {
	rows := map[string]Coverage{}
	for _, c := range load(t).Register() {
		name := c.Book + " " + c.Rule
		if _, twice := rows[name]; twice {
			t.Errorf("%s has two rows", name)
		}
		rows[name] = c
	}
	tests := []struct {
		row                      string
		modelled                 Modelled
		from, first, last, shown string
	}{
		{"us-ca rest", Reckoned, "us-ca", "", "", "CA-01 CA-04"},
		{"us-ca minimum_wage.large", Reckoned, "us-ca", "2014-07-01", "2026-12-31", "CA-28 CA-28 CA-28"},
		{"us-wa rest", Reckoned, "us-wa", "", "", "WA-06"},
		{"us-az rest", Reckoned, "us", "", "", ""},
		{"us-az makeup", Reckoned, "us-az", "", "", "AZ-01"},
		{"us-az minimum_wage", Reckoned, "us-az", "2019-01-01", "2026-12-31", ""},
		{"us-ca final_pay.discharge", KeptAsData, "us-ca", "", "", "D-08"},
		{"us-tx final_pay.discharge", NotModelled, "", "", "", ""},
		{"us-ca h2a.guaranteed_share", Reckoned, "us", "", "", ""},
		{"us h2a.guaranteed_share", Reckoned, "us", "", "", "FED-31 FED-32"},
	}
	for _, test := range tests {
		c, ok := rows[test.row]
		var ids []string
		for _, e := range c.Examples {
			ids = append(ids, e.ID)
		}
		got := []string{string(c.Modelled), c.From, c.First.String(), c.Last.String(), strings.Join(ids, " ")}
		if diff := cmp.Diff([]string{string(test.modelled), test.from, test.first, test.last, test.shown}, got); !ok || diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.row, diff)
		}
	}
	for _, hidden := range []string{"us-ca minimum_wage", "us-ca overtime.agriculture", "us-az minimum_wage.large", "us-az overtime.general.small"} {
		if _, ok := rows[hidden]; ok {
			t.Errorf("%s has a row, though its book has the rule otherwise", hidden)
		}
	}
	if diff := cmp.Diff([]Standing{dated.Secondary, dated.Memory}, rows["us-ca minimum_wage.small"].Standings); diff != "" {
		t.Error(diff)
	}
}

// A local book's rows are its parent's, but for what it says itself.
func TestRegisterOfALocalBook(t *testing.T) {
	l, err := load(t).With(city("rest_periods", "not_comparable", [3]string{"open", "open", `{minutes: 15, per_hours: "4", part_of_them: major, none_under: "3"}`}))
	if err != nil {
		t.Fatal(err)
	}
	b, _ := l.Book("oasis")
	from := map[string]string{}
	for _, c := range b.Register() {
		from[c.Rule] = c.From
	}
	if from["rest_periods"] != "oasis" || from["minimum_wage.large"] != "us-ca" || from["short_meal"] != "us" {
		t.Errorf("rows from %v", from)
	}
	if _, ok := from["minimum_wage"]; ok {
		t.Error("a wage for all sizes is listed where the parent tells them apart")
	}
}

// Every example names a book and rules that are there.
func TestExamplesNameRules(t *testing.T) {
	names := RuleNames()
	for _, e := range Examples() {
		book(t, e.Book)
		for _, rule := range e.Rules {
			if !slices.Contains(names, rule) {
				t.Errorf("%s shows %q, which is no rule", e.ID, rule)
			}
		}
	}
	for _, rule := range reckonedWith {
		if !slices.Contains(names, rule) {
			t.Errorf("%q is no rule", rule)
		}
	}
	for _, u := range Unmodelleds {
		for _, key := range u.Books {
			book(t, key)
		}
	}
	if len(UnmodelledIn("us-wa")) == 0 || len(UnmodelledIn("us-wa")) >= len(Unmodelleds) {
		t.Error("what is left out in Washington is not told apart")
	}
}

func TestInForceAndCompare(t *testing.T) {
	ca := book(t, "us-ca")
	var got []string
	for _, h := range ca.InForce(dated.MustDate("2022-01-02")) {
		if strings.HasPrefix(h.Parameter.Name, "minimum_wage") || strings.HasPrefix(h.Parameter.Name, "overtime.agriculture") || h.Parameter.Name == "rest" {
			got = append(got, h.Parameter.Book+" "+h.Parameter.Name+" "+h.Value.Value.String())
		}
	}
	want := []string{
		"us minimum_wage 7.25", "us-ca minimum_wage.large 15.00", "us-ca minimum_wage.small 14.00", "us-ca rest separate",
		"us overtime.agriculture daily none, weekly none, double_daily none",
		"us-ca overtime.agriculture.large daily 8, weekly 40, double_daily 12", "us-ca overtime.agriculture.small daily 9.5, weekly 55, double_daily none",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("in force (-want +got):\n%s", diff)
	}
	got = nil
	for _, c := range ca.Compare(dated.MustDate("2026-12-31"), dated.MustDate("2027-01-01")) {
		after := "nothing"
		if c.After != nil {
			after = c.After.Value.String()
		}
		got = append(got, c.Parameter.Name+" "+c.Before.Value.String()+" to "+after)
	}
	if diff := cmp.Diff([]string{"minimum_wage.large 16.90 to nothing", "minimum_wage.small 16.90 to nothing"}, got); diff != "" {
		t.Errorf("changes (-want +got):\n%s", diff)
	}
	if len(ca.Compare(dated.MustDate("2026-02-01"), dated.MustDate("2026-03-01"))) != 0 {
		t.Error("something changed within February 2026")
	}
}
