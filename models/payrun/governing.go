package payrun

import (
	"palmero/models/localbooks"
	"palmero/payroll/rulebook"
)

// governing is the book by which a week is reckoned: the one that is named, or the last announcement that adds to it.
type governing struct {
	*rulebook.Book
	named *rulebook.Book
}

func bookOf(books *localbooks.Library, key string) (*governing, bool) {
	named, ok := books.Book(key)
	if !ok {
		return nil, false
	}
	book, _ := books.Governing(key)
	return &governing{book, named}, true
}

// title names the book as a statement does: with the announcements that fill its gaps.
func (g *governing) title() string {
	title := g.named.Title()
	for _, b := range g.Chain() {
		if b.Local() == rulebook.Announcement && b != g.named {
			title += " + " + b.Title()
		}
	}
	return title
}

// local are the local books that take part.
func (g *governing) local() []BookMark {
	var marks []BookMark
	for _, b := range g.Chain() {
		if b.IsLocal() {
			marks = append(marks, BookMark{b.Key(), b.Title(), b.Digest()})
		}
	}
	return marks
}
