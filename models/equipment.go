package models

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety"
)

// Equipment is a thing that people climb on, ride in or hang from.
type Equipment = Kept[EquipmentContent]

// EquipmentContent is what is set of a piece of equipment. Its state follows from its events.
type EquipmentContent struct {
	GardenID         uuid.UUID     `json:"garden_id"` // whose rulebook says how often it is looked over
	Kind             EquipmentKind `json:"kind"`
	Code             string        `json:"code"` // as painted on it, such as "L-07"; unique
	Description      string        `json:"description"`
	Maker            string        `json:"maker,omitempty"`
	Model            string        `json:"model,omitempty"`
	Serial           string        `json:"serial,omitempty"`
	PalmID           *uuid.UUID    `json:"palm_id,omitempty"` // to which palm a ladder is attached
	Ratings          Ratings       `json:"ratings,omitzero"`
	FirstUsedOn      Date          `json:"first_used_on,omitempty,omitzero"`
	RetireBy         Date          `json:"retire_by,omitempty,omitzero"` // the last day of use
	InspectionMonths *int64        `json:"inspection_months,omitempty"`  // how often a competent person looks it over by the maker's manual
	InspectionSource string        `json:"inspection_source,omitempty"`  // the manual and its page; required with the months

	State      EquipmentState `json:"-"`
	StateEvent *uuid.UUID     `json:"-"` // the event that made the state; nil: nothing has happened yet
	PreUseOn   Date           `json:"-"` // the last inspection before use that it passed
	PeriodicOn Date           `json:"-"` // the last one by a competent person
}

func (*EquipmentContent) table() string { return "equipment" }

func (e *EquipmentContent) keep(old *EquipmentContent) {
	e.State, e.StateEvent, e.PreUseOn, e.PeriodicOn = old.State, old.StateEvent, old.PreUseOn, old.PeriodicOn
}

// EquipmentKind is a kind of equipment as the safety rulebooks name it.
type EquipmentKind string

// The kinds of equipment.
const (
	PortableLadder EquipmentKind = "portable_ladder"
	AttachedLadder EquipmentKind = "attached_ladder"
	Lift           EquipmentKind = "lift"
	ClimbingGear   EquipmentKind = "climbing_gear"
	Harness        EquipmentKind = "harness"
	Belt           EquipmentKind = "belt"
	Saddle         EquipmentKind = "saddle"
	Lanyard        EquipmentKind = "lanyard"
	Anchor         EquipmentKind = "anchor"
)

// EquipmentKinds lists them.
var EquipmentKinds = []EquipmentKind{PortableLadder, AttachedLadder, Lift, ClimbingGear, Harness, Belt, Saddle, Lanyard, Anchor}

// EquipmentState says whether equipment may be used.
type EquipmentState string

// The states of equipment.
const (
	InService    EquipmentState = "in_service"
	OutOfService EquipmentState = "out_of_service"
	Retired      EquipmentState = "retired"
)

func (e *EquipmentContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	e.State = InService // of a new one; an update keeps what is
	c.Reference("/garden_id", "gardens", e.GardenID)
	c.OneOf("/kind", string(e.Kind), Words(EquipmentKinds)...)
	c.Text("/code", &e.Code, 20)
	c.Text("/description", &e.Description, longText)
	c.OptionalText("/maker", &e.Maker, shortText)
	c.OptionalText("/model", &e.Model, shortText)
	c.OptionalText("/serial", &e.Serial, shortText)
	e.checkPalm(c)
	for _, f := range safety.Ratings(e.Ratings).Check(string(e.Kind)) {
		c.Fault("/ratings"+f.Pointer, f.Key, payroll.Terms(f.Terms))
	}
	e.checkDates(c)
	if e.InspectionMonths != nil {
		c.Range("/inspection_months", *e.InspectionMonths, 1, 120)
	}
	c.OptionalText("/inspection_source", &e.InspectionSource, shortText)
	if (e.InspectionMonths == nil) != (e.InspectionSource == "") {
		c.Fault("/inspection_source", "fault.inspection_source", nil)
	}
	return c.Done()
}

// checkPalm wants an attached ladder, and nothing else, to name its palm, one of the garden's.
func (e *EquipmentContent) checkPalm(c *Checker) {
	if (e.Kind == AttachedLadder) != (e.PalmID != nil) {
		c.Fault("/palm_id", "fault.palm_of_ladder", nil)
	}
	if e.PalmID == nil {
		return
	}
	var gardens []uuid.UUID
	err := c.tx.DB().Raw(`SELECT b.garden_id FROM palms p JOIN blocks b ON b.employer_id = p.employer_id AND b.id = p.block_id WHERE p.employer_id = ? AND p.id = ?`,
		c.tx.Employer, *e.PalmID).Scan(&gardens).Error
	switch {
	case err != nil:
		c.err = err
	case len(gardens) == 0:
		c.Fault("/palm_id", "fault.unknown_palm", payroll.Terms{"palm": e.PalmID.String()})
	case gardens[0] != e.GardenID:
		c.Fault("/palm_id", "fault.palm_elsewhere", nil)
	}
}

func (e *EquipmentContent) checkDates(c *Checker) {
	if !e.FirstUsedOn.IsZero() {
		c.Day("/first_used_on", e.FirstUsedOn.Date)
	}
	if e.RetireBy.IsZero() {
		return
	}
	c.DayUntil("/retire_by", e.RetireBy.Date, dated.DateOf(c.tx.Now).AddDays(50*366))
	if e.RetireBy.Before(e.FirstUsedOn.Date) {
		c.Fault("/retire_by", "fault.ends_before_start", nil)
	}
}

// Words are the texts of a list of names.
func Words[W ~string](list []W) []string {
	all := make([]string, len(list))
	for i, w := range list {
		all[i] = string(w)
	}
	return all
}

// Ratings are the ratings of equipment as a column: JSON text in customary units.
type Ratings safety.Ratings

// Value writes the text.
func (r Ratings) Value() (driver.Value, error) {
	text, err := json.Marshal(r)
	return string(text), err
}

// Scan reads the text.
func (r *Ratings) Scan(v any) error {
	switch v := v.(type) {
	case string:
		return json.Unmarshal([]byte(v), r)
	case []byte:
		return json.Unmarshal(v, r)
	}
	return fmt.Errorf("ratings cannot be read from %T", v)
}

// GormDataType names the column type for gorm.
func (Ratings) GormDataType() string { return "text" }

// EquipmentEvent is something that was done with equipment, found on it or happened to it. It is never changed.
type EquipmentEvent struct {
	Keyed
	EquipmentID uuid.UUID          `json:"equipment_id"`
	Kind        EquipmentEventKind `json:"kind"`
	HappenedOn  Date               `json:"happened_on"`      // the workday on the garden's clock
	Passed      *bool              `json:"passed,omitempty"` // whether an inspection found nothing that stops
	State       EquipmentState     `json:"state,omitempty"`  // what it made of the equipment; "": nothing
	Person      string             `json:"person,omitempty"` // who inspected, mended or let it back into service
	Note        string             `json:"note,omitempty"`
	HappenedAt  time.Time          `json:"happened_at"` // by the clock of the device
	ReceivedAt  time.Time          `json:"received_at"`
	RecordedBy  uuid.UUID          `json:"recorded_by"`
}

// TableName tells gorm the table.
func (EquipmentEvent) TableName() string { return "equipment_events" }

// EquipmentEventKind says what happened to equipment.
type EquipmentEventKind string

// The kinds of equipment events; the first three are inspections.
const (
	PreUseInspection   EquipmentEventKind = "pre_use"
	PeriodicInspection EquipmentEventKind = "periodic"    // by a competent person
	AfterInspection    EquipmentEventKind = "after_event" // a tip-over, heat, a storm
	ArrestedFall       EquipmentEventKind = "arrested_fall"
	Withdrawn          EquipmentEventKind = "withdrawn"
	Mended             EquipmentEventKind = "mended"
	Returned           EquipmentEventKind = "returned"
	RetiredEvent       EquipmentEventKind = "retired"
)

// EquipmentFinding is something that an inspection found.
type EquipmentFinding struct {
	EmployerID  uuid.UUID  `gorm:"primaryKey" json:"-"`
	ID          uuid.UUID  `gorm:"primaryKey" json:"id"`
	Seq         int64      `gorm:"->" json:"-"`
	EventID     uuid.UUID  `json:"event_id"`
	EquipmentID uuid.UUID  `json:"equipment_id"`
	Severity    Severity   `json:"severity"`
	Note        string     `json:"note"`
	SettledBy   *uuid.UUID `json:"settled_by,omitempty"` // the event that mended it, or returned or retired the equipment
}

// TableName tells gorm the table.
func (EquipmentFinding) TableName() string { return "equipment_findings" }

// Severity says what a finding asks for.
type Severity string

// The severities: out of service at once, to be mended, or just to be known.
const (
	Stopping Severity = "stopping"
	ToMend   Severity = "to_mend"
	Noted    Severity = "note"
)

// Severities lists them.
var Severities = []Severity{Stopping, ToMend, Noted}

// OpenFindings keeps the findings that wait for somebody.
func OpenFindings(open bool) Condition {
	if open {
		return Where("settled_by IS NULL AND severity <> 'note'")
	}
	return Where("NOT (settled_by IS NULL AND severity <> 'note')")
}
