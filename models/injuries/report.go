package injuries

import (
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/rulebook"
)

// NewReport is a report as it is sent in, with what is known of the case at once.
type NewReport struct {
	models.IncidentReport
	Facts models.CaseFacts `json:"facts,omitzero"`
}

// Report keeps what happened, as a case of its own or in place of a report that stands. Whoever may correct their own reports only is named as author; the zero author corrects any.
func Report(tx *models.Tx, books *rulebook.Library, id uuid.UUID, in NewReport, how models.Recording, author uuid.UUID) (*models.Incident, bool, error) {
	c := models.NewChecker(tx)
	in.Check(c)
	ground, err := groundOf(tx, books, in.GardenID)
	if err != nil && models.KindOf(err) != models.NotFound {
		return nil, false, err
	}
	if ground != nil {
		if err := ground.checkTreatment(c, "/facts/treatment", in.Facts.Treatment, in.HappenedAt); err != nil {
			return nil, false, err
		}
	}
	faults, err := c.Done()
	if err != nil {
		return nil, false, err
	}
	hash := models.ContentHash([]any{in, how.Supersedes})
	if kept, err := models.Repeat[models.Incident](tx, id, hash); kept != nil || err != nil {
		if err != nil {
			return nil, kept != nil, err
		}
		again := []models.Incident{*kept}
		return &again[0], true, models.FillInvolved(tx, again)
	}
	if err := models.Faulty(faults); err != nil {
		return nil, false, err
	}
	if err := ownOnly(tx, how.Supersedes, author); err != nil {
		return nil, false, err
	}
	incident, err := models.KeepIncident(tx, id, hash, ground.dayOf(in.HappenedAt), in.IncidentReport, how)
	if err != nil {
		return nil, false, err
	}
	if in.Facts.Known() {
		facts := models.IncidentEventContent{Kind: models.FactsEvent, HappenedAt: in.HappenedAt, CaseFacts: in.Facts}
		if _, err := models.KeepEvent(tx, id, hash, incident.Content.CaseID, facts, how.RecordedAt); err != nil {
			return nil, false, err
		}
	}
	after := trailOf(incident)
	if in.Arrested != nil && *in.Arrested {
		// One that arrested a fall is out of service until a competent person lets it back.
		if after.Withdrawn, err = gear.HeldFall(tx, in.EquipmentIDs, in.HappenedAt, fmt.Sprintf("#%d", incident.Content.Number)); err != nil {
			return nil, false, err
		}
	}
	action := "report"
	if how.Supersedes != nil {
		action = "correct"
	}
	return incident, false, tx.Audit(models.Audit{Action: action, SubjectKind: "incidents", SubjectID: incident.Content.CaseID, After: after, Reason: how.Reason})
}

// ownOnly wants a report that is to be corrected to be the author's own.
func ownOnly(tx *models.Tx, supersedes *uuid.UUID, author uuid.UUID) error {
	if supersedes == nil || author == uuid.Nil {
		return nil
	}
	own, err := models.List[models.Incident](tx, models.Page{Limit: 1}, models.Equal("id", *supersedes), models.Equal("recorded_by", author))
	if err == nil && len(own) == 0 {
		err = models.FaultAt("/supersedes", "fault.unknown_reference", nil)
	}
	return err
}

// trail is what the audit trail is told of a report: which one, and by its hash what it says, but nothing of anybody's health.
type trail struct {
	ID          uuid.UUID   `json:"id"`
	CaseID      uuid.UUID   `json:"case_id"`
	Number      int64       `json:"number"`
	HappenedOn  models.Date `json:"happened_on"`
	ContentHash string      `json:"content_hash"`
	Withdrawn   []uuid.UUID `json:"withdrawn,omitempty"` // equipment that arrested the fall
}

func trailOf(i *models.Incident) trail {
	return trail{i.ID, i.Content.CaseID, i.Content.Number, i.Content.HappenedOn, i.ContentHash, nil}
}

// Add keeps something that became of a case, which any of its reports names.
func Add(tx *models.Tx, books *rulebook.Library, incident, id uuid.UUID, content models.IncidentEventContent) (*models.IncidentEvent, bool, error) {
	i, err := models.StandingIncident(tx, incident)
	if err != nil {
		return nil, false, err
	}
	ground, err := groundOf(tx, books, i.Content.GardenID)
	if err != nil {
		return nil, false, err
	}
	c := models.NewChecker(tx)
	content.Check(c)
	if err := ground.checkTreatment(c, "/treatment", content.Treatment, i.Content.HappenedAt); err != nil {
		return nil, false, err
	}
	if content.HappenedAt.Before(i.Content.HappenedAt) {
		c.Fault("/happened_at", "fault.before_incident", payroll.Terms{"date": i.Content.HappenedOn.Date})
	}
	if !content.FromDate.IsZero() && content.FromDate.Before(i.Content.HappenedOn.Date) {
		c.Fault("/from_date", "fault.before_incident", payroll.Terms{"date": i.Content.HappenedOn.Date})
	}
	faults, err := c.Done()
	if err != nil {
		return nil, false, err
	}
	hash := models.ContentHash([]any{i.Content.CaseID, content})
	if kept, err := models.Repeat[models.IncidentEvent](tx, id, hash); kept != nil || err != nil {
		return kept, kept != nil, err
	}
	if err := models.Faulty(faults); err != nil {
		return nil, false, err
	}
	e, err := models.KeepEvent(tx, id, hash, i.Content.CaseID, content, tx.Now)
	if err != nil {
		return nil, false, err
	}
	after := struct {
		ID          uuid.UUID `json:"id"`
		Kind        string    `json:"kind"`
		ContentHash string    `json:"content_hash"`
	}{e.ID, e.Content.Kind, hash}
	return e, false, tx.Audit(models.Audit{Action: "add_to_case", SubjectKind: "incidents", SubjectID: e.CaseID, After: after})
}

// ground is where something happened: the garden with its clock, and the book of its jurisdiction.
type ground struct {
	garden *models.Garden
	zone   *time.Location
	book   *rulebook.Book
}

func groundOf(tx *models.Tx, books *rulebook.Library, garden uuid.UUID) (*ground, error) {
	g, err := models.Get[models.GardenContent](tx, garden)
	if err != nil {
		return nil, err
	}
	return groundAt(books, g)
}

func groundAt(books *rulebook.Library, g *models.Garden) (*ground, error) {
	book, ok := books.For(g.Content.Rulebook)
	if !ok {
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.no_safety_book", Terms: payroll.Terms{"rulebook": g.Content.Rulebook}}
	}
	zone, err := models.Zone(g.Content.TimeZone)
	if err != nil {
		return nil, err
	}
	return &ground{garden: g, zone: zone, book: book}, nil
}

// dayOf is the civil day of an instant on the garden's clock.
func (g *ground) dayOf(at time.Time) dated.Date { return dated.DateOf(at.In(g.zone)) }

// endOf is the instant at which a day is over on the garden's clock.
func (g *ground) endOf(day dated.Date) time.Time {
	return models.WorkdayBegin(day.AddDays(1), 0, g.zone).UTC()
}

// The treatments that are no first aid.
const (
	medical = "medical"
	none    = "none"
)

// checkTreatment wants a treatment to be one that the book knows.
func (g *ground) checkTreatment(c *models.Checker, pointer, treatment string, at time.Time) error {
	if treatment == "" || treatment == medical || treatment == none {
		return nil
	}
	list, err := g.book.FirstAid(g.dayOf(at))
	if err != nil {
		return err
	}
	if allowed := append(slices.Clone(list.Value), medical, none); !slices.Contains(allowed, treatment) {
		c.Fault(pointer, "fault.not_one_of", payroll.Terms{"value": treatment, "allowed": allowed})
	}
	return nil
}
