package models

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// Incident is what happened to somebody, or nearly did. A correction takes its place and keeps its case; what became of it is in the events of the case.
type Incident = Recorded[IncidentContent]

// IncidentContent is what was reported, with what the program gave the case. HappenedOn is the civil day on the garden's clock.
type IncidentContent struct {
	CaseID         uuid.UUID `json:"case_id"` // the identifier of the first report
	Number         int64     `json:"number"`
	HappenedOn     Date      `json:"happened_on"`
	IncidentReport `gorm:"embedded"`
}

// IncidentReport says what happened: to whom, when, where, to what part of the body, by what, from how high. A near miss may name nobody.
type IncidentReport struct {
	Kind        string     `json:"kind"` // one of IncidentKinds
	HappenedAt  time.Time  `json:"happened_at"`
	WorkerID    *uuid.UUID `json:"worker_id,omitempty"`
	GardenID    uuid.UUID  `json:"garden_id"`
	BlockID     *uuid.UUID `json:"block_id,omitempty"`
	OperationID *uuid.UUID `json:"operation_id,omitempty"`
	ReporterID  *uuid.UUID `json:"reporter_id,omitempty"` // the worker who told of it; who wrote it down is recorded anyway
	Place       string     `json:"place,omitempty"`
	JobTitle    string     `json:"job_title,omitempty"`
	Description string     `json:"description"`
	BodyPart    string     `json:"body_part,omitempty"`
	Cause       string     `json:"cause,omitempty"`                                  // the object or substance that did it
	Condition   string     `gorm:"column:condition_type" json:"condition,omitempty"` // one of Conditions; empty: by the kind
	Height      *Quantity  `gorm:"column:height_ft" json:"height_ft,omitempty" twin:"height_m"`
	Arrested    *bool      `json:"arrested,omitempty"` // whether fall gear held the fall
	Privacy     string     `json:"privacy,omitempty"`  // one of PrivacyGrounds; empty: none, the name stands on the log
	Involved
}

func (*IncidentContent) table() string { return "incidents" }

// NearMiss is the kind of an incident that hurt nobody.
const NearMiss = "near_miss"

// IncidentKinds lists what can happen.
var IncidentKinds = []string{"knife_cut", "thorn_puncture", "fall", "heat_illness", "struck", "strain", "sting", "eye", "pesticide", "other", NearMiss}

// Conditions are the kinds of harm in the columns of the log (29 CFR 1904.29, form 300, column M).
var Conditions = []string{"injury", "skin", "respiratory", "poisoning", "hearing", "illness"}

// ConditionOf is the column of the log that a kind of incident belongs to where the report does not say.
func ConditionOf(kind string) string {
	switch kind {
	case "heat_illness":
		return "illness"
	case "pesticide":
		return "poisoning"
	}
	return "injury"
}

// PrivacyGrounds are the reasons for which the name is kept off the log (29 CFR 1904.29(b)(7), from memory); the last is the worker's own wish, for an illness.
var PrivacyGrounds = []string{"intimate_part", "sexual_assault", "mental_illness", "infection", "contaminated_sharp", "asked"}

// Involved are the things that had a part in an incident.
type Involved struct {
	EquipmentIDs IDs `gorm:"-" json:"equipment_ids,omitempty"`
	PalmIDs      IDs `gorm:"-" json:"palm_ids,omitempty"`
	GearIssueIDs IDs `gorm:"-" json:"gear_issue_ids,omitempty"`
}

// involvement is one thing's part in an incident: one of the three identifiers is there.
type involvement struct {
	EmployerID  uuid.UUID `gorm:"primaryKey"`
	IncidentID  uuid.UUID `gorm:"primaryKey"`
	No          int64     `gorm:"primaryKey"`
	EquipmentID *uuid.UUID
	PalmID      *uuid.UUID
	GearIssueID *uuid.UUID
}

// TableName tells gorm the table.
func (involvement) TableName() string { return "incident_subjects" }

func (v *Involved) check(c *Checker) {
	for _, list := range []struct {
		pointer, table string
		ids            IDs
	}{{"/equipment_ids", "equipment", v.EquipmentIDs}, {"/palm_ids", "palms", v.PalmIDs}, {"/gear_issue_ids", "gear_issues", v.GearIssueIDs}} {
		if len(list.ids) > mostInvolved {
			c.Fault(list.pointer, "fault.too_many_items", payroll.Terms{"limit": mostInvolved})
			continue
		}
		c.References(list.pointer, list.table, list.ids)
	}
}

// keepInvolved ties the things that had a part in an incident to it.
func keepInvolved(tx *Tx, incident uuid.UUID, v Involved) error {
	var rows []involvement
	add := func(ids IDs, where func(*involvement) **uuid.UUID) {
		for i := range ids {
			row := involvement{IncidentID: incident, No: int64(len(rows))}
			*where(&row) = &ids[i]
			rows = append(rows, row)
		}
	}
	add(v.EquipmentIDs, func(r *involvement) **uuid.UUID { return &r.EquipmentID })
	add(v.PalmIDs, func(r *involvement) **uuid.UUID { return &r.PalmID })
	add(v.GearIssueIDs, func(r *involvement) **uuid.UUID { return &r.GearIssueID })
	return InsertAll(tx, rows)
}

const (
	longDescription = 2_000
	mostInvolved    = 20
)

// Check notes what cannot be in a report.
func (i *IncidentReport) Check(c *Checker) {
	c.OneOf("/kind", i.Kind, IncidentKinds...)
	c.Moment("/happened_at", &i.HappenedAt, c.tx.Now.Add(clockSlack))
	c.Reference("/garden_id", "gardens", i.GardenID)
	c.OptionalReference("/worker_id", "workers", i.WorkerID)
	c.OptionalReference("/block_id", "blocks", i.BlockID)
	c.OptionalReference("/operation_id", "operations", i.OperationID)
	c.OptionalReference("/reporter_id", "workers", i.ReporterID)
	if i.WorkerID == nil && i.Kind != NearMiss {
		c.Fault("/worker_id", "fault.hurt_worker_needed", nil)
	}
	c.Text("/description", &i.Description, longDescription)
	c.OptionalText("/place", &i.Place, shortText)
	c.OptionalText("/job_title", &i.JobTitle, shortText)
	c.OptionalText("/body_part", &i.BodyPart, shortText)
	c.OptionalText("/cause", &i.Cause, shortText)
	c.OptionalWord("/condition", i.Condition, Conditions...)
	c.OptionalWord("/privacy", i.Privacy, PrivacyGrounds...)
	c.Quantity("/height_ft", i.Height, 0, 200)
	i.Involved.check(c)
}

// KeepIncident writes a report that was checked, as a case of its own or in place of one that stands. What it says to the audit trail is the caller's business.
func KeepIncident(tx *Tx, id uuid.UUID, hash string, on dated.Date, report IncidentReport, how Recording) (*Incident, error) {
	c := IncidentContent{CaseID: id, HappenedOn: Day(on), IncidentReport: report}
	before, err := supersede[IncidentContent](tx, id, how)
	if err != nil {
		return nil, err
	}
	if old, ok := before.(Incident); ok {
		c.CaseID, c.Number = old.Content.CaseID, old.Content.Number
	} else if c.Number, err = tx.NextNumber("incidents"); err != nil {
		return nil, err
	}
	i := &Incident{Keyed: Keyed{ID: id, ContentHash: hash}, Content: c, RecordedAt: how.RecordedAt.UTC(), ReceivedAt: tx.Now, RecordedBy: tx.Actor, Reason: how.Reason}
	if err := tx.DB().Create(i).Error; err != nil {
		return nil, translate(err)
	}
	return i, keepInvolved(tx, id, report.Involved)
}

// OptionalReference wants id, where there is one, to be a record of this employer in a table.
func (c *Checker) OptionalReference(pointer, table string, id *uuid.UUID) {
	if id != nil {
		c.Reference(pointer, table, *id)
	}
}

// OptionalWord wants one of a few words, or none.
func (c *Checker) OptionalWord(pointer, s string, words ...string) {
	if s != "" {
		c.OneOf(pointer, s, words...)
	}
}

// IncidentEvent is something that became of a case, or became known of it.
type IncidentEvent struct {
	Keyed
	CaseID     uuid.UUID            `json:"case_id"`
	Content    IncidentEventContent `gorm:"embedded" json:"-"`
	RecordedAt time.Time            `json:"recorded_at"`
	ReceivedAt time.Time            `json:"received_at"`
	RecordedBy uuid.UUID            `json:"recorded_by"`
}

// TableName tells gorm the table.
func (IncidentEvent) TableName() string { return "incident_events" }

// MarshalJSON writes the event's own fields and its content's as one object.
func (e IncidentEvent) MarshalJSON() ([]byte, error) {
	type head IncidentEvent
	return joined(head(e), e.Content)
}

// The kinds of event.
const (
	FactsEvent  = "facts"         // what the case is: treatment and outcome
	WorkEvent   = "work"          // from a day on the worker is away, restricted, or back at the usual work
	AgencyEvent = "agency_report" // it was reported to an agency
	Decision    = "decision"      // the officer has looked at it, and it is one for the log or is none
	NoteEvent   = "note"
)

// EventKinds lists them.
var EventKinds = []string{FactsEvent, WorkEvent, AgencyEvent, Decision, NoteEvent}

// How a worker can work after an incident.
const (
	Away       = "away"       // not at all
	Restricted = "restricted" // not all of the usual work, or another
	Back       = "working"    // as before
)

// IncidentEventContent is what an event says. HappenedAt is when it happened or became known.
type IncidentEventContent struct {
	Kind       string    `json:"kind"`
	HappenedAt time.Time `json:"happened_at"`
	CaseFacts  `gorm:"embedded"`
	WorkStatus string `json:"work_status,omitempty"`        // of WorkEvent: Away, Restricted or Back
	FromDate   Date   `json:"from_date,omitempty,omitzero"` // of WorkEvent: the first day of it
	ReportedTo string `json:"reported_to,omitempty"`        // of AgencyEvent
	// AgencyReference is the number by which the agency knows the report; "" where it gave none.
	AgencyReference string `json:"agency_reference,omitempty"`
	Recordable      *bool  `json:"recordable,omitempty"` // of Decision
	Note            string `json:"note,omitempty"`
}

// CaseFacts are the facts by which an injury is one to record or to report, named as in the safety engine's document "recordable". Nil and empty are unknown.
type CaseFacts struct {
	Treatment     string `json:"treatment,omitempty"` // a first-aid treatment of the rulebook, "medical", or "none"
	Unconscious   *bool  `json:"loss_of_consciousness,omitempty"`
	Death         *bool  `json:"death,omitempty"`
	Inpatient     *bool  `json:"inpatient,omitempty"`
	Amputation    *bool  `json:"amputation,omitempty"`
	EyeLoss       *bool  `json:"eye_loss,omitempty"`
	Disfigurement *bool  `json:"disfigurement,omitempty"`
}

// Known tells whether any fact is.
func (f CaseFacts) Known() bool { return f != CaseFacts{} }

// Learn takes over what later facts say.
func (f *CaseFacts) Learn(later CaseFacts) {
	if later.Treatment != "" {
		f.Treatment = later.Treatment
	}
	for _, fact := range []struct{ known, now **bool }{
		{&f.Unconscious, &later.Unconscious}, {&f.Death, &later.Death}, {&f.Inpatient, &later.Inpatient},
		{&f.Amputation, &later.Amputation}, {&f.EyeLoss, &later.EyeLoss}, {&f.Disfigurement, &later.Disfigurement},
	} {
		if *fact.now != nil {
			*fact.known = *fact.now
		}
	}
}

// Check notes what cannot be in an event.
func (e *IncidentEventContent) Check(c *Checker) {
	c.OneOf("/kind", e.Kind, EventKinds...)
	c.Moment("/happened_at", &e.HappenedAt, c.tx.Now.Add(clockSlack))
	c.OptionalText("/note", &e.Note, longDescription)
	c.OptionalText("/reported_to", &e.ReportedTo, shortText)
	if c.OptionalText("/agency_reference", &e.AgencyReference, shortText); e.AgencyReference != "" && e.Kind != AgencyEvent {
		c.Fault("/agency_reference", "fault.not_of_event", payroll.Terms{"kind": AgencyEvent})
	}
	belongs := func(pointer string, given bool, kind string) {
		if given && e.Kind != kind {
			c.Fault(pointer, "fault.not_of_event", payroll.Terms{"kind": kind})
		}
		if !given && e.Kind == kind {
			c.Fault(pointer, "fault.empty", nil)
		}
	}
	belongs("/treatment", e.Known(), FactsEvent)
	belongs("/work_status", e.WorkStatus != "", WorkEvent)
	belongs("/from_date", !e.FromDate.IsZero(), WorkEvent)
	belongs("/reported_to", e.ReportedTo != "", AgencyEvent)
	belongs("/recordable", e.Recordable != nil, Decision)
	c.OptionalWord("/work_status", e.WorkStatus, Away, Restricted, Back)
	if !e.FromDate.IsZero() {
		c.Planned("/from_date", e.FromDate.Date)
	}
	if (e.Kind == NoteEvent || e.Kind == Decision) && e.Note == "" {
		c.Fault("/note", "fault.empty", nil)
	}
}

// InjurySummary says that a year's summary was certified and when it was posted: of a garden, or of all.
type InjurySummary = Recorded[InjurySummaryContent]

// InjurySummaryContent is what the person who certifies says.
type InjurySummaryContent struct {
	Year             int64      `json:"year"`
	GardenID         *uuid.UUID `json:"garden_id,omitempty"`
	AverageEmployees int64      `json:"average_employees"` // over the year
	CertifiedBy      string     `json:"certified_by"`
	CertifiedTitle   string     `json:"certified_title"`
	CertifiedOn      Date       `json:"certified_on"`
	PostedOn         Date       `json:"posted_on,omitempty,omitzero"`
}

func (*InjurySummaryContent) table() string { return "injury_summaries" }

func (s *InjurySummaryContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Range("/year", s.Year, int64(earliest.Year()), int64(tx.Now.Year()))
	c.OptionalReference("/garden_id", "gardens", s.GardenID)
	c.Range("/average_employees", s.AverageEmployees, 1, 1_000_000)
	c.Text("/certified_by", &s.CertifiedBy, shortText)
	c.Text("/certified_title", &s.CertifiedTitle, shortText)
	c.Day("/certified_on", s.CertifiedOn.Date)
	if !s.PostedOn.IsZero() {
		c.Day("/posted_on", s.PostedOn.Date)
	}
	return c.Done()
}

// HappenedFrom keeps the incidents of a day or a later one.
func HappenedFrom(day dated.Date) Condition { return Where("happened_on >= ?", Day(day)) }

// HappenedThrough keeps the incidents of a day or an earlier one.
func HappenedThrough(day dated.Date) Condition { return Where("happened_on <= ?", Day(day)) }

// IncidentsOf lists the reports that stand and that the conditions keep, with the things that had a part in them, in the order of arrival: two statements.
func IncidentsOf(tx *Tx, p Page, conditions ...Condition) ([]Incident, error) {
	all, err := List[Incident](tx, p, append(slices.Clone(conditions), Standing(true))...)
	if err != nil {
		return nil, err
	}
	return all, FillInvolved(tx, all)
}

// FillInvolved reads the things that had a part in incidents into them.
func FillInvolved(tx *Tx, all []Incident) error {
	at := make(map[uuid.UUID]int, len(all))
	ids := make([]uuid.UUID, len(all))
	for i := range all {
		at[all[i].ID], ids[i] = i, all[i].ID
	}
	if len(all) == 0 {
		return nil
	}
	var rows []involvement
	if err := tx.DB().Scopes(tx.Among("incident_id", ids)).Order("incident_id, no").Find(&rows).Error; err != nil {
		return translate(err)
	}
	for _, row := range rows {
		v := &all[at[row.IncidentID]].Content.Involved
		switch {
		case row.EquipmentID != nil:
			v.EquipmentIDs = append(v.EquipmentIDs, *row.EquipmentID)
		case row.PalmID != nil:
			v.PalmIDs = append(v.PalmIDs, *row.PalmID)
		case row.GearIssueID != nil:
			v.GearIssueIDs = append(v.GearIssueIDs, *row.GearIssueID)
		}
	}
	return nil
}

// IncidentsWith keeps the incidents in which a piece of equipment, a palm or a gear issue had a part.
func IncidentsWith(tx *Tx, thing uuid.UUID) Condition {
	return Where("id IN (SELECT s.incident_id FROM incident_subjects s WHERE s.employer_id = ? AND (s.equipment_id = ? OR s.palm_id = ? OR s.gear_issue_id = ?))",
		tx.Employer, thing, thing, thing)
}

// OpenCases keeps the reports of cases on which the officer has not decided, or with an outcome that an agency may have to be told of and no report to one.
func OpenCases(tx *Tx) Condition {
	return Where(`kind <> ? AND NOT EXISTS (SELECT 1 FROM incident_events d WHERE d.employer_id = ? AND d.case_id = incidents.case_id AND d.kind = 'decision')
		OR EXISTS (SELECT 1 FROM incident_events f WHERE f.employer_id = ? AND f.case_id = incidents.case_id AND (f.death OR f.inpatient OR f.amputation OR f.eye_loss OR f.disfigurement)
			AND NOT EXISTS (SELECT 1 FROM incident_events a WHERE a.employer_id = ? AND a.case_id = f.case_id AND a.kind = 'agency_report' AND a.happened_at >= f.happened_at))`,
		NearMiss, tx.Employer, tx.Employer, tx.Employer)
}

// PostedOf tells whether a year's summary was posted.
func PostedOf(tx *Tx, year int) (bool, error) {
	all, err := List[InjurySummary](tx, Page{Limit: 1}, Equal("year", year), Standing(true), Where("posted_on IS NOT NULL"))
	return len(all) > 0, err
}

// FirstIncidentOn is the day of the earliest incident on record; zero where there is none.
func FirstIncidentOn(tx *Tx) (dated.Date, error) {
	var first []Incident
	err := tx.DB().Order("happened_on, seq").Limit(1).Find(&first).Error
	if err != nil || len(first) == 0 {
		return dated.Date{}, translate(err)
	}
	return first[0].Content.HappenedOn.Date, nil
}

// KeepEvent writes an event that was checked.
func KeepEvent(tx *Tx, id uuid.UUID, hash string, of uuid.UUID, c IncidentEventContent, recordedAt time.Time) (*IncidentEvent, error) {
	e := &IncidentEvent{Keyed: Keyed{ID: id, ContentHash: hash}, CaseID: of, Content: c, RecordedAt: recordedAt.UTC(), ReceivedAt: tx.Now, RecordedBy: tx.Actor}
	return e, translate(tx.DB().Create(e).Error)
}

// StandingIncident returns the report that stands of the case that any report of it names.
func StandingIncident(tx *Tx, id uuid.UUID) (*Incident, error) {
	all, err := IncidentsOf(tx, Page{Limit: 1}, Where("case_id = (SELECT c.case_id FROM incidents c WHERE c.employer_id = ? AND c.id = ?)", tx.Employer, id))
	if err == nil && len(all) == 0 {
		err = &Error{Kind: NotFound, Key: "problem.not_found"}
	}
	if err != nil {
		return nil, err
	}
	return &all[0], nil
}

// EventsOf lists the events of some cases, in the order of arrival.
func EventsOf(tx *Tx, cases []uuid.UUID) (map[uuid.UUID][]IncidentEvent, error) {
	var rows []IncidentEvent
	err := tx.DB().Scopes(tx.Among("case_id", cases)).Order("seq").Find(&rows).Error
	byCase := map[uuid.UUID][]IncidentEvent{}
	for _, e := range rows {
		byCase[e.CaseID] = append(byCase[e.CaseID], e)
	}
	return byCase, translate(err)
}

// HappenedTo keeps the incidents of a worker, those of a provisional hand who turned out to be them included.
func HappenedTo(tx *Tx, worker uuid.UUID) Condition {
	return OfPerson(tx.Employer, worker)
}
