package rulebook

import (
	_ "embed"
	"encoding/json"
	"slices"
	"strings"

	"palmero/payroll/dated"
)

// Coverage says of one rule of one book how far it is modelled, for which days, and what shows that it is right.
type Coverage struct {
	Book, Rule string
	Modelled   Modelled
	From       string       // key of the book that says it: the book itself or the nearest forebear; "" where none does
	First      dated.Date   // first day with a value; zero: since ever
	Last       dated.Date   // last day with a value; zero: until further notice
	Standings  []Standing   // how its values are known, each standing once, the best first
	Examples   []Example    // published examples that are reckoned as tests
	Source     dated.Source // of the latest value
}

// Standing is [dated.Standing], named here for short.
type Standing = dated.Standing

// Modelled says what the program does with a rule.
type Modelled string

// What is done with a rule: weeks, entitlements, sick leave or guarantees are reckoned with it; it is kept for other parts of the program, and to be looked up; it
// is not in the book or any forebear.
const (
	Reckoned    Modelled = "reckoned"
	KeptAsData  Modelled = "kept"
	NotModelled Modelled = "absent"
)

// Example is a published example that is reckoned as a test: which rules of which book it shows, on which day.
type Example struct {
	ID    string     `json:"id"`
	Book  string     `json:"book"`
	Day   dated.Date `json:"day"`
	Rules []string   `json:"rules"`
}

// The list is made from the cases by their own test, which fails where the two differ.
//
//go:embed examples.json
var examplesText []byte

// Examples returns the published examples in the order of their file.
func Examples() []Example {
	var all []Example
	if err := json.Unmarshal(examplesText, &all); err != nil {
		panic(err) // the file is part of the binary
	}
	return all
}

// reckonedWith are the rules that a week's pay or its notes come from.
var reckonedWith = []string{"large_from_size", "minimum_wage", "makeup", "nonproductive", "rest", "average", "flat_bonus", "missed_periods", "short_meal",
	"overtime.agriculture", "overtime.general", "seventh_day", "premium_factor", "reporting_time", "meals", "rest_periods", "high_heat",
	"sick_leave.accrual", "sick_leave.waiting_days", "sick_leave.use_cap", "sick_leave.bank_cap", "sick_leave.reinstated_within_days", "sick_leave.rate_days",
	"h2a.guaranteed_share"}

// Register returns the coverage of every book of the library, book by book and rule by rule.
func (l *Library) Register() []Coverage {
	examples := Examples()
	var all []Coverage
	for _, key := range l.Keys() {
		all = append(all, l.books[key].register(examples)...)
	}
	return all
}

// Register returns the coverage of one book, rule by rule.
func (b *Book) Register() []Coverage { return b.register(Examples()) }

func (b *Book) register(examples []Example) []Coverage {
	var all []Coverage
	for i := range kinds {
		rule := kinds[i].name
		c := Coverage{Book: b.key, Rule: rule, Modelled: NotModelled}
		s, hidden := b.nearestShown(rule)
		if hidden {
			continue
		}
		if s != nil {
			c.From, c.Modelled = s.Book, KeptAsData
			if slices.Contains(reckonedWith, general(rule)) {
				c.Modelled = Reckoned
			}
			c.First, c.Last = s.Range()
			c.Standings, c.Source = standings(s), s.Values[len(s.Values)-1].Source
		}
		for _, e := range examples {
			if e.Book == b.key && (slices.Contains(e.Rules, rule) || slices.Contains(e.Rules, general(rule))) {
				c.Examples = append(c.Examples, e)
			}
		}
		all = append(all, c)
	}
	return all
}

// nearestShown finds what the nearest book of the chain says of a rule, nil where none does. A rule is hidden, and gets no
// row, where the nearest book has it by size and this is the one for all sizes, or the reverse.
func (b *Book) nearestShown(rule string) (s *dated.Series[dated.Figure], hidden bool) {
	other := general(rule)
	if other == rule {
		other += ".large"
	}
	for at := b; at != nil; at = at.parent {
		if s, ok := at.Parameter(rule); ok {
			return s, false
		}
		if _, ok := at.Parameter(other); ok {
			return nil, true
		}
	}
	return nil, other == general(rule)
}

// general takes the size off a rule's name.
func general(rule string) string {
	return strings.TrimSuffix(strings.TrimSuffix(rule, ".large"), ".small")
}

// standings lists how the values of a series are known, the best first.
func standings(s *dated.Series[dated.Figure]) []Standing {
	var all []Standing
	for _, standing := range []Standing{dated.Read, dated.Secondary, dated.Computed, dated.Memory} {
		if slices.ContainsFunc(s.Values, func(v dated.Value[dated.Figure]) bool { return v.Standing == standing }) {
			all = append(all, standing)
		}
	}
	return all
}

// Held is what one book of a chain says of a parameter on a day.
type Held struct {
	Parameter *dated.Series[dated.Figure]
	Value     dated.Value[dated.Figure]
}

// InForce returns what the chain says on a day, parameter by parameter. Of parameters whose values can be compared it has
// every book's, nearest first, and the most protective governs; of the others the nearest book's, which decides.
func (b *Book) InForce(day dated.Date) []Held {
	var all []Held
	for i := range kinds {
		for at := b; at != nil; at = at.parent {
			s, ok := at.Parameter(kinds[i].name)
			if !ok {
				continue
			}
			v, err := s.On(day)
			if err != nil {
				continue
			}
			all = append(all, Held{s, *v})
			if s.Way == dated.NotComparable {
				break
			}
		}
	}
	return all
}

// Change is a parameter that says another thing on one day than on another; nil where it says nothing.
type Change struct {
	Parameter     *dated.Series[dated.Figure]
	Before, After *dated.Value[dated.Figure]
}

// Compare returns what differs between two days, parameter by parameter and book by book, nearest first.
func (b *Book) Compare(before, after dated.Date) []Change {
	var all []Change
	for i := range kinds {
		for at := b; at != nil; at = at.parent {
			s, ok := at.Parameter(kinds[i].name)
			if !ok {
				continue
			}
			c := Change{s, shownOn(s, before), shownOn(s, after)}
			if (c.Before == nil) != (c.After == nil) || c.Before != nil && c.Before.Value.String() != c.After.Value.String() {
				all = append(all, c)
			}
		}
	}
	return all
}

// shownOn returns the value of a series on a day with its source, nil where there is none.
func shownOn(s *dated.Series[dated.Figure], day dated.Date) *dated.Value[dated.Figure] {
	v, err := s.On(day)
	if err != nil {
		return nil
	}
	return v
}

// RuleNames returns the names of all parameters that a book may have.
func RuleNames() []string {
	names := make([]string, len(kinds))
	for i := range kinds {
		names[i] = kinds[i].name
	}
	return names
}

// Unmodelled is a rule that is knowingly left out. Its text stands in the catalogues under "unmodelled." + Name.
type Unmodelled struct {
	Name    string
	Books   []string // keys of the books concerned; none: all
	Section string   // where the rule stands, "" where it stands in many places
}

// Unmodelleds is the page of what is knowingly not modelled.
var Unmodelleds = []Unmodelled{
	{"split_shift", []string{"us-ca"}, "Cal. Wage Orders sec. 4"},
	{"semimonthly_rest", []string{"us-ca"}, "Cal. Lab. Code 226.2(a)(3)(B)"},
	{"salaried", nil, "29 U.S.C. 213(a)(1); Cal. Lab. Code 515"},
	{"small_farm", nil, "29 U.S.C. 213(a)(6)(A); 29 CFR 780.300 to 780.306"},
	{"hand_harvest", nil, "29 U.S.C. 213(a)(6)(C), (D); RCW 49.46.010(3)(a)"},
	{"subminimum", []string{"us-ca", "us-wa"}, ""},
	{"piece_rate_overtime", nil, "29 CFR 778.418; DLSE overtime FAQ, method 1"},
	{"alternative_workweek", []string{"us-ca"}, "Cal. Lab. Code 511"},
	{"day_of_rest_duty", []string{"us-ca"}, "Cal. Lab. Code 551, 552, 556"},
	{"third_premium", []string{"us-ca"}, "Cal. Lab. Code 226.7(c)"},
	{"nevada_daily", []string{"us-nv"}, "NRS 608.018"},
	{"nevada_benefits", []string{"us-nv"}, "Nev. Const. Art. 15 s. 16"},
	{"washington_mixed", []string{"us-wa"}, "L&I policy ES.C.6.2"},
	{"dairy", []string{"us-wa"}, "RCW 49.46.130"},
	{"local_wages", nil, ""},
	{"not_looked_up", []string{"us-az", "us-fl", "us-nv", "us-tx", "us-wa"}, ""},
	{"free_and_clear", nil, "29 CFR 531.35"},
	{"tools", []string{"us-ca"}, "Cal. Wage Order 14 sec. 9; Cal. Lab. Code 2802"},
	{"adverse_effect", nil, "20 CFR 655.120"},
	{"taxes", nil, "IRS Publications 15 and 15-T"},
	{"notices", nil, "Cal. Lab. Code 2810.5; 29 CFR 500.75, 500.76"},
	{"penalties", []string{"us-ca"}, "Cal. Lab. Code 203, 226(e), 558"},
	{"other_places", nil, ""},
}

// UnmodelledIn returns what is knowingly not modelled in a book.
func UnmodelledIn(key string) []Unmodelled {
	var all []Unmodelled
	for _, u := range Unmodelleds {
		if len(u.Books) == 0 || slices.Contains(u.Books, key) {
			all = append(all, u)
		}
	}
	return all
}
