package models

import (
	"database/sql/driver"
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/safety"
)

// ClimbSetup is how a crew goes up in a block on a workday. A crew has one for each way up and block; when something changes, another takes its place.
type ClimbSetup = Recorded[ClimbSetupContent]

// ClimbSetupContent says where, at what work, which way, with which equipment, and what the crew's lead sees of it all.
type ClimbSetupContent struct {
	CrewID      uuid.UUID `json:"crew_id"`
	Workday     Date      `json:"workday"`
	BlockID     uuid.UUID `json:"block_id"`
	OperationID uuid.UUID `json:"operation_id"`
	Way         string    `json:"way"`                 // one that the rulebook of the block's garden knows; package clearance holds it against that
	Equipment   IDs       `json:"equipment,omitempty"` // the pieces in use, by the register
	Setup       SetupFact `json:"setup,omitzero"`
}

// mostEquipment is more than any crew takes along.
const mostEquipment = 200

func (*ClimbSetupContent) table() string { return "climb_setups" }

func (s *ClimbSetupContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/crew_id", "crews", s.CrewID)
	c.Day("/workday", s.Workday.Date)
	c.Reference("/block_id", "blocks", s.BlockID)
	c.Reference("/operation_id", "operations", s.OperationID)
	c.Text("/way", &s.Way, shortText)
	if len(s.Equipment) > mostEquipment {
		c.Fault("/equipment", "fault.too_many_items", payroll.Terms{"limit": mostEquipment})
		return c.Done()
	}
	c.References("/equipment", "equipment", s.Equipment)
	setup := safety.Setup(s.Setup)
	for _, f := range setup.Check() {
		c.Fault("/setup"+f.Pointer, f.Key, payroll.Terms(f.Terms))
	}
	return c.Done()
}

// SetupFact is what a lead saw, as a column: JSON text in customary units.
type SetupFact safety.Setup

// Value writes the text.
func (s SetupFact) Value() (driver.Value, error) { return jsonText(safety.Setup(s)) }

// Scan reads the text.
func (s *SetupFact) Scan(v any) error { return readJSON((*safety.Setup)(s), v) }

// GormDataType names the column type for gorm.
func (SetupFact) GormDataType() string { return "text" }

// Clearance is a clearance as it was given: what the one who asked was told. It is never changed.
type Clearance struct {
	Keyed
	CrewID  uuid.UUID `json:"crew_id"`
	Workday Date      `json:"workday"`
	Answer  Document  `json:"answer"`
	AskedAt time.Time `json:"asked_at"`
	AskedBy uuid.UUID `json:"asked_by"`
}

// TableName tells gorm the table.
func (Clearance) TableName() string { return "clearances" }

// ClearedWorker says whom a clearance cleared, for which way up, and until when.
type ClearedWorker struct {
	EmployerID  uuid.UUID  `gorm:"primaryKey" json:"-"`
	ClearanceID uuid.UUID  `gorm:"primaryKey" json:"clearance_id"`
	WorkerID    uuid.UUID  `gorm:"primaryKey" json:"worker_id"`
	Way         string     `gorm:"primaryKey" json:"way"`
	Workday     Date       `json:"workday"`
	ValidUntil  *time.Time `json:"valid_until,omitempty"`
}

// TableName tells gorm the table.
func (ClearedWorker) TableName() string { return "cleared_workers" }

// ClearanceException is the safety officer's word on a worker's day of work that no clearance covers. It settles the exception, never the pay.
type ClearanceException struct {
	Keyed
	WorkerID  uuid.UUID        `json:"worker_id"`
	Workday   Date             `json:"workday"`
	Finding   ExceptionFinding `json:"finding"`
	Reason    string           `json:"reason"`
	SettledAt time.Time        `json:"settled_at"`
	SettledBy uuid.UUID        `json:"settled_by"`
}

// TableName tells gorm the table.
func (ClearanceException) TableName() string { return "clearance_exceptions" }

// ExceptionFinding is what the officer found of work without clearance.
type ExceptionFinding string

// The findings: everything was in order but for the paper, it was not, or the work was done from the ground.
const (
	WasSafe     ExceptionFinding = "was_safe"
	WasUnsafe   ExceptionFinding = "was_unsafe"
	DidNotClimb ExceptionFinding = "did_not_climb"
)

// ExceptionFindings lists them.
var ExceptionFindings = []ExceptionFinding{WasSafe, WasUnsafe, DidNotClimb}
