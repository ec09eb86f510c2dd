package intake

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// Sheet is a crew lead's record of one crew's workday, sent whole, possibly hours later and more than once.
type Sheet struct {
	ID         uuid.UUID   `json:"id"`
	CrewID     uuid.UUID   `json:"crew_id"`
	Workday    models.Date `json:"workday"`
	GardenID   uuid.UUID   `json:"garden_id"`   // where the day's work was, for lines without a block
	RecordedAt time.Time   `json:"recorded_at"` // by the device's clock
	SentAt     *time.Time  `json:"sent_at,omitempty"`
	Roll       []uuid.UUID `json:"roll,omitempty"` // who was there
	NewWorkers []NewWorker `json:"new_workers,omitempty"`
	Time       []TimeLine  `json:"time,omitempty"`
	Tallies    []TallyLine `json:"tallies,omitempty"`
	Lots       []LotLine   `json:"lots,omitempty"`
	Breaks     []BreakLine `json:"breaks,omitempty"`
}

// NewWorker is a hand who is not in the books yet, recorded by name.
type NewWorker struct {
	ID       uuid.UUID `json:"id"`
	Name     string    `json:"name"`
	Language string    `json:"language,omitempty"` // "es" where it is not said
}

// Correction says which record a line takes the place of, and why.
type Correction struct {
	Supersedes *uuid.UUID `json:"supersedes,omitempty"`
	Reason     string     `json:"reason,omitempty"`
}

// TimeLine is a stretch of time: by the clock, still open, or as a bare length.
type TimeLine struct {
	ID          uuid.UUID        `json:"id"`
	WorkerID    uuid.UUID        `json:"worker_id"`
	Kind        payroll.TimeKind `json:"kind"`
	BlockID     *uuid.UUID       `json:"block_id,omitempty"`
	OperationID *uuid.UUID       `json:"operation_id,omitempty"`
	Start       *time.Time       `json:"start,omitempty"`
	End         *time.Time       `json:"end,omitempty"`
	Minutes     *payroll.Minutes `json:"minutes,omitempty"`
	Correction
}

// TallyLine is a worker's own count.
type TallyLine struct {
	ID          uuid.UUID      `json:"id"`
	WorkerID    uuid.UUID      `json:"worker_id"`
	BlockID     uuid.UUID      `json:"block_id"`
	OperationID uuid.UUID      `json:"operation_id"`
	Pieces      payroll.Pieces `json:"pieces"`
	Correction
}

// LotLine is a count that several workers made together, with each one's part. By heads all parts are equal; by minutes they are as the minutes on
// the lot; by share they add up to 1.
type LotLine struct {
	ID          uuid.UUID      `json:"id"`
	BlockID     uuid.UUID      `json:"block_id"`
	OperationID uuid.UUID      `json:"operation_id"`
	Pieces      payroll.Pieces `json:"pieces"`
	Parting     string         `json:"parting"`
	Parts       []LotPart      `json:"parts"`
	Correction
}

// LotPart is one worker's part of a lot.
type LotPart struct {
	ID       uuid.UUID        `json:"id"`
	WorkerID uuid.UUID        `json:"worker_id"`
	Minutes  *payroll.Minutes `json:"minutes,omitempty"`
	Share    *payroll.Share   `json:"share,omitempty"`
}

// The ways to part a lot.
const (
	ByMinutes = "minutes"
	ByShare   = "share"
	ByHeads   = "heads"
)

// BreakLine says that a break was not provided, or that a meal period was waived.
type BreakLine struct {
	ID       uuid.UUID        `json:"id"`
	WorkerID uuid.UUID        `json:"worker_id"`
	Fact     models.BreakFact `json:"fact"`
	Correction
}

// SingleTime is a time entry recorded by itself.
type SingleTime struct {
	Workday    models.Date `json:"workday"`
	GardenID   uuid.UUID   `json:"garden_id"`
	RecordedAt time.Time   `json:"recorded_at"`
	TimeLine
}

// SingleTally is a tally recorded by itself.
type SingleTally struct {
	Workday    models.Date `json:"workday"`
	RecordedAt time.Time   `json:"recorded_at"`
	TallyLine
}

// Acceptance says what happens to a sheet with bad lines.
type Acceptance string

// A sheet is taken whole or not at all, unless its good lines are asked for.
const (
	Whole     Acceptance = "whole"
	GoodLines Acceptance = "good_lines"
)

// Receipt is what became of each line of a sheet.
type Receipt struct {
	ID       uuid.UUID       `json:"id"`
	Lines    []LineReceipt   `json:"lines"`
	Faults   []payroll.Fault `json:"-"`            // of the refused lines, told by the caller in the reader's language
	Repeated bool            `json:"-"`            // whether all of it was kept before
	Skewed   bool            `json:"clock_skewed"` // whether the device's clock was more than two minutes off
}

// count counts the sheet and its lines.
func (r *Receipt) count(tx *models.Tx) {
	which := "new"
	if r.Repeated {
		which = "repeated"
	}
	tx.Count(models.CountSheets, which, 1)
	lines := map[Outcome]int64{}
	for _, l := range r.Lines {
		lines[l.Outcome]++
	}
	for outcome, n := range lines {
		tx.Count(models.CountLines, string(outcome), n)
	}
}

// LineReceipt is what became of one line.
type LineReceipt struct {
	ID           uuid.UUID  `json:"id"`
	Pointer      string     `json:"pointer"`
	Outcome      Outcome    `json:"outcome"`
	SupersededBy *uuid.UUID `json:"superseded_by,omitempty"` // of a repeated line: the correction that stands in its place
}

// Outcome is what became of a line.
type Outcome string

// A line is recorded now, or was before, or is refused.
const (
	Recorded Outcome = "recorded"
	Repeated Outcome = "repeated"
	Refused  Outcome = "refused"
)
