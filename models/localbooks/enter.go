package localbooks

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Entry is a local book that is sent in, as the text of its file.
type Entry struct {
	ID         uuid.UUID
	Text       string
	GardenIDs  []uuid.UUID
	WorkerIDs  []uuid.UUID
	Supersedes *uuid.UUID // the record whose place it takes
	Reason     string     // why, required with Supersedes
}

// largestText bounds a book, in bytes; the largest that comes with the program has a tenth of it.
const largestText = 512 << 10

// Enter keeps a local book, provided that it is good beside the books that come with the program and the employer's others. Repeats are answered as
// by [models.Record]. An account that may not enter books of every kind names the one that it may.
func Enter(tx *models.Tx, shipped *rulebook.Library, e Entry, only rulebook.LocalKind) (*models.LocalBook, bool, error) {
	content := contentOf(e)
	if only != "" && content.Kind != only {
		return nil, false, &models.Error{Kind: models.Forbidden, Key: "problem.local_book_kind", Terms: payroll.Terms{"kind": string(only)}}
	}
	if err := hold(tx); err != nil {
		return nil, false, err
	}
	others, err := standing(tx)
	if err != nil {
		return nil, false, err
	}
	content.Faults = faultsOf(shipped, others, &content, e.Supersedes)
	if len(content.Faults) == 0 {
		if content.Faults, err = placesOf(tx, shipped, others, &content); err != nil {
			return nil, false, err
		}
	}
	book, repeated, err := models.Record(tx, e.ID, content, models.Recording{RecordedAt: tx.Now, Supersedes: e.Supersedes, Reason: e.Reason})
	return book, repeated, err
}

// hold lets one local book in at a time, and none while a run is approved.
func hold(tx *models.Tx) error {
	var profile models.EmployerProfile
	return tx.Locking().Take(&profile).Error
}

func contentOf(e Entry) models.LocalBookContent {
	sum := sha256.Sum256([]byte(e.Text))
	is := rulebook.Identify([]byte(e.Text))
	return models.LocalBookContent{
		Key: is.Key, Kind: is.Local, Parent: is.Parent, Title: is.Title, Body: e.Text, Digest: hex.EncodeToString(sum[:]),
		GardenIDs: e.GardenIDs, WorkerIDs: e.WorkerIDs,
	}
}

// faultsOf are what is wrong with a text beside the books that it will stand with.
func faultsOf(shipped *rulebook.Library, others []models.LocalBook, c *models.LocalBookContent, supersedes *uuid.UUID) []payroll.Fault {
	if len(c.Body) > largestText {
		return []payroll.Fault{{Pointer: "/text", Key: "fault.too_long", Terms: payroll.Terms{"limit": largestText}}}
	}
	var beside []models.LocalBook
	for _, o := range others {
		if supersedes == nil || o.ID != *supersedes {
			beside = append(beside, o)
			continue
		}
		if o.Content.Key != c.Key {
			return []payroll.Fault{{Pointer: "/text", Key: "fault.book_other_key", Terms: payroll.Terms{"value": c.Key, "key": o.Content.Key}}}
		}
	}
	if i := slices.IndexFunc(beside, func(o models.LocalBook) bool { return o.Content.Key == c.Key }); i >= 0 {
		return []payroll.Fault{{Pointer: "/supersedes", Key: "fault.book_stands", Terms: payroll.Terms{"key": c.Key}}}
	}
	library, _ := shipped.Standing(textsOf(beside))
	with, err := library.With(map[string][]byte{c.Key + ".yaml": []byte(c.Body)})
	if err != nil {
		return Faults("/text", err)
	}
	if book, _ := with.Book(c.Key); !book.IsLocal() {
		return []payroll.Fault{{Pointer: "/text", Key: "fault.book_not_local", Terms: payroll.Terms{}}}
	}
	return nil
}

// placesOf wants the gardens of a contract to be under the book that it adds to.
func placesOf(tx *models.Tx, shipped *rulebook.Library, others []models.LocalBook, c *models.LocalBookContent) ([]payroll.Fault, error) {
	if len(c.GardenIDs) == 0 {
		return nil, nil
	}
	gardens, err := models.List[models.Garden](tx, models.Page{Limit: len(c.GardenIDs)}, models.OneOf("id", c.GardenIDs))
	if err != nil {
		return nil, err
	}
	library, _ := shipped.Standing(textsOf(others))
	for _, g := range gardens {
		if !under(library, g.Content.Rulebook, c.Parent) && g.Content.Rulebook != c.Key {
			return []payroll.Fault{{Pointer: "/garden_ids", Key: "fault.garden_elsewhere",
				Terms: payroll.Terms{"garden": g.Content.Name, "rulebook": g.Content.Rulebook, "parent": c.Parent}}}, nil
		}
	}
	return nil, nil
}

// under tells whether a book is another, or adds to it.
func under(books *rulebook.Library, key, forebear string) bool {
	book, ok := books.Book(key)
	return ok && slices.ContainsFunc(book.Chain(), func(b *rulebook.Book) bool { return b.Key() == forebear })
}

// Faults tells each of the joined errors that reading a book ends in, by message key.
func Faults(pointer string, err error) []payroll.Fault {
	var all []payroll.Fault
	for _, e := range apart(err) {
		f := payroll.Fault{Pointer: pointer, Key: "fault.book_problem", Terms: payroll.Terms{"what": e.Error()}}
		var looser *rulebook.Loosening
		var refusal *rulebook.Refusal
		var problem *dated.Problem
		switch {
		case errors.As(e, &looser):
			f.Key, f.Terms = loosening(looser)
		case errors.As(e, &refusal):
			f.Key, f.Terms = "fault.book_"+refusal.Reason, payroll.Terms(refusal.Terms)
		case errors.As(e, &problem):
			f.Key, f.Terms = ProblemKey(problem.Form), termsOf(problem)
		}
		all = append(all, f)
	}
	return all
}

// ProblemKey is the message key of what is wrong with a line of a book, by the words in which its reader has it.
func ProblemKey(form string) string {
	return "fault.book_says." + strings.Trim(notInKeys.ReplaceAllString(strings.ToLower(form), "_"), "_")
}

var notInKeys = regexp.MustCompile(`[^a-z0-9]+`)

// termsOf are where a problem is, and its particulars as a, b and so on, as files write them.
func termsOf(p *dated.Problem) payroll.Terms {
	terms := payroll.Terms{"line": p.Line, "path": cmp.Or(p.Path, "YAML")}
	for i, with := range p.With {
		terms[string(rune('a'+i))] = fmt.Sprint(with)
	}
	return terms
}

// loosening tells of a value that protects less than a forebear's.
func loosening(l *rulebook.Loosening) (string, payroll.Terms) {
	terms := payroll.Terms{"rule": l.Parameter, "value": l.Value.String(), "held": l.Held.String(), "forebear": l.Forebear, "day": l.Day}
	switch {
	case l.Day.IsZero():
		return "fault.book_looser_always", terms
	case l.Past:
		return "fault.book_looser_past", terms
	}
	return "fault.book_looser", terms
}

// apart takes joined errors apart.
func apart(err error) []error {
	several, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return []error{err}
	}
	var all []error
	for _, e := range several.Unwrap() {
		all = append(all, apart(e)...)
	}
	return all
}
