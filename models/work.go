package models

import (
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
)

// The records of a workday. How they are checked and taken in is the business of package intake.

// TimeEntry is a stretch of a worker's workday of one kind.
type TimeEntry = Recorded[TimeEntryContent]

// TimeEntryContent says when and how. Either the clock times or a bare length is known; without an end the entry is still open.
type TimeEntryContent struct {
	SheetID     *uuid.UUID       `json:"sheet_id,omitempty"`
	WorkerID    uuid.UUID        `json:"worker_id"`
	Workday     Date             `json:"workday"`
	Kind        payroll.TimeKind `json:"kind"`
	GardenID    uuid.UUID        `json:"garden_id"`
	BlockID     *uuid.UUID       `json:"block_id,omitempty"`
	OperationID *uuid.UUID       `json:"operation_id,omitempty"`
	StartedAt   *time.Time       `json:"started_at,omitempty"`
	EndedAt     *time.Time       `json:"ended_at,omitempty"`
	Minutes     *payroll.Minutes `json:"minutes,omitempty"`
}

func (*TimeEntryContent) table() string { return "time_entries" }

// Tally is a count of pieces of one operation by one worker on one workday in one block, or the worker's part of a crew's lot.
type Tally = Recorded[TallyContent]

// TallyContent says how many, or which part: of a lot, by minutes, by share or by heads.
type TallyContent struct {
	SheetID     *uuid.UUID       `json:"sheet_id,omitempty"`
	WorkerID    uuid.UUID        `json:"worker_id"`
	Workday     Date             `json:"workday"`
	BlockID     uuid.UUID        `json:"block_id"`
	OperationID uuid.UUID        `json:"operation_id"`
	Pieces      *payroll.Pieces  `json:"pieces,omitempty"` // nil for a part of a lot
	LotID       *uuid.UUID       `json:"lot_id,omitempty"`
	PartMinutes *payroll.Minutes `json:"part_minutes,omitempty"`
	LotMinutes  *payroll.Minutes `json:"lot_minutes,omitempty"`
	Share       *payroll.Share   `json:"share,omitempty"`
	Heads       *int64           `json:"heads,omitempty"`
}

func (*TallyContent) table() string { return "tallies" }

// Lot is a count that a crew made together; its parts are tallies.
type Lot = Recorded[LotContent]

// LotContent says what the crew counted, and how the lot is parted.
type LotContent struct {
	SheetID     *uuid.UUID     `json:"sheet_id,omitempty"`
	Workday     Date           `json:"workday"`
	BlockID     uuid.UUID      `json:"block_id"`
	OperationID uuid.UUID      `json:"operation_id"`
	Pieces      payroll.Pieces `json:"pieces"`
	Parting     string         `json:"parting"` // minutes, share or heads
}

func (*LotContent) table() string { return "lots" }

// BreakRecord says that a break was not provided to a worker on a day, or that the worker waived a meal period.
type BreakRecord = Recorded[BreakContent]

// BreakContent says whose day and what about it.
type BreakContent struct {
	SheetID  *uuid.UUID `json:"sheet_id,omitempty"`
	WorkerID uuid.UUID  `json:"worker_id"`
	Workday  Date       `json:"workday"`
	Fact     BreakFact  `json:"fact"`
}

func (*BreakContent) table() string { return "break_records" }

// BreakFact is a fact about a day's breaks.
type BreakFact string

// The facts about breaks that bear on pay.
const (
	MealNotProvided     BreakFact = "meal_not_provided"
	RestNotProvided     BreakFact = "rest_not_provided"
	RecoveryNotProvided BreakFact = "recovery_not_provided"
	FirstMealWaived     BreakFact = "first_meal_waived"
	SecondMealWaived    BreakFact = "second_meal_waived"
)

// BreakFacts lists them.
var BreakFacts = []BreakFact{MealNotProvided, RestNotProvided, RecoveryNotProvided, FirstMealWaived, SecondMealWaived}

// CrewSheet is the envelope in which a crew lead's record of one workday came in.
type CrewSheet struct {
	Keyed
	CrewID     uuid.UUID `json:"crew_id"`
	Workday    Date      `json:"workday"`
	RecordedAt time.Time `json:"recorded_at"`
	ReceivedAt time.Time `json:"received_at"`
	ClockSkew  int64     `json:"clock_skew"` // seconds by which the device's clock was ahead of the server's
	Roll       Document  `json:"roll"`       // the identifiers of those who were there
	RecordedBy uuid.UUID `json:"recorded_by"`
}

// TableName tells gorm the table.
func (CrewSheet) TableName() string { return "crew_sheets" }
