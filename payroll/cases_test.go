package payroll

import (
	"bytes"
	"encoding/json"
	"flag"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"go.yaml.in/yaml/v3"

	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// published is an entry of testdata/wages/cases.yaml: an example that somebody else printed.
type published struct {
	ID     string
	Source struct{ Title, Section, URL string }
	Via    string // engine, rulebook, guarantee or arithmetic
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
	Breaks      []struct{ Minutes, Rests, Meals, Extra int }
	Book        string
	Paydays     map[string]string // by day of work: first and last day of the window
	FinalPay    map[string]string `yaml:"final_pay"` // by day of discharge
	Shown       map[string]string // by parameter and day
	Contract    struct {
		Workdays, Hours int
		Holiday         int `yaml:"holiday_hours"`
		Guaranteed      int `yaml:"guaranteed_hours"`
	}
	Sums [][2]string // two numbers and what is done with them; the outcome to the cent, half up
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
	tests := map[string]func(*testing.T, *published){"engine": byEngine, "rulebook": byRulebook, "guarantee": byGuarantee, "arithmetic": byArithmetic}
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

var update = flag.Bool("update", false, "accept what is listed of the examples as it is now")

// The register of what is modelled lists these examples by the rules that they show.
func TestTheRegisterListsTheExamples(t *testing.T) {
	text, err := os.ReadFile("../testdata/wages/cases.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var cases []published
	if err := yaml.Unmarshal(text, &cases); err != nil {
		t.Fatal(err)
	}
	var want []rulebook.Example
	for i := range cases {
		want = append(want, cases[i].shows()...)
	}
	const file = "rulebook/examples.json"
	if *update {
		list, err := json.MarshalIndent(want, "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, append(list, '\n'), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	sameDate := cmp.Comparer(func(a, b dated.Date) bool { return a == b })
	if diff := cmp.Diff(want, rulebook.Examples(), sameDate); diff != "" {
		t.Errorf("%s is behind the cases; accept them with -update (-cases +file):\n%s", file, diff)
	}
}

// shows lists the rules that the example shows, by book and day.
func (c *published) shows() []rulebook.Example {
	on := map[string][]string{} // rules by day
	add := func(day string, rules ...string) {
		for _, rule := range rules {
			if !slices.Contains(on[day], rule) {
				on[day] = append(on[day], rule)
			}
		}
	}
	book := c.Book
	switch c.Via {
	case "engine":
		if book == "" {
			book = c.Week["rulebook"].(string)
		}
		add(c.Week["week_start"].(string), c.weekRules()...)
	case "guarantee":
		book = "us"
		add("2022-11-01", "h2a.guaranteed_share")
	case "rulebook":
		for day := range c.MinimumWage {
			add(day, "minimum_wage")
		}
		for day := range c.Paydays {
			add(day, "paydays.farm")
		}
		for day := range c.FinalPay {
			add(day, "final_pay.discharge")
		}
		for asked := range c.Shown {
			name, day, _ := strings.Cut(asked, " ")
			add(day, name)
		}
		if len(c.Breaks) > 0 {
			add("2026-02-15", "rest_periods", "meals", "high_heat")
		}
	}
	var all []rulebook.Example
	for _, day := range slices.Sorted(maps.Keys(on)) {
		if len(on[day]) > 0 {
			slices.Sort(on[day])
			all = append(all, rulebook.Example{ID: c.ID, Book: book, Day: dated.MustDate(day), Rules: on[day]})
		}
	}
	return all
}

// weekRules are the rules that an example of a whole week expects something of.
func (c *published) weekRules() []string {
	coverage := "overtime.agriculture"
	if c.Week["coverage"] == "general" {
		coverage = "overtime.general"
	}
	byLine := map[Code][]string{
		MinimumMakeupLine: {"makeup"}, NonproductiveLine: {"nonproductive"}, RestRecoveryLine: {"rest", "average"},
		OvertimePremiumLine: {coverage, "premium_factor"}, DoubleTimePremiumLine: {coverage, "premium_factor"},
		MealPremiumLine: {"missed_periods"}, RestPremiumLine: {"missed_periods"}, ReportingTimeLine: {"reporting_time"},
	}
	var rules []string
	for code := range c.Expect.Lines {
		rules = append(rules, byLine[code]...)
	}
	for code := range c.Expect.Quantities {
		rules = append(rules, byLine[code]...)
	}
	if c.Expect.Overtime != nil || c.Expect.DoubleTime != nil {
		rules = append(rules, coverage)
	}
	if c.Expect.FlatBonus != "" {
		rules = append(rules, "flat_bonus")
	}
	for _, note := range c.Expect.Notes {
		if strings.HasPrefix(note, "meal") {
			rules = append(rules, "meals")
		}
	}
	return rules
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
	book, known := books().Book(c.Book)
	if !known {
		t.Fatalf("no book %q", c.Book)
	}
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
	_, heat := book.CoolDowns(dated.MustDate("2026-02-15"))
	for _, b := range c.Breaks {
		meals := 0
		for _, meal := range rules.Meals {
			meals += btoi(b.Minutes > meal.DueOver)
		}
		if diff := cmp.Diff([]int{b.Rests, b.Meals, b.Extra}, []int{rules.RestPeriods.Due(b.Minutes), meals, heat.Extra(b.Minutes)}); diff != "" {
			t.Errorf("a day of %d minutes: %s", b.Minutes, diff)
		}
	}
	for date, want := range c.Paydays {
		from, by, _ := book.PaydayWindow(dated.MustDate(date), string(Agriculture))
		equal(t, "payday window of "+date, want, from.String()+" "+by.String())
	}
	for date, want := range c.FinalPay {
		equal(t, "final pay of "+date, want, book.FinalPay(dated.MustDate(date)).Discharge.Due(dated.MustDate(date), 0).String())
	}
	for asked, want := range c.Shown {
		name, date, _ := strings.Cut(asked, " ")
		p, known := book.Parameter(name)
		if !known {
			t.Fatalf("no parameter %s", name)
		}
		v, err := p.On(dated.MustDate(date))
		if err != nil {
			t.Fatal(err)
		}
		equal(t, asked, want, v.Value.String())
	}
	if len(c.MinimumWage)+len(c.Breaks)+len(c.Paydays) == 0 {
		t.Error("tests nothing")
	}
}

func byGuarantee(t *testing.T, c *published) {
	book, _ := books().Book("us")
	h := ContractHours{Workdays: c.Contract.Workdays, DayMinutes: Minutes(c.Contract.Hours * 60), Holiday: Minutes(c.Contract.Holiday * 60)}
	g, faults := h.Guarantee(book.GuaranteedShare(dated.MustDate("2022-11-01")))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	equal(t, "guaranteed", Minutes(c.Contract.Guaranteed*60), g.Guaranteed)
}

func byArithmetic(t *testing.T, c *published) {
	for number, want := range c.HalfUp {
		equal(t, number, want, cents(t, decimal(t, number)))
	}
	for _, s := range c.Sums {
		equal(t, s[0], s[1], cents(t, worked(t, s[0])))
	}
	if len(c.HalfUp)+len(c.Sums) == 0 {
		t.Error("tests nothing")
	}
}

// worked does what stands between two numbers, exactly.
func worked(t *testing.T, expression string) ratio {
	t.Helper()
	parts := strings.Fields(expression)
	a, b := decimal(t, parts[0]), decimal(t, parts[2])
	switch parts[1] {
	case "+":
		return a.plus(b)
	case "-":
		return a.minus(b)
	case "*":
		return a.times(b)
	}
	n, err := parseDecimal(parts[2], 0)
	if err != nil || parts[1] != "/" {
		t.Fatalf("cannot work out %s", expression)
	}
	return a.times(over(1, n))
}

func decimal(t *testing.T, number string) ratio {
	t.Helper()
	n, err := parseDecimal(number, 6)
	if err != nil {
		t.Fatal(err)
	}
	return over(n, 1_000_000)
}

func cents(t *testing.T, q ratio) string {
	t.Helper()
	n, ok := q.times(whole(centsPerUnit)).roundHalfUp()
	if !ok {
		t.Fatal("does not fit")
	}
	return Cents(n).String()
}
