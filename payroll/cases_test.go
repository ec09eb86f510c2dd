package payroll

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"go.yaml.in/yaml/v3"

	"palmero/payroll/dated"
)

// published is an entry of testdata/wages/cases.yaml: an example that somebody else printed.
type published struct {
	ID     string
	Source struct{ Title, Section, URL string }
	Via    string // engine, rulebook or arithmetic
	About  string
	Week   map[string]any
	Expect struct {
		Lines      map[Code]string
		Quantities map[Code]string
		Days       map[Code][]string
		Average    string `yaml:"average_hourly"`
		Regular    string
		FlatBonus  string `yaml:"flat_bonus"`
		Gross      string
		Worked     *Minutes
		Overtime   *Minutes
		DoubleTime *Minutes `yaml:"double_time"`
		Notes      []string
	}
	HalfUp      map[string]string `yaml:"half_up"`
	MinimumWage map[string]string `yaml:"minimum_wage"`
	Breaks      []struct{ Minutes, Rests, Meals int }
}

func TestPublishedExamples(t *testing.T) {
	text, err := os.ReadFile("../testdata/wages/cases.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var cases []published
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	if err := d.Decode(&cases); err != nil {
		t.Fatal(err)
	}
	tests := map[string]func(*testing.T, *published){"engine": byEngine, "rulebook": byRulebook, "arithmetic": byArithmetic}
	for _, c := range cases {
		t.Run(c.ID+" "+c.Source.Title, func(t *testing.T) {
			test, known := tests[c.Via]
			if !known || c.About == "" || c.Source.Section == "" || c.Source.URL == "" {
				t.Fatalf("%s does not say how it is tested or where it is from", c.ID)
			}
			test(t, &c)
		})
	}
}

func byEngine(t *testing.T, c *published) {
	doc, err := json.Marshal(c.Week)
	if err != nil {
		t.Fatal(err)
	}
	s := reckon(t, week(t, string(doc)))
	got := amounts(s)
	for code, amount := range c.Expect.Lines {
		equal(t, string(code), amount, got[code])
	}
	for _, l := range s.Lines {
		if want, asked := c.Expect.Quantities[l.Code]; asked {
			equal(t, "quantity of "+string(l.Code), want, l.Quantity)
		}
		if want, asked := c.Expect.Days[l.Code]; asked {
			var days []string
			for _, d := range l.Days {
				days = append(days, d.Quantity)
			}
			equal(t, "days of "+string(l.Code), strings.Join(want, " "), strings.Join(days, " "))
		}
	}
	for code := range c.Expect.Quantities {
		if _, paid := got[code]; !paid {
			t.Errorf("no line %s", code)
		}
	}
	for what, pair := range map[string][2]string{
		"average": {c.Expect.Average, written(s.Rates.AverageHourly)}, "regular rate": {c.Expect.Regular, written(s.Rates.Regular)},
		"flat bonus rate": {c.Expect.FlatBonus, written(s.Rates.FlatBonus)}, "gross": {c.Expect.Gross, s.Totals.Gross.String()},
	} {
		if pair[0] != "" {
			equal(t, what, pair[0], pair[1])
		}
	}
	for what, pair := range map[string][2]*Minutes{
		"worked": {c.Expect.Worked, &s.Minutes.Worked}, "overtime": {c.Expect.Overtime, &s.Minutes.Overtime}, "double time": {c.Expect.DoubleTime, &s.Minutes.DoubleTime},
	} {
		if pair[0] != nil {
			equal(t, what, *pair[0], *pair[1])
		}
	}
	for _, code := range c.Expect.Notes {
		if !strings.Contains(strings.Join(raised(s), " "), code) {
			t.Errorf("no note %s among %v", code, raised(s))
		}
	}
}

func written(r *Rate) string {
	if r == nil {
		return "none"
	}
	return r.String()
}

func equal[T comparable](t *testing.T, what string, want, got T) {
	t.Helper()
	if want != got {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

func byRulebook(t *testing.T, c *published) {
	book, _ := books().Book("us-ca")
	for date, want := range c.MinimumWage {
		for _, size := range []*int{nil, new(25), new(26)} {
			wage, err := book.MinimumWage(dated.MustDate(date), size)
			if err != nil {
				t.Fatal(err)
			}
			equal(t, date, want, Rate(wage).String())
		}
	}
	rules, missing := book.Rules(dated.MustDate("2026-02-15"))
	if len(missing) > 0 {
		t.Fatal(missing)
	}
	for _, b := range c.Breaks {
		meals := 0
		for _, meal := range rules.Meals {
			meals += btoi(b.Minutes > meal.DueOver)
		}
		if diff := cmp.Diff([]int{b.Rests, b.Meals}, []int{rules.RestPeriods.Due(b.Minutes), meals}); diff != "" {
			t.Errorf("a day of %d minutes: %s", b.Minutes, diff)
		}
	}
	if len(c.MinimumWage)+len(c.Breaks) == 0 {
		t.Error("tests nothing")
	}
}

func byArithmetic(t *testing.T, c *published) {
	for number, want := range c.HalfUp {
		n, err := parseDecimal(number, 6)
		if err != nil {
			t.Fatal(err)
		}
		cents, ok := over(n, 10_000).roundHalfUp()
		if !ok {
			t.Fatalf("%s does not fit", number)
		}
		equal(t, number, want, Cents(cents).String())
	}
	if len(c.HalfUp) == 0 {
		t.Error("tests nothing")
	}
}
