package payroll

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Bounds of what a week may hold. A civil day has 25 hours at most.
const (
	longestDay    Minutes = 25 * 60
	longestLot    Minutes = 1_000_000
	largestCrew           = 1_000_000
	mostEntries           = 2_000
	rateLimit             = maxUnits * ratePerUnit
	centsLimit            = maxUnits * centsPerUnit
	piecesLimit           = maxUnits * piecesPerUnit
	quantityLimit         = maxUnits * 10_000
	earningsLimit         = maxUnits * ratePerUnit * piecesPerUnit // of pieces × rate
)

// open checks a week whole, looks up what the law says on its days, and sorts its time. It returns every fault there is.
func open(books *rulebook.Library, w *Week) (*reckoning, []Fault) {
	c := &checker{reckoning: &reckoning{week: w, coverage: string(w.Coverage)}}
	c.statement = Statement{ID: w.ID, WeekStart: w.WeekStart, Rulebook: w.Rulebook, Engine: Engine}
	if c.coverage == "" {
		c.coverage = string(Agriculture)
	}
	c.checkHead(books)
	c.checkDays()
	c.checkSums()
	if len(c.faults) > 0 {
		return nil, c.faults
	}
	slices.SortFunc(c.days, func(a, b workday) int { return a.Date.Compare(b.Date) })
	c.statement.Lines = make([]Line, 0, 12)
	c.statement.Rates.MinimumWage = make([]DayRate, 0, len(c.days))
	for i := range c.days {
		c.statement.Rates.MinimumWage = append(c.statement.Rates.MinimumWage, DayRate{c.days[i].Date, c.days[i].minimum})
	}
	return c.reckoning, nil
}

// checker gathers what is wrong with a week, while it makes ready to reckon it.
type checker struct {
	*reckoning
	faults []Fault
}

// place is where a value stands in the document: keys and indexes from the top down.
type place []any

func (p place) pointer() string {
	var b strings.Builder
	for _, step := range p {
		b.WriteByte('/')
		switch s := step.(type) {
		case string:
			b.WriteString(s)
		case int:
			b.WriteString(strconv.Itoa(s))
		}
	}
	return b.String()
}

func (c *checker) fault(key string, terms Terms, at ...any) {
	c.faults = append(c.faults, Fault{Pointer: place(at).pointer(), Key: key, Terms: terms})
}

func (c *checker) checkHead(books *rulebook.Library) {
	w := c.week
	book, known := books.Governing(w.Rulebook)
	if c.book = book; !known {
		c.fault("fault.rulebook_unknown", Terms{"rulebook": w.Rulebook, "known": books.Keys()}, "rulebook")
	}
	switch {
	case c.coverage != string(Agriculture) && c.coverage != string(General):
		c.notOneOf(c.coverage, []string{string(Agriculture), string(General)}, "coverage")
	case known && !book.Covers(c.coverage):
		c.fault("fault.coverage_unknown", Terms{"rulebook": w.Rulebook}, "coverage")
	}
	if w.EmployerSize != nil && *w.EmployerSize < 1 {
		c.fault("fault.below_one", Terms{"value": *w.EmployerSize}, "employer_size")
	}
	if w.WeekStart.IsZero() {
		c.fault("fault.empty", Terms{}, "week_start")
	} else if known {
		rules, missing := book.Rules(w.WeekStart)
		for _, err := range missing {
			c.noValue(err, "week_start")
		}
		c.rules = rules
	}
	c.rate(w.HourlyRate, "hourly_rate")
	c.rate(w.OfferedRate, "offered_rate")
	c.rate(w.SickRate, "sick_rate")
	if a := w.SickAverage; a != nil {
		c.number(int64(a.Wages), centsLimit, "sick_average", "wages")
		c.number(int64(a.Minutes), mostMinutes, "sick_average", "minutes")
		if a.Minutes == 0 {
			c.fault("fault.below_one", Terms{"value": 0}, "sick_average", "minutes")
		}
	}
	c.rate(w.LeaveRate, "leave_rate")
}

func (c *checker) notOneOf(value string, allowed []string, at ...any) {
	c.fault("fault.not_one_of", Terms{"value": value, "allowed": allowed}, at...)
}

func (c *checker) rate(rate *Rate, at ...any) {
	if rate != nil {
		c.number(int64(*rate), rateLimit, at...)
	}
}

// number refuses what is below zero or beyond a limit.
func (c *checker) number(n, limit int64, at ...any) {
	switch {
	case n < 0:
		c.fault("fault.negative", Terms{}, at...)
	case n > limit:
		c.fault("fault.out_of_range", Terms{}, at...)
	}
}

// minutes refuses minutes below zero or beyond the longest day.
func (c *checker) minutes(m Minutes, at ...any) {
	switch {
	case m < 0:
		c.fault("fault.negative", Terms{}, at...)
	case m > longestDay:
		c.fault("fault.day_too_long", Terms{"limit": longestDay}, at...)
	}
}

func (c *checker) text(s string, at ...any) {
	if strings.TrimSpace(s) == "" {
		c.fault("fault.empty", Terms{}, at...)
	}
}

func (c *checker) checkDays() {
	w := c.week
	c.days = make([]workday, 0, min(len(w.Days), 7))
	var clocks []clocked
	for i := range w.Days {
		d := workday{Day: &w.Days[i]}
		inWeek := c.checkDate(i, &d)
		c.rate(d.OfferedRate, "days", i, "offered_rate")
		if offer := cmpOr(d.OfferedRate, w.OfferedRate); offer != nil {
			d.offered = *offer
		}
		if c.few(len(d.Time), "days", i, "time") {
			clocks = c.checkTime(i, &d, clocks)
		}
		if c.few(len(d.Tallies), "days", i, "tallies") {
			for j := range d.Tallies {
				c.checkTally(&d.Tallies[j], i, j)
			}
		}
		c.checkPeriods(i, d.Day)
		c.checkReports(i, d.Day)
		c.minutes(d.SickMinutes, "days", i, "sick_minutes")
		c.minutes(d.LeaveMinutes, "days", i, "leave_minutes")
		d.classify(Minutes(c.rules.ShortMeal))
		c.count(&d)
		if inWeek {
			c.days = append(c.days, d)
		}
	}
	c.checkOverlaps(clocks)
}

// few refuses a list that no day of work has.
func (c *checker) few(n int, at ...any) bool {
	if n > mostEntries {
		c.fault("fault.too_many", Terms{"limit": mostEntries}, at...)
	}
	return n <= mostEntries
}

// checkDate checks a day's date and looks up its minimum wage; it tells whether the day is one of the week.
func (c *checker) checkDate(i int, d *workday) bool {
	start := c.week.WeekStart
	if start.IsZero() {
		return false
	}
	if n := d.Date.DaysSince(start); d.Date.IsZero() || n < 0 || n > 6 {
		c.fault("fault.day_outside_week", Terms{"date": d.Date, "from": start, "through": start.AddDays(6)}, "days", i, "date")
		return false
	}
	if slices.ContainsFunc(c.days, func(other workday) bool { return other.Date == d.Date }) {
		c.fault("fault.day_twice", Terms{"date": d.Date}, "days", i, "date")
		return false
	}
	if c.book == nil {
		return true
	}
	wage, err := c.book.MinimumWage(d.Date, c.week.EmployerSize)
	if err != nil {
		c.noValue(err, "days", i, "date")
	}
	d.minimum = Rate(wage)
	return true
}

func (c *checker) noValue(err error, at ...any) {
	var missing *dated.NoValueError
	if errors.As(err, &missing) {
		c.fault("fault.no_value", Terms{"book": missing.Book, "parameter": missing.Parameter, "date": missing.Date}, at...)
	}
}

var timeKinds = []string{
	string(Piece), string(Hourly), string(Nonproductive), string(Rest), string(Recovery), string(MealPeriod), string(MealOnDuty),
}

// checkTime checks a day's time entries, and keeps them with their lengths.
func (c *checker) checkTime(i int, d *workday, clocks []clocked) []clocked {
	var sum Minutes
	d.stretches = make([]stretchOfTime, 0, len(d.Time))
	for j := range d.Time {
		t := &d.Time[j]
		s := stretchOfTime{entered: t.Kind, rate: t.Rate}
		switch t.Kind {
		case Hourly, Nonproductive, MealOnDuty:
			c.rate(t.Rate, "days", i, "time", j, "rate")
		case Piece, Rest, Recovery, MealPeriod:
			if t.Rate != nil {
				c.fault("fault.rate_not_allowed", Terms{"kind": string(t.Kind)}, "days", i, "time", j, "rate")
			}
		default:
			c.notOneOf(string(t.Kind), timeKinds, "days", i, "time", j, "kind")
		}
		if c.checkLength(t, &s, i, j) {
			d.stretches = append(d.stretches, s)
			sum += min(s.minutes, longestDay+1)
			if s.clocked {
				clocks = append(clocks, clocked{s.start, s.start + int64(s.minutes), i, j})
			}
		}
	}
	if sum > longestDay {
		c.fault("fault.day_too_long", Terms{"limit": longestDay}, "days", i, "time")
	}
	return clocks
}

// checkLength works out how long an entry was, and tells whether that can be.
func (c *checker) checkLength(t *Time, s *stretchOfTime, i, j int) bool {
	switch {
	case t.Minutes != nil && t.Start == nil && t.End == nil:
		s.minutes = *t.Minutes
		if s.minutes < 0 {
			c.fault("fault.negative", Terms{}, "days", i, "time", j, "minutes")
		}
		return s.minutes >= 0
	case t.Minutes == nil && t.Start != nil && t.End != nil:
		s.clocked = true
		return c.checkClock(t, s, i, j)
	}
	c.fault("fault.time_length", Terms{}, "days", i, "time", j)
	return false
}

func (c *checker) checkClock(t *Time, s *stretchOfTime, i, j int) bool {
	start, end := wholeMinute(*t.Start), wholeMinute(*t.End)
	date := c.week.Days[i].Date
	near := nearDay(start, date)
	if !near {
		c.fault("fault.time_far", Terms{"date": date}, "days", i, "time", j, "start")
	}
	if !nearDay(end, date) {
		c.fault("fault.time_far", Terms{"date": date}, "days", i, "time", j, "end")
		return false
	}
	if near && end < start {
		c.fault("fault.time_backwards", Terms{}, "days", i, "time", j, "end")
		return false
	}
	s.start, s.minutes = start, Minutes(end-start)
	return near
}

// wholeMinute cuts an instant down to the minute, counted since 1970.
func wholeMinute(t time.Time) int64 {
	seconds := t.Unix()
	if rest := seconds % 60; rest < 0 {
		seconds -= 60
	}
	return seconds / 60
}

// nearDay tells whether an instant can belong to the workday of a date, wherever on earth and at whatever hour it begins.
func nearDay(minute int64, date dated.Date) bool {
	midnight := int64(date.DaysSince(epoch)) * 24 * 60
	return minute > midnight-24*60 && minute < midnight+72*60
}

var epoch = dated.NewDate(1970, time.January, 1)

func (c *checker) checkTally(t *Tally, i, j int) {
	c.text(t.Operation, "days", i, "tallies", j, "operation")
	c.text(t.Unit, "days", i, "tallies", j, "unit")
	c.number(int64(t.Pieces), piecesLimit, "days", i, "tallies", j, "pieces")
	c.number(int64(t.Rate), rateLimit, "days", i, "tallies", j, "rate")
	if product, ok := mul64(int64(t.Pieces), int64(t.Rate)); !ok || product > earningsLimit {
		c.fault("fault.out_of_range", Terms{}, "days", i, "tallies", j)
	}
	if t.Part != nil {
		c.checkPart(t.Part, i, j)
	}
}

// checkPart checks that a lot is parted in one way, and that the part is no more than the lot.
func (c *checker) checkPart(p *Part, i, j int) {
	byMinutes := p.Minutes != nil || p.LotMinutes != nil
	if btoi(byMinutes)+btoi(p.Share != nil)+btoi(p.Heads != nil) != 1 || (byMinutes && (p.Minutes == nil || p.LotMinutes == nil)) {
		c.fault("fault.part_ways", Terms{}, "days", i, "tallies", j, "part")
	}
	if p.Minutes != nil {
		c.number(int64(*p.Minutes), int64(longestLot), "days", i, "tallies", j, "part", "minutes")
	}
	if p.LotMinutes != nil {
		c.positive(int64(*p.LotMinutes), int64(longestLot), "days", i, "tallies", j, "part", "lot_minutes")
	}
	if p.Minutes != nil && p.LotMinutes != nil && *p.Minutes > *p.LotMinutes {
		c.fault("fault.part_over_lot", Terms{"minutes": *p.Minutes, "lot": *p.LotMinutes}, "days", i, "tallies", j, "part", "minutes")
	}
	if p.Share != nil && (*p.Share <= 0 || *p.Share > sharePerUnit) {
		c.fault("fault.share_range", Terms{}, "days", i, "tallies", j, "part", "share")
	}
	if p.Heads != nil {
		c.positive(int64(*p.Heads), largestCrew, "days", i, "tallies", j, "part", "heads")
	}
}

func (c *checker) positive(n, limit int64, at ...any) {
	switch {
	case n < 1:
		c.fault("fault.below_one", Terms{"value": int(n)}, at...)
	case n > limit:
		c.fault("fault.out_of_range", Terms{}, at...)
	}
}

func (c *checker) checkPeriods(i int, d *Day) {
	if c.few(len(d.PeriodsNotProvided), "days", i, "periods_not_provided") {
		for j, period := range d.PeriodsNotProvided {
			if period != MissedMeal && period != MissedRest && period != MissedRecovery {
				c.notOneOf(string(period), []string{string(MissedMeal), string(MissedRest), string(MissedRecovery)}, "days", i, "periods_not_provided", j)
			}
		}
	}
	if !c.few(len(d.MealsWaived), "days", i, "meals_waived") {
		return
	}
	for j, meal := range d.MealsWaived {
		switch {
		case meal != FirstMeal && meal != SecondMeal:
			c.notOneOf(string(meal), []string{string(FirstMeal), string(SecondMeal)}, "days", i, "meals_waived", j)
		case slices.Contains(d.MealsWaived[:j], meal):
			c.fault("fault.listed_twice", Terms{"value": string(meal)}, "days", i, "meals_waived", j)
		}
	}
}

func (c *checker) checkReports(i int, d *Day) {
	if !c.few(len(d.Reports), "days", i, "reports") {
		return
	}
	for j := range d.Reports {
		report := &d.Reports[j]
		c.minutes(report.ScheduledMinutes, "days", i, "reports", j, "scheduled_minutes")
		switch {
		case report.WorkedMinutes != nil:
			c.minutes(*report.WorkedMinutes, "days", i, "reports", j, "worked_minutes")
		case len(d.Reports) > 1:
			c.fault("fault.report_worked", Terms{}, "days", i, "reports", j, "worked_minutes")
		}
		if by := report.EndedBy; by != EndedByEmployer && by != EndedByWorker && by != BeyondControl {
			c.notOneOf(string(by), []string{string(EndedByEmployer), string(EndedByWorker), string(BeyondControl)}, "days", i, "reports", j, "ended_by")
		}
	}
}

// clocked is an entry with clock times, in minutes since 1970, and where it stands.
type clocked struct {
	start, end int64
	day, entry int
}

// checkOverlaps refuses each entry that begins before an earlier one has ended, across the days of the week.
func (c *checker) checkOverlaps(entries []clocked) {
	slices.SortFunc(entries, func(a, b clocked) int {
		return compareInts(a.start, b.start, int64(a.day), int64(b.day), int64(a.entry), int64(b.entry))
	})
	var last clocked
	for n, e := range entries {
		if n > 0 && e.start < last.end && e.end > e.start {
			other := place{"days", last.day, "time", last.entry}.pointer()
			c.fault("fault.time_overlap", Terms{"other": other}, "days", e.day, "time", e.entry)
		}
		if n == 0 || e.end > last.end {
			last = e
		}
	}
}

// compareInts compares the numbers pair by pair until two differ.
func compareInts(pairs ...int64) int {
	for i := 0; i < len(pairs); i += 2 {
		if pairs[i] != pairs[i+1] {
			return 1 - 2*btoi(pairs[i] < pairs[i+1])
		}
	}
	return 0
}

// checkSums checks the sums that the week lists, and that what is to be paid by the hour off work has a rate.
func (c *checker) checkSums() {
	w := c.week
	if c.few(len(w.Bonuses), "bonuses") {
		for i, b := range w.Bonuses {
			if b.Kind != Production && b.Kind != Flat {
				c.notOneOf(string(b.Kind), []string{string(Production), string(Flat)}, "bonuses", i, "kind")
			}
			c.number(int64(b.Amount), centsLimit, "bonuses", i, "amount")
		}
	}
	if c.few(len(w.Adjustments), "adjustments") {
		for i := range w.Adjustments {
			c.checkAdjustment(&w.Adjustments[i], i)
		}
	}
	if c.few(len(w.Reimbursements), "reimbursements") {
		for i, a := range w.Reimbursements {
			c.text(a.Kind, "reimbursements", i, "kind")
			c.number(int64(a.Amount), centsLimit, "reimbursements", i, "amount")
		}
	}
	sick := slices.ContainsFunc(w.Days, func(d Day) bool { return d.SickMinutes > 0 })
	if sick && c.worked == 0 && w.SickRate == nil && w.SickAverage == nil && w.HourlyRate == nil {
		c.fault("fault.sick_rate", Terms{}, "sick_rate")
	}
	if w.LeaveRate == nil && slices.ContainsFunc(w.Days, func(d Day) bool { return d.LeaveMinutes > 0 }) {
		c.fault("fault.leave_rate", Terms{}, "leave_rate")
	}
}

// mostMinutes bounds the time of what reaches over many weeks.
const mostMinutes = 3_660 * int64(longestDay)

func (c *checker) checkAdjustment(a *Adjustment, i int) {
	if a.ForWeek.IsZero() {
		c.fault("fault.empty", Terms{}, "adjustments", i, "for_week")
	}
	if a.Amount > centsLimit || a.Amount < -centsLimit {
		c.fault("fault.out_of_range", Terms{}, "adjustments", i, "amount")
	}
	c.text(a.Reason, "adjustments", i, "reason")
	c.text(a.Authority, "adjustments", i, "authority")
	if s := a.Spread; s != nil {
		c.number(int64(s.Bonus), centsLimit, "adjustments", i, "spread", "bonus")
		c.number(int64(s.Share), centsLimit, "adjustments", i, "spread", "share")
		c.number(int64(s.Minutes), mostMinutes, "adjustments", i, "spread", "minutes")
		c.number(int64(s.AllMinutes), mostMinutes, "adjustments", i, "spread", "all_minutes")
	}
	if g := a.Guarantee; g != nil {
		c.number(int64(g.Guaranteed), mostMinutes, "adjustments", i, "guarantee", "guaranteed")
		c.number(int64(g.Counted), mostMinutes, "adjustments", i, "guarantee", "counted")
		c.rate(&g.Rate, "adjustments", i, "guarantee", "rate")
	}
}
