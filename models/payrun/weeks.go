package payrun

import (
	"cmp"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// workerWeek is one worker's week on its way from records to a statement.
type workerWeek struct {
	worker   *models.Worker
	week     payroll.Week
	gardens  map[uuid.UUID]bool
	books    []string // the rulebooks of those gardens, sorted
	details  []Detail
	problems []Problem
	held     bool
	owed     []uuid.UUID // adjustments that the week's statement pays

	days   map[dated.Date]*payroll.Day
	places map[dated.Date][]uuid.UUID // the gardens of a day's time
	hours  map[dated.Date][]place     // and its hours there
}

// Detail is a row of the daily detail on a statement: a time entry or a tally.
type Detail struct {
	Date      dated.Date       `json:"date"`
	Start     string           `json:"start,omitempty"` // on the garden's clock
	Stop      string           `json:"stop,omitempty"`
	Kind      payroll.TimeKind `json:"kind,omitempty"`
	Minutes   *payroll.Minutes `json:"minutes,omitempty"`
	Operation string           `json:"operation,omitempty"`
	Garden    string           `json:"garden,omitempty"`
	Block     string           `json:"block,omitempty"`
	Pieces    *payroll.Pieces  `json:"pieces,omitempty"`
	Part      string           `json:"part,omitempty"` // of a lot: the worker's part, as a fraction
	Unit      string           `json:"unit,omitempty"`
	Rate      *payroll.Rate    `json:"rate,omitempty"`
}

// weeksOf sorts the records by worker and turns each worker's into a week to be reckoned, in the order of the workers' numbers. It is deterministic:
// the same records give the same weeks, in whatever order they came in.
func weeksOf(r *records, sel selection) []*workerWeek {
	weekStart, last := sel.weekStart, sel.last().Date
	weeks := map[uuid.UUID]*workerWeek{}
	of := func(id uuid.UUID) *workerWeek {
		id = r.settled(id)
		w := weeks[id]
		if w == nil {
			w = newWeek(r, r.workers[id], weekStart)
			weeks[id] = w
		}
		return w
	}
	for i := range r.time {
		e := &r.time[i]
		r.addTime(of(e.Content.WorkerID), e, weekStart, last)
	}
	for i := range r.tallies {
		t := &r.tallies[i]
		r.addTally(of(t.Content.WorkerID), t)
	}
	for i := range r.breaks {
		c := &r.breaks[i].Content
		addBreak(of(c.WorkerID).day(c.Workday.Date), c.Fact)
	}
	r.addSick(of, weekStart)
	for id := range r.bonuses.of {
		of(id)
	}
	r.addContracts(of, weekStart)
	for id := range r.workers {
		if len(r.rolls[id]) > 0 {
			of(id) // somebody who was called and has nothing recorded is asked about
		}
	}
	sorted := make([]*workerWeek, 0, len(weeks))
	for _, w := range weeks {
		if len(w.days) == 0 && len(w.problems) == 0 && !w.called(r) && len(r.bonuses.of[w.worker.ID]) == 0 && !r.settles(w) {
			continue // only time of the day before, none of it spilling over
		}
		w.finish(r)
		sorted = append(sorted, w)
	}
	slices.SortFunc(sorted, func(a, b *workerWeek) int { return cmp.Compare(a.worker.Content.Number, b.worker.Content.Number) })
	return sorted
}

// called tells whether the worker was on a roll that week.
func (w *workerWeek) called(r *records) bool {
	for id := range r.workers {
		if len(r.rolls[id]) > 0 && r.settled(id) == w.worker.ID {
			return true
		}
	}
	return false
}

func newWeek(r *records, worker *models.Worker, weekStart dated.Date) *workerWeek {
	size := int(r.profile.Content.Size)
	return &workerWeek{
		worker:  worker,
		gardens: map[uuid.UUID]bool{},
		days:    map[dated.Date]*payroll.Day{},
		places:  map[dated.Date][]uuid.UUID{},
		hours:   map[dated.Date][]place{},
		week: payroll.Week{
			ID: worker.ID.String(), Coverage: payroll.Agriculture, EmployerSize: &size, WeekStart: weekStart,
			HourlyRate: r.hourlyRate(worker.ID, weekStart),
		},
	}
}

func (w *workerWeek) day(date dated.Date) *payroll.Day {
	d := w.days[date]
	if d == nil {
		d = &payroll.Day{Date: date}
		w.days[date] = d
	}
	return d
}

// addTime adds a time entry, split where it runs across the start of a workday.
func (r *records) addTime(w *workerWeek, e *models.TimeEntry, weekStart, last dated.Date) {
	c := &e.Content
	garden := r.gardens[c.GardenID]
	if !c.Workday.Before(weekStart) && !c.Workday.After(last) {
		w.checkEndings(r, c.BlockID, c.OperationID, c.Workday.Date)
	}
	if c.Minutes != nil {
		if c.Workday.Before(weekStart) {
			return
		}
		w.gardens[c.GardenID] = true
		w.problem(Problem{Kind: Note, Code: "pay_problem.minutes_without_clock", Date: c.Workday.Date, Subject: e.ID.String()})
		w.addPiece(r, c, c.Workday.Date, payroll.Time{Kind: c.Kind, Minutes: c.Minutes}, *c.Minutes, "", "")
		return
	}
	if c.EndedAt == nil {
		if !c.Workday.Before(weekStart) {
			w.gardens[c.GardenID] = true
			w.problem(Problem{Kind: Holds, Code: "pay_problem.time_open", Date: c.Workday.Date, Subject: e.ID.String()})
		}
		return
	}
	loc, err := models.Zone(garden.Content.TimeZone)
	if err != nil {
		w.problem(Problem{Kind: Holds, Code: "fault.unknown_zone", Terms: payroll.Terms{"given": garden.Content.TimeZone}, Subject: c.GardenID.String()})
		return
	}
	for day, start := c.Workday.Date, *c.StartedAt; start.Before(*c.EndedAt); day = day.AddDays(1) {
		end := models.WorkdayBegin(day.AddDays(1), int(r.profile.Content.WorkdayStart), loc)
		if c.EndedAt.Before(end) {
			end = *c.EndedAt
		}
		if !day.Before(weekStart) && !day.After(last) {
			w.gardens[c.GardenID] = true
			from, to := start.In(loc), end.In(loc)
			w.addPiece(r, c, day, payroll.Time{Kind: c.Kind, Start: &from, End: &to}, payroll.Minutes(to.Sub(from)/time.Minute),
				from.Format("15:04"), to.Format("15:04"))
		}
		start = end
	}
}

// addPiece adds one stretch of time to its day, at the worker's hourly rate where its kind is paid by the hour.
func (w *workerWeek) addPiece(r *records, c *models.TimeEntryContent, day dated.Date, t payroll.Time, minutes payroll.Minutes, start, stop string) {
	switch c.Kind {
	case payroll.Hourly, payroll.Nonproductive, payroll.MealOnDuty:
		t.Rate = r.hourlyRate(w.worker.ID, day)
	}
	d := w.day(day)
	d.Time = append(d.Time, t)
	w.spend(c.GardenID, day, &t)
	detail := Detail{Date: day, Start: start, Stop: stop, Kind: c.Kind, Minutes: &minutes, Garden: r.gardens[c.GardenID].Content.Name}
	if c.OperationID != nil {
		detail.Operation = r.operations[*c.OperationID].Content.Code
	}
	if c.BlockID != nil {
		detail.Block = r.blocks[*c.BlockID].Content.Code
	}
	w.details = append(w.details, detail)
}

// addTally adds a tally, or a part of a lot, at the rate of its operation, block and day.
func (r *records) addTally(w *workerWeek, t *models.Tally) {
	c := &t.Content
	block, operation := r.blocks[c.BlockID], r.operations[c.OperationID]
	w.gardens[block.Content.GardenID] = true
	day := c.Workday.Date
	w.checkEndings(r, &c.BlockID, &c.OperationID, day)
	rate, ok := r.pieceRate(c.OperationID, block, day)
	if !ok {
		w.problem(Problem{Kind: Holds, Code: "pay_problem.no_piece_rate", Date: day, Subject: c.OperationID.String() + c.BlockID.String(),
			Terms: payroll.Terms{"operation": operation.Content.Code, "block": block.Content.Code}})
	}
	if a, ok := r.disputes[t.ID]; ok {
		w.problem(Problem{Kind: Decide, Code: "pay_problem.tally_disputed", Date: day, Subject: a.ID.String(),
			Terms: payroll.Terms{"operation": operation.Content.Code, "block": block.Content.Code, "note": a.Note}})
	}
	tally := payroll.Tally{Operation: operation.Content.Code, Unit: operation.Content.Unit, Rate: rate}
	detail := Detail{Date: day, Operation: tally.Operation, Garden: r.gardens[block.Content.GardenID].Content.Name, Block: block.Content.Code, Unit: tally.Unit, Rate: &tally.Rate}
	if c.LotID != nil {
		tally.Pieces = r.lots[*c.LotID].Content.Pieces
		tally.Part, detail.Part = partOf(c)
	} else {
		tally.Pieces = *c.Pieces
	}
	detail.Pieces = &tally.Pieces
	w.day(day).Tallies = append(w.day(day).Tallies, tally)
	w.details = append(w.details, detail)
}

func partOf(c *models.TallyContent) (*payroll.Part, string) {
	switch {
	case c.PartMinutes != nil:
		return &payroll.Part{Minutes: c.PartMinutes, LotMinutes: c.LotMinutes}, itoa(int64(*c.PartMinutes)) + "/" + itoa(int64(*c.LotMinutes))
	case c.Share != nil:
		return &payroll.Part{Share: c.Share}, c.Share.String()
	}
	heads := int(*c.Heads)
	return &payroll.Part{Heads: &heads}, "1/" + itoa(*c.Heads)
}

func addBreak(d *payroll.Day, fact models.BreakFact) {
	switch fact {
	case models.MealNotProvided:
		d.PeriodsNotProvided = append(d.PeriodsNotProvided, payroll.MissedMeal)
	case models.RestNotProvided:
		d.PeriodsNotProvided = append(d.PeriodsNotProvided, payroll.MissedRest)
	case models.RecoveryNotProvided:
		d.PeriodsNotProvided = append(d.PeriodsNotProvided, payroll.MissedRecovery)
	case models.FirstMealWaived:
		d.MealsWaived = append(d.MealsWaived, payroll.FirstMeal)
	case models.SecondMealWaived:
		d.MealsWaived = append(d.MealsWaived, payroll.SecondMeal)
	}
}

// finish puts the days and what they hold in order, and settles under which rulebook the week falls.
func (w *workerWeek) finish(r *records) {
	for _, d := range w.days {
		slices.SortFunc(d.Time, compareTime)
		slices.SortFunc(d.Tallies, compareTallies)
		slices.Sort(d.PeriodsNotProvided)
		slices.Sort(d.MealsWaived)
		d.MealsWaived = slices.Compact(d.MealsWaived)
		w.week.Days = append(w.week.Days, *d)
	}
	slices.SortFunc(w.week.Days, func(a, b payroll.Day) int { return a.Date.Compare(b.Date) })
	slices.SortStableFunc(w.details, func(a, b Detail) int {
		return cmp.Or(a.Date.Compare(b.Date), -cmp.Compare(boolean(a.Start != ""), boolean(b.Start != "")), cmp.Compare(a.Start, b.Start),
			cmp.Compare(a.Operation, b.Operation), cmp.Compare(a.Block, b.Block), cmp.Compare(a.Garden, b.Garden))
	})
	for id := range w.gardens {
		w.books = append(w.books, r.books.For(id, r.gardens[id].Content.Rulebook, w.worker.ID)...)
	}
	if len(w.gardens) == 0 { // a day with nothing but a break that was not provided: it falls under where the employer's gardens are
		for _, g := range r.gardens {
			w.books = append(w.books, r.books.For(g.ID, g.Content.Rulebook, w.worker.ID)...)
		}
	}
	slices.Sort(w.books)
	w.books = slices.Compact(w.books)
	if len(w.books) > 0 {
		w.week.Rulebook = w.books[0]
	}
	if w.worker.Content.Provisional {
		w.problem(Problem{Kind: Holds, Code: "pay_problem.worker_provisional", Subject: "worker"})
	}
}

func boolean(b bool) int {
	if b {
		return 1
	}
	return 0
}

func compareTime(a, b payroll.Time) int {
	if a.Start != nil && b.Start != nil {
		return a.Start.Compare(*b.Start)
	}
	return cmp.Or(-cmp.Compare(boolean(a.Start != nil), boolean(b.Start != nil)), cmp.Compare(a.Kind, b.Kind), cmp.Compare(minutesOf(a), minutesOf(b)))
}

func minutesOf(t payroll.Time) payroll.Minutes {
	if t.Minutes == nil {
		return 0
	}
	return *t.Minutes
}

func compareTallies(a, b payroll.Tally) int {
	return cmp.Or(cmp.Compare(a.Operation, b.Operation), cmp.Compare(a.Unit, b.Unit), cmp.Compare(a.Rate, b.Rate), cmp.Compare(a.Pieces, b.Pieces),
		cmp.Compare(partText(a.Part), partText(b.Part)))
}

func partText(p *payroll.Part) string {
	switch {
	case p == nil:
		return ""
	case p.Minutes != nil:
		return "m" + itoa(int64(*p.Minutes)) + "/" + itoa(int64(*p.LotMinutes))
	case p.Share != nil:
		return "s" + p.Share.String()
	}
	return "h" + itoa(int64(*p.Heads))
}
