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
	for _, ch := range governing(books, b).Compare(on, through) {
		if ch.Before != nil && ch.After == nil {
			title := ch.Parameter.Book
			if of, ok := books.Book(title); ok {
				title = s.Title(of)
			}
			ends = append(ends, End{s.Rule(ch.Parameter.Name), title, ch.Before.Through})
		}
	}
	return ends
}
