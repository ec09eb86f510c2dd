package payrun

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// Run is a pay run as it is kept.
type Run struct {
	models.Keyed
	CreatedAt   time.Time   `json:"created_at"`
	UpdatedAt   time.Time   `json:"updated_at"`
	Version     int64       `json:"version"`
	Number      int64       `json:"number"`
	Kind        RunKind     `json:"kind"`
	WeekStart   models.Date `json:"week_start"`
	Payday      models.Date `json:"payday"`
	State       State       `json:"state"`
	InputDigest string      `json:"input_digest"`
	Engine      string      `json:"engine"`
	DraftedBy   uuid.UUID   `json:"drafted_by"`
	DraftedAt   time.Time   `json:"drafted_at"`
	ApprovedBy  *uuid.UUID  `json:"approved_by"`
	ApprovedAt  *time.Time  `json:"approved_at"`
	Ending      Ending      `json:"ending,omitempty"`                // final runs: how the work ended
	ThroughDate models.Date `json:"through_date,omitempty,omitzero"` // final runs: the last day that is settled

	EarlierDraftAt *time.Time `json:"-"` // when the draft before this one was made; nil where there was none
}

// TableName tells gorm the table.
func (Run) TableName() string { return "pay_runs" }

// RunKind says whose pay a run settles.
type RunKind string

// The kinds of run: a week of everybody who has records in it and no statement yet; named workers to a day, whose pay cannot wait for the
// week; what is owed for weeks already paid.
const (
	Regular    RunKind = "regular"
	Final      RunKind = "final"
	Correction RunKind = "correction"
)

// Ending says how work ended, which sets the day by which final pay is due.
type Ending string

// The ways in which work ends: by discharge or layoff, the end of the season included; by quitting; by quitting with the notice that the rulebook names.
const (
	Discharge      Ending = "discharge"
	Quit           Ending = "quit"
	QuitWithNotice Ending = "quit_with_notice"
)

// State is how far a run has come.
type State string

// A run is drafted, approved by a second person, and paid. Approval can be withdrawn until somebody has been paid.
const (
	Draft    State = "draft"
	Approved State = "approved"
	Paid     State = "paid"
)

// StatementRow is one worker's statement as it is kept: what stood on it when it was made, in full.
type StatementRow struct {
	EmployerID     uuid.UUID `gorm:"primaryKey"`
	ID             uuid.UUID `gorm:"primaryKey"`
	Seq            int64     `gorm:"->"`
	RunID          uuid.UUID
	WorkerID       uuid.UUID
	WeekStart      models.Date
	Heading        models.Document
	Detail         models.Document
	Figures        models.Document
	Week           models.Document // what was reckoned, to be reckoned again under other rules
	StraightTime   payroll.Cents
	Premiums       payroll.Cents
	Other          payroll.Cents
	Gross          payroll.Cents
	Taxes          payroll.Cents
	Deductions     payroll.Cents
	Reimbursements payroll.Cents
	Net            payroll.Cents
	WorkedMinutes  payroll.Minutes
	PaidOn         models.Date
	PaidMethod     string
	PaidReference  string
	PaidBy         *uuid.UUID
	VoidedAt       *time.Time
	VoidedBy       *uuid.UUID
	VoidReason     string
	ReissueOf      *uuid.UUID // the voided statement in whose place this one stands
}

// TableName tells gorm the table.
func (StatementRow) TableName() string { return "statements" }

// Heading is who pays whom for what, as it stood when the statement was made.
type Heading struct {
	Employer struct {
		LegalName string `json:"legal_name"`
		Address   string `json:"address"`
		TaxNumber string `json:"tax_number"`
	} `json:"employer"`
	EngagedBy []Engaging `json:"engaged_by,omitempty"`
	Worker    struct {
		ID      uuid.UUID `json:"id"`
		Number  int64     `json:"number"`
		Name    string    `json:"name"`
		Address string    `json:"address"`
	} `json:"worker"`
	Gardens        []string         `json:"gardens"`
	Payday         models.Date      `json:"payday"`
	RulebookTitle  string           `json:"rulebook_title"`
	RulebookDigest string           `json:"rulebook_digest"`
	LocalBooks     []BookMark       `json:"local_books,omitempty"`
	HoursOffered   *payroll.Minutes `json:"hours_offered,omitempty"`
	SickLeave      *SickLeave       `json:"sick_leave,omitempty"`
}

// BookMark names the text of a local book that took part in a statement.
type BookMark struct {
	Key    string `json:"key"`
	Title  string `json:"title"`
	Digest string `json:"digest"` // hex SHA-256 of the text
}

// Engaging is a grower who engaged the employer as a farm labor contractor.
type Engaging struct {
	Name    string `json:"name"`
	Address string `json:"address"`
}

// lineRow is one line of a statement, for lists and sums; the statement's figures hold the same.
type lineRow struct {
	EmployerID  uuid.UUID `gorm:"primaryKey"`
	StatementID uuid.UUID `gorm:"primaryKey"`
	LineNo      int       `gorm:"primaryKey"`
	Code        string
	Operation   string
	Quantity    string
	Unit        string
	Rate        *payroll.Rate
	Amount      payroll.Cents
	BasisKey    string
	BasisTerms  models.Document
	Authority   string
}

// TableName tells gorm the table.
func (lineRow) TableName() string { return "statement_lines" }

// problemRow is one problem of a run.
type problemRow struct {
	EmployerID uuid.UUID `gorm:"primaryKey"`
	RunID      uuid.UUID `gorm:"primaryKey"`
	ProblemNo  int       `gorm:"primaryKey"`
	WorkerID   *uuid.UUID
	Kind       ProblemKind
	Code       string
	OnDate     models.Date
	Terms      models.Document
	Subject    string
	Question   string // a payroll.Decision as JSON; empty where it asks about no break
}

// TableName tells gorm the table.
func (problemRow) TableName() string { return "pay_run_problems" }

// decisionRow answers a problem, by its subject.
type decisionRow struct {
	EmployerID uuid.UUID `gorm:"primaryKey"`
	ID         uuid.UUID `gorm:"primaryKey"`
	WeekStart  models.Date
	Subject    string
	Decision   string
	DecidedBy  uuid.UUID
	DecidedAt  time.Time
}

// TableName tells gorm the table.
func (decisionRow) TableName() string { return "problem_decisions" }

// runWorker names a worker whom a final or a correction run is for.
type runWorker struct {
	EmployerID uuid.UUID `gorm:"primaryKey"`
	RunID      uuid.UUID `gorm:"primaryKey"`
	WorkerID   uuid.UUID `gorm:"primaryKey"`
}

// TableName tells gorm the table.
func (runWorker) TableName() string { return "pay_run_workers" }

// runBook says which text of a rulebook a run was reckoned by.
type runBook struct {
	EmployerID uuid.UUID `gorm:"primaryKey"`
	RunID      uuid.UUID `gorm:"primaryKey"`
	BookKey    string    `gorm:"primaryKey"`
	Digest     string
}

// TableName tells gorm the table.
func (runBook) TableName() string { return "pay_run_books" }

// bookText is the text of a rulebook, kept once.
type bookText struct {
	Digest  string `gorm:"primaryKey"`
	BookKey string
	Body    string
}

// TableName tells gorm the table.
func (bookText) TableName() string { return "book_texts" }
