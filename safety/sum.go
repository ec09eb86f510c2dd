package safety

import (
	"errors"
	"strings"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// sum is the state of answering one document: the book, and what has come together of the answer.
type sum struct {
	book    *rulebook.Book
	day     dated.Date
	base    Base
	reasons []Reason
	faults  []Fault
	rules   map[string]rulebook.Rule
	way     string // for reasons that rest on something else for one way
}

// begin opens the book of a document.
func begin(books *rulebook.Library, head Head) (*sum, []Fault) {
	book, ok := books.Book(head.Rulebook)
	if !ok {
		return nil, []Fault{{"/rulebook", "fault.rulebook_unknown", Terms{"rulebook": head.Rulebook, "known": strings.Join(books.Keys(), ", ")}}}
	}
	s := &sum{book: book, day: head.On, base: Base{Rulebook: book.Key(), On: head.On, Parts: []Part{}, Provisions: make([]Provision, 0, 16), Notes: []Note{}}, reasons: []Reason{}}
	if rules, err := book.Reasons(head.On); s.ok(err) {
		s.rules = rules.Value
	}
	if !book.Binding() {
		s.note("reference", nil)
	}
	return s, nil
}

// ok notes that the book has no value for the day.
func (s *sum) ok(err error) bool {
	if err == nil {
		return true
	}
	var missing *dated.NoValueError
	if errors.As(err, &missing) {
		s.faults = append(s.faults, Fault{"/on", "fault.no_safety_value", Terms{"book": missing.Book, "parameter": missing.Parameter, "date": missing.Date}})
	}
	return false
}

// limit returns a number of the book and notes what it rests on.
func (s *sum) limit(name rulebook.Number) quantity.Number {
	v, err := s.book.Number(name, s.day)
	if !s.ok(err) {
		return quantity.Number{}
	}
	s.rest(basisOf(v))
	return v.Value
}

// basis returns what a number of the book rests on.
func (s *sum) basis(name rulebook.Number) dated.Basis {
	v, err := s.book.Number(name, s.day)
	if !s.ok(err) {
		return dated.Basis{}
	}
	return basisOf(v)
}

// rest notes a provision that the answer rests on, once, and what of it nobody has read.
func (s *sum) rest(b dated.Basis) {
	for i := range s.base.Provisions {
		if p := &s.base.Provisions[i]; p.Authority == b.Source.Section {
			if worse(b.Standing, p.Standing) {
				p.Standing = b.Standing
			}
			return
		}
	}
	s.base.Provisions = append(s.base.Provisions, Provision{b.Source.Section, b.Source.Title, b.Source.Link, b.ReadOn, b.Standing})
	for _, u := range s.book.UnreadIn(b.Source.Section) {
		s.note("live_text", Terms{"section": u.Source.Section, "parts": u.Parts})
	}
}

var doubt = map[dated.Standing]int{dated.Read: 0, dated.Computed: 0, dated.Secondary: 1, dated.Memory: 2}

// worse tells whether a is known less well than b.
func worse(a, b dated.Standing) bool { return doubt[a] > doubt[b] }

// note adds a note, unless the same was said before.
func (s *sum) note(code string, terms Terms) {
	for _, n := range s.base.Notes {
		if n.Code == code && n.terms["section"] == terms["section"] && n.terms["topic"] == terms["topic"] {
			return
		}
	}
	s.base.Notes = append(s.base.Notes, Note{Code: code, terms: terms})
}

func (s *sum) part(name string, value quantity.Number, unit string) {
	s.base.Parts = append(s.base.Parts, Part{name, value, unit})
}

func (s *sum) fault(pointer, key string, terms Terms) {
	s.faults = append(s.faults, Fault{pointer, key, terms})
}

// rule returns what a code rests on, by the way where the book tells them apart.
func (s *sum) rule(code string) rulebook.Rule {
	if rule, ok := s.rules[code+"."+s.way]; ok {
		return rule
	}
	return s.rules[code]
}

// The codes that warn rather than block.
var warns = map[string]bool{"eye_protection_missing": true, "close_observation": true, "ladder_pitch": true, "wet": true, "high_heat_duties": true}

// violate adds a reason for a rule that is broken, or a warning where the code only warns.
func (s *sum) violate(code, fact string, terms Terms) { s.violateAs(code, code, fact, terms) }

// violateAs is violate with a text of its own.
func (s *sum) violateAs(code, text, fact string, terms Terms) {
	s.reason(code, text, s.rule(code), Violation, fact, terms)
}

// miss adds a reason for a fact that is not known.
func (s *sum) miss(fact string, b dated.Basis) {
	if b.Source.Section == "" {
		b = s.rules["fact_missing"].Basis
	}
	for _, r := range s.reasons {
		if r.Code == "fact_missing" && r.Fact == fact {
			return
		}
	}
	s.reason("fact_missing", "fact_missing", rulebook.Rule{Class: rulebook.Law, Basis: b}, Missing, fact, Terms{"fact": nameIn(fact)})
}

// nameIn is the last name of a JSON pointer.
func nameIn(pointer string) string { return pointer[strings.LastIndexByte(pointer, '/')+1:] }

func (s *sum) reason(code, text string, rule rulebook.Rule, result Result, fact string, terms Terms) {
	if warns[code] {
		result = Warning
	}
	s.rest(rule.Basis)
	s.reasons = append(s.reasons, Reason{
		Code: code, Class: rule.Class, Blocks: !warns[code], Result: result, Authority: rule.Source.Section, Fact: fact, key: "reason." + text, terms: terms,
	})
}

// blocked tells whether any reason blocks.
func (s *sum) blocked() bool {
	for _, r := range s.reasons {
		if r.Blocks {
			return true
		}
	}
	return false
}

func isTrue(b *bool) bool  { return b != nil && *b }
func isFalse(b *bool) bool { return b != nil && !*b }

func whole(i int) quantity.Number { return quantity.Of(int64(i)) }

// basisOf is what a value of the book rests on.
func basisOf[T any](v *dated.Value[T]) dated.Basis {
	return dated.Basis{Source: v.Source, ReadOn: v.ReadOn, Standing: v.Standing}
}
