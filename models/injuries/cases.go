package injuries

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// Case is a report that stands, what became of it, and what the engine makes of it.
type Case struct {
	Incident   models.Incident          `json:"incident"`
	Events     []models.IncidentEvent   `json:"events"`
	Facts      models.CaseFacts         `json:"facts"`       // the last word on each
	WorkStatus string                   `json:"work_status"` // today's; "": nobody has said
	Days       Days                     `json:"days"`        // as the log counts them
	Assessment *safety.RecordableAnswer `json:"assessment"`  // null for a near miss of which no facts are known: there is nothing to record
	Decision   *bool                    `json:"decision"`    // the officer's; null: none yet

	ground    *ground
	engine    *safety.Recordable
	stretches []Stretch
	counted   Days
	limit     *dated.Value[quantity.Number]
}

// DaysTold are the days of a case in full: stretch by stretch, their sums, and the most that the log counts of them.
type DaysTold struct {
	Stretches []Stretch
	Counted   Days // before the limit
	Limit     int  // of a case, away and restricted together
	Authority string
	Standing  dated.Standing
}

// TellDays tells how the days of the case come about.
func (c *Case) TellDays() DaysTold {
	return DaysTold{c.stretches, c.counted, int(c.limit.Value.Float()), c.limit.Source.Section, c.limit.Standing}
}

// Zone is the clock of the place.
func (c *Case) Zone() *time.Location { return c.ground.zone }

// Treatments are what a treatment of the case can be: first aid by the rulebook of the place, more than that, or none.
func (c *Case) Treatments() ([]string, error) {
	list, err := c.ground.book.FirstAid(c.Incident.Content.HappenedOn.Date)
	if err != nil {
		return nil, noValue(err)
	}
	return append([]string{none, medical}, list.Value...), nil
}

// Logged tells whether a case stands in the log: by the officer's decision, else by the engine's.
func (c *Case) Logged() bool {
	if c.Decision != nil {
		return *c.Decision
	}
	return c.Assessment != nil && c.Assessment.Recordable != nil && *c.Assessment.Recordable
}

// Class is the column of the log that a case is counted in, by its gravest outcome.
type Class string

// The columns G to J.
const (
	DeathCase      Class = "death"
	AwayCase       Class = "days_away"
	RestrictedCase Class = "restricted"
	OtherCase      Class = "other"
)

// Class is the case's column.
func (c *Case) Class() Class {
	switch {
	case c.Facts.Death != nil && *c.Facts.Death:
		return DeathCase
	case c.Days.Away > 0:
		return AwayCase
	case c.Days.Restricted > 0:
		return RestrictedCase
	}
	return OtherCase
}

// Condition is the case's column of M.
func (c *Case) Condition() string {
	if c.Incident.Content.Condition != "" {
		return c.Incident.Content.Condition
	}
	return models.ConditionOf(c.Incident.Content.Kind)
}

// Find returns the case that any of its reports names.
func Find(tx *models.Tx, books *rulebook.Library, id uuid.UUID) (*Case, error) {
	i, err := models.StandingIncident(tx, id)
	if err != nil {
		return nil, err
	}
	cases, err := Assess(tx, books, []models.Incident{*i})
	if err != nil {
		return nil, err
	}
	return &cases[0], nil
}

// List lists cases in the order in which their standing reports arrived, one more than the limit where more follow: five statements whatever their number.
func List(tx *models.Tx, books *rulebook.Library, p models.Page, conditions ...models.Condition) ([]Case, error) {
	incidents, err := models.IncidentsOf(tx, p, conditions...)
	if err != nil {
		return nil, err
	}
	return Assess(tx, books, incidents)
}

// Assess reads what became of some reports and has the engine judge them, as of now.
func Assess(tx *models.Tx, books *rulebook.Library, incidents []models.Incident) ([]Case, error) {
	cases := make([]Case, len(incidents))
	if len(incidents) == 0 {
		return cases, nil
	}
	ids := make([]uuid.UUID, len(incidents))
	for i := range incidents {
		ids[i] = incidents[i].Content.CaseID
	}
	events, err := models.EventsOf(tx, ids)
	if err != nil {
		return nil, err
	}
	gardens, err := models.All[models.GardenContent](tx)
	if err != nil {
		return nil, err
	}
	for i := range incidents {
		c := &cases[i]
		c.Incident, c.Events = incidents[i], append([]models.IncidentEvent{}, events[incidents[i].Content.CaseID]...)
		if c.ground, err = groundAt(books, gardens[incidents[i].Content.GardenID]); err != nil {
			return nil, err
		}
		if err := c.judge(books, dated.DateOf(tx.Now.In(c.ground.zone))); err != nil {
			return nil, err
		}
	}
	return cases, nil
}

// judge gathers the facts as they are known on a day and asks the engine.
func (c *Case) judge(books *rulebook.Library, today dated.Date) error {
	turns := 0
	for _, e := range c.Events {
		switch e.Content.Kind {
		case models.FactsEvent:
			c.Facts.Learn(e.Content.CaseFacts)
		case models.WorkEvent:
			turns++
		case models.Decision:
			c.Decision = e.Content.Recordable
		}
	}
	happened := c.Incident.Content.HappenedOn.Date
	c.stretches = stretchesOf(happened, c.Events, today)
	days := countDays(c.stretches)
	limit, err := c.ground.book.Number(rulebook.DaysCap, happened)
	if err != nil {
		return noValue(err)
	}
	c.counted, c.limit = days, limit
	c.Days, c.WorkStatus = days.capped(int(limit.Value.Float())), statusOn(c.Events, today)
	if c.Incident.Content.Kind == models.NearMiss && !c.Facts.Known() && turns == 0 {
		return nil
	}
	f := c.Facts
	c.engine = &safety.Recordable{
		Head: safety.Head{Rulebook: c.ground.book.Key(), On: happened}, Injury: c.Incident.Content.Kind, Treatment: f.Treatment,
		Unconscious: f.Unconscious, Death: f.Death, Inpatient: f.Inpatient, Amputation: f.Amputation, EyeLoss: f.EyeLoss, Disfigurement: f.Disfigurement,
	}
	if turns > 0 { // somebody has said how the worker can work
		c.engine.DaysAway, c.engine.RestrictedDays = &days.Away, &days.Restricted
	}
	answer, err := ask(books, "recordable", c.engine)
	if err != nil {
		return err
	}
	c.Assessment = answer.(*safety.RecordableAnswer)
	return nil
}
