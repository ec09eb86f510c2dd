package payroll

import "palmero/payroll/dated"

// Statement is what a worker is owed for a week, line by line.
type Statement struct {
	ID        string
	WeekStart dated.Date
	Rulebook  string
	Engine    string
	Minutes   MinutesByKind
	Rates     Rates
	Lines     []Line
	Totals    Totals
	Notes     []Note
}

// Engine is the version of the arithmetic. It changes whenever the same week and the same rules may give another cent.
const Engine = "1"

// MinutesByKind are the week's minutes as they were entered, and what the rules make of them.
type MinutesByKind struct {
	Piece, Hourly, Nonproductive, Rest, Recovery, Meal, MealOnDuty Minutes
	Worked, Overtime, DoubleTime                                   Minutes
}

// Rates are the hourly rates that the week's lines rest on, rounded half up to four decimals for display only.
type Rates struct {
	MinimumWage   []DayRate // one per workday of the week's records, in day order
	AverageHourly *Rate     // nil where no line used it
	Regular       *Rate     // nil where nothing was worked
	FlatBonus     *Rate     // nil where flat bonuses stay in the regular rate
}

// DayRate is the hourly rate of one day.
type DayRate struct {
	Date dated.Date
	Rate Rate
}

// Line is one line of a statement.
type Line struct {
	Code      Code
	Operation string // "" where the line belongs to none
	Quantity  string // decimal; whole minutes where Unit is "minute"
	Unit      string
	Rate      *Rate // nil where the line has no natural rate
	Amount    Cents
	Days      []DayQuantity
	Basis     Basis
	Authority string
}

// DayQuantity is the part of a line's quantity that falls on one day.
type DayQuantity struct {
	Date     dated.Date
	Quantity string
}

// Basis says how a line came to its amount, as a message key and its terms.
type Basis struct {
	Key   string
	Terms Terms
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
	StraightTime, Premiums, Other, Gross, Taxes, Deductions, Reimbursements, Net Cents
}

// Note tells whoever runs the pay week of something that the records leave open. It never changes an amount.
type Note struct {
	Code      string     // such as "meal_due"; its message key is "note." + Code
	Date      dated.Date // zero where the note is about the week
	Terms     Terms
	Authority string
}
