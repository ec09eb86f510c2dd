package clearance

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/rulebook"
)

// Answer says who of a crew may go up on a day.
type Answer struct {
	CrewID  uuid.UUID  `json:"crew_id"`
	Crew    int64      `json:"crew"`
	Name    string     `json:"crew_name"`
	Workday dated.Date `json:"workday"`
	Ways    []Way      `json:"ways"`
	Advice  string     `json:"advice"` // what governs; put into words by Speak
}

// Way is one way up of a crew's day. Of a crew that has not said how it goes up there is one without a name, which clears nobody.
type Way struct {
	SetupID    *uuid.UUID         `json:"setup_id"`
	Way        string             `json:"way"`
	BlockID    *uuid.UUID         `json:"block_id"`
	Block      string             `json:"block"`
	Operation  string             `json:"operation"`
	Rulebook   string             `json:"rulebook"`
	At         *time.Time         `json:"at"` // the instant that the answer is of
	Cleared    int                `json:"cleared"`
	Workers    []Worker           `json:"workers"`
	Provisions []safety.Provision `json:"provisions"`
}

// Worker is the answer for one worker: cleared, or every reason against it.
type Worker struct {
	ID         uuid.UUID           `json:"worker_id"`
	Number     int64               `json:"worker"`
	Name       string              `json:"name"`
	Leads      bool                `json:"leads"`
	Cleared    bool                `json:"cleared"`
	ValidUntil *time.Time          `json:"valid_until"`
	Overridden []safety.Overridden `json:"overridden"`
	Reasons    []safety.Reason     `json:"reasons"`
	Notes      []safety.Note       `json:"notes"`

	answer *safety.ClearanceAnswer
}

// Question asks for the clearance of a crew's day.
type Question struct {
	Crew   uuid.UUID
	Day    dated.Date
	At     *time.Time // as of this instant; nil: as of now for a workday that is today in its garden, else as of when each setup was recorded
	Worker *uuid.UUID // only of this member
}

// asOf is the instant asked about: the one given, else now where the workday can be today somewhere; nil: the one at which a setup was recorded.
func (q *Question) asOf(now time.Time) *time.Time {
	if today := dated.DateOf(now.UTC()); q.At == nil && !q.Day.Before(today.AddDays(-1)) && !q.Day.After(today.AddDays(1)) {
		return &now
	}
	return q.At
}

// Look answers a question from the records. It reads five times, whatever the size of the crew.
func Look(tx *models.Tx, books *rulebook.Library, q Question) (*Answer, error) {
	crew, err := models.Get[models.CrewContent](tx, q.Crew)
	if err != nil {
		return nil, err
	}
	f, err := gather(tx, q, q.Crew)
	if err != nil {
		return nil, fmt.Errorf("gather the facts of crew %d: %w", crew.Content.Number, err)
	}
	return f.answer(books, crew, q, tx.Now)
}

// LookAll answers for several crews of a day. It reads five times, however many there are.
func LookAll(tx *models.Tx, books *rulebook.Library, crews []*models.Crew, day dated.Date) ([]*Answer, error) {
	if len(crews) == 0 {
		return nil, nil
	}
	ids := make([]uuid.UUID, len(crews))
	for i, c := range crews {
		ids[i] = c.ID
	}
	f, err := gather(tx, Question{Day: day}, ids...)
	if err != nil {
		return nil, fmt.Errorf("gather the facts of %d crews: %w", len(crews), err)
	}
	answers := make([]*Answer, len(crews))
	for i, c := range crews {
		if answers[i], err = f.of(c.ID).answer(books, c, Question{Crew: c.ID, Day: day}, tx.Now); err != nil {
			return nil, err
		}
	}
	return answers, nil
}

// answer answers for the crew of which the facts are.
func (f *facts) answer(books *rulebook.Library, crew *models.Crew, q Question, now time.Time) (*Answer, error) {
	a := &Answer{CrewID: crew.ID, Crew: crew.Content.Number, Name: crew.Content.Name, Workday: q.Day, Ways: []Way{}}
	for i := range f.setups {
		way, err := f.way(books, &f.setups[i], q, now)
		if err != nil {
			return nil, err
		}
		a.Ways = append(a.Ways, *way)
	}
	if len(f.setups) == 0 {
		a.Ways = append(a.Ways, f.unsaid())
	}
	return a, nil
}

func (f *facts) way(books *rulebook.Library, s *setup, q Question, now time.Time) (*Way, error) {
	book, ok := books.For(s.Rulebook)
	if !ok {
		return nil, fmt.Errorf("there is no safety rulebook for %s", s.Rulebook)
	}
	d, err := f.drafting(s, book, q, now)
	if err != nil {
		return nil, err
	}
	w := &Way{SetupID: &s.ID, Way: s.Way, BlockID: &s.BlockID, Block: s.Block, Operation: s.Operation, Rulebook: book.Key(), At: &d.at, Workers: []Worker{}}
	for i := range f.members {
		m := &f.members[i]
		answer, err := d.answer(books, book, m)
		if err != nil {
			return nil, fmt.Errorf("worker %d: %w", m.Number, err)
		}
		w.add(m, answer)
	}
	return w, nil
}

func (w *Way) add(m *member, answer *safety.ClearanceAnswer) {
	if answer.Cleared {
		w.Cleared++
	}
	w.Workers = append(w.Workers, Worker{
		ID: m.ID, Number: m.Number, Name: m.Name, Leads: m.Leads, Cleared: answer.Cleared, ValidUntil: answer.ValidUntil,
		Overridden: answer.Overridden, answer: answer,
	})
	for _, p := range answer.Provisions {
		if !slices.Contains(w.Provisions, p) {
			w.Provisions = append(w.Provisions, p)
		}
	}
}

// unsaid is the answer for a crew that has not said how it goes up.
func (f *facts) unsaid() Way {
	w := Way{Workers: []Worker{}, Provisions: []safety.Provision{}}
	for i := range f.members {
		answer := &safety.ClearanceAnswer{Overridden: []safety.Overridden{}, Base: safety.Base{Notes: []safety.Note{}}}
		answer.Stand(safety.Against("setup_missing", safety.Missing, "", "", nil))
		w.add(&f.members[i], answer)
	}
	return w
}

var clearanceFigure, _ = safety.FigureOf("clearance")

// answer holds a member to the book, once for each ladder or lift that is in use, and to the stops.
func (d *drafter) answer(books *rulebook.Library, book *rulebook.Book, m *member) (*safety.ClearanceAnswer, error) {
	var all *safety.ClearanceAnswer
	for _, p := range d.kinds {
		answer, faults := clearanceFigure.Answer(books, d.document(m, book.Key(), p))
		if len(faults) > 0 {
			return nil, unanswerable(faults)
		}
		one := answer.(*safety.ClearanceAnswer)
		if all == nil {
			all = one
		} else {
			all.Join(one)
		}
	}
	if d.retired() {
		all.Stand(safety.Against("equipment_retired", safety.Violation, "", "/equipment", nil))
	}
	for _, s := range d.stops(m) {
		all.Stand(safety.Against("stopped", safety.Violation, "", "", safety.Terms{"person": s.Person, "reason": s.Grounds}))
	}
	return all, nil
}

// unanswerable is a document that the records should not have let in: a moment after the workday is the asker's mistake, anything else the program's.
func unanswerable(faults []safety.Fault) error {
	for _, f := range faults {
		if f.Pointer == "/at" {
			return models.FaultAt("/at", f.Key, map[string]any(f.Terms))
		}
	}
	text, err := json.Marshal(faults)
	return errors.Join(err, fmt.Errorf("the records make a document that cannot be: %s", text))
}

// Speak puts the answer into words.
func (a *Answer) Speak(say safety.Say) {
	for i := range a.Ways {
		for j := range a.Ways[i].Workers {
			w := &a.Ways[i].Workers[j]
			w.answer.Speak(say)
			w.Reasons, w.Notes = w.answer.Reasons, w.answer.Notes
		}
	}
	a.Advice = say("safety.advice", nil)
}

// Own answers for one worker, in each crew that they belong to on a day.
func Own(tx *models.Tx, books *rulebook.Library, worker uuid.UUID, day dated.Date) ([]*Answer, error) {
	var crews []uuid.UUID
	err := tx.DB().Model(&models.CrewMember{}).Scopes(models.MembersOn(day)).Where("worker_id = ?", worker).Order("seq").Pluck("crew_id", &crews).Error
	if err != nil {
		return nil, err
	}
	var answers []*Answer
	for _, crew := range crews {
		a, err := Look(tx, books, Question{Crew: crew, Day: day, Worker: &worker})
		if err != nil {
			return nil, err
		}
		answers = append(answers, a)
	}
	return answers, nil
}
