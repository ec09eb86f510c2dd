package models

import (
	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// Worker is a person who does hand work for the employer.
type Worker = Kept[WorkerContent]

// WorkerContent is what is set of a worker. A provisional worker is a hand whom a crew lead recorded by name only: the work is kept and
// waits for the clerk to complete the details or to say which known worker it is.
type WorkerContent struct {
	Number      int64      `json:"number,omitempty"`
	Name        string     `json:"name"`
	Address     string     `json:"address,omitempty"` // permanent address; statements must show it
	BirthDate   Date       `json:"birth_date,omitempty,omitzero"`
	Language    string     `json:"language"`
	StartedOn   Date       `json:"started_on"`
	EndedOn     Date       `json:"ended_on,omitempty,omitzero"`
	Provisional bool       `json:"provisional,omitempty"`
	SameAs      *uuid.UUID `json:"same_as,omitempty"` // the worker whom this provisional one turned out to be
	// Minutes of the worker's usual workday, for caps on leave that are counted in days; without it their hours alone count.
	UsualDayMinutes payroll.Minutes `json:"usual_day_minutes,omitempty"`
}

func (*WorkerContent) table() string             { return "workers" }
func (w *WorkerContent) numberIn() *int64        { return &w.Number }
func (w *WorkerContent) keep(old *WorkerContent) { keepNumber(&w.Number, old.Number) }

func (w *WorkerContent) check(tx *Tx, id uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Range("/number", w.Number, 0, maxNumber)
	c.Text("/name", &w.Name, shortText)
	c.OptionalText("/address", &w.Address, longText)
	if w.Address == "" && !w.Provisional && w.SameAs == nil {
		c.Fault("/address", "fault.address_needed", nil)
	}
	c.Language("/language", &w.Language)
	c.Planned("/started_on", w.StartedOn.Date)
	if !w.EndedOn.IsZero() {
		c.Planned("/ended_on", w.EndedOn.Date)
		if w.EndedOn.Before(w.StartedOn.Date) {
			c.Fault("/ended_on", "fault.ends_before_start", nil)
		}
	}
	if !w.BirthDate.IsZero() && (w.BirthDate.Before(dated.MustDate("1900-01-01")) || w.BirthDate.After(w.StartedOn.Date)) {
		c.Fault("/birth_date", "fault.birth_implausible", nil)
	}
	c.Range("/usual_day_minutes", int64(w.UsualDayMinutes), 0, 24*60)
	w.checkSameAs(c, tx, id)
	return c.Done()
}

// checkSameAs wants the other to be a settled worker, so that one step leads from a provisional hand to a payable one.
func (w *WorkerContent) checkSameAs(c *Checker, tx *Tx, id uuid.UUID) {
	if w.SameAs == nil {
		return
	}
	other, err := Get[WorkerContent](tx, *w.SameAs)
	switch {
	case KindOf(err) == NotFound:
		c.Fault("/same_as", "fault.unknown_reference", nil)
	case err != nil:
		c.err = err
	case *w.SameAs == id, other.Content.Provisional, other.Content.SameAs != nil:
		c.Fault("/same_as", "fault.same_as_unsettled", nil)
	}
}

// Crew is a group of workers who go out together.
type Crew = Kept[CrewContent]

// CrewContent is what is set of a crew.
type CrewContent struct {
	Number int64  `json:"number,omitempty"`
	Name   string `json:"name"`
}

func (*CrewContent) table() string           { return "crews" }
func (k *CrewContent) numberIn() *int64      { return &k.Number }
func (k *CrewContent) keep(old *CrewContent) { keepNumber(&k.Number, old.Number) }

func (k *CrewContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Range("/number", k.Number, 0, maxNumber)
	c.Text("/name", &k.Name, shortText)
	return c.Done()
}

// CrewMember says that a worker belongs to a crew from a day through another, or from a day on.
type CrewMember = Kept[CrewMemberContent]

// CrewMemberContent is what is set of a membership.
type CrewMemberContent struct {
	CrewID      uuid.UUID `json:"crew_id"`
	WorkerID    uuid.UUID `json:"worker_id"`
	Leads       bool      `json:"leads,omitempty"` // whether the worker leads the crew meanwhile
	FromDate    Date      `json:"from_date"`
	ThroughDate Date      `json:"through_date,omitempty,omitzero"`
}

func (*CrewMemberContent) table() string { return "crew_members" }

func (m *CrewMemberContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/crew_id", "crews", m.CrewID)
	c.Reference("/worker_id", "workers", m.WorkerID)
	c.Planned("/from_date", m.FromDate.Date)
	if !m.ThroughDate.IsZero() && m.ThroughDate.Before(m.FromDate.Date) {
		c.Fault("/through_date", "fault.ends_before_start", nil)
	}
	return c.Done()
}

// Leads tells whether a worker leads a crew on a day.
func (t *Tx) Leads(worker, crew uuid.UUID, day dated.Date) (bool, error) {
	var n int64
	err := t.DB().Model(&CrewMember{}).
		Where("worker_id = ? AND crew_id = ? AND leads AND from_date <= ? AND (through_date IS NULL OR through_date >= ?)", worker, crew, Day(day), Day(day)).
		Count(&n).Error
	return n > 0, translate(err)
}
