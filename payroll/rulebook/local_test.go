package rulebook

import (
	"errors"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/payroll/dated"
)

// oasis is an invented city in California with an ordinance of its own.
const oasis = `
book: oasis
title: The invented city of Oasis
parent: us-ca
local: ordinance
sources:
  ordinance: {title: Oasis ordinance on pay, section: Oasis 1, link: "https://law.example/oasis"}
parameters:
  PARAMETER:
    about: What the ordinance sets
    way: WAY
    values: [VALUES]
authorities: {}
`

// city writes the ordinance with a parameter; each value is its first day, its last day and what it says.
func city(parameter, way string, values ...[3]string) map[string][]byte {
	var list []string
	for _, v := range values {
		list = append(list, "{from: "+v[0]+", through: "+v[1]+", value: "+v[2]+", source: ordinance, read: 2026-11-25, standing: read}")
	}
	text := strings.NewReplacer("PARAMETER", parameter, "WAY", way, "VALUES", strings.Join(list, ", ")).Replace(oasis)
	return map[string][]byte{"oasis.yaml": []byte(text)}
}

func TestALocalBookAddsToItsParent(t *testing.T) {
	with, err := load(t).With(city("minimum_wage", "higher", [3]string{"2026-07-01", "2027-12-31", `"17.50"`}))
	if err != nil {
		t.Fatal(err)
	}
	b, _ := with.Book("oasis")
	for day, want := range map[string]string{"2026-06-30": "16.90", "2026-07-01": "17.50", "2026-12-31": "17.50", "2027-01-01": "17.50", "2028-01-01": "none"} {
		if got := wage(b, dated.MustDate(day), 30); got != want {
			t.Errorf("on %s: %s, want %s", day, got, want)
		}
	}
	if !b.Covers("general") || b.Limits(dated.MustDate("2026-07-01"), "agriculture", nil).Daily != 480 || b.Local() != Ordinance {
		t.Error("the city does not have the rest of California's rules")
	}
	if rules, missing := b.Rules(dated.MustDate("2026-07-01")); len(missing) > 0 || rules.Rest != Separate {
		t.Errorf("rules %+v, %v", rules, missing)
	}
	if _, ok := load(t).Book("oasis"); ok {
		t.Error("the library that was added to has changed")
	}
}

func TestLocalBooksMoveTheProtectiveWay(t *testing.T) {
	open := func(value string) [3]string { return [3]string{"open", "open", value} }
	from := func(day, value string) [3]string { return [3]string{day, "open", value} }
	const meal = `{due_over: "5", minutes: 30, start_by: "5", waivable_up_to: "6"}`
	tests := []struct {
		name, parameter, way string
		values               [][3]string
		refused              []string // day, value, forebear and value held; none: allowed
	}{
		{"as much as the state", "minimum_wage", "higher", [][3]string{{"2026-01-01", "2026-12-31", `"16.90"`}}, nil},
		{"a cent less", "minimum_wage", "higher", [][3]string{{"2026-01-01", "2026-12-31", `"16.89"`}}, []string{"2026-01-01 16.89 us-ca 16.90"}},
		{"overtaken within the value", "minimum_wage", "higher", [][3]string{{"2025-01-01", "2026-12-31", `"16.60"`}}, []string{"2026-01-01 16.60 us-ca 16.90"}},
		{"less than the small employers of the state", "minimum_wage", "higher", [][3]string{{"2020-01-01", "2020-12-31", `"12.50"`}}, []string{"2020-01-01 12.50 us-ca 13.00"}},
		{"announced for a year to come", "minimum_wage", "higher", [][3]string{{"2027-01-01", "2027-12-31", `"17.30"`}}, nil},
		{"announced below what was", "minimum_wage", "higher", [][3]string{{"2027-01-01", "2027-12-31", `"16.00"`}}, []string{"2027-01-01 16.00 us-ca 16.90 past"}},
		{"below the federation too", "minimum_wage", "higher", [][3]string{{"2026-01-01", "2026-12-31", `"7.00"`}}, []string{"2026-01-01 7.00 us-ca 16.90", "2026-01-01 7.00 us 7.25"}},
		{"shorter days", "overtime.agriculture", "lower", [][3]string{from("2026-01-01", `{daily: "7.5", weekly: "40", double_daily: "12"}`)}, nil},
		{"longer days", "overtime.agriculture", "lower", [][3]string{from("2026-01-01", `{daily: "9", weekly: "40", double_daily: "12"}`)}, []string{"2026-01-01 daily 9, weekly 40, double_daily 12 us-ca daily 8, weekly 40, double_daily 12"}},
		{"no double time", "overtime.general", "lower", [][3]string{open(`{daily: "8", weekly: "40", double_daily: null}`)}, []string{" daily 8, weekly 40, double_daily none us-ca daily 8, weekly 40, double_daily 12"}},
		{"rest no longer apart", "rest", "not_comparable", [][3]string{open("included")}, []string{" included us-ca separate"}},
		{"another average", "average", "not_comparable", [][3]string{open("piece_hours")}, []string{" piece_hours us-ca all_hours"}},
		{"a make-up by the week", "makeup", "not_comparable", [][3]string{open("{basis: piece_hours, span: workweek}")}, []string{" basis piece_hours, span workweek us-ca basis piece_hours, span workday"}},
		{"two hours for a missed period", "missed_periods", "not_comparable", [][3]string{open("{hour_per_day: 120}")}, nil},
		{"nothing for a missed period", "missed_periods", "not_comparable", [][3]string{open("none")}, []string{" none us-ca hour_per_day 60"}},
		{"a longer short meal", "short_meal", "higher", [][3]string{open("25")}, nil},
		{"a shorter short meal", "short_meal", "higher", [][3]string{open("10")}, []string{" 10 us 20"}},
		{"more of a seventh day at overtime", "seventh_day", "not_comparable", [][3]string{open(`"9"`)}, []string{" 9 us-ca 8"}},
		{"a higher factor", "premium_factor", "not_comparable", [][3]string{open(`{overtime: "2", double_time: "2"}`)}, nil},
		{"a lower factor", "premium_factor", "not_comparable", [][3]string{open(`{overtime: "1.4", double_time: "2"}`)}, []string{" overtime 1.4, double_time 2 us overtime 1.5, double_time 2"}},
		{"reporting time for all sizes", "reporting_time", "not_comparable", [][3]string{open(`{from_size: 1, schedule_share: "0.5", at_least: "2", at_most: "4", later_report: "2"}`)}, nil},
		{"reporting time of an hour", "reporting_time", "not_comparable", [][3]string{open(`{from_size: 5, schedule_share: "0.5", at_least: "1", at_most: "4", later_report: "2"}`)}, []string{" from_size 5, schedule_share 0.5, at_least 1, at_most 4, later_report 2 us-ca from_size 5, schedule_share 0.5, at_least 2, at_most 4, later_report 2"}},
		{"one meal only", "meals", "not_comparable", [][3]string{open("[" + meal + "]")}, []string{"2017-01-01 due_over 5, minutes 30, start_by 5, waivable_up_to 6 us-ca due_over 5, minutes 30, start_by 5, waivable_up_to 6; due_over 10, minutes 30, start_by 10, waivable_up_to 12"}},
		{"longer rests", "rest_periods", "not_comparable", [][3]string{open(`{minutes: 15, per_hours: "4", part_of_them: major, none_under: "3"}`)}, nil},
		{"rests for whole hours only", "rest_periods", "not_comparable", [][3]string{open(`{minutes: 15, per_hours: "4", part_of_them: none, none_under: "3"}`)}, []string{" minutes 15, per_hours 4, part_of_them none, none_under 3 us-ca minutes 10, per_hours 4, part_of_them major, none_under 3.5"}},
		{"final pay sooner", "final_pay.quit", "not_comparable", [][3]string{open(`{hours: 0}`)}, nil},
		{"final pay later", "final_pay.discharge", "not_comparable", [][3]string{open(`{hours: 24}`)}, []string{" hours 24 us-ca hours 0"}},
		{"records kept longer", "retention.payroll", "not_comparable", [][3]string{open(`{years: 6, from: record}`)}, nil},
		{"records kept shorter", "retention.payroll", "not_comparable", [][3]string{open(`{years: 3, from: record}`)}, []string{" years 3, from record us-ca years 4, from record"}},
		{"faster accrual", "sick_leave.accrual", "lower", [][3]string{open(`"25"`)}, nil},
		{"slower accrual", "sick_leave.accrual", "lower", [][3]string{open(`"35"`)}, []string{" 35 us-ca 30"}},
		{"a lower cap", "sick_leave.use_cap", "not_comparable", [][3]string{from("2026-01-01", `[{from_size: 1, hours: "39", days: 5}]`)}, []string{"2026-01-01 from_size 1, hours 39, days 5 us-ca from_size 1, hours 40, days 5"}},
		{"fewer items on the statement", "statement_items", "not_comparable", [][3]string{open(`[{item: net_wages, section: Oasis 1}]`)}, []string{" item net_wages, section Oasis 1 us-ca"}},
		{"one more deduction", "deductions.allowed", "not_comparable", [][3]string{open(`[{item: uniforms, section: Oasis 1}]`)}, []string{" item uniforms, section Oasis 1 us-ca"}},
		{"a charge for gear", "deductions.allowed", "not_comparable", [][3]string{open(`[{item: protective_gear, section: Oasis 1}]`)}, []string{" item protective_gear, section Oasis 1 us-ca"}},
		{"gear no longer refused", "deductions.refused", "not_comparable", [][3]string{open(`[{item: wages_paid_back, section: Oasis 1}]`)}, []string{" item wages_paid_back, section Oasis 1 us-ca"}},
		{"another size is large", "large_from_size", "not_comparable", [][3]string{open(`50`)}, []string{" 50 us-ca 26"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := load(t).With(city(test.parameter, test.way, test.values...))
			found := loosenings(err)
			if (err != nil) != (len(test.refused) > 0) || len(found) != len(test.refused) {
				t.Fatalf("%v, want %q", err, test.refused)
			}
			for i, l := range found {
				got := strings.Join([]string{l.Day.String(), l.Value.String(), l.Forebear, l.Held.String()}, " ")
				if l.Past {
					got += " past"
				}
				if l.Parameter != test.parameter || !strings.HasPrefix(got, test.refused[i]) {
					t.Errorf("refused with %s: %s, want %s", l.Parameter, got, test.refused[i])
				}
			}
		})
	}
}

// loosenings takes the findings out of a joined error.
func loosenings(err error) []*Loosening {
	if several, ok := err.(interface{ Unwrap() []error }); ok {
		var all []*Loosening
		for _, e := range several.Unwrap() {
			all = append(all, loosenings(e)...)
		}
		return all
	}
	var l *Loosening
	if errors.As(err, &l) {
		return []*Loosening{l}
	}
	return nil
}

func TestBrokenLocalBooks(t *testing.T) {
	wage := [3]string{"2027-01-01", "2027-12-31", `"18.00"`}
	good := string(city("minimum_wage", "higher", wage)["oasis.yaml"])
	tests := []struct{ name, file, text, want string }{
		{"a name that is taken", "us-ca.yaml", good, "has the name of a book that is there already"},
		{"an unknown kind", "oasis.yaml", strings.Replace(good, "ordinance\n", "custom\n", 1), `local: is "custom"; use one of ordinance, contract, announcement`},
		{"no parent", "oasis.yaml", strings.Replace(good, "parent: us-ca\n", "", 1), "is a local book without a parent; name the book that it adds to"},
		{"below what it says itself", "oasis.yaml", strings.Replace(good, "18.00", "10.00", 1),
			"minimum_wage: 10.00 on 2027-01-01 protects less than 16.90, which the book us-ca had last; a local book may only move the protective way"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			l, err := load(t).With(map[string][]byte{test.file: []byte(test.text)})
			if err == nil || l != nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("%v, want %s", err, test.want)
			}
		})
	}
	child := strings.NewReplacer("book: oasis", "book: palms", "parent: us-ca\nlocal: ordinance", "parent: oasis").Replace(good)
	_, err := load(t).With(map[string][]byte{"oasis.yaml": []byte(good), "palms.yaml": []byte(child)})
	if err == nil || !strings.Contains(err.Error(), "has a local book for a parent") {
		t.Errorf("a jurisdiction below a local book: %v", err)
	}
}

// Books of a library are shared: adding to it while others read it is no race.
func TestAddingToASharedLibrary(t *testing.T) {
	l := load(t)
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			if _, err := l.With(city("minimum_wage", "higher", [3]string{"2026-07-01", "2027-12-31", `"17.50"`})); err != nil {
				t.Error(err)
			}
			b, _ := l.Book("us-ca")
			if len(b.Chain()) != 2 {
				t.Error("the chain of California has changed")
			}
		})
	}
	all.Wait()
}

// A contract may stand on an ordinance, and is held to both.
func TestLocalBooksInARow(t *testing.T) {
	texts := city("minimum_wage", "higher", [3]string{"2026-01-01", "2026-12-31", `"18.00"`})
	contract := strings.NewReplacer("book: oasis", "book: palms", "parent: us-ca", "parent: oasis", "local: ordinance", "local: contract", "18.00", "17.00").Replace(string(texts["oasis.yaml"]))
	texts["palms.yaml"] = []byte(contract)
	_, err := load(t).With(texts)
	found := loosenings(err)
	if len(found) != 1 || found[0].Forebear != "oasis" {
		t.Fatalf("%v", err)
	}
	texts["palms.yaml"] = []byte(strings.Replace(contract, "17.00", "19.00", 1))
	l, err := load(t).With(texts)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := l.Book("palms")
	var keys []string
	for _, at := range b.Chain() {
		keys = append(keys, at.Key())
	}
	if diff := cmp.Diff([]string{"palms", "oasis", "us-ca", "us"}, keys); diff != "" || wage(b, dated.MustDate("2026-05-01"), 1) != "19.00" {
		t.Errorf("chain %v pays %s", keys, wage(b, dated.MustDate("2026-05-01"), 1))
	}
}

// Whatever somebody sends as a local book, it is either good or refused with a reason, and never makes the program fall.
func FuzzLocalBooks(f *testing.F) {
	good := string(city("minimum_wage", "higher", [3]string{"2026-07-01", "2027-12-31", `"17.50"`})["oasis.yaml"])
	f.Add(good)
	f.Add(strings.Replace(good, "values: [", "values: []\n    x: [", 1))
	f.Add(string(city("meals", "not_comparable", [3]string{"open", "open", `[{due_over: "5", minutes: 30, start_by: null, waivable_up_to: null}]`})["oasis.yaml"]))
	f.Add(string(city("sick_leave.use_cap", "not_comparable", [3]string{"open", "open", `[{from_size: 1, hours: "39", days: 5}]`})["oasis.yaml"]))
	f.Add("book: oasis\nparameters: {rest: }\n")
	l, err := Load()
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		with, err := l.With(map[string][]byte{"oasis.yaml": []byte(text), "palms.yaml": []byte(strings.NewReplacer("book: oasis", "book: palms", "parent: us-ca", "parent: oasis").Replace(text))})
		if (err == nil) != (with != nil) {
			t.Fatalf("%v and %v", with, err)
		}
		if err == nil {
			b, _ := with.Book("palms")
			b.Register()
			b.InForce(dated.MustDate("2026-11-25"))
			_, _ = b.MinimumWage(dated.MustDate("2026-11-25"), nil)
		}
	})
}
