package documents

import (
	"palmero/handlers/rulebooks"
	"palmero/payroll/rulebook"
)

// Where the server shows a rulebook, by its key: as the API answers, and on a page to read for whoever has signed in.
const (
	RulebookPath = "/api/v1/rulebooks/"
	RulebookPage = "/rulebooks/"
)

// Provision says where to read about the provision that a line or a note rests on.
type Provision struct {
	Link  string // to its text; "" where no rulebook names the provision
	Entry string // what the rulebook makes of it: a book's key and the parameter, as in "us-ca#makeup"; "" likewise
}

// provisionOf finds the provision of a section in a book or those that it adds to. One that the week itself gave is in none.
func provisionOf(book *rulebook.Book, code, section string) Provision {
	if book == nil || section == "" {
		return Provision{}
	}
	key, source, ok := book.Cited(code, section)
	if !ok {
		return Provision{}
	}
	return Provision{source.Link, entryOf(book, key, code)}
}

// entryOf is the parameter that lines or notes of a code come from, as a path to it; the book with the provision where they come from none.
func entryOf(book *rulebook.Book, key, code string) string {
	rule, ok := ruleOf[code]
	if !ok {
		return key
	}
	for _, at := range book.Chain() {
		for _, p := range at.Parameters() {
			if rulebooks.Matches(p.Name, rule) {
				return at.Key() + "#" + p.Name
			}
		}
	}
	return key
}

// Cite adds to each line and note of a statement where its provision can be read, by the book that the statement was made under and by
// where books are shown, RulebookPath or RulebookPage.
func (s *Statement) Cite(book *rulebook.Book, shown string) {
	for i := range s.Lines {
		l := &s.Lines[i]
		p := provisionOf(book, string(l.Code), l.Authority)
		l.AuthorityLink, l.RulebookEntry = p.Link, p.entryAt(shown)
	}
	for i := range s.Notes {
		n := &s.Notes[i]
		p := provisionOf(book, n.Code, n.Authority)
		n.AuthorityLink, n.RulebookEntry = p.Link, p.entryAt(shown)
	}
}

// entryAt is the address of the entry where books are shown; "" where there is none.
func (p Provision) entryAt(shown string) string {
	if p.Entry == "" {
		return ""
	}
	return shown + p.Entry
}

// Page is the address of the entry on the page to read; "" where there is none.
func (p Provision) Page() string { return p.entryAt(RulebookPage) }
