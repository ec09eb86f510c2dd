package handlers

import (
	"net/http"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/daybook"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll"
)

// draftRoutes: a crew's day while its lead still writes it, the same that the pages write, for a device that may have been without a signal.
func draftRoutes() []Route {
	const draft = "/api/v1/crews/{id}/draft"
	return []Route{
		{Method: "GET", Path: draft, Roles: crewLeads, Query: []string{"on"}, Status: http.StatusOK, handle: getDraft},
		{Method: "POST", Path: draft + "/orders", Roles: crewLeads, Query: []string{"on"}, Status: http.StatusCreated, handle: taking(postOrder)},
	}
}

// crewDraft is a crew's day as far as it was not sent yet.
type crewDraft struct {
	CrewID     uuid.UUID          `json:"crew_id"`
	Workday    models.Date        `json:"workday"`
	Place      *daybook.Place     `json:"place"` // where the crew works now; null: nobody has said
	Roll       []uuid.UUID        `json:"roll"`
	NewWorkers []intake.NewWorker `json:"new_workers"`
	Time       []intake.TimeLine  `json:"time"`
	Tallies    []intake.TallyLine `json:"tallies"`
	Lots       []intake.LotLine   `json:"lots"`
	Breaks     []intake.BreakLine `json:"breaks"`
	Waiting    int64              `json:"waiting"` // lines that wait to be sent, time that still runs included
}

// followedOrder is what an order led to.
type followedOrder struct {
	ID      uuid.UUID  `json:"id"`
	Waiting int64      `json:"waiting"` // lines of the draft, as it is now
	Sent    *sentDraft `json:"sent,omitempty"`
}

// sentDraft is what became of a sending. Lines that were refused stay in the draft.
type sentDraft struct {
	SheetID  uuid.UUID     `json:"sheet_id"`
	Recorded int           `json:"recorded"`
	Refused  []refusedLine `json:"refused"`
}

// refusedLine is why a line was not taken in.
type refusedLine struct {
	LineID *uuid.UUID `json:"line_id"` // null: about none in particular
	Key    string     `json:"key"`
	Detail string     `json:"detail"`
}

// draftKey is the crew's day that a request names: no later than today, and of a crew that the caller led on it.
func (rq *request) draftKey(tx *models.Tx) (k daybook.Key, err error) {
	if k.Crew, err = rq.id(); err != nil {
		return k, err
	}
	missing, err := tx.Missing("crews", []uuid.UUID{k.Crew})
	if err != nil {
		return k, err
	}
	if missing[k.Crew] {
		return k, errNotFound
	}
	if k.Day, err = rq.workday(tx); err != nil {
		return k, err
	}
	_, err = rq.leadOf(tx, k.Crew, k.Day)
	return k, err
}

// workday is the day asked for, which has to be named, and to have come.
func (rq *request) workday(tx *models.Tx) (models.Date, error) {
	on, err := rq.askedOn()
	if err != nil {
		return models.Date{}, err
	}
	if on.IsZero() {
		return models.Date{}, faultyQuery([]payroll.Fault{{Pointer: "on", Key: "fault.empty"}})
	}
	today, err := payrun.Today(tx)
	if err != nil {
		return models.Date{}, err
	}
	c := models.NewChecker(tx)
	c.DayUntil("on", on, today)
	faults, _ := c.Done() // a day refers to nothing
	return models.Day(on), faultyQuery(faults)
}

func getDraft(rq *request) (*reply, error) {
	var shown crewDraft
	err := rq.view(func(tx *models.Tx) error {
		k, err := rq.draftKey(tx)
		if err != nil {
			return err
		}
		d, err := daybook.Read(tx, k)
		if err != nil {
			return err
		}
		shown = crewDraft{
			k.Crew, k.Day, d.Place, listed(d.Roll), listed(d.NewWorkers), listed(d.Time), listed(d.Tallies), listed(d.Lots), listed(d.Breaks), d.Waiting(),
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return plain(shown), nil
}

// listed is a list that is empty rather than null.
func listed[T any](all []T) []T { return append([]T{}, all...) }

func postOrder(rq *request, in daybook.Order) (*reply, error) {
	var done *daybook.Done
	err := rq.in(func(tx *models.Tx) error {
		k, err := rq.draftKey(tx)
		if err != nil {
			return err
		}
		done, err = daybook.Follow(tx, rq.Books, k, in)
		return withFaults(err, false, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: followedOrder{in.ID, done.Draft.Waiting(), rq.tellSent(in.ID, done.Sent)}, repeated: done.Repeated}, nil
}

// tellSent says what became of a sending, whose sheet has the identifier of the order.
func (rq *request) tellSent(sheet uuid.UUID, s *daybook.Sent) *sentDraft {
	if s == nil {
		return nil
	}
	told := &sentDraft{sheet, s.Recorded, []refusedLine{}}
	for _, r := range s.Refused {
		told.Refused = append(told.Refused, refusedLine{given(r.Line), r.Fault.Key, rq.say(r.Fault.Key, r.Fault.Terms)})
	}
	return told
}
