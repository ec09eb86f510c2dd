package payrun

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// sickRecords are what some workers' sick leave is reckoned from: the last entry of each one's ledger, which carries the balance, and no more than a year of what
// was used. The cost does not grow with the years.
type sickRecords struct {
	carried map[uuid.UUID]SickEntry
	uses    map[uuid.UUID][]models.SickUse    // that stand, of a year and through the last day that counts
	opened  map[uuid.UUID][]SickEntry         // opening balances that tell of leave used before
	before  map[uuid.UUID][]models.Employment // that ended before the present one
	weeks   map[uuid.UUID][]payroll.PaidWeek  // of those with sick leave in the week
}

// yearBack is how far back leave used may still count toward a year of use.
const yearBack = 366

// sickWindow is the longest time before an absence over which the rulebooks average a rate.
const sickWindow = 92

// findSick reads it for some workers; people are they and the provisional hands who turned out to be them.
func (r *records) findSick(b *models.Batch, sel selection, workers, people []uuid.UUID) {
	s := &r.sick
	*s = sickRecords{uses: map[uuid.UUID][]models.SickUse{}, before: map[uuid.UUID][]models.Employment{}, carried: findLastSickEntries(b, workers)}
	var uses []models.SickUse
	models.FindOfWorkers(b, people, models.Day(sel.weekStart.AddDays(-yearBack)), sel.last(), &uses)
	s.findOpened(b, workers)
	var before []models.Employment
	b.Find(b.DB().Scopes(b.Among("worker_id", workers)).Order("from_date"), &before)
	b.Then(func() (err error) {
		for _, e := range before {
			s.before[e.WorkerID] = append(s.before[e.WorkerID], e)
		}
		var absent []uuid.UUID
		for _, u := range uses {
			id := r.settled(u.Content.WorkerID)
			s.uses[id] = append(s.uses[id], u)
			if !u.Content.Workday.Before(sel.weekStart) && u.Content.Minutes > 0 {
				absent = append(absent, id)
			}
		}
		if len(absent) > 0 {
			s.weeks, err = paidWeeks(b.Tx, absent, sel.weekStart)
		}
		return err
	})
}

// findOpened reads the opening balances that tell of leave used before them.
func (s *sickRecords) findOpened(b *models.Batch, workers []uuid.UUID) {
	s.opened = map[uuid.UUID][]SickEntry{}
	var rows []SickEntry
	b.Find(b.DB().Scopes(b.Among("worker_id", workers)).Where("used_minutes > 0"), &rows)
	b.Then(func() error {
		for _, e := range rows {
			s.opened[e.WorkerID] = append(s.opened[e.WorkerID], e)
		}
		return nil
	})
}

// paidWeeks reads what workers earned and how long they worked in the weeks before one, by approved statements that stand.
func paidWeeks(tx *models.Tx, workers []uuid.UUID, weekStart dated.Date) (map[uuid.UUID][]payroll.PaidWeek, error) {
	var rows []struct {
		WorkerID uuid.UUID
		models.Date
		Wages   payroll.Cents
		Minutes payroll.Minutes
	}
	err := tx.DB().Raw(`SELECT s.worker_id, s.week_start AS date, s.straight_time AS wages, s.worked_minutes AS minutes
		FROM statements s JOIN pay_runs p ON p.employer_id = s.employer_id AND p.id = s.run_id
		WHERE s.employer_id = ? AND s.worker_id IN ? AND s.week_start >= ? AND s.week_start < ? AND s.voided_at IS NULL AND p.state <> 'draft' AND p.kind <> 'correction'
		ORDER BY s.week_start`, tx.Employer, workers, models.Day(weekStart.AddDays(-sickWindow)), models.Day(weekStart)).Scan(&rows).Error
	out := map[uuid.UUID][]payroll.PaidWeek{}
	for _, w := range rows {
		out[w.WorkerID] = append(out[w.WorkerID], payroll.PaidWeek{Start: w.Date.Date, Wages: w.Wages, Minutes: w.Minutes})
	}
	return out, err
}

// addSick adds the leave taken in the week to its days.
func (r *records) addSick(of func(uuid.UUID) *workerWeek, weekStart dated.Date) {
	for id, uses := range r.sick.uses {
		for _, u := range uses {
			if c := u.Content; !c.Workday.Before(weekStart) && c.Minutes > 0 {
				w := of(id)
				w.gardens[c.GardenID] = true
				w.day(c.Workday.Date).SickMinutes += c.Minutes
			}
		}
	}
}

// payFor sets the average that pays the week's sick leave, where the book averages: over the full weeks before the first day of the absence. Such an average
// there is in a week without other work too; where there are no weeks to average, the week's own regular rate pays it.
func (s *sickRecords) payFor(w *workerWeek, book *rulebook.Book) {
	w.week.SickAverage = nil
	first := slices.IndexFunc(w.week.Days, func(d payroll.Day) bool { return d.SickMinutes > 0 })
	if first < 0 {
		return
	}
	absence := w.week.Days[first].Date
	rules, _ := book.SickLeave(absence, w.week.EmployerSize)
	if average, ok := payroll.SickAverageOf(s.weeks[w.worker.ID], absence, rules.RateDays); ok {
		w.week.SickAverage = &average
	}
}

// account is a worker's sick leave without the work of a week: every employment, the balance as it is carried, and what was used, which the balance has lost
// already.
func (s *sickRecords) account(worker *models.Worker, before dated.Date) *payroll.SickAccount {
	a := &payroll.SickAccount{DayMinutes: worker.Content.UsualDayMinutes}
	add := func(kind payroll.SickEventKind, day dated.Date, minutes payroll.Minutes) {
		a.Events = append(a.Events, payroll.SickEvent{Date: day, Kind: kind, Minutes: minutes})
	}
	for _, e := range s.before[worker.ID] {
		add(payroll.SickHired, e.FromDate.Date, 0)
		add(payroll.SickLeft, e.ThroughDate.Date, 0)
	}
	add(payroll.SickHired, worker.Content.StartedOn.Date, 0)
	if !worker.Content.EndedOn.IsZero() {
		add(payroll.SickLeft, worker.Content.EndedOn.Date, 0)
	}
	for _, u := range s.uses[worker.ID] {
		add(payroll.SickCounted, u.Content.Workday.Date, u.Content.Minutes)
	}
	for _, e := range s.opened[worker.ID] {
		add(payroll.SickCounted, e.OnDate.Date, e.UsedMinutes)
	}
	sortSick(a.Events)
	if carried, ok := s.carried[worker.ID]; ok {
		day := carried.ThroughDate.Date
		if !day.Before(before) { // a later week is in it already: nothing comes between
			day = before
		}
		if !a.EmployedOn(day) && len(s.before[worker.ID]) == 0 && day.Before(worker.Content.StartedOn.Date) { // the work speaks for itself, whatever the dates say now
			add(payroll.SickHired, day, 0)
		}
		a.Events = append(a.Events, payroll.SickEvent{Date: day, Kind: payroll.SickCarried, Carried: carried.ChangedTo})
	}
	sortSick(a.Events)
	return a
}

// sortSick puts events in order: on one day employment begins, leave is counted, the balance is carried, work is done, employment ends.
func sortSick(events []payroll.SickEvent) {
	rank := map[payroll.SickEventKind]int{payroll.SickHired: 0, payroll.SickCounted: 1, payroll.SickCarried: 2, payroll.SickWorked: 3, payroll.SickLeft: 4}
	slices.SortStableFunc(events, func(a, b payroll.SickEvent) int {
		return cmp.Or(a.Date.Compare(b.Date), cmp.Compare(rank[a.Kind], rank[b.Kind]))
	})
}

// SickLeave is a worker's sick leave as a statement tells it: what the week did to the balance, and what may be used.
type SickLeave struct {
	EarnedSeconds  payroll.Seconds `json:"earned_seconds"` // by the week's work; below zero where a balance lapsed
	BalanceSeconds payroll.Seconds `json:"balance_seconds"`
	Balance        payroll.Minutes `json:"balance_minutes"` // rounded down
	Used           payroll.Minutes `json:"used_minutes"`    // in the week
	Paid           payroll.Cents   `json:"paid"`
	UsedThisYear   payroll.Minutes `json:"used_this_year_minutes"`
	Usable         payroll.Minutes `json:"usable_minutes"` // on the last day of the week
	UsableFrom     models.Date     `json:"usable_from,omitzero"`
}

// leaveAfter reckons the worker's sick leave after the week; nil where the book has none and none is carried.
func (s *sickRecords) leaveAfter(w *workerWeek, book *rulebook.Book, figures *payroll.Statement) *SickLeave {
	carried, kept := s.carried[w.worker.ID]
	last := w.week.WeekStart.AddDays(6)
	if _, ruled := book.SickLeave(last, w.week.EmployerSize); !ruled && !kept {
		return nil
	}
	worked := w.lastWorked()
	a := s.account(w.worker, worked)
	if !a.EmployedOn(worked) { // the clerk is told of it, and the work earns what it earns
		a.Events = append(a.Events, payroll.SickEvent{Date: worked, Kind: payroll.SickHired})
	}
	a.Events = append(a.Events, payroll.SickEvent{Date: worked, Kind: payroll.SickWorked, Minutes: figures.Minutes.Worked})
	sortSick(a.Events)
	ledger, faults := a.Ledger(book, w.week.EmployerSize, last)
	if len(faults) > 0 {
		panic(fmt.Sprintf("a ledger of our own making has faults: %v", faults))
	}
	leave := &SickLeave{EarnedSeconds: ledger.Exact - carried.ChangedTo, BalanceSeconds: ledger.Exact, Balance: ledger.Balance, UsedThisYear: ledger.UsedThisYear,
		Usable: ledger.Usable, UsableFrom: models.Day(ledger.UsableFrom)}
	for _, d := range w.week.Days {
		leave.Used += d.SickMinutes
	}
	for _, l := range figures.Lines {
		if l.Code == payroll.SickLine {
			leave.Paid += l.Amount
		}
	}
	return leave
}

// lastWorked is the last day of the week's records with work; the week's first where there is none.
func (w *workerWeek) lastWorked() dated.Date {
	for _, d := range slices.Backward(w.week.Days) {
		if len(d.Time) > 0 {
			return d.Date
		}
	}
	return w.week.WeekStart
}
