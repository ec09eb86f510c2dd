package payroll

import (
	"time"

	"palmero/payroll/dated"
)

// Week is one worker's workweek: what was worked, counted and agreed. It is the document that is handed in to be reckoned;
// the json names are its public form.
type Week struct {
	ID             string          `json:"id,omitempty"`
	Rulebook       string          `json:"rulebook"`
	Coverage       Coverage        `json:"coverage,omitempty"`
	EmployerSize   *int            `json:"employer_size,omitempty"`
	WeekStart      dated.Date      `json:"week_start"`
	HourlyRate     *Rate           `json:"hourly_rate,omitempty"`
	OfferedRate    *Rate           `json:"offered_rate,omitempty"`
	SickRate       *Rate           `json:"sick_rate,omitempty"`
	SickAverage    *SickAverage    `json:"sick_average,omitempty"` // pays sick time where there is no SickRate
	LeaveRate      *Rate           `json:"leave_rate,omitempty"`
	Days           []Day           `json:"days,omitempty"`
	Bonuses        []Bonus         `json:"bonuses,omitempty"`
	Adjustments    []Adjustment    `json:"adjustments,omitempty"`
	Reimbursements []Reimbursement `json:"reimbursements,omitempty"`
}

// SickAverage is the wages of earlier weeks, without overtime premium, and the time worked in them: sick time is paid at the one over the other.
type SickAverage struct {
	Wages   Cents   `json:"wages"`
	Minutes Minutes `json:"minutes"`
}

// Coverage is the body of overtime rules that a week falls under.
type Coverage string

// The two coverages: farm work, and everything else (a week that lost the farm exemption).
const (
	Agriculture Coverage = "agriculture"
	General     Coverage = "general"
)

// Day is one workday of a week, named by the civil date on which it begins.
type Day struct {
	Date               dated.Date `json:"date"`
	OfferedRate        *Rate      `json:"offered_rate,omitempty"`
	Time               []Time     `json:"time,omitempty"`
	Tallies            []Tally    `json:"tallies,omitempty"`
	PeriodsNotProvided []Period   `json:"periods_not_provided,omitempty"`
	MealsWaived        []Meal     `json:"meals_waived,omitempty"`
	Reports            []Report   `json:"reports,omitempty"`
	SickMinutes        Minutes    `json:"sick_minutes,omitempty"`
	LeaveMinutes       Minutes    `json:"leave_minutes,omitempty"`
}

// Time is a stretch of a workday of one kind: either its length in Minutes or both clock times, never both.
type Time struct {
	Kind    TimeKind   `json:"kind"`
	Minutes *Minutes   `json:"minutes,omitempty"`
	Start   *time.Time `json:"start,omitempty"`
	End     *time.Time `json:"end,omitempty"`
	Rate    *Rate      `json:"rate,omitempty"` // hourly, nonproductive and on-duty meal time only
}

// TimeKind says how a stretch of time was spent.
type TimeKind string

// The kinds of time.
const (
	Piece         TimeKind = "piece"
	Hourly        TimeKind = "hourly"
	Nonproductive TimeKind = "nonproductive"
	Rest          TimeKind = "rest"
	Recovery      TimeKind = "recovery"
	MealPeriod    TimeKind = "meal"
	MealOnDuty    TimeKind = "meal_on_duty"
)

// Tally is a count of pieces of one operation at one rate.
type Tally struct {
	Operation string `json:"operation"`
	Unit      string `json:"unit"`
	Pieces    Pieces `json:"pieces"`
	Rate      Rate   `json:"rate"`
	Part      *Part  `json:"part,omitempty"` // nil: the pieces are all this worker's
}

// Part is a worker's part of a crew's lot, in exactly one way: minutes of the lot's minutes, a share of 1, or one of a number of heads.
type Part struct {
	Minutes    *Minutes `json:"minutes,omitempty"`
	LotMinutes *Minutes `json:"lot_minutes,omitempty"`
	Share      *Share   `json:"share,omitempty"`
	Heads      *int     `json:"heads,omitempty"`
}

// Period names a kind of break that the employer owes.
type Period string

// The periods that may not have been provided.
const (
	MissedMeal     Period = "meal"
	MissedRest     Period = "rest"
	MissedRecovery Period = "recovery"
)

// Meal names a meal period of the day by its order.
type Meal string

// The meal periods that may be waived by mutual consent.
const (
	FirstMeal  Meal = "first"
	SecondMeal Meal = "second"
)

// Report is one time the worker reported for work that day, for reporting-time pay.
type Report struct {
	ScheduledMinutes Minutes  `json:"scheduled_minutes"`
	WorkedMinutes    *Minutes `json:"worked_minutes,omitempty"`
	EndedBy          EndedBy  `json:"ended_by"`
}

// EndedBy says who ended a stretch of work.
type EndedBy string

// Who or what ended the work.
const (
	EndedByEmployer EndedBy = "employer"
	EndedByWorker   EndedBy = "worker"
	BeyondControl   EndedBy = "beyond_control"
)

// Bonus is a sum earned in the week.
type Bonus struct {
	Kind   BonusKind `json:"kind"`
	Amount Cents     `json:"amount"`
}

// BonusKind says how a bonus is earned.
type BonusKind string

// The kinds of bonus: earned across all hours worked, or a fixed sum not tied to pieces.
const (
	Production BonusKind = "production"
	Flat       BonusKind = "flat"
)

// Adjustment is money for another week, paid in this one.
type Adjustment struct {
	ForWeek   dated.Date       `json:"for_week"`
	Amount    Cents            `json:"amount"`
	Reason    string           `json:"reason"`
	Authority string           `json:"authority"`
	Spread    *Spread          `json:"spread,omitempty"`    // where it is the week's part of a bonus
	Guarantee *HoursGuaranteed `json:"guarantee,omitempty"` // where it pays hours that a contract guaranteed
}

// Spread says which part of a bonus over several weeks a week has: the share by its hours, and what the adjustment is more than
// that is overtime and other pay that rises with it.
type Spread struct {
	Bonus      Cents   `json:"bonus"`
	Share      Cents   `json:"share"`
	Minutes    Minutes `json:"minutes"`     // of the week over which the bonus is spread
	AllMinutes Minutes `json:"all_minutes"` // of all its weeks
}

// HoursGuaranteed says by how much the hours of a contract fell short of what it guaranteed, and the rate that pays them.
type HoursGuaranteed struct {
	Guaranteed Minutes `json:"guaranteed"`
	Counted    Minutes `json:"counted"`
	Rate       Rate    `json:"rate"`
}

// Reimbursement repays a worker's expense; it is no wage.
type Reimbursement struct {
	Kind   string `json:"kind"`
	Amount Cents  `json:"amount"`
}
