package rulebook

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/payroll/dated"
)

var loaded = sync.OnceValues(Load)

func load(t *testing.T) *Library {
	t.Helper()
	l, err := loaded()
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func book(t *testing.T, key string) *Book {
	t.Helper()
	b, ok := load(t).Book(key)
	if !ok {
		t.Fatalf("no book %s", key)
	}
	return b
}

func TestTheLibrary(t *testing.T) {
	l := load(t)
	if diff := cmp.Diff([]string{"us", "us-az", "us-ca", "us-fl", "us-nv", "us-tx", "us-wa"}, l.Keys()); diff != "" {
		t.Error(diff)
	}
	if _, ok := l.Book("us-xx"); ok {
		t.Error("there is a book us-xx")
	}
	ca := book(t, "us-ca")
	chain := ca.Chain()
	if len(chain) != 2 || chain[0] != ca || chain[1].Key() != "us" || chain[1].Title() == "" {
		t.Errorf("chain %v", chain)
	}
	text := Texts()["us-ca.yaml"]
	sum := sha256.Sum256(text)
	if ca.Digest() != hex.EncodeToString(sum[:]) || string(ca.Text()) != string(text) {
		t.Error("text and digest do not agree")
	}
}

// Every step of the minimum wage, retyped from its source: the day itself, and the day before.
func TestMinimumWages(t *testing.T) {
	steps := map[string][]struct{ from, large, small string }{
		"us": {{"2007-07-24", "5.85", "5.85"}, {"2008-07-24", "6.55", "6.55"}, {"2009-07-24", "7.25", "7.25"}},
		"us-ca": {{"2014-07-01", "9.00", "9.00"}, {"2016-01-01", "10.00", "10.00"}, {"2017-01-01", "10.50", "10.00"}, {"2018-01-01", "11.00", "10.50"},
			{"2019-01-01", "12.00", "11.00"}, {"2020-01-01", "13.00", "12.00"}, {"2021-01-01", "14.00", "13.00"}, {"2022-01-01", "15.00", "14.00"},
			{"2023-01-01", "15.50", "15.50"}, {"2024-01-01", "16.00", "16.00"}, {"2025-01-01", "16.50", "16.50"}, {"2026-01-01", "16.90", "16.90"}},
	}
	for key, list := range oneWage {
		for _, step := range list {
			steps[key] = append(steps[key], struct{ from, large, small string }{step[0], step[1], step[1]})
		}
	}
	for key, list := range steps {
		b := book(t, key)
		for i, step := range list {
			day := dated.MustDate(step.from)
			if got := wage(b, day, 26) + " " + wage(b, day, 25); got != step.large+" "+step.small {
				t.Errorf("%s on %s: %s", key, day, got)
			}
			before := "none none"
			if i > 0 {
				before = list[i-1].large + " " + list[i-1].small
			}
			if got := wage(b, day.AddDays(-1), 26) + " " + wage(b, day.AddDays(-1), 25); got != before {
				t.Errorf("%s on the day before %s: %s, want %s", key, day, got, before)
			}
		}
	}
	for key, last := range map[string][2]string{"us-ca": {"2026-12-31", "16.90"}, "us-az": {"2026-12-31", "15.15"}, "us-wa": {"2026-12-31", "17.13"}, "us-fl": {"2027-12-31", "15.00"}} {
		day := dated.MustDate(last[0])
		if got := wage(book(t, key), day, 26) + ", then " + wage(book(t, key), day.AddDays(1), 26); got != last[1]+", then none" {
			t.Errorf("%s on the last day known and after: %s", key, got)
		}
	}
	for _, key := range []string{"us-nv", "us-tx"} {
		if wage(book(t, key), dated.MustDate("2030-01-01"), 1) == "none" {
			t.Errorf("the wage of %s does not go on until it is changed", key)
		}
	}
	_, err := book(t, "us-ca").MinimumWage(dated.MustDate("2027-01-01"), nil)
	var missing *dated.NoValueError
	if !errors.As(err, &missing) || missing.Book != "us-ca" || missing.Parameter != "minimum_wage.large" {
		t.Errorf("in 2027: %v", err)
	}
	if got := wage(book(t, "us"), dated.MustDate("2030-01-01"), 26); got != "7.25" {
		t.Errorf("the federal wage is open, and in 2030 %s", got)
	}
}

// oneWage are the steps of the books that know no sizes, retyped from the agencies' own tables where there are such.
var oneWage = map[string][][2]string{
	"us-az": {{"2019-01-01", "11.00"}, {"2020-01-01", "12.00"}, {"2021-01-01", "12.15"}, {"2022-01-01", "12.80"}, {"2023-01-01", "13.85"},
		{"2024-01-01", "14.35"}, {"2025-01-01", "14.70"}, {"2026-01-01", "15.15"}},
	"us-nv": {{"2019-07-01", "8.25"}, {"2020-07-01", "9.00"}, {"2021-07-01", "9.75"}, {"2022-07-01", "10.50"}, {"2023-07-01", "11.25"}, {"2024-07-01", "12.00"}},
	"us-tx": {{"2009-07-24", "7.25"}},
	"us-fl": {{"2019-01-01", "8.46"}, {"2020-01-01", "8.56"}, {"2021-01-01", "8.65"}, {"2021-09-30", "10.00"}, {"2022-09-30", "11.00"},
		{"2023-09-30", "12.00"}, {"2024-09-30", "13.00"}, {"2025-09-30", "14.00"}, {"2026-09-30", "15.00"}},
	"us-wa": {{"2019-01-01", "12.00"}, {"2020-01-01", "13.50"}, {"2021-01-01", "13.69"}, {"2022-01-01", "14.49"}, {"2023-01-01", "15.74"},
		{"2024-01-01", "16.28"}, {"2025-01-01", "16.66"}, {"2026-01-01", "17.13"}},
}

func wage(b *Book, day dated.Date, size int) string {
	w, err := b.MinimumWage(day, &size)
	if err != nil {
		return "none"
	}
	return fmt.Sprintf("%d.%02d", w/10_000, w%10_000/100)
}

func TestOvertimeLimits(t *testing.T) {
	none := "- - -"
	tests := []struct {
		book, coverage, day string
		size                int
		want                string // hours: daily, weekly, daily double
	}{
		{"us", "agriculture", "2026-02-16", 100, none},
		{"us", "general", "2026-02-16", 1, "- 40 -"},
		{"us-ca", "agriculture", "2018-12-31", 26, "10 - -"},
		{"us-ca", "agriculture", "2019-01-01", 26, "9.5 55 -"},
		{"us-ca", "agriculture", "2019-12-31", 26, "9.5 55 -"},
		{"us-ca", "agriculture", "2020-01-01", 26, "9 50 -"},
		{"us-ca", "agriculture", "2021-01-01", 26, "8.5 45 -"},
		{"us-ca", "agriculture", "2021-12-31", 26, "8.5 45 -"},
		{"us-ca", "agriculture", "2022-01-01", 26, "8 40 12"},
		{"us-ca", "agriculture", "2021-12-31", 25, "10 - -"},
		{"us-ca", "agriculture", "2022-01-01", 25, "9.5 55 -"},
		{"us-ca", "agriculture", "2023-01-01", 25, "9 50 -"},
		{"us-ca", "agriculture", "2024-01-01", 25, "8.5 45 -"},
		{"us-ca", "agriculture", "2024-12-31", 25, "8.5 45 -"},
		{"us-ca", "agriculture", "2025-01-01", 25, "8 40 12"},
		{"us-ca", "general", "2010-01-01", 1, "8 40 12"},
		{"us-wa", "agriculture", "2021-12-31", 5, none},
		{"us-wa", "agriculture", "2022-01-01", 5, "- 55 -"},
		{"us-wa", "agriculture", "2022-12-31", 5, "- 55 -"},
		{"us-wa", "agriculture", "2023-01-01", 5, "- 48 -"},
		{"us-wa", "agriculture", "2023-12-31", 5, "- 48 -"},
		{"us-wa", "agriculture", "2024-01-01", 5, "- 40 -"},
		{"us-wa", "general", "2026-01-01", 5, "- 40 -"},
		{"us-az", "agriculture", "2026-01-01", 5, none},
		{"us-az", "general", "2026-01-01", 5, "- 40 -"},
		{"us-nv", "agriculture", "2026-01-01", 5, none},
		{"us-tx", "agriculture", "2026-01-01", 5, none},
		{"us-tx", "general", "2026-01-01", 5, "- 40 -"},
		{"us-fl", "agriculture", "2026-01-01", 5, none},
		{"us-fl", "general", "2026-01-01", 5, "- 40 -"},
	}
	for _, test := range tests {
		l := book(t, test.book).Limits(dated.MustDate(test.day), test.coverage, &test.size)
		if got := hours(l.Daily) + " " + hours(l.Weekly) + " " + hours(l.DoubleDaily); got != test.want {
			t.Errorf("%s %s on %s with %d workers: %s, want %s", test.book, test.coverage, test.day, test.size, got, test.want)
		}
	}
	if l := book(t, "us-ca").Limits(dated.MustDate("2021-12-31"), "agriculture", nil); l.Weekly != 45*60 {
		t.Error("an employer of unknown size is not taken for a large one")
	}
}

func hours(minutes int) string {
	if minutes == NoLimit {
		return "-"
	}
	if minutes%60 == 0 {
		return fmt.Sprint(minutes / 60)
	}
	return fmt.Sprintf("%d.%d", minutes/60, minutes%60/6)
}

func TestRules(t *testing.T) {
	day := dated.MustDate("2026-02-15")
	ca, missing := book(t, "us-ca").Rules(day)
	if len(missing) > 0 {
		t.Fatal(missing)
	}
	want := Rules{
		Makeup: Makeup{PieceHours, Workday}, Nonproductive: Separate, Rest: Separate, Average: AllHours, FlatBonus: NonOvertimeHours,
		MissedPeriods: MissedPeriods{HourPerDay: 60}, ShortMeal: 20, SeventhDay: new(480), PremiumFactor: PremiumFactor{15, 20},
		ReportingTime: &ReportingTime{FromSize: 5, ScheduleTenths: 5, AtLeast: 120, AtMost: 240, LaterReportLeast: 120},
		Meals:         []Meal{{300, 30, 300, 360}, {600, 30, 600, 720}},
		RestPeriods:   &RestPeriods{Minutes: 10, Per: 240, NoneUnder: 210, MajorPart: true},
	}
	if diff := cmp.Diff(want, ca); diff != "" {
		t.Errorf("us-ca (-want +got):\n%s", diff)
	}
	us, missing := book(t, "us").Rules(day)
	if len(missing) > 0 {
		t.Fatal(missing)
	}
	want = Rules{Makeup: Makeup{AllHours, Workweek}, Nonproductive: Included, Rest: Included, FlatBonus: AllHours, ShortMeal: 20, PremiumFactor: PremiumFactor{15, 20}}
	if diff := cmp.Diff(want, us); diff != "" {
		t.Errorf("us (-want +got):\n%s", diff)
	}
	for _, key := range []string{"us-az", "us-fl", "us-nv", "us-tx"} {
		got, missing := book(t, key).Rules(day)
		if diff := cmp.Diff(want, got); diff != "" || len(missing) > 0 {
			t.Errorf("%s is not as the federal book (-want +got), %v:\n%s", key, missing, diff)
		}
	}
	want = Rules{
		Makeup: Makeup{PieceHours, Workweek}, Nonproductive: Separate, Rest: Separate, Average: PieceHours, FlatBonus: AllHours,
		MissedPeriods: MissedPeriods{ExtraMinutes: 10}, ShortMeal: 20, PremiumFactor: PremiumFactor{15, 20},
		Meals:       []Meal{{300, 30, NoLimit, 0}, {659, 30, NoLimit, 0}},
		RestPeriods: &RestPeriods{Minutes: 10, Per: 240, NoneUnder: 240},
	}
	wa, missing := book(t, "us-wa").Rules(day)
	if diff := cmp.Diff(want, wa); diff != "" || len(missing) > 0 {
		t.Errorf("us-wa (-want +got), %v:\n%s", missing, diff)
	}
	before, _ := book(t, "us-ca").Rules(dated.MustDate("2016-12-31"))
	if before.Meals != nil {
		t.Error("farm hands had meal periods by statute before 2017")
	}
}

func TestAuthorities(t *testing.T) {
	ca := book(t, "us-ca")
	for _, test := range [][3]string{
		{"rest_recovery", "agriculture", "Cal. Lab. Code 226.2(a)(3)(A)(i)"},
		{"overtime_premium", "agriculture", "Cal. Lab. Code 860, 862"},
		{"overtime_premium", "general", "Cal. Lab. Code 510(a)"},
		{"guarantee_makeup", "agriculture", "20 CFR 655.122(l)"}, // the parent's
		{"nothing", "general", ""},
	} {
		if got := ca.Authority(test[0], test[1]); got != test[2] {
			t.Errorf("%s under %s rests on %q, want %q", test[0], test[1], got, test[2])
		}
	}
}

func TestCoverage(t *testing.T) {
	l, err := Parse(with("garden.yaml", garden))
	if err != nil {
		t.Fatal(err)
	}
	b, _ := l.Book("garden")
	if !b.Covers("agriculture") || b.Covers("general") {
		t.Error("a parent's rules for general coverage stand in for the book's own")
	}
}

// garden is an invented book, good as it is; the tests below break it.
const garden = `
book: garden
title: An invented garden
parent: us
sources:
  law: {title: Garden law, section: Garden 1, link: "https://law.example/1"}
parameters:
  minimum_wage:
    about: The least pay
    way: higher
    values: [{from: open, through: 2026-12-31, value: "7.00", source: law, read: 2026-11-25, standing: read}]
authorities: {}
`

func with(file, text string) map[string][]byte {
	texts := maps.Clone(Texts())
	texts[file] = []byte(text)
	return texts
}

// The more protective value of the chain governs, but a parent's stands in for none of the book's own.
func TestTheMoreProtectiveWageGoverns(t *testing.T) {
	l, err := Parse(with("garden.yaml", garden))
	if err != nil {
		t.Fatal(err)
	}
	b, _ := l.Book("garden")
	for day, want := range map[string]string{"2007-07-23": "7.00", "2009-07-23": "7.00", "2009-07-24": "7.25", "2026-12-31": "7.25", "2027-01-01": "none"} {
		if got := wage(b, dated.MustDate(day), 1); got != want {
			t.Errorf("on %s: %s, want %s", day, got, want)
		}
	}
}

func TestBrokenBooks(t *testing.T) {
	parameter := func(name, way, value string) string {
		return strings.Replace(garden, "parameters:\n", "parameters:\n  "+name+":\n    about: x\n    way: "+way+"\n    values: [{from: open, through: open, value: "+value+", source: law, read: 2026-11-25, standing: read}]\n", 1)
	}
	tests := []struct{ name, text, want string }{
		{"three keys of a meal", parameter("meals", "not_comparable", `[{due_over: "1", due_from: "1", minutes: 1, start_by: null, waivable_up_to: null}]`), "must have either due_over or due_from"},
		{"half a clock", parameter("final_pay.quit", "not_comparable", `{hours: 1, notice_hours: 1}`), "gives one of notice_hours and with_notice_hours"},
		{"another name", strings.Replace(garden, "book: garden", "book: yard", 1), `garden.yaml:2: book: is "yard" in a file of another name`},
		{"unknown parent", strings.Replace(garden, "parent: us", "parent: moon", 1), `garden.yaml: names the parent "moon", which is no book; add moon.yaml`},
		{"its own parent", strings.Replace(garden, "parent: us", "parent: garden", 1), "garden.yaml: is its own forebear"},
		{"no parent to lean on", strings.Replace(garden, "parent: us\n", "", 1), "garden.yaml: lacks the parameter makeup; add it"},
		{"no wage of its own", strings.Replace(garden, "minimum_wage:", "minimum_wage.large:", 1), "gives a parameter for some sizes of employer only"},
		{"unknown parameter", parameter("minimum_wages", "higher", `"1"`), "parameters.minimum_wages: is no parameter that the engine knows"},
		{"the wrong way", parameter("short_meal", "lower", "20"), "declares the way lower; what is more protective in this parameter is higher"},
		{"rest apart without an average", parameter("rest", "not_comparable", "separate"), "garden.yaml: lacks the parameter average; add it"},
		{"minutes for rest without an average", parameter("missed_periods", "not_comparable", "{extra_minutes: 10}"), "garden.yaml: lacks the parameter average; add it"},
		{"two kinds of premium", parameter("missed_periods", "not_comparable", "{extra_minutes: 10, hour_per_day: 60}"), "must have either hour_per_day or extra_minutes"},
		{"an unknown premium", parameter("missed_periods", "not_comparable", "some"), `is "some"; use one of none`},
		{"all hours by the day", parameter("makeup", "not_comparable", "{basis: all_hours, span: workday}"), "tests all hours by the workday, which is not reckoned"},
		{"no whole minutes", parameter("seventh_day", "not_comparable", `"8.333"`), "comes to no whole minutes"},
		{"three meals", parameter("meals", "not_comparable", `[`+strings.Repeat(`{due_over: "1", minutes: 1, start_by: "1", waivable_up_to: "1"},`, 3)+`]`), "lists more than two meal periods"},
		{"overtime below straight time", parameter("premium_factor", "not_comparable", `{overtime: "0.5", double_time: "2"}`), "pays overtime below the regular rate"},
		{"rest for no hours", parameter("rest_periods", "not_comparable", `{minutes: 10, per_hours: "0", none_under: "1"}`), "gives rest for no hours"},
		{"sizes without a measure", strings.Replace(parameter("minimum_wage.large", "higher", `"9"`), "  minimum_wage:", "  minimum_wage.small:", 1), "say from which size in large_from_size"},
		{"two parameters for one", parameter("minimum_wage.large", "higher", `"9"`), "gives a parameter for some sizes of employer only"},
		{"an authority without a source", strings.Replace(garden, "authorities: {}", "authorities: {piece: {source: law, standing: read}}", 1), "authorities.piece: lacks read; add it"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			l, err := Parse(with("garden.yaml", test.text))
			if err == nil || l != nil {
				t.Fatal("nothing was found wrong")
			}
			if !strings.Contains(err.Error(), test.want) {
				t.Errorf("%v\nwant %s", err, test.want)
			}
		})
	}
}
