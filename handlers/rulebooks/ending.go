package rulebooks

import (
	"slices"

	"palmero/handlers/text"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// End is a value of the law that ends with nothing after it: the rule and its book in the reader's words, its last day, and the parameter with the key of the book.
type End struct {
	Rule, Book     string
	Last           dated.Date
	Parameter, Key string
}

// Ending tells which values of a book and its forebears end from one day on and before another with nothing after them, the first to end first. What an announcement or another
// book that adds to theirs says of the day after is something.
func Ending(books *rulebook.Library, key string, from, through dated.Date, c *text.Catalogue) []End {
	b, ok := books.Book(key)
	if !ok {
		return nil
	}
	s := speaker{c}
	var ends []End
	chain := governing(books, b).Chain()
	for i, at := range chain {
		for _, p := range at.Parameters() {
			_, last := p.Range()
			if last.IsZero() || last.Before(from) || !last.Before(through) || SaidOn(chain[:i], p.Name, last.AddDays(1)) {
				continue
			}
			ends = append(ends, End{s.Rule(p.Name), s.Title(at), last, p.Name, at.Key()})
		}
	}
	slices.SortStableFunc(ends, func(a, b End) int { return a.Last.Compare(b.Last) })
	return ends
}

// SaidOn tells whether one of some books says something of a rule on a day, be it for every size of employer.
func SaidOn(books []*rulebook.Book, name string, day dated.Date) bool {
	for _, b := range books {
		for _, p := range b.Parameters() {
			if p.Name != name && p.Name+".large" != name && p.Name+".small" != name {
				continue
			}
			if _, err := p.On(day); err == nil {
				return true
			}
		}
	}
	return false
}
