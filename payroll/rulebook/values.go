package rulebook

import (
	"math"

	"palmero/payroll/dated"
)

// Wage is an hourly wage in 1/10,000 of the currency unit.
type Wage int64

// Treatment says how a kind of time that makes no pieces is paid.
type Treatment string

// The treatments: paid apart from the pieces, or covered by their pay.
const (
	Separate Treatment = "separate"
	Included Treatment = "included"
)

// Hours names the hours over which something is reckoned.
type Hours string

// The hours: all that were worked, those of piece work, or those that are no overtime.
const (
	AllHours         Hours = "all_hours"
	PieceHours       Hours = "piece_hours"
	NonOvertimeHours Hours = "non_overtime_hours"
)

// Makeup says what the minimum wage is tested on: which hours, and over how long.
type Makeup struct {
	Basis Hours // AllHours or PieceHours
	Span  Span
}

// Span is a stretch of time over which pay is tested.
type Span string

// The spans.
const (
	Workday  Span = "workday"
	Workweek Span = "workweek"
)

// MissedPeriods says what is owed for a meal, rest or recovery period that was not provided. At most one of the two is set; none: nothing is owed.
type MissedPeriods struct {
	HourPerDay   int // minutes of pay for a day with missed meals, and again with missed rests; 0: does not apply
	ExtraMinutes int // minutes of pay for each rest period; 0: does not apply
}

// Limits are the minutes of a day and a week beyond which overtime and double time begin; [NoLimit] where there is none.
type Limits struct {
	Daily, Weekly, DoubleDaily int
}

// NoLimit is a limit that no day or week reaches.
const NoLimit = math.MaxInt32

// stricter takes from each pair of limits the lower.
func (l Limits) stricter(m Limits) Limits {
	return Limits{min(l.Daily, m.Daily), min(l.Weekly, m.Weekly), min(l.DoubleDaily, m.DoubleDaily)}
}

// PremiumFactor is how many times the regular rate an hour of overtime and of double time comes to, in tenths.
type PremiumFactor struct {
	Overtime, DoubleTime int
}

// ReportingTime is what is owed to who reports for work that is cut short; lengths in minutes.
type ReportingTime struct {
	FromSize         int // head count from which it is owed
	ScheduleTenths   int // the part of the schedule that is owed, in tenths
	AtLeast, AtMost  int // bounds of that part
	LaterReportLeast int // owed for a later report of the same day
}

// Meal is a meal period that the law asks for; lengths in minutes.
type Meal struct {
	DueOver      int // due in a day with more work than this
	Minutes      int
	StartBy      int // begins after no more work than this; NoLimit: no hour is set
	WaivableUpTo int // may be waived in a day with no more work than this; 0: no waiver is known
}

// RestPeriods is the law's measure of rest; lengths in minutes.
type RestPeriods struct {
	Minutes   int  // of one period
	Per       int  // one period for so much work
	NoneUnder int  // none in a day with less work
	MajorPart bool // the major part of Per counts as all of it
}

// Due returns how many rest periods a day of so many minutes of work has.
func (r *RestPeriods) Due(worked int) int {
	if worked < r.NoneUnder {
		return 0
	}
	periods := worked / r.Per
	if r.MajorPart && 2*(worked%r.Per) > r.Per {
		periods++
	}
	return periods
}

func readCount(n dated.Node) int { return n.Int(1) }

func readWage(n dated.Node) Wage { return Wage(n.Decimal(4)) }

func readTreatment(n dated.Node) Treatment {
	return Treatment(n.Word(string(Separate), string(Included)))
}

func readAverage(n dated.Node) Hours { return Hours(n.Word(string(AllHours), string(PieceHours))) }

func readFlatBonus(n dated.Node) Hours {
	return Hours(n.Word(string(AllHours), string(NonOvertimeHours)))
}

// readMakeup refuses all hours tested by the workday, which no law asks and the engine does not reckon.
func readMakeup(n dated.Node) Makeup {
	f := n.Fields([]string{"basis", "span"})
	m := Makeup{readAverage(f["basis"]), Span(f["span"].Word(string(Workday), string(Workweek)))}
	if m == (Makeup{AllHours, Workday}) {
		n.Report("tests all hours by the workday, which is not reckoned; test piece_hours, or by the workweek")
	}
	return m
}

func readMissedPeriods(n dated.Node) MissedPeriods {
	if !n.IsMapping() {
		n.Word("none")
		return MissedPeriods{}
	}
	f := n.Fields(nil, "hour_per_day", "extra_minutes")
	if len(f) != 1 {
		n.Report("must have either hour_per_day or extra_minutes")
	}
	var m MissedPeriods
	if f.Has("hour_per_day") {
		m.HourPerDay = f["hour_per_day"].Int(1)
	}
	if f.Has("extra_minutes") {
		m.ExtraMinutes = f["extra_minutes"].Int(1)
	}
	return m
}

// readHours reads hours in quotes, such as "9.5", as minutes.
func readHours(n dated.Node) int {
	thousandths := n.Decimal(3)
	if thousandths*60%1000 != 0 {
		n.Report("comes to no whole minutes; write hours that do")
	}
	return int(min(thousandths*60/1000, NoLimit))
}

func readLimit(n dated.Node) int {
	if n.IsNull() {
		return NoLimit
	}
	return readHours(n)
}

func readLimits(n dated.Node) Limits {
	f := n.Fields([]string{"daily", "weekly", "double_daily"})
	return Limits{readLimit(f["daily"]), readLimit(f["weekly"]), readLimit(f["double_daily"])}
}

func readPremiumFactor(n dated.Node) PremiumFactor {
	f := n.Fields([]string{"overtime", "double_time"})
	factor := PremiumFactor{int(f["overtime"].Decimal(1)), int(f["double_time"].Decimal(1))}
	if factor.Overtime < 10 || factor.DoubleTime < 10 {
		n.Report("pays overtime below the regular rate; write a factor of 1 or more")
	}
	return factor
}

func readReportingTime(n dated.Node) ReportingTime {
	f := n.Fields([]string{"from_size", "schedule_share", "at_least", "at_most", "later_report"})
	return ReportingTime{
		FromSize:         f["from_size"].Int(1),
		ScheduleTenths:   int(f["schedule_share"].Decimal(1)),
		AtLeast:          readHours(f["at_least"]),
		AtMost:           readHours(f["at_most"]),
		LaterReportLeast: readHours(f["later_report"]),
	}
}

func readMeals(n dated.Node) []Meal {
	var meals []Meal
	for _, item := range n.Items() {
		f := item.Fields([]string{"minutes", "start_by", "waivable_up_to"}, "due_over", "due_from")
		m := Meal{DueOver: readHours(f["due_over"]), Minutes: f["minutes"].Int(1), StartBy: readLimit(f["start_by"])}
		if f.Has("due_over") == f.Has("due_from") {
			item.Report("must have either due_over or due_from")
		}
		if f.Has("due_from") {
			m.DueOver = max(0, readHours(f["due_from"])-1) // whole minutes: from 660 is over 659
		}
		if !f["waivable_up_to"].IsNull() {
			m.WaivableUpTo = readHours(f["waivable_up_to"])
		}
		meals = append(meals, m)
	}
	if len(meals) > 2 {
		n.Report("lists more than two meal periods; the notes know a first and a second")
	}
	return meals
}

func readRestPeriods(n dated.Node) RestPeriods {
	f := n.Fields([]string{"minutes", "per_hours", "part_of_them", "none_under"})
	r := RestPeriods{Minutes: f["minutes"].Int(1), Per: readHours(f["per_hours"]), NoneUnder: readHours(f["none_under"]),
		MajorPart: f["part_of_them"].Word("major", "none") == "major"}
	if f.Has("per_hours") && r.Per == 0 {
		n.Report("gives rest for no hours; write per_hours above zero")
	}
	return r
}
