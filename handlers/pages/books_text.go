package pages

import (
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"palmero/handlers/failures"
	"palmero/handlers/rulebooks"
	"palmero/models"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// bookText is the page on which a local book is entered as the text of its file.
type bookText struct {
	Gardens  []Option
	Replaces *models.LocalBook // nil: a new book
	Lines    []bookLine        // at which something is wrong
}

// bookLine is a line of a text.
type bookLine struct {
	Number int
	Text   string
}

var bookTextFields = []string{"text", "file", "gardens", "numbers", "reason"}

func bookTextPage(v *visit, f *Form) (*answer, error) {
	var page bookText
	first := f == nil
	if first {
		f = newForm(map[string]string{"replaces": v.gin.Query("replaces")})
	}
	err := v.view(func(tx *models.Tx) (err error) {
		if f.Value("replaces") != "" {
			if page.Replaces, err = headOfBook(tx, f.Value("replaces")); err != nil {
				return err
			}
			if err := fillFromText(tx, f, page.Replaces, first); err != nil {
				return err
			}
		}
		page.Gardens, err = bookGardens(tx, f)
		return err
	})
	if err != nil {
		return nil, err
	}
	page.Lines = linesAtFault(f)
	return show("book_text", &page).with(f), nil
}

// bookGardens are the gardens that a contract can name.
func bookGardens(tx *models.Tx, f *Form) (options []Option, err error) {
	gardens, err := models.All[models.GardenContent](tx)
	for _, g := range gardens {
		options = append(options, Option{Value: g.ID.String(), Label: g.Content.Name, Chosen: f.Holds("gardens", g.ID.String())})
	}
	slices.SortFunc(options, func(a, b Option) int { return strings.Compare(a.Label, b.Label) })
	return options, err
}

// fillFromText fills the form with the book whose place it takes.
func fillFromText(tx *models.Tx, f *Form, old *models.LocalBook, first bool) (err error) {
	if !first {
		return nil
	}
	f.Set("text", old.Content.Body)
	for _, garden := range old.Content.GardenIDs {
		f.Add("gardens", garden.String())
	}
	numbers, err := bookNumbers(tx, old.Content.WorkerIDs)
	f.Set("numbers", numbers)
	return err
}

// linesAtFault are the lines that the faults name, since a field for text does not number its own.
func linesAtFault(f *Form) (lines []bookLine) {
	all := strings.Split(f.values.Get("text"), "\n")
	for _, fault := range f.found {
		n, ok := fault.Terms["line"].(int)
		if ok && n > 0 && n <= len(all) && !slices.ContainsFunc(lines, func(l bookLine) bool { return l.Number == n }) {
			lines = append(lines, bookLine{n, strings.TrimRight(all[n-1], "\r")})
		}
	}
	return lines
}

// largestBook is how large the text of a book may be.
const largestBook = 1 << 20

// bookForm reads the form with the file, whose text takes the place of what was typed.
func (v *visit) bookForm() (*Form, error) {
	f, file, err := v.upload("file", largestBook, bookTextFields...)
	if err != nil {
		return nil, err
	}
	text := strings.ReplaceAll(f.values.Get("text"), "\r\n", "\n")
	if len(file.data) > largestBook {
		f.fault("file", "fault.file_too_large", payroll.Terms{"limit": largestBook >> 20})
	} else if len(file.data) > 0 {
		text = string(file.data)
	}
	f.Set("text", text)
	return f, nil
}

func enterBookText(v *visit) (*answer, error) {
	f, err := v.bookForm()
	if err != nil {
		return nil, err
	}
	text := f.values.Get("text")
	switch {
	case strings.TrimSpace(text) == "":
		f.fault("text", "page.fault.book_text", nil)
	case !utf8.ValidString(text):
		f.Set("text", "")
		f.fault("file", "page.fault.book_not_text", nil)
	}
	err = f.Faulty()
	if err == nil {
		err = v.in(func(tx *models.Tx) error {
			e := localbooks.Entry{ID: f.ID, Text: text}
			if err := readBookEntry(tx, f, &e); err != nil {
				return err
			}
			_, _, err := localbooks.Enter(tx, v.Books, e, localbooks.KindFor(v.caller.Role))
			return inForm(err, "/garden_ids", "/gardens", "/worker_ids", "/numbers")
		})
	}
	if err != nil {
		f.found = failures.From(err).Faults
		return v.again(f, err, bookTextPage)
	}
	return seeOther("/books/"+f.ID.String(), bookDone(f)), nil
}

// bookRecord is a local book with its history.
type bookRecord struct {
	Book     *models.LocalBook
	Head     *models.LocalBook // the last of its records
	InUse    bool              // whether that one holds
	Left     []string          // why it does not hold any more, where it should
	One      bool              // whether its one value can be corrected in a form
	May      bool              // whether the reader may enter and withdraw its kind
	Parent   string
	Gardens  []string
	Workers  string
	Values   []bookSays
	History  []bookStep
	Zone     *time.Location
	AtRecord bool // whether the page shows a record other than the last
}

// bookSays is a value that a book says.
type bookSays struct {
	Rule, Figure, When, Standing string
	Source                       dated.Source
	ReadOn                       dated.Date
}

// bookStep is a record of a book's history. What is "entered", "replaced" or "withdrawn".
type bookStep struct {
	ID                uuid.UUID
	At                time.Time
	Who, What, Reason string
	Body              string
}

func bookPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page bookRecord
	err = v.view(func(tx *models.Tx) error { return page.read(tx, v, id) })
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = newForm(nil)
	}
	return show("book", &page).with(f), nil
}

func (p *bookRecord) read(tx *models.Tx, v *visit, id uuid.UUID) error {
	chain, err := models.Chain[models.LocalBookContent](tx, id)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(chain, func(r models.LocalBook) bool { return r.ID == id })
	p.Book, p.Head = &chain[i], &chain[len(chain)-1]
	c := p.Head.Content
	p.AtRecord = p.Book.ID != p.Head.ID
	only := localbooks.KindFor(v.caller.Role)
	p.May = only == "" || only == c.Kind
	if p.Zone, err = payrun.HomeZone(tx); err != nil {
		return err
	}
	law, err := localbooks.Of(tx, v.Books)
	if err != nil {
		return err
	}
	p.Parent = ourBook(law, p.Head).Parent
	if book, ok := law.Book(c.Key); ok && !c.Withdrawn {
		p.InUse, p.One = true, hasOneValue(book)
		p.say(v, book)
	}
	if why := law.Left[c.Key]; why != nil && !c.Withdrawn {
		for _, fault := range localbooks.Faults("", why) {
			p.Left = append(p.Left, v.say(fault.Key, fault.Terms))
		}
	}
	if err := p.applies(tx); err != nil {
		return err
	}
	return p.tell(tx, chain)
}

// say tells what the book says.
func (p *bookRecord) say(v *visit, book *rulebook.Book) {
	c := v.catalogue()
	for _, series := range book.Parameters() {
		for i := range series.Values {
			x := &series.Values[i]
			p.Values = append(p.Values, bookSays{c.Word("rule", series.Name), rulebooks.Figure(x.Value, c), rulebooks.When(x.From, x.Through, c), c.Word("standing", string(x.Standing)), x.Source, x.ReadOn})
		}
	}
}

// applies tells to whom a contract applies.
func (p *bookRecord) applies(tx *models.Tx) (err error) {
	c := p.Head.Content
	if len(c.GardenIDs) > 0 {
		if err := tx.DB().Model(&models.Garden{}).Scopes(tx.Among("id", c.GardenIDs)).Order("number").Pluck("name", &p.Gardens).Error; err != nil {
			return err
		}
	}
	p.Workers, err = bookNumbers(tx, c.WorkerIDs)
	return err
}

// tell tells the book's history, the last step first.
func (p *bookRecord) tell(tx *models.Tx, chain []models.LocalBook) error {
	by := make([]uuid.UUID, len(chain))
	for i := range chain {
		by[i] = chain[i].RecordedBy
	}
	names, err := models.AccountNames(tx, by)
	if err != nil {
		return err
	}
	for i, r := range slices.Backward(chain) {
		what := "replaced"
		switch {
		case r.Content.Withdrawn:
			what = "withdrawn"
		case i == 0:
			what = "entered"
		}
		p.History = append(p.History, bookStep{r.ID, r.ReceivedAt, names[r.RecordedBy], what, r.Reason, r.Content.Body})
	}
	return nil
}

// withdrawBook takes a local book out of use.
func withdrawBook(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("reason")
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		_, _, err := localbooks.Withdraw(tx, id, localbooks.Withdrawal{ID: f.ID, Reason: f.Value("reason")}, localbooks.KindFor(v.caller.Role))
		return err
	})
	if err != nil {
		return v.again(f, err, bookPage)
	}
	return seeOther("/books/"+f.ID.String(), "book_withdrawn"), nil
}
