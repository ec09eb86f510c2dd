package pages

import (
	"cmp"
	"slices"

	"github.com/google/uuid"

	"palmero/handlers/rulebooks"
	"palmero/models"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// bookPages show by which rulebooks each garden's pay is reckoned, and keep the employer's own, see books_value.go and books_text.go; what was agreed with single workers and the audit trail follow them.
func bookPages() []Page {
	return append([]Page{
		{Method: "GET", Path: "/books", Roles: office, Nav: "page.nav.books", Under: "/set-up", handle: showBooks},
		{Method: "GET", Path: "/books/value", Roles: office, handle: func(v *visit) (*answer, error) { return bookValuePage(v, nil) }},
		{Method: "POST", Path: "/books/value", Roles: office, handle: enterBookValue},
		{Method: "GET", Path: "/books/text", Roles: office, handle: func(v *visit) (*answer, error) { return bookTextPage(v, nil) }},
		{Method: "POST", Path: "/books/text", Roles: office, handle: enterBookText},
		{Method: "GET", Path: "/books/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return bookPage(v, nil) }},
		{Method: "POST", Path: "/books/{id}/withdraw", Roles: office, handle: withdrawBook},
	}, slices.Concat(termsPages(), trailPages())...)
}

// booksPage are the rulebooks of the gardens, what of them ends, and the employer's own.
type booksPage struct {
	On, Today dated.Date
	Gardens   []bookOfGarden
	Ending    []bookEnd
	Standing  []bookOfOurs
	Former    []bookOfOurs
	Owner     bool
}

// bookOfGarden is the book that a garden names, with what is announced beside it, the contracts in its place, and the minimum wage of the day.
type bookOfGarden struct {
	Garden           *models.Garden
	Title            string
	Known            bool
	Announced, Under []bookOfOurs
	Wage             *payroll.Rate // nil: the book has none for the day
}

// bookEnd is a value that ends with nothing after it.
type bookEnd struct {
	rulebooks.End
	Over bool
}

// bookOfOurs is a local book as lists show it.
type bookOfOurs struct {
	ID               uuid.UUID
	Key, Title, Kind string
	Parent           string // the title of the book that it adds to
	Gardens, Workers int
	Left             bool // whether it does not hold any more
}

// endedWithin is how many days back the end of a value is still told.
const endedWithin = 400

func showBooks(v *visit) (*answer, error) {
	page := booksPage{Owner: v.caller.Role == models.RoleAdministrator}
	err := v.view(func(tx *models.Tx) (err error) {
		if page.Today, err = payrun.Today(tx); err != nil {
			return err
		}
		if page.On = v.day("on"); page.On.IsZero() {
			page.On = page.Today
		}
		law, err := localbooks.Of(tx, v.Books)
		if err != nil {
			return err
		}
		if err := page.readOwn(tx, law); err != nil {
			return err
		}
		return page.readGardens(tx, v, law)
	})
	if err != nil {
		return nil, err
	}
	return show("books", &page), nil
}

// readOwn reads the employer's own books, each as its last record has it.
func (p *booksPage) readOwn(tx *models.Tx, law *localbooks.Library) error {
	var heads []models.LocalBook
	if err := tx.DB().Omit("body").Where("superseded_by IS NULL").Order("book_key, seq").Find(&heads).Error; err != nil {
		return err
	}
	standing := map[string]bool{}
	for _, b := range heads {
		standing[b.Content.Key] = standing[b.Content.Key] || !b.Content.Withdrawn
	}
	for i := range heads {
		b := &heads[i]
		one := ourBook(law, b)
		switch {
		case !b.Content.Withdrawn:
			p.Standing = append(p.Standing, one)
		case !standing[one.Key]:
			p.Former = append(p.Former, one)
		}
	}
	return nil
}

func ourBook(law *localbooks.Library, b *models.LocalBook) bookOfOurs {
	c := b.Content
	parent := c.Parent
	if of, ok := law.Book(parent); ok {
		parent = of.Title()
	}
	return bookOfOurs{ID: b.ID, Key: c.Key, Title: c.Title, Kind: string(c.Kind), Parent: parent, Gardens: len(c.GardenIDs), Workers: len(c.WorkerIDs), Left: law.Left[c.Key] != nil}
}

// readGardens reads which book each garden has, and what of those books ends.
func (p *booksPage) readGardens(tx *models.Tx, v *visit, law *localbooks.Library) error {
	var gardens []models.Garden
	if err := tx.DB().Order("number").Find(&gardens).Error; err != nil {
		return err
	}
	profile, err := tx.Profile()
	if err != nil {
		return err
	}
	size := int(profile.Content.Size)
	for i := range gardens {
		g := &gardens[i]
		one := bookOfGarden{Garden: g, Title: g.Content.Rulebook}
		if book, ok := law.Book(g.Content.Rulebook); ok {
			one.Title, one.Known = book.Title(), true
			one.read(law, p.Standing, p.On, &size)
			for _, e := range v.bookEnds(law, g.Content.Rulebook, p.Today) {
				if !slices.Contains(p.Ending, e) {
					p.Ending = append(p.Ending, e)
				}
			}
		}
		p.Gardens = append(p.Gardens, one)
	}
	slices.SortStableFunc(p.Ending, func(a, b bookEnd) int { return cmp.Or(a.Last.Compare(b.Last), cmp.Compare(a.Book, b.Book)) })
	return nil
}

// read reads what of the employer's own stands beside the garden's book or in its place, and the minimum wage of a day.
func (g *bookOfGarden) read(law *localbooks.Library, own []bookOfOurs, on dated.Date, size *int) {
	governing, _ := law.Governing(g.Garden.Content.Rulebook)
	if wage, err := governing.MinimumWage(on, size); err == nil {
		rate := payroll.Rate(wage)
		g.Wage = &rate
	}
	among := func(keys []string) (found []bookOfOurs) {
		for _, b := range own {
			if slices.Contains(keys, b.Key) {
				found = append(found, b)
			}
		}
		return found
	}
	var announced []string
	for _, b := range governing.Chain() {
		if b.Local() == rulebook.Announcement {
			announced = append(announced, b.Key())
		}
	}
	g.Announced = among(announced)
	g.Under = among(slices.DeleteFunc(law.For(g.Garden.ID, g.Garden.Content.Rulebook, uuid.Nil), func(key string) bool { return key == g.Garden.Content.Rulebook }))
}

// bookEnds are the values of a book that ended lately or end soon with nothing after them.
func (v *visit) bookEnds(law *localbooks.Library, key string, today dated.Date) (ends []bookEnd) {
	for _, e := range rulebooks.Ending(law.Library, key, today.AddDays(-endedWithin), today.AddDays(endingWithin), v.catalogue()) {
		ends = append(ends, bookEnd{e, e.Last.Before(today)})
	}
	return ends
}

// afterBook is where a form leads that may have been reached from the problems of a pay run.
func afterBook(f *Form, otherwise string) string {
	if run, err := uuid.Parse(f.Value("run")); err == nil {
		return problemAt(run, "", "")
	}
	return otherwise
}
