// Package rulebooks shows the rulebooks: as text on a console, as JSON to other programs, and as a page to read.
package rulebooks

import (
	"slices"
	"strings"

	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// speaker says in one language what stands in a book.
type speaker struct{ *text.Catalogue }

// Rule names a parameter: "Minimum wage, large employers".
func (s speaker) Rule(name string) string { return s.Word("rule", name) }

// Figure writes a value on one line.
func (s speaker) Figure(f dated.Figure) string {
	return f.Write(func(word string) string { return s.Word("value", word) })
}

// Standing says how well a value is known.
func (s speaker) Standing(standing dated.Standing) string {
	return s.Word("standing", string(standing))
}

// When says from which day through which a value holds.
func (s speaker) When(from, through dated.Date) string {
	terms := payroll.Terms{"from": from, "through": through}
	switch {
	case from.IsZero() && through.IsZero():
		return s.Say("rulebook.always", nil)
	case through.IsZero():
		return s.Say("rulebook.from_on", terms)
	case from.IsZero():
		return s.Say("rulebook.up_to", terms)
	}
	return s.Say("rulebook.from_through", terms)
}

// Figure writes a value on one line in the words of a catalogue.
func Figure(f dated.Figure, c *text.Catalogue) string { return speaker{c}.Figure(f) }

// When says from which day through which a value holds, zero dates being open.
func When(from, through dated.Date, c *text.Catalogue) string { return speaker{c}.When(from, through) }

// Title names a book, with what kind of local book it is.
func (s speaker) Title(b *rulebook.Book) string {
	if b.IsLocal() {
		return b.Title() + " (" + s.Word("local", string(b.Local())) + ")"
	}
	return b.Title()
}

// governing is the book by which pay is reckoned where b is named: with the announcements that fill its gaps.
func governing(books *rulebook.Library, b *rulebook.Book) *rulebook.Book {
	if b.Local() == rulebook.Announcement {
		return b
	}
	if g, ok := books.Governing(b.Key()); ok {
		return g
	}
	return b
}

// localTo are the local books of a library that add to a book, directly or by another, by key.
func localTo(books *rulebook.Library, b *rulebook.Book) []*rulebook.Book {
	var all []*rulebook.Book
	for _, key := range books.Keys() {
		other, _ := books.Book(key)
		if other != b && other.IsLocal() && slices.Contains(other.Chain(), b) {
			all = append(all, other)
		}
	}
	return all
}

// Matches tells whether a parameter is the one asked for, or one of its sizes: "minimum_wage" asks for "minimum_wage.large"
// too, and "overtime" for all of overtime. Nothing asked for is everything.
func Matches(parameter, asked string) bool {
	return asked == "" || parameter == asked || strings.HasPrefix(parameter, asked+".")
}

// Known tells whether any parameter that a book may have is the one asked for.
func Known(asked string) bool {
	return slices.ContainsFunc(rulebook.RuleNames(), func(name string) bool { return Matches(name, asked) })
}

// Says tells whether a book or one that it adds to has a parameter that is asked for.
func Says(b *rulebook.Book, asked string) bool {
	for _, at := range b.Chain() {
		if slices.ContainsFunc(at.Parameters(), func(s *dated.Series[dated.Figure]) bool { return Matches(s.Name, asked) }) {
			return true
		}
	}
	return false
}
