package models

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// The records of a climbing day: lists that were filled in, what the safety officer said of them, stops, and rules of the house set aside. How they come
// about is the business of package climbs.

// FilledChecklist is a list that a crew lead went through before a climb.
type FilledChecklist = Recorded[FilledChecklistContent]

// FilledChecklistContent says which list, for whom, and what was answered. Passed and Stopped follow from the answers.
type FilledChecklistContent struct {
	CrewID    uuid.UUID `json:"crew_id"`
	GardenID  uuid.UUID `json:"garden_id"`
	Workday   Date      `json:"workday"`
	FilledOn  Date      `json:"filled_on"` // the garden's civil date when it was filled in, by the device's clock
	Way       string    `json:"way"`
	Checklist string    `json:"checklist"`
	Digest    string    `json:"digest"` // SHA-256 of the list as it was asked
	Answers   Answers   `json:"answers"`
	Passed    bool      `json:"passed"`
	Stopped   WordList  `json:"stopped"` // the items whose defect stops the climb

	Equipment []ChecklistEquipment `gorm:"-" json:"equipment"` // in a table of its own
}

func (*FilledChecklistContent) table() string { return "filled_checklists" }

func (f *FilledChecklistContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/crew_id", "crews", f.CrewID)
	c.Reference("/garden_id", "gardens", f.GardenID)
	c.Day("/workday", f.Workday.Date)
	for i := range f.Answers {
		c.OptionalText(fmt.Sprintf("/answers/%d/note", i), &f.Answers[i].Note, longText)
	}
	return c.Done()
}

// ItemAnswer is what was found of one item of a list: "ok", "defect" or "does_not_apply".
type ItemAnswer struct {
	Item        string     `json:"item"`
	Answer      string     `json:"answer"`
	Note        string     `json:"note,omitempty"`
	EquipmentID *uuid.UUID `json:"equipment_id,omitempty"` // the piece on which a defect was found
}

// Answers are the answers to a list's items, kept as JSON.
type Answers []ItemAnswer

// Value writes JSON.
func (a Answers) Value() (driver.Value, error) { return jsonText(a) }

// Scan reads JSON.
func (a *Answers) Scan(v any) error { return readJSON(a, v) }

// GormDataType names the column type for gorm.
func (Answers) GormDataType() string { return "text" }

// WordList is a list of words, kept as JSON.
type WordList []string

// Value writes JSON.
func (w WordList) Value() (driver.Value, error) { return jsonText(w) }

// Scan reads JSON.
func (w *WordList) Scan(v any) error { return readJSON(w, v) }

// GormDataType names the column type for gorm.
func (WordList) GormDataType() string { return "text" }

// MarshalJSON writes no words as an empty list.
func (w WordList) MarshalJSON() ([]byte, error) { return json.Marshal(append([]string{}, w...)) }

func jsonText(v any) (driver.Value, error) {
	b, err := json.Marshal(v)
	return string(b), err
}

func readJSON(into, v any) error {
	var d Document
	if err := d.Scan(v); err != nil {
		return err
	}
	return json.Unmarshal(d, into)
}

// ChecklistEquipment says for which equipment a list was filled in, and whether a defect that stops the climb was found on it.
type ChecklistEquipment struct {
	EmployerID  uuid.UUID `gorm:"primaryKey" json:"-"`
	ChecklistID uuid.UUID `gorm:"primaryKey" json:"-"`
	EquipmentID uuid.UUID `gorm:"primaryKey" json:"equipment_id"`
	Defect      bool      `json:"defect"`
}

// TableName tells gorm the table.
func (ChecklistEquipment) TableName() string { return "checklist_equipment" }

// ChecklistReview is the safety officer's word on a filled checklist. There is one of each at most.
type ChecklistReview struct {
	Keyed
	ChecklistID uuid.UUID      `json:"checklist_id"`
	Decision    ReviewDecision `json:"decision"`
	Reason      string         `json:"reason"`
	ReviewedAt  time.Time      `json:"reviewed_at"`
	ReviewedBy  uuid.UUID      `json:"reviewed_by"`
}

// TableName tells gorm the table.
func (ChecklistReview) TableName() string { return "checklist_reviews" }

// ReviewDecision is what a review comes to.
type ReviewDecision string

// The decisions on a filled checklist.
const (
	Accepted  ReviewDecision = "accepted"
	SentBack  ReviewDecision = "sent_back" // it has to be gone through again
	StopClimb ReviewDecision = "stopped"   // and a stop of the crew's climb goes with it
)

// Stop is a stop of the climb: of a crew on its workday, one way up or all of them, or of a piece of equipment or a palm from that day until it is lifted.
type Stop struct {
	Keyed
	Scope       StopScope  `json:"scope"`
	CrewID      *uuid.UUID `json:"crew_id,omitempty"`
	Workday     Date       `json:"workday"`
	Way         string     `json:"way,omitempty"` // "": every way that leaves the ground and the ground itself
	EquipmentID *uuid.UUID `json:"equipment_id,omitempty"`
	PalmID      *uuid.UUID `json:"palm_id,omitempty"`
	ChecklistID *uuid.UUID `json:"checklist_id,omitempty"` // the filled checklist whose review led to it
	Reason      string     `json:"reason"`
	StoppedAt   time.Time  `json:"stopped_at"`
	StoppedBy   uuid.UUID  `json:"stopped_by"`
}

// TableName tells gorm the table.
func (Stop) TableName() string { return "stops" }

// StopScope says what a stop is of.
type StopScope string

// What a stop can be of.
const (
	StopCrew      StopScope = "crew"
	StopEquipment StopScope = "equipment"
	StopPalm      StopScope = "palm"
)

// StopHearing says when a crew lead's phone first heard of a stop.
type StopHearing struct {
	EmployerID uuid.UUID `gorm:"primaryKey" json:"-"`
	StopID     uuid.UUID `gorm:"primaryKey" json:"stop_id"`
	WorkerID   uuid.UUID `gorm:"primaryKey" json:"worker_id"`
	HeardAt    time.Time `json:"heard_at"`
}

// TableName tells gorm the table.
func (StopHearing) TableName() string { return "stop_hearings" }

// StopAcknowledgement is a crew lead's own word, by name, that a stop is understood.
type StopAcknowledgement struct {
	Keyed
	StopID         uuid.UUID `json:"stop_id"`
	WorkerID       uuid.UUID `json:"worker_id"`
	Name           string    `json:"name"`
	RecordedAt     time.Time `json:"recorded_at"`
	ReceivedAt     time.Time `json:"received_at"`
	AcknowledgedBy uuid.UUID `json:"acknowledged_by"`
}

// TableName tells gorm the table.
func (StopAcknowledgement) TableName() string { return "stop_acknowledgements" }

// StopLift says that a stop is over, on whose word, and why.
type StopLift struct {
	Keyed
	StopID          uuid.UUID `json:"stop_id"`
	CompetentPerson string    `json:"competent_person"`
	Reason          string    `json:"reason"`
	LiftedAt        time.Time `json:"lifted_at"`
	LiftedBy        uuid.UUID `json:"lifted_by"`
}

// TableName tells gorm the table.
func (StopLift) TableName() string { return "stop_lifts" }

// RuleOverride sets a rule of the house aside for a crew's day, on a competent person's word.
type RuleOverride = Recorded[RuleOverrideContent]

// RuleOverrideContent says which rule, by the code of the reason that it gives in a clearance, for whom, and on what grounds. Withdrawn, in place of one
// that stood, takes it back.
type RuleOverrideContent struct {
	GardenID        uuid.UUID  `json:"garden_id"`
	CrewID          uuid.UUID  `json:"crew_id"`
	Workday         Date       `json:"workday"`
	Way             string     `json:"way"`
	WorkerID        *uuid.UUID `json:"worker_id,omitempty"` // nil: everybody of the crew
	Code            string     `json:"code"`
	CompetentPerson string     `json:"competent_person"`
	Grounds         string     `json:"grounds"`
	Withdrawn       bool       `json:"withdrawn,omitempty"`
}

func (*RuleOverrideContent) table() string { return "rule_overrides" }

func (o *RuleOverrideContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/garden_id", "gardens", o.GardenID)
	c.Reference("/crew_id", "crews", o.CrewID)
	if o.WorkerID != nil {
		c.Reference("/worker_id", "workers", *o.WorkerID)
	}
	c.Day("/workday", o.Workday.Date)
	c.Text("/code", &o.Code, shortText)
	c.Text("/competent_person", &o.CompetentPerson, shortText)
	c.Text("/grounds", &o.Grounds, longText)
	return c.Done()
}

// FilledFor returns the lists filled for some crews on a workday that stand, in the order of arrival. It is one statement for all crews.
func FilledFor(tx *Tx, crews []uuid.UUID, workday dated.Date) (filled []FilledChecklist, err error) {
	err = tx.DB().Where("workday = ? AND crew_id IN ? AND superseded_by IS NULL", Day(workday), crews).Order("seq").Find(&filled).Error
	return filled, translate(err)
}

// EquipmentOf returns for which equipment some lists were filled in, by checklist.
func EquipmentOf(tx *Tx, checklists []uuid.UUID) (map[uuid.UUID][]ChecklistEquipment, error) {
	var rows []ChecklistEquipment
	if err := tx.DB().Where("checklist_id IN ?", checklists).Order("checklist_id, equipment_id").Find(&rows).Error; err != nil {
		return nil, translate(err)
	}
	of := map[uuid.UUID][]ChecklistEquipment{}
	for _, row := range rows {
		of[row.ChecklistID] = append(of[row.ChecklistID], row)
	}
	return of, nil
}

// ReviewsOf returns the reviews of some filled checklists, by checklist.
func ReviewsOf(tx *Tx, checklists []uuid.UUID) (map[uuid.UUID]*ChecklistReview, error) {
	var rows []ChecklistReview
	if err := tx.DB().Where("checklist_id IN ?", checklists).Find(&rows).Error; err != nil {
		return nil, translate(err)
	}
	reviews := make(map[uuid.UUID]*ChecklistReview, len(rows))
	for i := range rows {
		reviews[rows[i].ChecklistID] = &rows[i]
	}
	return reviews, nil
}

// StopsOn returns the stops that hold on a day: those of crews on that workday, those of equipment and palms from earlier days on, none that was lifted.
func StopsOn(tx *Tx, day dated.Date) (stops []Stop, err error) {
	err = tx.DB().Scopes(HoldingOn(day), Lifted(false)).Order("seq").Find(&stops).Error
	return stops, translate(err)
}

// OverridesFor returns the rules set aside for some crews on a workday, none that was withdrawn.
func OverridesFor(tx *Tx, crews []uuid.UUID, workday dated.Date) (overrides []RuleOverride, err error) {
	err = tx.DB().Where("workday = ? AND crew_id IN ? AND superseded_by IS NULL AND NOT withdrawn", Day(workday), crews).Order("seq").Find(&overrides).Error
	return overrides, translate(err)
}

// LeadsOn lists who leads which crew on a day.
func LeadsOn(tx *Tx, day dated.Date) (leads []CrewMember, err error) {
	err = tx.DB().Scopes(MembersOn(day)).Where("leads").Order("seq").Find(&leads).Error
	return leads, translate(err)
}
