package rulebooks

import (
	"slices"

	"palmero/handlers/text"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Summary tells of a book in a list.
type Summary struct {
	Key    string  `json:"key"`
	Title  string  `json:"title"`
	Parent *string `json:"parent"` // key of the book that it adds to
	Local  *string `json:"local"`  // what kind of local book it is
	Digest string  `json:"digest"` // hex SHA-256 of its text
}

// Document is a book as other programs get it.
type Document struct {
	Summary
	Parameters  []Parameter   `json:"parameters"`
	InForce     []Held        `json:"in_force,omitempty"` // where a day was asked for
	Changes     []Change      `json:"changes,omitempty"`  // where two days were
	Coverage    []CoverageRow `json:"coverage"`
	NotModelled []LeftOut     `json:"not_modelled"`
	LocalBooks  []LocalBook   `json:"local_books,omitempty"` // that add to it
}

// LocalBook is a local book that adds to another, with what it says of its own.
type LocalBook struct {
	Summary
	Parameters []Parameter `json:"parameters"`
}

// Parameter is what the book itself says of one rule, with its whole history.
type Parameter struct {
	Name   string  `json:"name"`
	Title  string  `json:"title"`
	About  string  `json:"about"`
	Way    string  `json:"way"`
	Values []Value `json:"values"`
}

// Value is what a parameter says from one day through another; null ends are open.
type Value struct {
	From     *dated.Date  `json:"from"`
	Through  *dated.Date  `json:"through"`
	Value    dated.Figure `json:"value"`
	Source   Source       `json:"source"`
	Read     dated.Date   `json:"read"`
	Standing string       `json:"standing"`
}

// Source is where a value stands.
type Source struct {
	Title   string `json:"title"`
	Section string `json:"section"`
	Link    string `json:"link"`
}

// Held is what one book of the chain says on the day asked for.
type Held struct {
	Parameter string `json:"parameter"`
	Title     string `json:"title"`
	Book      string `json:"book"`
	Value
}

// Change is a parameter that differs between the two days asked for.
type Change struct {
	Parameter string `json:"parameter"`
	Title     string `json:"title"`
	Book      string `json:"book"`
	Before    *Value `json:"before"`
	After     *Value `json:"after"`
}

// CoverageRow is a row of the coverage register.
type CoverageRow struct {
	Rule      string      `json:"rule"`
	Title     string      `json:"title"`
	Modelled  string      `json:"modelled"`
	Book      *string     `json:"book"` // that says it; null where none does
	From      *dated.Date `json:"from"`
	Through   *dated.Date `json:"through"`
	Standings []string    `json:"standings"`
	Examples  []string    `json:"examples"` // ids of published examples that are reckoned as tests
}

// LeftOut is a rule that is knowingly not modelled.
type LeftOut struct {
	Rule    string `json:"rule"`
	Text    string `json:"text"`
	Section string `json:"section"`
}

// Summaries tells of every book of a library.
func Summaries(books *rulebook.Library) []Summary {
	all := []Summary{}
	for _, key := range books.Keys() {
		b, _ := books.Book(key)
		all = append(all, summary(b))
	}
	return all
}

func summary(b *rulebook.Book) Summary {
	return Summary{b.Key(), b.Title(), given(b.ParentKey()), given(string(b.Local())), b.Digest()}
}

// given is nil for an empty text.
func given(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// Public returns a book of a library as other programs get it. On is the day of which to tell what is in force, with the one to
// compare it to; a zero date is none.
func Public(books *rulebook.Library, b *rulebook.Book, on, with dated.Date, c *text.Catalogue) Document {
	s := speaker{c}
	d := Document{Summary: summary(b), Parameters: s.parameters(b), Coverage: []CoverageRow{}, NotModelled: []LeftOut{}}
	for _, local := range localTo(books, b) {
		d.LocalBooks = append(d.LocalBooks, LocalBook{summary(local), s.parameters(local)})
	}
	for _, row := range b.Register() {
		d.Coverage = append(d.Coverage, s.coverageRow(row))
	}
	for _, u := range rulebook.UnmodelledIn(b.Key()) {
		d.NotModelled = append(d.NotModelled, LeftOut{u.Name, c.Say("unmodelled."+u.Name, nil), u.Section})
	}
	if on.IsZero() {
		return d
	}
	law := governing(books, b)
	for _, h := range law.InForce(on) {
		d.InForce = append(d.InForce, Held{h.Parameter.Name, s.Rule(h.Parameter.Name), h.Parameter.Book, *value(&h.Value)})
	}
	if with.IsZero() {
		return d
	}
	for _, ch := range law.Compare(on, with) {
		d.Changes = append(d.Changes, Change{ch.Parameter.Name, s.Rule(ch.Parameter.Name), ch.Parameter.Book, value(ch.Before), value(ch.After)})
	}
	return d
}

// parameters are what a book itself says.
func (s speaker) parameters(b *rulebook.Book) []Parameter {
	all := []Parameter{}
	for _, series := range b.Parameters() {
		p := Parameter{series.Name, s.Rule(series.Name), series.About, string(series.Way), nil}
		for i := range series.Values {
			p.Values = append(p.Values, *value(&series.Values[i]))
		}
		all = append(all, p)
	}
	return all
}

func value(v *dated.Value[dated.Figure]) *Value {
	if v == nil {
		return nil
	}
	return &Value{day(v.From), day(v.Through), v.Value, Source(v.Source), v.ReadOn, string(v.Standing)}
}

// day is nil for no date.
func day(d dated.Date) *dated.Date {
	if d.IsZero() {
		return nil
	}
	return &d
}

func (s speaker) coverageRow(c rulebook.Coverage) CoverageRow {
	row := CoverageRow{Rule: c.Rule, Title: s.Rule(c.Rule), Modelled: string(c.Modelled), Book: given(c.From), From: day(c.First), Through: day(c.Last),
		Standings: []string{}, Examples: []string{}}
	for _, standing := range c.Standings {
		row.Standings = append(row.Standings, string(standing))
	}
	for _, e := range c.Examples { // an example that shows several days is named once
		if !slices.Contains(row.Examples, e.ID) {
			row.Examples = append(row.Examples, e.ID)
		}
	}
	return row
}
