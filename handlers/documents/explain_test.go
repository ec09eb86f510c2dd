package documents

import (
	"bytes"
	"encoding/json"
	"math/big"
	"os"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// explainedWeeks are the weeks of the published examples that our books reckon, and some of ours that have what those lack.
func explainedWeeks(t *testing.T, books *rulebook.Library) map[string]*payroll.Week {
	t.Helper()
	source, err := os.ReadFile("../../testdata/wages/cases.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		ID   string
		Week map[string]any
	}
	if err := yaml.Unmarshal(source, &cases); err != nil {
		t.Fatal(err)
	}
	weeks := map[string]*payroll.Week{}
	add := func(name string, doc []byte) {
		var w payroll.Week
		if err := json.Unmarshal(doc, &w); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if _, ours := books.Book(w.Rulebook); ours {
			weeks[name] = &w
		}
	}
	for _, c := range cases {
		if c.Week == nil {
			continue
		}
		doc, err := json.Marshal(c.Week)
		if err != nil {
			t.Fatal(err)
		}
		add(c.ID, doc)
	}
	for name, doc := range ownWeeks {
		add(name, []byte(doc))
	}
	return weeks
}

var ownWeeks = map[string]string{
	"mixed": `{"id":"mixed","rulebook":"us-ca","week_start":"2026-02-15","hourly_rate":"18.00","days":[
		{"date":"2026-02-16","time":[{"kind":"piece","minutes":450},{"kind":"rest","minutes":20},{"kind":"nonproductive","minutes":30},{"kind":"hourly","minutes":60}],
		 "tallies":[{"operation":"pollination","unit":"bunch","pieces":"100","rate":"1.15"}],"periods_not_provided":["meal"]},
		{"date":"2026-02-17","time":[{"kind":"piece","minutes":400},{"kind":"rest","minutes":20}],
		 "tallies":[{"operation":"bagging","unit":"bunch","pieces":"300","rate":"0.90","part":{"minutes":400,"lot_minutes":1100}},{"operation":"bagging","unit":"bunch","pieces":"40","rate":"0.90","part":{"heads":3}},{"operation":"bagging","unit":"bunch","pieces":"41","rate":"0.90","part":{"share":"0.35"}}]},
		{"date":"2026-02-19","sick_minutes":240,"time":[{"kind":"hourly","minutes":60}],"reports":[{"scheduled_minutes":481,"worked_minutes":60,"ended_by":"employer"}]}],
		"bonuses":[{"kind":"flat","amount":"25.00"},{"kind":"production","amount":"10.00"}],"reimbursements":[{"kind":"gloves","amount":"12.00"}],
		"adjustments":[{"for_week":"2026-02-08","amount":"3.10","reason":"recount","authority":"agreed"}]}`,
	"seven days": `{"rulebook":"us-ca","week_start":"2026-02-15","leave_rate":"20.00","days":[` + strings.Join(sevenDays(), ",") + `]}`,
	"offer that changes": `{"rulebook":"us","week_start":"2026-02-15","offered_rate":"15.00","days":[
		{"date":"2026-02-16","time":[{"kind":"piece","minutes":461},{"kind":"rest","minutes":20}],"tallies":[{"operation":"bagging","unit":"bunch","pieces":"30","rate":"1.15"}]},
		{"date":"2026-02-17","offered_rate":"16.50","time":[{"kind":"piece","minutes":317}],"tallies":[{"operation":"bagging","unit":"bunch","pieces":"10","rate":"1.15"}]}]}`,
	"change of wage within the week": `{"rulebook":"us-az","week_start":"2025-12-28","days":[
		{"date":"2025-12-31","time":[{"kind":"piece","minutes":401}],"tallies":[{"operation":"bagging","unit":"bunch","pieces":"30","rate":"1.15"}]},
		{"date":"2026-01-01","time":[{"kind":"piece","minutes":317}],"tallies":[{"operation":"bagging","unit":"bunch","pieces":"10","rate":"1.15"}]}]}`,
	"rests missed in Washington": `{"rulebook":"us-wa","week_start":"2026-02-15","days":[
		{"date":"2026-02-16","time":[{"kind":"piece","minutes":461}],"tallies":[{"operation":"bagging","unit":"bunch","pieces":"300","rate":"1.15"}],"periods_not_provided":["rest","rest"]},
		{"date":"2026-02-17","time":[{"kind":"piece","minutes":700},{"kind":"rest","minutes":20}],"tallies":[{"operation":"bagging","unit":"bunch","pieces":"10","rate":"1.15"}]}]}`,
	"no work": `{"rulebook":"us-ca","week_start":"2025-12-28","days":[
		{"date":"2025-12-31","reports":[{"scheduled_minutes":480,"ended_by":"employer"}]},
		{"date":"2026-01-01","reports":[{"scheduled_minutes":300,"ended_by":"employer"}]}]}`,
	"rest alone": `{"rulebook":"us-ca","week_start":"2026-02-15","hourly_rate":"19.50","days":[{"date":"2026-02-16","time":[{"kind":"rest","minutes":10}]}]}`,
}

func sevenDays() []string {
	days := []string{}
	for _, day := range []string{"15", "16", "17", "18", "19", "20", "21"} {
		days = append(days, `{"date":"2026-02-`+day+`","time":[{"kind":"piece","minutes":590},{"kind":"recovery","minutes":15}],"leave_minutes":7,
			"tallies":[{"operation":"harvest","unit":"box","pieces":"37","rate":"4.7500"}],"periods_not_provided":["meal","rest"]}`)
	}
	return days
}

// Whoever types what stands before the equals sign into a pocket calculator gets the amount of the line, rounded as it says.
func TestTheArithmeticCanBeRedone(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	keys := map[string]bool{}
	for name, week := range explainedWeeks(t, books) {
		s, faults := payroll.Reckon(books, week)
		if len(faults) > 0 {
			t.Fatalf("%s: %v", name, faults)
		}
		for i := range s.Lines {
			l := &s.Lines[i]
			a, ok := arithmetic(s, l)
			if given := slices.Contains([]string{"basis.bonus_production", "basis.bonus_flat", "basis.adjustment", "basis.reimbursement"}, l.Basis.Key); ok == given {
				t.Errorf("%s: %s has arithmetic: %t", name, l.Basis.Key, ok)
			}
			if !ok {
				continue
			}
			keys[l.Basis.Key] = true
			typed := calculate(t, a.text)
			if typed.Cmp(a.value) != 0 {
				t.Errorf("%s: %s gives %s on a calculator, said to be %s", name, a.text, typed.FloatString(6), a.value.FloatString(6))
			}
			if got := rounded(typed, l.Code); got != l.Amount.String() {
				t.Errorf("%s: %s: %s comes to %s, paid %s", name, l.Basis.Key, a.text, got, l.Amount)
			}
		}
	}
	if len(keys) < 17 {
		t.Errorf("only %d kinds of line were redone: %v", len(keys), keys)
	}
}

// rounded rounds as the statement does: pieces to the nearest cent, all else up.
func rounded(amount *big.Rat, code payroll.Code) string {
	cents := new(big.Rat).Mul(amount, big.NewRat(100, 1))
	if code == payroll.PieceLine || code == payroll.SharedPieceLine {
		cents.Add(cents, big.NewRat(1, 2))
		return payroll.Cents(new(big.Int).Div(cents.Num(), cents.Denom()).Int64()).String()
	}
	up := new(big.Int).Div(new(big.Int).Sub(new(big.Int).Add(cents.Num(), cents.Denom()), big.NewInt(1)), cents.Denom())
	return payroll.Cents(up.Int64()).String()
}

// calculate works out what is typed into a calculator that knows its sums before its products, and parentheses.
func calculate(t *testing.T, expression string) *big.Rat {
	t.Helper()
	tokens := strings.Fields(strings.NewReplacer("(", " ( ", ")", " ) ").Replace(expression))
	value, rest := sumOfTokens(t, tokens)
	if len(rest) > 0 {
		t.Fatalf("%q is left of %q", rest, expression)
	}
	return value
}

func sumOfTokens(t *testing.T, tokens []string) (*big.Rat, []string) {
	value, tokens := productOfTokens(t, tokens)
	for len(tokens) > 0 && (tokens[0] == "+" || tokens[0] == "−") {
		var next *big.Rat
		sign := tokens[0]
		next, tokens = productOfTokens(t, tokens[1:])
		if sign == "−" {
			next.Neg(next)
		}
		value = new(big.Rat).Add(value, next)
	}
	return value, tokens
}

func productOfTokens(t *testing.T, tokens []string) (*big.Rat, []string) {
	value, tokens := oneToken(t, tokens)
	for len(tokens) > 0 && (tokens[0] == "×" || tokens[0] == "÷") {
		var next *big.Rat
		sign := tokens[0]
		next, tokens = oneToken(t, tokens[1:])
		if sign == "÷" {
			next = new(big.Rat).Inv(next)
		}
		value = new(big.Rat).Mul(value, next)
	}
	return value, tokens
}

func oneToken(t *testing.T, tokens []string) (*big.Rat, []string) {
	t.Helper()
	if tokens[0] == "(" {
		value, rest := sumOfTokens(t, tokens[1:])
		return value, rest[1:]
	}
	value, ok := new(big.Rat).SetString(tokens[0])
	if !ok {
		t.Fatalf("%q is no number", tokens[0])
	}
	return value, tokens[1:]
}

func TestExplain(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	week := explainedWeeks(t, books)["mixed"]
	s, faults := payroll.Reckon(books, week)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	book, _ := books.Book(week.Rulebook)
	for _, lang := range text.Languages() {
		var b bytes.Buffer
		if err := Explain(&b, week, s, book, text.For(lang)); err != nil {
			t.Fatal(err)
		}
		golden(t, "explain."+lang+".txt", b.Bytes())
		if err := Explain(&shortWriter{}, week, s, book, text.For(lang)); err == nil {
			t.Error("a page that is full was not noticed")
		}
	}
}
