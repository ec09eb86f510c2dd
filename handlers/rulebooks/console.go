package rulebooks

import (
	"fmt"
	"io"
	"strings"

	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// console writes lines for a terminal.
type console struct {
	speaker
	w io.Writer
}

func (p console) line(parts ...string) {
	fmt.Fprintln(p.w, strings.TrimRight(strings.Join(parts, ""), " "))
}

// List writes every book on a line: its key, its title, what it adds to.
func List(w io.Writer, books *rulebook.Library, c *text.Catalogue) {
	p := console{speaker{c}, w}
	for _, key := range books.Keys() {
		b, _ := books.Book(key)
		adds := ""
		if parent := b.ParentKey(); parent != "" {
			adds = ", " + p.Say("rulebook.parent", payroll.Terms{"parent": parent})
		}
		p.line(fmt.Sprintf("%-8s ", key), p.Title(b), adds)
	}
}

// History writes everything that the book itself and its forebears ever say of the parameters asked for, with the sources.
// It tells whether there was anything to say.
func History(w io.Writer, b *rulebook.Book, asked string, c *text.Catalogue) bool {
	p := console{speaker{c}, w}
	said := false
	for _, at := range b.Chain() {
		for _, s := range at.Parameters() {
			if !Matches(s.Name, asked) {
				continue
			}
			if said {
				p.line()
			}
			said = true
			p.series(s)
		}
	}
	return said
}

func (p console) series(s *dated.Series[dated.Figure]) {
	p.line(s.Book, " ", s.Name, ": ", p.Rule(s.Name))
	if p.Language() == text.English { // the book's own words, which nobody translates
		p.line("  ", s.About)
	}
	p.line("  ", p.Word("way", string(s.Way)))
	for i := range s.Values {
		p.line("  ", p.When(s.Values[i].From, s.Values[i].Through), ": ", p.Figure(s.Values[i].Value))
		p.source(&s.Values[i])
	}
}

func (p console) source(v *dated.Value[dated.Figure]) {
	p.line("    ", v.Source.Section, ": ", v.Source.Title)
	p.line("    ", v.Source.Link)
	p.line("    ", p.Standing(v.Standing), ", ", p.Say("rulebook.read_on", payroll.Terms{"date": v.ReadOn}))
}

// InForce writes what is in force on a day, of the parameters asked for, and of which of them a book has no value that day.
// It tells whether there was any value.
func InForce(w io.Writer, b *rulebook.Book, day dated.Date, asked string, c *text.Catalogue) bool {
	p := console{speaker{c}, w}
	p.line(p.Title(b), ". ", p.Say("rulebook.in_force", payroll.Terms{"date": day}), ". ", p.Say("rulebook.in_force_how", nil))
	said := false
	for _, h := range b.InForce(day) {
		if !Matches(h.Parameter.Name, asked) {
			continue
		}
		said = true
		p.line()
		p.line(h.Parameter.Book, " ", h.Parameter.Name, ": ", p.Figure(h.Value.Value))
		p.line("    ", p.Rule(h.Parameter.Name), ", ", p.When(h.Value.From, h.Value.Through))
		p.source(&h.Value)
	}
	p.missing(b, day, asked)
	return said
}

// missing writes of which parameters a book of the chain has values, but none on a day.
func (p console) missing(b *rulebook.Book, day dated.Date, asked string) {
	for _, at := range b.Chain() {
		for _, s := range at.Parameters() {
			if _, err := s.On(day); err == nil || !Matches(s.Name, asked) {
				continue
			}
			from, through := s.Range()
			p.line()
			p.line(p.Say("rulebook.nothing_in_force", payroll.Terms{"book": at.Key(), "rule": s.Name, "date": day, "when": p.When(from, through)}))
		}
	}
}

// Changes writes what differs between two days.
func Changes(w io.Writer, b *rulebook.Book, before, after dated.Date, asked string, c *text.Catalogue) {
	p := console{speaker{c}, w}
	terms := payroll.Terms{"before": before, "after": after}
	said := false
	for _, change := range b.Compare(before, after) {
		if !Matches(change.Parameter.Name, asked) {
			continue
		}
		if !said {
			p.line(p.Title(b), ". ", p.Say("rulebook.changes", terms))
		}
		said = true
		p.line()
		p.line(change.Parameter.Book, " ", change.Parameter.Name, ": ", p.Rule(change.Parameter.Name))
		p.side(before, change.Before)
		p.side(after, change.After)
	}
	if !said {
		p.line(p.Say("rulebook.no_changes", terms))
	}
}

func (p console) side(day dated.Date, v *dated.Value[dated.Figure]) {
	if v == nil {
		p.line("  ", day.String(), "  ", p.Say("rulebook.nothing", nil))
		return
	}
	p.line("  ", day.String(), "  ", p.Figure(v.Value), "  (", v.Source.Section, ")")
}

// Register writes what is modelled of each book, and what shows that it is right.
func Register(w io.Writer, books []*rulebook.Book, c *text.Catalogue) {
	p := console{speaker{c}, w}
	p.line(p.Say("rulebook.register", nil))
	for _, b := range books {
		p.line()
		p.line(b.Key(), ": ", p.Title(b))
		for _, row := range b.Register() {
			p.line("  ", row.Rule, ": ", p.row(row))
		}
	}
}

// row is a line of the register without the rule's name.
func (s speaker) row(c rulebook.Coverage) string {
	parts := []string{s.Word("modelled", string(c.Modelled))}
	if c.From == "" {
		return parts[0]
	}
	if c.From != c.Book {
		parts[0] += " (" + c.From + ")"
	}
	parts = append(parts, s.When(c.First, c.Last))
	for _, standing := range c.Standings {
		parts = append(parts, s.Standing(standing))
	}
	if ids := s.examples(c.Examples); ids != "" {
		parts = append(parts, ids)
	}
	return strings.Join(parts, "; ")
}

func (s speaker) examples(all []rulebook.Example) string {
	ids := make([]string, len(all))
	for i, e := range all {
		ids[i] = s.Say("rulebook.example_on", payroll.Terms{"id": e.ID, "date": e.Day})
	}
	return strings.Join(ids, ", ")
}

// Unmodelled writes what is knowingly not modelled, of one book or, where the key is "", of all.
func Unmodelled(w io.Writer, key string, c *text.Catalogue) {
	p := console{speaker{c}, w}
	p.line(p.Say("rulebook.unmodelled", nil))
	for _, u := range unmodelledIn(key) {
		p.line()
		p.line("- ", p.Say("unmodelled."+u.Name, nil))
		p.line("  ", p.where(u))
	}
	p.line()
	p.line(p.Say("rulebook.caution", nil))
}

func unmodelledIn(key string) []rulebook.Unmodelled {
	if key == "" {
		return rulebook.Unmodelleds
	}
	return rulebook.UnmodelledIn(key)
}

// where says which books and which section a rule that is left out concerns.
func (s speaker) where(u rulebook.Unmodelled) string {
	books := s.Say("rulebook.every_book", nil)
	if len(u.Books) > 0 {
		books = strings.Join(u.Books, ", ")
	}
	if u.Section == "" {
		return books
	}
	return books + "; " + u.Section
}
