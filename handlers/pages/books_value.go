package pages

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/handlers/rulebooks"
	"palmero/models"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// bookValue is the page on which a local book of one value is entered: what an agency announced, an ordinance, or a term of a contract.
type bookValue struct {
	Kind             rulebook.LocalKind
	Rules            []Option // to choose among, where no rule is chosen yet
	Rule, Book       string   // as people call them; "" where none is chosen yet
	Last             *dated.Value[dated.Figure]
	LastFigure, When string
	Standings        []Option
	Gardens          []Option // of a contract
	Replaces         bool
}

// bookValueFields are those of its form. What is about is the book that it adds to and the rule, with a space between.
var bookValueFields = []string{"title", "value", "from", "through", "source_title", "section", "link", "read", "standing", "gardens", "numbers", "reason"}

func bookValuePage(v *visit, f *Form) (*answer, error) {
	var page bookValue
	first := f == nil
	if first {
		q := v.gin.Request.URL.Query()
		f = newForm(map[string]string{"kind": q.Get("kind"), "about": q.Get("about"), "run": q.Get("run"), "replaces": q.Get("replaces")})
	}
	err := v.view(func(tx *models.Tx) error {
		law, err := localbooks.Of(tx, v.Books)
		if err != nil {
			return err
		}
		if first && f.Value("replaces") != "" {
			if err := fillFromBook(tx, law, f); err != nil {
				return err
			}
		}
		page.Kind = v.bookKind(f)
		f.Set("kind", string(page.Kind))
		page.Replaces = f.Value("replaces") != ""
		book, rule := chosenRule(law, f)
		if rule == nil {
			page.Rules, err = v.offeredRules(tx, law)
			return err
		}
		return page.read(tx, v, law, f, book, rule, first)
	})
	if err != nil {
		return nil, err
	}
	return show("book_value", &page).with(f), nil
}

// bookKind is the kind of book that a form is for: the one asked for, as far as the reader may enter it.
func (v *visit) bookKind(f *Form) rulebook.LocalKind {
	if only := localbooks.KindFor(v.caller.Role); only != "" {
		return only
	}
	kind := rulebook.LocalKind(f.Value("kind"))
	if slices.Contains([]rulebook.LocalKind{rulebook.Ordinance, rulebook.Contract}, kind) {
		return kind
	}
	return rulebook.Announcement
}

// chosenRule finds the book and the rule that a form is about; nil where none is chosen, or none that is there. The rule is as the nearest book has it that says it, for large
// employers where it is asked for of all.
func chosenRule(law *localbooks.Library, f *Form) (*rulebook.Book, *dated.Series[dated.Figure]) {
	key, name, _ := strings.Cut(f.Value("about"), " ")
	book, ok := law.Book(key)
	if !ok {
		return nil, nil
	}
	if book.Local() == rulebook.Announcement { // to which nothing can add
		book, _ = law.Book(book.ParentKey())
		f.Set("about", book.Key()+" "+name)
	}
	governing, _ := law.Governing(book.Key())
	for _, at := range governing.Chain() {
		for _, sized := range []string{name, name + large} {
			if p, ok := at.Parameter(sized); ok && isPlain(p.Values[len(p.Values)-1].Value) {
				return book, p
			}
		}
	}
	return nil, nil
}

// large ends the name of a rule that is for large employers; without it, the rule is for all.
const large = ".large"

// isPlain tells whether a value is a number, which fits into a field.
func isPlain(figure dated.Figure) bool { return plainNumber.MatchString(figure.Text) }

var plainNumber = regexp.MustCompile(`^[0-9]{1,9}(\.[0-9]{1,4})?$`)

// offeredRules are the rules of the gardens' books whose value is a number.
func (v *visit) offeredRules(tx *models.Tx, law *localbooks.Library) (options []Option, err error) {
	var keys []string
	if err := tx.DB().Model(&models.Garden{}).Distinct("rulebook").Order("rulebook").Pluck("rulebook", &keys).Error; err != nil {
		return nil, err
	}
	for _, key := range keys {
		book, ok := law.Book(key)
		if !ok {
			continue
		}
		for _, at := range book.Chain() {
			options = v.rulesOf(at, options)
		}
	}
	return options, nil
}

// rulesOf adds the rules of a book whose value is a number to those that are offered, each once; what it says by the size of the employer, for all sizes too.
func (v *visit) rulesOf(book *rulebook.Book, options []Option) []Option {
	if book.Local() == rulebook.Announcement {
		return options
	}
	for _, p := range book.Parameters() {
		if !isPlain(p.Values[len(p.Values)-1].Value) {
			continue
		}
		names := []string{p.Name}
		if all, sized := strings.CutSuffix(p.Name, large); sized {
			names = []string{all, p.Name}
		}
		for _, name := range names {
			o := Option{Value: book.Key() + " " + name, Label: book.Title() + ": " + v.catalogue().Word("rule", name)}
			if !slices.Contains(options, o) {
				options = append(options, o)
			}
		}
	}
	return options
}

// read reads what the form says of its rule, and fills the form in at first.
func (p *bookValue) read(tx *models.Tx, v *visit, law *localbooks.Library, f *Form, book *rulebook.Book, rule *dated.Series[dated.Figure], first bool) error {
	_, name, _ := strings.Cut(f.Value("about"), " ")
	p.Rule, p.Book = v.catalogue().Word("rule", name), book.Title()
	p.Last = &rule.Values[len(rule.Values)-1]
	p.LastFigure, p.When = rulebooks.Figure(p.Last.Value, v.catalogue()), rulebooks.When(p.Last.From, p.Last.Through, v.catalogue())
	for _, s := range []dated.Standing{dated.Read, dated.Secondary, dated.Computed, dated.Memory} {
		p.Standings = append(p.Standings, Option{Value: string(s), Label: v.catalogue().Word("standing", string(s))})
	}
	if p.Kind == rulebook.Contract {
		var err error
		if p.Gardens, err = bookGardens(tx, f); err != nil {
			return err
		}
	}
	if p.Replaces {
		return nil
	}
	if first {
		today, err := payrun.Today(tx)
		if err != nil {
			return err
		}
		p.suggest(v, f, today)
	}
	return nameBook(tx, f, book.Key(), p.Kind)
}

// suggest fills in what can be known: that an announced value follows the last one, for as long as that held.
func (p *bookValue) suggest(v *visit, f *Form, today dated.Date) {
	f.Set("read", today.String())
	f.Set("standing", string(dated.Read))
	f.Set("section", p.Last.Source.Section)
	if p.Kind != rulebook.Announcement || p.Last.Through.IsZero() {
		return
	}
	from := p.Last.Through.AddDays(1)
	f.Set("from", from.String())
	if year, month, day := from.Civil(); month == 1 && day == 1 {
		f.Set("through", fmt.Sprintf("%d-12-31", year))
	}
	f.Set("title", v.say("page.books.announced_title", payroll.Terms{"rule": p.Rule, "date": from}))
}

// nameBook gives a new book a key that no other has, made of what it is; the form carries it, so that a form sent twice names the same book.
func nameBook(tx *models.Tx, f *Form, parent string, kind rulebook.LocalKind) error {
	if f.Value("key") != "" && f.Fault("key") == "" && f.Problem == "" {
		return nil
	}
	base := parent + "-" + string(kind)
	if year, _, found := strings.Cut(f.Value("from"), "-"); found && kind == rulebook.Announcement {
		base = parent + "-" + year
	}
	var taken []string
	if err := tx.DB().Model(&models.LocalBook{}).Where("book_key LIKE ? AND id <> ?", base+"%", f.ID).Distinct("book_key").Pluck("book_key", &taken).Error; err != nil {
		return err
	}
	key := base
	for n := 2; slices.Contains(taken, key); n++ {
		key = base + "-" + strconv.Itoa(n)
	}
	f.Set("key", key)
	return nil
}

// fillFromBook fills the form with the one value of the book whose place it takes.
func fillFromBook(tx *models.Tx, law *localbooks.Library, f *Form) error {
	old, err := headOfBook(tx, f.Value("replaces"))
	if err != nil {
		return err
	}
	book, ok := law.Book(old.Content.Key)
	if !ok {
		return errNotFound
	}
	params := book.Parameters()
	if !hasOneValue(book) {
		return errNotFound
	}
	value := &params[0].Values[0]
	f.Set("kind", string(old.Content.Kind))
	f.Set("about", old.Content.Parent+" "+params[0].Name)
	f.Set("key", old.Content.Key)
	for name, s := range map[string]string{
		"title": book.Title(), "value": value.Value.Text, "source_title": value.Source.Title, "section": value.Source.Section, "link": value.Source.Link,
		"from": isoOf(value.From), "through": isoOf(value.Through), "read": isoOf(value.ReadOn), "standing": string(value.Standing),
	} {
		f.Set(name, s)
	}
	for _, garden := range old.Content.GardenIDs {
		f.Add("gardens", garden.String())
	}
	numbers, err := bookNumbers(tx, old.Content.WorkerIDs)
	f.Set("numbers", numbers)
	return err
}

// hasOneValue tells whether a book can be shown in the form of one value.
func hasOneValue(book *rulebook.Book) bool {
	params := book.Parameters()
	return len(params) == 1 && len(params[0].Values) == 1 && isPlain(params[0].Values[0].Value)
}

// headOfBook finds the record of a local book that is in use, for another to take its place.
func headOfBook(tx *models.Tx, id string) (*models.LocalBook, error) {
	at, err := uuid.Parse(id)
	if err != nil {
		return nil, errNotFound
	}
	old, err := recordOf[models.LocalBookContent](tx, at)
	if err == nil && (old.SupersededBy != nil || old.Content.Withdrawn) {
		err = errNotFound
	}
	return old, err
}

// isoOf is a date as a field has it, "" for none.
func isoOf(d dated.Date) string {
	if d.IsZero() {
		return ""
	}
	return d.String()
}

// bookNumbers are workers as a field has them: by number, with commas between.
func bookNumbers(tx *models.Tx, ids []uuid.UUID) (string, error) {
	if len(ids) == 0 {
		return "", nil
	}
	var numbers []string
	err := tx.DB().Model(&models.Worker{}).Scopes(tx.Among("id", ids)).Order("number").Pluck("number", &numbers).Error
	return strings.Join(numbers, ", "), err
}

// bookWorkers reads workers from a field of numbers.
func bookWorkers(tx *models.Tx, f *Form) (ids []uuid.UUID, err error) {
	numbers := f.numbers("numbers")
	if err := f.Faulty(); err != nil || len(numbers) == 0 {
		return nil, err
	}
	var workers []models.Worker
	if err := tx.DB().Select("id", "number").Where("number IN ?", numbers).Find(&workers).Error; err != nil {
		return nil, err
	}
	for _, n := range numbers {
		i := slices.IndexFunc(workers, func(w models.Worker) bool { return w.Content.Number == n })
		if i < 0 {
			return nil, models.FaultAt("/numbers", "page.fault.no_such_worker", payroll.Terms{"number": strconv.FormatInt(n, 10)})
		}
		ids = append(ids, workers[i].ID)
	}
	return ids, nil
}

func enterBookValue(v *visit) (*answer, error) {
	f, err := v.form(bookValueFields...)
	if err != nil {
		return nil, err
	}
	single := v.singleOf(f)
	err = f.Faulty()
	if err == nil {
		err = v.in(func(tx *models.Tx) error { return v.enterSingle(tx, f, single) })
	}
	if err != nil {
		return v.again(f, err, bookValuePage)
	}
	return seeOther(afterBook(f, "/books/"+f.ID.String()), bookDone(f)), nil
}

// bookDone is the word for what a form of a book did.
func bookDone(f *Form) string {
	switch {
	case f.Value("run") != "":
		return "book_for_run"
	case f.Value("replaces") != "":
		return "book_replaced"
	}
	return "book_entered"
}

// singleOf reads the form as a book of one value. What the book's own reader would find only in its text is told beside its field.
func (v *visit) singleOf(f *Form) rulebook.Single {
	parent, parameter, _ := strings.Cut(f.Value("about"), " ")
	value := strings.ReplaceAll(strings.TrimPrefix(f.Value("value"), "$"), ",", "")
	s := rulebook.Single{
		Key: f.Value("key"), Title: f.Value("title"), Parent: parent, Local: v.bookKind(f), Parameter: parameter,
		From: f.Day("from"), Through: f.Day("through"), ReadOn: f.Day("read"), Standing: dated.Standing(f.Value("standing")),
		Source: dated.Source{Title: f.Value("source_title"), Section: f.Value("section"), Link: f.Value("link")},
	}
	for _, name := range []string{"title", "value", "source_title", "section", "link", "standing"} {
		if f.Value(name) == "" {
			f.fault(name, "fault.empty", nil)
		}
	}
	f.needDay("read")
	if value != "" && !plainNumber.MatchString(value) {
		f.fault("value", "input.not_decimal", payroll.Terms{"value": f.Value("value")})
	}
	if to, err := url.Parse(s.Source.Link); s.Source.Link != "" && (err != nil || to.Host == "" || to.Scheme != "https" && to.Scheme != "http") {
		f.fault("link", "page.fault.not_link", payroll.Terms{"value": s.Source.Link})
	}
	if !s.Through.IsZero() && s.Through.Before(s.From) {
		f.fault("through", "fault.ends_before_start", nil)
	}
	s.Value = []byte(value)
	return s
}

// enterSingle enters the book. Whether its value is written as a whole number or with decimals, the rule's last value shows.
func (v *visit) enterSingle(tx *models.Tx, f *Form, s rulebook.Single) error {
	law, err := localbooks.Of(tx, v.Books)
	if err != nil {
		return err
	}
	_, rule := chosenRule(law, f)
	if rule == nil {
		return models.FaultAt("/about", "page.fault.choose", nil)
	}
	s.Parent, _, _ = strings.Cut(f.Value("about"), " ")
	if !rule.Values[len(rule.Values)-1].Value.Number {
		if s.Value, err = json.Marshal(string(s.Value)); err != nil {
			return err
		}
	}
	e := localbooks.Entry{ID: f.ID, Text: string(s.Text(law.Library))}
	if err := readBookEntry(tx, f, &e); err != nil {
		return err
	}
	_, _, err = localbooks.Enter(tx, v.Books, e, localbooks.KindFor(v.caller.Role))
	return bookFaults(err)
}

// readBookEntry reads to whom a book applies, and whose place it takes.
func readBookEntry(tx *models.Tx, f *Form, e *localbooks.Entry) (err error) {
	for _, s := range f.Values("gardens") {
		id, err := uuid.Parse(s)
		if err != nil {
			return models.FaultAt("/gardens", "page.fault.choose", nil)
		}
		e.GardenIDs = append(e.GardenIDs, id)
	}
	if e.WorkerIDs, err = bookWorkers(tx, f); err != nil {
		return err
	}
	e.Reason = f.Value("reason")
	if f.Value("replaces") != "" {
		id, err := uuid.Parse(f.Value("replaces"))
		if err != nil {
			return errNotFound
		}
		e.Supersedes = &id
	}
	return nil
}

// bookFaults points what is wrong with the text that was made of a form at the form's fields.
func bookFaults(err error) error {
	var e *models.Error
	if !errors.As(err, &e) {
		return err
	}
	moved := *e
	moved.Faults = slices.Clone(e.Faults)
	for i := range moved.Faults {
		fault := &moved.Faults[i]
		path, _ := fault.Terms["path"].(string)
		switch field := path[strings.LastIndexByte(path, '.')+1:]; {
		case fault.Pointer == "/garden_ids":
			fault.Pointer = "/gardens"
		case fault.Pointer == "/worker_ids":
			fault.Pointer = "/numbers"
		case fault.Pointer != "/text":
		case strings.HasPrefix(fault.Key, "fault.book_looser"):
			fault.Pointer = "/value"
		case slices.Contains([]string{"value", "from", "through", "read", "standing", "section", "link"}, field):
			fault.Pointer = "/" + field
		}
	}
	return &moved
}
