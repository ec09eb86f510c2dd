package rulebooks

import (
	"palmero/handlers/text"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// End is a value of the law that ends with nothing after it: the rule and its book in the reader's words, and its last day.
type End struct {
	Rule, Book string
	Last       dated.Date
}

// Ending tells which values that are in force on a day end through another, where no value follows and none of a book that adds to it does.
func Ending(books *rulebook.Library, key string, on, through dated.Date, c *text.Catalogue) []End {
	b, ok := books.Book(key)
	if !ok {
		return nil
	}
	s := speaker{c}
	var ends []End
	law := governing(books, b)
	for _, ch := range law.Compare(on, through) {
		if ch.Before != nil && ch.After == nil && !followed(law, ch.Parameter, through) {
			title := ch.Parameter.Book
			if of, ok := books.Book(title); ok {
				title = s.Title(of)
			}
			ends = append(ends, End{s.Rule(ch.Parameter.Name), title, ch.Before.Through})
		}
	}
	return ends
}

// followed tells whether a book that is nearer in a chain than the one of a parameter says something of it on a day.
func followed(law *rulebook.Book, p *dated.Series[dated.Figure], day dated.Date) bool {
	for _, b := range law.Chain() {
		if b.Key() == p.Book {
			break
		}
		if nearer, ok := b.Parameter(p.Name); ok {
			if _, err := nearer.On(day); err == nil {
				return true
			}
		}
	}
	return false
}
