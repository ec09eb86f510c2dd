package payroll

import "palmero/payroll/dated"

// Statement is what a worker is owed for a week, line by line. Its JSON is the form in which it is stored, from which it
// comes back exactly as it was; what the public sees is rendered from it.
type Statement struct {
	ID        string        `json:"id"`
	WeekStart dated.Date    `json:"week_start"`
	Rulebook  string        `json:"rulebook"`
	Engine    string        `json:"engine"`
	Minutes   MinutesByKind `json:"minutes"`
	Rates     Rates         `json:"rates"`
	Lines     []Line        `json:"lines"`
	Totals    Totals        `json:"totals"`
	Notes     []Note        `json:"notes"`
}

// Engine is the version of the arithmetic. It changes whenever the same week and the same rules may give another cent.
const Engine = "1"

// MinutesByKind are the week's minutes as they were entered, and what the rules make of them.
type MinutesByKind struct {
	Piece         Minutes `json:"piece"`
	Hourly        Minutes `json:"hourly"`
	Nonproductive Minutes `json:"nonproductive"`
	Rest          Minutes `json:"rest"`
	Recovery      Minutes `json:"recovery"`
	Meal          Minutes `json:"meal"`
	MealOnDuty    Minutes `json:"meal_on_duty"`
	Worked        Minutes `json:"worked"`
	Overtime      Minutes `json:"overtime"`
	DoubleTime    Minutes `json:"double_time"`
}

// Rates are the hourly rates that the week's lines rest on, rounded half up to four decimals for display only.
type Rates struct {
	MinimumWage   []DayRate `json:"minimum_wage"`   // one per workday of the week's records, in day order
	AverageHourly *Rate     `json:"average_hourly"` // nil where no line used it
	Regular       *Rate     `json:"regular"`        // nil where nothing was worked
	FlatBonus     *Rate     `json:"flat_bonus"`     // nil where flat bonuses stay in the regular rate
}

// DayRate is the hourly rate of one day.
type DayRate struct {
	Date dated.Date `json:"date"`
	Rate Rate       `json:"rate"`
}

// Line is one line of a statement.
type Line struct {
	Code      Code          `json:"code"`
	Operation string        `json:"operation"` // "" where the line belongs to none
	Quantity  string        `json:"quantity"`  // decimal; whole minutes where Unit is "minute"
	Unit      string        `json:"unit"`
	Rate      *Rate         `json:"rate"` // nil where the line has no natural rate
	Amount    Cents         `json:"amount"`
	Days      []DayQuantity `json:"days"`
	Basis     Basis         `json:"basis"`
	Authority string        `json:"authority"`
}

// DayQuantity is the part of a line's quantity that falls on one day.
type DayQuantity struct {
	Date     dated.Date `json:"date"`
	Quantity string     `json:"quantity"`
}

// Basis says how a line came to its amount, as a message key and its terms.
type Basis struct {
	Key   string `json:"key"`
	Terms Terms  `json:"terms"`
}

// Code names what a line pays or takes.
type Code string

// The codes of lines, in the order in which they stand on a statement.
const (
	PieceLine             Code = "piece"
	SharedPieceLine       Code = "shared_piece"
	HourlyLine            Code = "hourly"
	NonproductiveLine     Code = "nonproductive"
	BonusLine             Code = "bonus"
	MinimumMakeupLine     Code = "minimum_makeup"
	GuaranteeMakeupLine   Code = "guarantee_makeup"
	RestRecoveryLine      Code = "rest_recovery"
	OvertimePremiumLine   Code = "overtime_premium"
	DoubleTimePremiumLine Code = "double_time_premium"
	MealPremiumLine       Code = "meal_period_premium"
	RestPremiumLine       Code = "rest_recovery_premium"
	ReportingTimeLine     Code = "reporting_time"
	SickLine              Code = "sick"
	LeaveLine             Code = "leave"
	AdjustmentLine        Code = "adjustment"
	ReimbursementLine     Code = "reimbursement"
)

// Totals add up the lines: Gross = StraightTime + Premiums + Other; Net = Gross + Taxes + Deductions + Reimbursements,
// where taxes and deductions are negative.
type Totals struct {
	StraightTime   Cents `json:"straight_time"`
	Premiums       Cents `json:"premiums"`
	Other          Cents `json:"other"`
	Gross          Cents `json:"gross"`
	Taxes          Cents `json:"taxes"`
	Deductions     Cents `json:"deductions"`
	Reimbursements Cents `json:"reimbursements"`
	Net            Cents `json:"net"`
}

// Note tells whoever runs the pay week of something that the records leave open. It never changes an amount.
type Note struct {
	Code      string     `json:"code"`          // such as "meal_due"; its message key is "note." + Code
	Date      dated.Date `json:"date,omitzero"` // zero where the note is about the week
	Terms     Terms      `json:"terms"`
	Authority string     `json:"authority"`
}
