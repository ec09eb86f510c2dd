package handlers

import (
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/localbooks"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

const localBooksPath = "/api/v1/local-books"

// localBookRoutes: an employer's own rulebooks are entered, superseded and withdrawn, never changed. Everybody may read what they are paid by.
func localBookRoutes() []Route {
	books := recorded[models.LocalBookContent]{path: localBooksPath, filters: []filter{byFlag("standing", models.StandingBooks)}}
	const one = localBooksPath + "/{id}"
	return []Route{
		{Method: "GET", Path: localBooksPath, Roles: everyone, Query: pageQuery(books.filters), Status: http.StatusOK, handle: books.list},
		{Method: "POST", Path: localBooksPath, Roles: office, Status: http.StatusCreated, handle: taking(enterLocalBook)},
		{Method: "GET", Path: one, Roles: everyone, Status: http.StatusOK, handle: books.get},
		{Method: "GET", Path: one + "/chain", Roles: everyone, Status: http.StatusOK, handle: books.chain},
		{Method: "POST", Path: one + "/withdraw", Roles: office, Status: http.StatusCreated, handle: taking(withdrawLocalBook)},
	}
}

// localBookEntry is a local book that is sent in: as the text of its file, or where it has one value only, as a form.
type localBookEntry struct {
	ID         uuid.UUID      `json:"id"`
	Text       string         `json:"text,omitempty"`
	Form       *localBookForm `json:"form,omitempty"`
	GardenIDs  []uuid.UUID    `json:"garden_ids,omitempty"`
	WorkerIDs  []uuid.UUID    `json:"worker_ids,omitempty"`
	Supersedes *uuid.UUID     `json:"supersedes,omitempty"`
	Reason     string         `json:"reason,omitempty"`
}

// localBookForm is a local book of one value.
type localBookForm struct {
	Key       string      `json:"key"`
	Title     string      `json:"title"`
	Parent    string      `json:"parent"`
	Kind      string      `json:"kind"`
	Parameter string      `json:"parameter"`
	From      *dated.Date `json:"from,omitempty"`    // null: since ever
	Through   *dated.Date `json:"through,omitempty"` // null: until further notice
	Value     formValue   `json:"value"`
	Source    formSource  `json:"source"`
	Read      dated.Date  `json:"read"`
	Standing  string      `json:"standing"`
}

type formSource struct {
	Title   string `json:"title"`
	Section string `json:"section"`
	Link    string `json:"link"`
}

// formValue is a text or a whole number, as JSON.
type formValue []byte

// UnmarshalText reads a text, such as "17.30" or a word.
func (v *formValue) UnmarshalText(text []byte) (err error) {
	*v, err = json.Marshal(string(text))
	return err
}

// UnmarshalInteger reads a whole number.
func (v *formValue) UnmarshalInteger(n int64) error {
	*v = strconv.AppendInt(nil, n, 10)
	return nil
}

func (f *localBookForm) text(books *rulebook.Library) string {
	s := rulebook.Single{
		Key: f.Key, Title: f.Title, Parent: f.Parent, Local: rulebook.LocalKind(f.Kind), Parameter: f.Parameter, Value: f.Value,
		Source: dated.Source(f.Source), ReadOn: f.Read, Standing: dated.Standing(f.Standing),
	}
	if f.From != nil {
		s.From = *f.From
	}
	if f.Through != nil {
		s.Through = *f.Through
	}
	return string(s.Text(books))
}

// law is what the caller's employer is held to: the rulebooks of the program with the employer's own.
func (rq *request) law() (law *localbooks.Library, err error) {
	err = rq.view(func(tx *models.Tx) (err error) {
		law, err = localbooks.Of(tx, rq.Books)
		return err
	})
	return law, err
}

func enterLocalBook(rq *request, in localBookEntry) (*reply, error) {
	if (in.Text == "") == (in.Form == nil) {
		return nil, models.FaultAt("/text", "fault.text_or_form", nil)
	}
	entry := localbooks.Entry{ID: in.ID, Text: in.Text, GardenIDs: in.GardenIDs, WorkerIDs: in.WorkerIDs, Supersedes: in.Supersedes}
	if in.Form != nil {
		entry.Text = in.Form.text(rq.Books)
	}
	var book *models.LocalBook
	var repeated bool
	err := rq.in(func(tx *models.Tx) error {
		faults, err := reasonFaults(tx, &in.Reason)
		if err != nil {
			return err
		}
		entry.Reason = in.Reason
		book, repeated, err = localbooks.Enter(tx, rq.Books, entry, localbooks.KindFor(rq.caller.Role))
		return withFaults(err, repeated, append(checkID("/id", in.ID), faults...))
	})
	if err != nil {
		return nil, in.pointed(err)
	}
	return plain(book).at(localBooksPath, book.ID, repeated), nil
}

// pointed points at the form where the text that was made of it is at fault.
func (in *localBookEntry) pointed(err error) error {
	var e *models.Error
	if in.Form == nil || !errors.As(err, &e) {
		return err
	}
	pointed := *e
	pointed.Faults = slices.Clone(e.Faults)
	for i := range pointed.Faults {
		if pointed.Faults[i].Pointer == "/text" {
			pointed.Faults[i].Pointer = "/form"
		}
	}
	return &pointed
}

func reasonFaults(tx *models.Tx, reason *string) ([]payroll.Fault, error) {
	c := models.NewChecker(tx)
	c.OptionalText("/reason", reason, reasonLimit)
	return c.Done()
}

func withdrawLocalBook(rq *request, in localbooks.Withdrawal) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var book *models.LocalBook
	var repeated bool
	err = rq.in(func(tx *models.Tx) error {
		faults, err := reasonFaults(tx, &in.Reason)
		if err != nil {
			return err
		}
		book, repeated, err = localbooks.Withdraw(tx, id, in, localbooks.KindFor(rq.caller.Role))
		return withFaults(err, repeated, append(checkID("/id", in.ID), faults...))
	})
	if err != nil {
		return nil, err
	}
	return plain(book).at(localBooksPath, book.ID, repeated), nil
}
