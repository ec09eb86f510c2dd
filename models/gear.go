package models

import (
	"regexp"
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// GearKind is a kind of gear that is handed out: a knife, thorn gloves of a size.
type GearKind = Kept[GearKindContent]

// GearKindContent is what is set of a kind of gear. How many are on hand follows from what was received, counted, handed out and given back.
type GearKindContent struct {
	Kind          string `json:"kind"` // as a clearance names it, such as "gloves"; of GearKinds
	Name          string `json:"name"` // as the farm calls it; unique with the size
	Size          string `json:"size,omitempty"`
	Protective    bool   `json:"protective"`                          // protects its wearer
	CutLevel      string `json:"cut_level,omitempty"`                 // of gloves by ANSI/ISEA 105: A1 to A9
	PunctureLevel *int64 `json:"puncture_level,omitempty"`            // of gloves by ANSI/ISEA 105: 0 to 5
	EN388         string `gorm:"column:en388" json:"en388,omitempty"` // the mark of gloves by EN 388:2016, such as "4X43D"
	Sheathed      *bool  `json:"sheathed,omitempty"`                  // whether a blade comes with its sheath or tether
	LowAt         *int64 `json:"low_at,omitempty"`                    // fewer on hand are too few
	OnHand        int64  `json:"-"`
}

func (*GearKindContent) table() string { return "gear_kinds" }

func (g *GearKindContent) keep(old *GearKindContent) { g.OnHand = old.OnHand }

// GearKinds lists the kinds of gear; those that a clearance looks for go by the same names there.
var GearKinds = []string{
	"gloves", "eye_protection", "knife", "saw", "sheath", "helmet", "boots", "long_sleeves", "hat", "harness", "belt", "saddle", "lanyard", "radio", "water_bottle", "tool", "other",
}

// en388 is the mark of EN 388:2016: abrasion, blade cut, tear, puncture, cut by ISO 13997, and P where impact was tested; X is not tested.
var en388 = regexp.MustCompile(`^[0-4X][0-5X][0-4X][0-4X][A-FX]P?$`)

// cutLevels are the levels of cut resistance of ANSI/ISEA 105-2016.
var cutLevels = []string{"A1", "A2", "A3", "A4", "A5", "A6", "A7", "A8", "A9"}

const maxQuantity = 100_000

func (g *GearKindContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.OneOf("/kind", g.Kind, GearKinds...)
	c.Text("/name", &g.Name, shortText)
	c.OptionalText("/size", &g.Size, 20)
	g.checkLevels(c)
	if g.Sheathed != nil && g.Kind != "knife" && g.Kind != "saw" {
		c.Fault("/sheathed", "fault.blades_only", nil)
	}
	if g.LowAt != nil {
		c.Range("/low_at", *g.LowAt, 0, maxQuantity)
	}
	return c.Done()
}

// checkLevels wants levels on gloves alone, and only such as the scales have.
func (g *GearKindContent) checkLevels(c *Checker) {
	given := map[string]bool{"/cut_level": g.CutLevel != "", "/puncture_level": g.PunctureLevel != nil, "/en388": g.EN388 != ""}
	for _, pointer := range []string{"/cut_level", "/puncture_level", "/en388"} {
		if given[pointer] && g.Kind != "gloves" {
			c.Fault(pointer, "fault.gloves_only", nil)
		}
	}
	if g.CutLevel != "" {
		c.OneOf("/cut_level", g.CutLevel, cutLevels...)
	}
	if g.PunctureLevel != nil {
		c.Range("/puncture_level", *g.PunctureLevel, 0, 5)
	}
	if g.EN388 != "" && !en388.MatchString(g.EN388) {
		c.Fault("/en388", "fault.en388", nil)
	}
}

// GearStockMove says how many of a kind of gear came in, were counted or were thrown away. It is never changed.
type GearStockMove struct {
	Keyed
	GearKindID uuid.UUID `json:"gear_kind_id"`
	Move       GearMove  `json:"move"`
	Quantity   int64     `json:"quantity"`
	OnHand     int64     `json:"on_hand"` // afterwards
	Note       string    `json:"note,omitempty"`
	ReceivedAt time.Time `json:"received_at"`
	RecordedBy uuid.UUID `json:"recorded_by"`
}

// TableName tells gorm the table.
func (GearStockMove) TableName() string { return "gear_stock_moves" }

// GearMove is what a stock move does.
type GearMove string

// The stock moves: so many more, so many in all, so many fewer.
const (
	GearReceived  GearMove = "received"
	GearCounted   GearMove = "counted"
	GearDiscarded GearMove = "discarded"
)

// GearIssue says that gear was handed to a worker. Only its two marks change, each once.
type GearIssue struct {
	Keyed
	WorkerID       uuid.UUID     `json:"worker_id"`
	GearKindID     uuid.UUID     `json:"gear_kind_id"`
	EquipmentID    *uuid.UUID    `json:"equipment_id,omitempty"` // which one, where it is in the register of equipment
	Quantity       int64         `json:"quantity"`
	Condition      GearCondition `json:"condition"`
	IssuedOn       Date          `json:"issued_on"`
	DueOn          Date          `json:"due_on,omitzero"` // the day by which it is due back
	Note           string        `json:"note,omitempty"`
	RecordedAt     time.Time     `json:"recorded_at"`
	ReceivedAt     time.Time     `json:"received_at"`
	RecordedBy     uuid.UUID     `json:"recorded_by"`
	AcknowledgedBy *uuid.UUID    `json:"acknowledged_by,omitempty"` // the event by which the worker took it
	ClosedBy       *uuid.UUID    `json:"closed_by,omitempty"`       // the event by which it came back, was replaced or went missing
}

// TableName tells gorm the table.
func (GearIssue) TableName() string { return "gear_issues" }

// GearCondition is how gear is when it changes hands.
type GearCondition string

// GearConditions lists them.
var GearConditions = []GearCondition{"new", "good", "worn"}

// GearIssueEvent is what became of gear in a worker's hands. It is never changed.
type GearIssueEvent struct {
	Keyed
	IssueID    uuid.UUID      `json:"issue_id"`
	Kind       GearIssueKind  `json:"kind"`
	Reason     GearReturnCode `json:"reason,omitempty"`     // why it came back
	Restocked  bool           `json:"restocked"`            // whether it can be handed out again
	ByWorker   bool           `json:"by_worker"`            // acknowledged from the worker's own account
	TypedName  string         `json:"typed_name,omitempty"` // acknowledged on somebody else's phone, by this name
	Note       string         `json:"note,omitempty"`
	ReplacedBy *uuid.UUID     `json:"replaced_by,omitempty"` // the issue that took its place
	HappenedAt time.Time      `json:"happened_at"`
	ReceivedAt time.Time      `json:"received_at"`
	RecordedBy uuid.UUID      `json:"recorded_by"`
}

// TableName tells gorm the table.
func (GearIssueEvent) TableName() string { return "gear_issue_events" }

// GearIssueKind is what an event makes of an issue.
type GearIssueKind string

// The kinds of issue events.
const (
	GearAcknowledged GearIssueKind = "acknowledged"
	GearReturned     GearIssueKind = "returned"
	GearReplaced     GearIssueKind = "replaced"
	GearMissing      GearIssueKind = "missing"
)

// GearReturnCode is why gear came back or was replaced.
type GearReturnCode string

// GearReturnCodes lists them.
var GearReturnCodes = []GearReturnCode{"worn", "lost", "damaged", "wrong_size", "no_longer_needed", "left_work", "mistake", "other"}

// Held keeps the issues that are still in somebody's hands, or with false the others.
func Held(held bool) Condition {
	if held {
		return Where("closed_by IS NULL")
	}
	return Where("closed_by IS NOT NULL")
}

// DueBefore keeps the issues that were due back before a day and are still out.
func DueBefore(day dated.Date) Condition { return Where("closed_by IS NULL AND due_on < ?", Day(day)) }

// Unacknowledged keeps the issues that their worker has not acknowledged, or with false the others.
func Unacknowledged(open bool) Condition {
	if open {
		return Where("acknowledged_by IS NULL")
	}
	return Where("acknowledged_by IS NOT NULL")
}

// LowStock keeps the kinds of gear of which too few are on hand, or with false the others.
func LowStock(low bool) Condition {
	if low {
		return Where("on_hand < low_at")
	}
	return Where("low_at IS NULL OR on_hand >= low_at")
}
