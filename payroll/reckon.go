package payroll

import (
	"slices"

	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Reckon works out what is owed for a week under the book it names. It returns either the statement or everything that is
// wrong with the week, never both. The week is not changed; the books may be shared by any number of goroutines.
func Reckon(books *rulebook.Library, w *Week) (*Statement, []Fault) {
	r, faults := open(books, w)
	if len(faults) > 0 {
		return nil, faults
	}
	r.straightTime()
	r.minimumMakeup()
	r.guaranteeMakeup()
	r.restAndRecovery()
	r.overtimeMinutes() // before the regular rate, as a flat bonus is spread over the hours that are no overtime
	r.regularRate()
	r.premiums()
	r.periodsNotProvided()
	r.reportingTime()
	r.sickPay()
	r.leave()
	r.adjustments()
	r.reimbursements()
	r.totals()
	r.takeNotes()
	if r.beyond {
		return nil, []Fault{{Key: "fault.out_of_range", Terms: Terms{}}}
	}
	return &r.statement, nil
}

// reckoning is a week on its way to a statement. Each step reads what the steps before it left here.
type reckoning struct {
	week     *Week
	book     *rulebook.Book
	coverage string
	rules    rulebook.Rules
	days     []workday // in date order

	piece, hourly, nonproductive, rest, worked Minutes // the week's time, as it is paid
	overtime, doubleTime                       Minutes

	liftedRates map[liftedRate]bool // rates below a floor, of which has been told
	average     *hourAverage        // nil until something is paid at it
	regular     ratio               // regular rate and flat bonus rate, in 1/10,000 an hour
	flat        ratio
	regularPay  Cents // what the two are made of
	flatPay     Cents
	nonOvertime Minutes
	statement   Statement
	beyond      bool // an amount outgrew what can be reckoned
}

// workday is one day of the week's records, with its time sorted by how it is paid.
type workday struct {
	*Day
	stretches []stretchOfTime

	minimum, offered Rate

	piece, hourly, nonproductive, rest, worked Minutes
	overtime, doubleTime                       Minutes

	earned ratio // cents earned by the piece that day, exactly
}

// stretchOfTime is a time entry once it is known how long it was and how it is paid.
type stretchOfTime struct {
	entered TimeKind
	kind    TimeKind // Piece, Hourly, Nonproductive, Rest (recovery too), or MealPeriod for time that is not worked
	minutes Minutes
	rate    *Rate
	clocked bool
	start   int64 // in minutes since 1970, where clocked
}

// classify sorts a day's time by how it is paid. A meal period too short to be one, or one on duty, is time worked
// that makes no pieces.
func (d *workday) classify(shortMeal Minutes) {
	for i := range d.stretches {
		s := &d.stretches[i]
		switch s.kind = s.entered; {
		case s.entered == Recovery:
			s.kind = Rest
		case s.entered == MealOnDuty, s.entered == MealPeriod && s.minutes <= shortMeal:
			s.kind = Nonproductive
		}
		switch s.kind {
		case Piece:
			d.piece += s.minutes
		case Hourly:
			d.hourly += s.minutes
		case Nonproductive:
			d.nonproductive += s.minutes
		case Rest:
			d.rest += s.minutes
		}
	}
	d.worked = d.piece + d.hourly + d.nonproductive + d.rest
}

// count adds a classified day to the week.
func (r *reckoning) count(d *workday) {
	r.piece += d.piece
	r.hourly += d.hourly
	r.nonproductive += d.nonproductive
	r.rest += d.rest
	r.worked += d.worked
	m := &r.statement.Minutes
	for i := range d.stretches {
		switch s := &d.stretches[i]; s.entered {
		case Piece:
			m.Piece += s.minutes
		case Hourly:
			m.Hourly += s.minutes
		case Nonproductive:
			m.Nonproductive += s.minutes
		case Rest:
			m.Rest += s.minutes
		case Recovery:
			m.Recovery += s.minutes
		case MealPeriod:
			m.Meal += s.minutes
		case MealOnDuty:
			m.MealOnDuty += s.minutes
		}
	}
	m.Worked = r.worked
}

// allSevenWorked tells whether work was done on every day of the workweek.
func (r *reckoning) allSevenWorked() bool {
	return len(r.days) == 7 && !slices.ContainsFunc(r.days, func(d workday) bool { return d.worked == 0 })
}

// seventhDay is the last day of the workweek.
func (r *reckoning) seventhDay() dated.Date { return r.week.WeekStart.AddDays(6) }

// payOf turns minutes at a rate of 1/10,000 an hour into cents, exactly.
func payOf(minutes Minutes, rate ratio) ratio { return rate.times(over(minutes, minutesRate)) }

// hourly turns cents for minutes into a rate of 1/10,000 an hour, exactly.
func perHour(pay Cents, minutes Minutes) ratio {
	return over(pay, minutes).times(whole(minutesRate))
}

// minutesRate is how many minutes at a rate of 1/10,000 an hour make a cent.
const minutesRate = 60 * ratePerUnit / centsPerUnit
