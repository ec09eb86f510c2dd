package payrun

import (
	"cmp"
	"encoding/json"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// result is a week reckoned: the statements of those who can be paid, and the problems of all.
type result struct {
	statements []statement
	problems   []Problem
	books      map[string]*rulebook.Book
	digest     string // of everything that went in
}

// statement is one worker's week, reckoned.
type statement struct {
	*workerWeek
	heading Heading
	figures *payroll.Statement
}

// reckon gathers a week and reckons it, of one worker or (with uuid.Nil) of everybody. Workers whose week stands on an approved statement already
// are left out of a run, and kept in where one worker looks at their own week.
func reckon(tx *models.Tx, books *rulebook.Library, weekStart dated.Date, worker uuid.UUID) (*result, error) {
	r, err := gather(tx, weekStart, worker)
	if err != nil {
		return nil, err
	}
	res := &result{books: map[string]*rulebook.Book{}}
	inputs := newDigest(r.profile)
	for _, w := range weeksOf(r, weekStart) {
		if worker == uuid.Nil && r.paid[w.worker.ID] {
			continue
		}
		s, err := res.reckonWeek(r, books, w)
		if err != nil {
			return nil, err
		}
		inputs.add(s)
	}
	if worker == uuid.Nil {
		res.checkRolls(r)
	}
	for _, key := range slices.Sorted(maps.Keys(res.books)) {
		inputs.book(res.books[key])
	}
	res.digest = inputs.sum()
	return res, nil
}

// reckonWeek reckons one worker's week and notes its problems.
func (res *result) reckonWeek(r *records, books *rulebook.Library, w *workerWeek) (*statement, error) {
	s := &statement{workerWeek: w}
	w.checkCounts(r)
	w.checkEmployment()
	book, ok := books.Book(w.week.Rulebook)
	if !ok {
		w.problem(Problem{Kind: Holds, Code: "pay_problem.unknown_rulebook", Terms: payroll.Terms{"rulebook": w.week.Rulebook}, Subject: "week"})
	} else {
		s.heading = headingOf(r, w, book)
	}
	if !w.held {
		figures, faults := payroll.Reckon(books, &w.week)
		for _, f := range faults {
			w.problem(Problem{Kind: Holds, Code: f.Key, Terms: f.Terms, Date: w.dateAt(f.Pointer), Subject: f.Pointer})
		}
		if len(faults) == 0 {
			s.figures = figures
			res.noteProblems(w, figures)
		}
	}
	if s.figures != nil {
		for _, b := range book.Chain() {
			res.books[b.Key()] = b
		}
		res.statements = append(res.statements, *s)
	}
	res.problems = append(res.problems, w.problems...)
	return s, nil
}

func (res *result) noteProblems(w *workerWeek, figures *payroll.Statement) {
	for _, n := range figures.Notes {
		w.problem(Problem{Kind: kindOfNote(n.Code), Code: "note." + n.Code, Date: n.Date, Terms: n.Terms, Subject: "note"})
	}
}

// dateAt is the day that a pointer into a week points into; zero where it points elsewhere.
func (w *workerWeek) dateAt(pointer string) dated.Date {
	rest, ok := strings.CutPrefix(pointer, "/days/")
	if !ok {
		return dated.Date{}
	}
	index, _, _ := strings.Cut(rest, "/")
	n, err := strconv.Atoi(index)
	if err != nil || n >= len(w.week.Days) {
		return dated.Date{}
	}
	return w.week.Days[n].Date
}

func headingOf(r *records, w *workerWeek, book *rulebook.Book) Heading {
	var h Heading
	profile, worker := r.profile.Content, w.worker.Content
	h.Employer.LegalName, h.Employer.Address, h.Employer.TaxNumber = profile.LegalName, profile.Address, profile.TaxNumber
	h.Worker.ID, h.Worker.Number, h.Worker.Name, h.Worker.Address = w.worker.ID, worker.Number, worker.Name, worker.Address
	for id := range w.gardens {
		g := r.gardens[id].Content
		h.Gardens = append(h.Gardens, g.Name)
		if e := (Engaging{g.EngagingEntity, g.EngagingEntityAddress}); e.Name != "" && !slices.Contains(h.EngagedBy, e) {
			h.EngagedBy = append(h.EngagedBy, e)
		}
	}
	slices.Sort(h.Gardens)
	slices.SortFunc(h.EngagedBy, func(a, b Engaging) int { return cmp.Compare(a.Name, b.Name) })
	h.Payday = models.Day(PaydayOf(w.week.WeekStart, r.profile))
	h.RulebookTitle, h.RulebookDigest = book.Title(), book.Digest()
	return h
}

// PaydayOf is the day on which a week is paid: the first of the employer's paydays after the week has ended.
func PaydayOf(weekStart dated.Date, profile *models.EmployerProfile) dated.Date {
	next := weekStart.AddDays(7)
	return next.AddDays((int(profile.Content.Payday-next.Weekday()) + 7) % 7)
}

// checkRolls tells of workers who were called on a roll and have no time that day.
func (res *result) checkRolls(r *records) {
	type presence struct {
		worker uuid.UUID
		day    dated.Date
	}
	worked := map[presence]bool{}
	for i := range r.time {
		c := &r.time[i].Content
		worked[presence{r.settled(c.WorkerID), c.Workday.Date}] = true
	}
	for _, s := range r.sheets {
		var roll []uuid.UUID
		if json.Unmarshal(s.Roll, &roll) != nil {
			continue // the roll is written by this program alone; a sheet without one is an empty list
		}
		for _, id := range roll {
			p := presence{r.settled(id), s.Workday.Date}
			if !worked[p] && r.workers[p.worker] != nil {
				worked[p] = true
				res.problems = append(res.problems, Problem{WorkerID: p.worker, Kind: Decide, Code: "pay_problem.on_roll_without_time", Date: p.day, Subject: "roll"})
			}
		}
	}
}
