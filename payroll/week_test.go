package payroll

import (
	"encoding/json"
	"maps"
	"strings"
	"sync"
	"testing"

	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// books are the program's own with two of an invented land, which use the switches that no book of ours does yet.
var books = sync.OnceValue(func() *rulebook.Library {
	texts := rulebook.Texts()
	maps.Copy(texts, map[string][]byte{"orchard.yaml": []byte(orchard), "strict.yaml": []byte(strict), "desert.yaml": []byte(desert)})
	l, err := rulebook.Parse(texts)
	if err != nil {
		panic(err)
	}
	return l
})

// orchard tests piece hours by the week, averages over them, and pays minutes for a rest period missed.
const orchard = `
book: orchard
title: Orchard, an invented land
parent: us
sources:
  law: {title: Orchard law, section: Orchard 1, link: "https://law.example/1"}
parameters:
  minimum_wage:
    about: The least pay for an hour
    way: higher
    values: [{from: 2020-01-01, through: 2026-02-17, value: "16.00", source: law, read: 2026-11-25, standing: read},
             {from: 2026-02-18, through: 2026-12-31, value: "17.13", source: law, read: 2026-11-25, standing: read}]
  makeup:
    about: Hours and span of the test
    way: not_comparable
    values: [{from: open, through: open, value: {basis: piece_hours, span: workweek}, source: law, read: 2026-11-25, standing: read}]
  nonproductive:
    about: Pay of nonproductive time
    way: not_comparable
    values: [{from: open, through: open, value: separate, source: law, read: 2026-11-25, standing: read}]
  rest:
    about: Pay of rest
    way: not_comparable
    values: [{from: open, through: open, value: separate, source: law, read: 2026-11-25, standing: read}]
  average:
    about: Hours of the average
    way: not_comparable
    values: [{from: open, through: open, value: piece_hours, source: law, read: 2026-11-25, standing: read}]
  missed_periods:
    about: Pay of periods missed
    way: not_comparable
    values: [{from: open, through: open, value: {extra_minutes: 10}, source: law, read: 2026-11-25, standing: read}]
  overtime.agriculture:
    about: Limits
    way: lower
    values: [{from: open, through: 2026-02-18, value: {daily: null, weekly: "48", double_daily: null}, source: law, read: 2026-11-25, standing: read},
             {from: 2026-02-19, through: open, value: {daily: null, weekly: "40", double_daily: null}, source: law, read: 2026-11-25, standing: read}]
authorities: {}
`

// strict pays rest apart at the average of all hours but tests the minimum wage over the week, and knows limits of every kind.
const strict = `
book: strict
title: Strict, an invented land
parent: orchard
sources:
  law: {title: Strict law, section: Strict 1, link: "https://law.example/2"}
parameters:
  minimum_wage:
    about: The least pay for an hour
    way: higher
    values: [{from: 2024-01-01, through: open, value: "12.00", source: law, read: 2026-11-25, standing: read}]
  average:
    about: Hours of the average
    way: not_comparable
    values: [{from: open, through: open, value: all_hours, source: law, read: 2026-11-25, standing: read}]
  overtime.agriculture:
    about: Limits
    way: lower
    values: [{from: open, through: open, value: {daily: "8", weekly: null, double_daily: "11.5"}, source: law, read: 2026-11-25, standing: read}]
  flat_bonus:
    about: Hours of a flat bonus
    way: not_comparable
    values: [{from: open, through: open, value: non_overtime_hours, source: law, read: 2026-11-25, standing: read}]
authorities: {}
`

// desert tests all hours of the workweek, as Arizona does, at the minimum wage that Arizona had before its book begins.
const desert = `
book: desert
title: Desert, an invented land
parent: us
sources:
  law: {title: Desert law, section: Desert 1, link: "https://law.example/3"}
parameters:
  minimum_wage:
    about: The least pay for an hour
    way: higher
    values: [{from: 2017-01-01, through: 2018-12-31, value: "10.00", source: law, read: 2026-11-25, standing: read}]
authorities: {}
`

// week makes a week from its document, in a shape that is short to write: what is left out is a Californian week of
// February 2026.
func week(t testing.TB, doc string) *Week {
	t.Helper()
	w := &Week{Rulebook: "us-ca", WeekStart: dated.MustDate("2026-02-15")}
	d := json.NewDecoder(strings.NewReader(doc))
	d.DisallowUnknownFields()
	if err := d.Decode(w); err != nil {
		t.Fatalf("%v in %s", err, doc)
	}
	return w
}

// reckon reckons a week that has nothing wrong.
func reckon(t testing.TB, w *Week) *Statement {
	t.Helper()
	s, faults := Reckon(books(), w)
	if len(faults) > 0 {
		t.Fatalf("faults: %v", faults)
	}
	return s
}

// amounts sums a statement's lines by code.
func amounts(s *Statement) map[Code]string {
	sums := map[Code]Cents{}
	for _, l := range s.Lines {
		sums[l.Code] += l.Amount
	}
	out := map[Code]string{}
	for code, sum := range sums {
		out[code] = sum.String()
	}
	return out
}

// raised are the codes of a statement's notes, in order.
func raised(s *Statement) []string {
	var codes []string
	for _, n := range s.Notes {
		codes = append(codes, n.Code)
	}
	return codes
}
