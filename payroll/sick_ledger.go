package payroll

import (
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Seconds is the unit in which sick leave is kept: an hour of leave for thirty hours of work is two seconds a minute, exactly.
type Seconds int64

// Minutes is how many whole minutes there are, rounded down.
func (s Seconds) Minutes() Minutes {
	m := s / 60
	if s%60 < 0 {
		m--
	}
	return Minutes(m)
}

// SickEvent is something that happened to a worker's sick leave: an entry of the account in the order of the days.
type SickEvent struct {
	Date    dated.Date
	Kind    SickEventKind
	Minutes Minutes // worked or used; none otherwise
	Carried Seconds // the balance, where it is carried over; none otherwise
}

// SickEventKind says what happened.
type SickEventKind string

// What may happen: employment begins or ends, hours are worked, leave is used; a balance is carried over from a ledger that was kept
// before, and leave counts toward the year that such a balance has lost already.
const (
	SickHired   SickEventKind = "hired"
	SickLeft    SickEventKind = "left"
	SickWorked  SickEventKind = "worked"
	SickUsed    SickEventKind = "used"
	SickCarried SickEventKind = "carried"
	SickCounted SickEventKind = "counted"
)

// SickAccount is what a sick-leave balance is reckoned from.
type SickAccount struct {
	Events     []SickEvent
	DayMinutes Minutes    // of the worker's usual day, for caps that are counted in days
	YearBegins dated.Date // some first day of a year of use; zero: the day first hired
}

// EmployedOn tells whether the account's events have the worker employed on a day.
func (a *SickAccount) EmployedOn(day dated.Date) bool {
	employed := false
	for _, e := range a.Events {
		switch {
		case e.Date.After(day) || e.Date == day && e.Kind == SickLeft: // the last day is one of employment
			return employed
		case e.Kind == SickHired:
			employed = true
		case e.Kind == SickLeft:
			employed = false
		}
	}
	return employed
}

// SickLedger is an account reckoned through a day.
type SickLedger struct {
	Entries      []SickEntry // one for each event
	Balance      Minutes     // rounded down to whole minutes; below zero where leave was lent
	Exact        Seconds     // the balance as it is kept
	UsableFrom   dated.Date  // first day on which leave may be used; zero while not employed
	Usable       Minutes     // that may be used on the day
	UsedThisYear Minutes
	NextYear     dated.Date // first day of the next year of use; zero before the first employment
}

// SickEntry is what an event did to the balance.
type SickEntry struct {
	SickEvent
	Change, Balance Minutes // rounded down to whole minutes
	Beyond          bool    // more was used than the account then had or the law let use
}

// Ledger reckons a worker's sick leave through a day under a book: so many hours of work earn an hour, up to the cap of the bank;
// leave may be used after the days of waiting, up to the cap of the year; who comes back in time finds the bank as it was left, and
// the days waited. What is earned is kept to the second, up to the next. It returns what is wrong with the account instead, where something is. Under a
// book without sick leave nothing is earned.
func (a *SickAccount) Ledger(book *rulebook.Book, size *int, through dated.Date) (*SickLedger, []Fault) {
	if faults := a.faults(); len(faults) > 0 {
		return nil, faults
	}
	l := sickReckoning{account: a, book: book, size: size}
	for _, e := range a.Events {
		if !e.Date.After(through) {
			l.apply(e)
		}
	}
	rules, _ := book.SickLeave(through, size)
	l.turnYear(through)
	l.ledger.Balance, l.ledger.Exact, l.ledger.UsedThisYear = l.balance.Minutes(), l.balance, l.used
	if !l.year.IsZero() {
		l.ledger.NextYear = nextYear(l.year)
	}
	if l.employed {
		l.ledger.UsableFrom = l.usableFrom(rules)
	}
	l.ledger.Usable = l.usable(rules, through)
	return &l.ledger, nil
}

func (a *SickAccount) faults() []Fault {
	c := checker{reckoning: &reckoning{}}
	c.minutes(a.DayMinutes, "day_minutes")
	employed := false
	for i, e := range a.Events {
		if i > 0 && e.Date.Before(a.Events[i-1].Date) {
			c.fault("fault.backwards", Terms{"date": e.Date, "before": a.Events[i-1].Date}, "events", i, "date")
		}
		c.number(int64(e.Minutes), 366*int64(longestDay), "events", i, "minutes")
		switch e.Kind {
		case SickHired:
			employed = true
		case SickCarried, SickCounted: // of what was before this account
		case SickLeft, SickWorked, SickUsed:
			if !employed {
				c.fault("fault.not_employed", Terms{"date": e.Date}, "events", i, "date")
			}
			employed = employed && e.Kind != SickLeft
		default:
			c.notOneOf(string(e.Kind), []string{string(SickHired), string(SickLeft), string(SickWorked), string(SickUsed), string(SickCarried), string(SickCounted)}, "events", i, "kind")
		}
	}
	return c.faults
}

// sickReckoning is an account on its way to its ledger.
type sickReckoning struct {
	account *SickAccount
	book    *rulebook.Book
	size    *int
	ledger  SickLedger

	balance  Seconds
	employed bool
	hired    dated.Date // of the present employment, or the last
	left     dated.Date
	served   int        // days of employment before the present one that count
	year     dated.Date // first day of the present year of use
	used     Minutes    // in it
}

func (l *sickReckoning) apply(e SickEvent) {
	rules, given := l.book.SickLeave(e.Date, l.size)
	before := l.balance.Minutes()
	entry := SickEntry{SickEvent: e}
	switch e.Kind {
	case SickHired:
		l.hire(e.Date, rules)
	case SickLeft:
		l.employed, l.left = false, e.Date
	case SickWorked:
		if given {
			l.accrue(e.Minutes, rules)
		}
	case SickUsed:
		l.turnYear(e.Date)
		entry.Beyond = e.Minutes > l.usable(rules, e.Date)
		l.balance -= Seconds(e.Minutes) * 60
		l.used += e.Minutes
	case SickCarried:
		l.balance = e.Carried
	case SickCounted:
		l.turnYear(e.Date)
		l.used += e.Minutes
	}
	entry.Balance = l.balance.Minutes()
	entry.Change = entry.Balance - before
	l.ledger.Entries = append(l.ledger.Entries, entry)
}

// hire begins an employment. One that is under way goes on; one that ended lately enough is taken up again.
func (l *sickReckoning) hire(day dated.Date, rules rulebook.SickLeave) {
	switch {
	case l.employed:
		return
	case !l.left.IsZero() && day.DaysSince(l.left) <= rules.ReinstatedWithinDays:
		l.served += l.left.DaysSince(l.hired) + 1
	default:
		l.served, l.balance = 0, 0
	}
	l.employed, l.hired = true, day
	if l.year.IsZero() {
		l.year = day
		if !l.account.YearBegins.IsZero() {
			l.year = l.account.YearBegins
		}
	}
	l.turnYear(day)
}

// accrue earns leave for work, up to the next second. What the bank already holds beyond its cap is kept.
func (l *sickReckoning) accrue(worked Minutes, rules rulebook.SickLeave) {
	seconds, _ := over(worked*60*60, Minutes(rules.AccrualPer)).roundUp()
	earned := Seconds(seconds)
	if limit := l.capOf(rules.BankCap); limit != nil {
		earned = min(earned, max(0, Seconds(*limit)*60-l.balance))
	}
	l.balance += earned
}

func (l *sickReckoning) capOf(c *rulebook.SickCap) *Minutes {
	return SickCapOf(c, l.account.DayMinutes)
}

// SickCapOf is a cap in minutes, the greater of its hours and its days of so many minutes; nil: none.
func SickCapOf(c *rulebook.SickCap, dayMinutes Minutes) *Minutes {
	if c == nil {
		return nil
	}
	most := max(Minutes(c.Minutes), Minutes(c.Days)*dayMinutes)
	return &most
}

// usableFrom is the day from which leave may be used, when the first day of employment is counted as one of those waited.
func (l *sickReckoning) usableFrom(rules rulebook.SickLeave) dated.Date {
	return l.hired.AddDays(max(0, rules.WaitingDays-1-l.served))
}

// usable is how much leave may be used on a day.
func (l *sickReckoning) usable(rules rulebook.SickLeave, day dated.Date) Minutes {
	if !l.employed || day.Before(l.usableFrom(rules)) {
		return 0
	}
	most := max(0, l.balance.Minutes())
	if limit := l.capOf(rules.UseCap); limit != nil {
		most = min(most, max(0, *limit-l.used))
	}
	return most
}

// turnYear begins a new year of use where one is due.
func (l *sickReckoning) turnYear(day dated.Date) {
	for !l.year.IsZero() {
		next := nextYear(l.year)
		if day.Before(next) {
			return
		}
		l.year, l.used = next, 0
	}
}

func nextYear(day dated.Date) dated.Date {
	y, m, d := day.Civil()
	return dated.NewDate(y+1, m, d)
}

// PaidWeek is a week of pay from which a rate of sick leave is averaged.
type PaidWeek struct {
	Start   dated.Date
	Wages   Cents   // without overtime premium
	Minutes Minutes // worked
}

// SickAverageOf is the wages of the weeks that lie wholly within so many days before an absence, with their hours (California
// Labor Code 246(l)); false where no hours were worked in them.
func SickAverageOf(weeks []PaidWeek, absence dated.Date, days int) (SickAverage, bool) {
	var average SickAverage
	for _, w := range weeks {
		if !w.Start.Before(absence.AddDays(-days)) && w.Start.AddDays(6).Before(absence) {
			average.Wages += w.Wages
			average.Minutes += w.Minutes
		}
	}
	return average, average.Minutes > 0
}
