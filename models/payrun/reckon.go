package payrun

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/localbooks"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// result is what a week comes to, apart from its statements, which were handed on one by one.
type result struct {
	statements int
	problems   []Problem
	law        *localbooks.Library
	books      map[string]*rulebook.Book // those that statements were made by
	inputs     *digest                   // of everything that went in
	due        dated.Date                // of a final run: the day by which the rulebook wants it paid
}

func newResult(g *ground) *result {
	return &result{law: g.books, books: map[string]*rulebook.Book{}, inputs: newDigest(g.profile)}
}

// statement is one worker's week, reckoned; without figures where something holds it.
type statement struct {
	*workerWeek
	book      *governing
	heading   Heading
	reissueOf *uuid.UUID
	figures   *payroll.Statement
	papers    papers
}

// papers are the parts of a statement that the digest runs over and that are kept to the byte, as JSON.
type papers struct{ heading, week, details []byte }

// reckon gathers a week and reckons it, some workers at a time, and hands each statement on. Workers whose week stands on an approved statement already are
// left out of a run, and kept in where one worker looks at their own week or a week is reviewed.
func reckon(tx *models.Tx, books *rulebook.Library, sel selection, each func(*statement) error) (*result, error) {
	g, err := survey(tx, books, sel)
	if err != nil {
		return nil, err
	}
	workers, err := whose(tx, g, sel)
	if err != nil {
		return nil, err
	}
	res := newResult(g)
	for _, key := range g.books.Leftovers() {
		res.problems = append(res.problems, Problem{Kind: Note, Code: "pay_problem.local_book_left", Terms: payroll.Terms{"rulebook": key}, Subject: key})
	}
	progress := progressOf(tx)
	progress.Done.Store(0)
	progress.Of.Store(int64(len(workers)))
	gathered := func(yield func(*records, error) bool) {
		for some := range slices.Chunk(workers, workersAtOnce) {
			if !yield(gather(tx, g, sel, some)) {
				return
			}
			progress.Done.Add(int64(len(some)))
		}
	}
	err = overlapped(gathered, func(r *records) []*statement { return res.takeAll(r, sel) }, func(some []*statement) error {
		for _, s := range some {
			if err := each(s); err != nil {
				return err
			}
		}
		return nil
	})
	if !sel.paidToo {
		res.noteUnmeasured(g)
	}
	return res, err
}

// takeAll reckons the weeks of some workers into the result, and returns the statements. It leaves the database alone.
func (res *result) takeAll(r *records, sel selection) []*statement {
	var statements []*statement
	for _, w := range weeksOf(r, sel) {
		if !sel.paidToo && r.paid[w.worker.ID] || sel.only != nil && !sel.only[w.worker.ID] {
			continue
		}
		if s := res.take(r, w, sel.heldToo); s != nil {
			statements = append(statements, s)
		}
	}
	return statements
}

// take reckons one worker's week into the result, and returns its statement: where something holds it, without figures or, unless heldToo, nil.
func (res *result) take(r *records, w *workerWeek, heldToo bool) *statement {
	s := res.reckonWeek(r, w)
	res.inputs.add(s)
	if s.figures == nil {
		if heldToo {
			return s
		}
		return nil
	}
	res.statements++
	for _, b := range s.book.Chain() {
		res.books[b.Key()] = b
	}
	return s
}

// digest closes the digest over the rulebooks that were used, and returns it.
func (res *result) digest() string {
	for _, key := range slices.Sorted(maps.Keys(res.books)) {
		res.inputs.book(res.books[key])
	}
	return res.inputs.sum()
}

// reckonWeek reckons one worker's week and notes its problems. A week under several rulebooks is reckoned whole under each: the highest is proposed, and waits
// for the clerk to confirm it.
func (res *result) reckonWeek(r *records, w *workerWeek) *statement {
	s := &statement{workerWeek: w}
	if id, ok := r.voided[w.worker.ID]; ok {
		s.reissueOf = &id
	}
	w.checkCounts(r)
	w.checkEmployment()
	w.checkRolls(r)
	var best reckoned
	var sums []string
	for _, key := range w.books {
		book, ok := bookOf(r.books, key)
		if !ok {
			w.problem(Problem{Kind: Holds, Code: "pay_problem.unknown_rulebook", Terms: payroll.Terms{"rulebook": key}, Subject: key})
			continue
		}
		as := w.under(r, book)
		if as.figures == nil {
			continue
		}
		sums = append(sums, book.title()+" $"+as.figures.Totals.Gross.String())
		if best.figures == nil || as.figures.Totals.Gross > best.figures.Totals.Gross {
			best, s.heading, s.book = as, headingOf(r, w, book), book
		}
	}
	if len(w.books) > 1 && best.figures != nil {
		w.confirmBook(r, s.book, sums)
	}
	if best.figures != nil && !w.held {
		w.fallsUnder(r, s.book)
		s.figures, w.week.Days = best.figures, best.days
		s.heading.HoursOffered = r.offeredHours(w)
		s.heading.SickLeave = r.sick.leaveAfter(w, s.book.Book, best.figures)
		w.takeNotes(&best)
	}
	res.problems = append(res.problems, w.problems...)
	return s
}

// under reckons a week under one rulebook; without figures where it cannot be.
func (w *workerWeek) under(r *records, book *governing) (as reckoned) {
	w.fallsUnder(r, book)
	if w.held {
		return as
	}
	figures, faults := payroll.Reckon(r.books.Library, &w.week)
	if len(faults) == 0 {
		as, faults = w.settleBreaks(r, r.books.Library, book.Book, figures)
	}
	for _, f := range faults {
		w.problem(Problem{Kind: Holds, Code: f.Key, Terms: f.Terms, Date: w.dateAt(f.Pointer), Subject: f.Pointer})
	}
	return as
}

// fallsUnder puts a week under a rulebook, with what is owed for other weeks.
func (w *workerWeek) fallsUnder(r *records, book *governing) {
	w.week.Rulebook, w.week.Adjustments, w.owed = book.named.Key(), nil, nil
	w.owe(r.accepted[w.worker.ID], book.Book)
	r.sick.payFor(w, book.Book)
	w.payBonuses(r, book)
	w.payGuarantees(r, book)
}

// confirmBook holds a week under several rulebooks until the clerk's confirmation is on record.
func (w *workerWeek) confirmBook(r *records, proposed *governing, sums []string) {
	p := Problem{WorkerID: w.worker.ID, Kind: Holds, Code: twoRulebooks, Subject: strings.Join(w.books, "+") + ">" + proposed.named.Key(),
		Terms: payroll.Terms{"proposed": proposed.title(), "sums": sums}}
	if _, confirmed := r.decisions[p.subject()]; confirmed {
		p.Kind = Note
	}
	w.problem(p)
}

// twoRulebooks is the problem of a week under several rulebooks. It holds the worker, and a decision on it lets them go.
const twoRulebooks = "pay_problem.two_rulebooks"

// takeNotes makes problems of the questions about breaks, and of what else the engine noted.
func (w *workerWeek) takeNotes(as *reckoned) {
	for _, p := range as.asked {
		w.problem(p)
	}
	for _, n := range as.figures.Notes {
		if as.askedAbout(n) {
			continue
		}
		w.problem(Problem{Kind: kindOfNote(n.Code), Code: "note." + n.Code, Date: n.Date, Terms: n.Terms, Subject: "note"})
	}
}

func (res *result) problemsOf(worker uuid.UUID) []Problem {
	var out []Problem
	for _, p := range res.problems {
		if p.WorkerID == worker && p.Kind == Holds {
			out = append(out, p)
		}
	}
	return out
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

func headingOf(r *records, w *workerWeek, book *governing) Heading {
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
	h.RulebookTitle, h.RulebookDigest, h.LocalBooks = book.title(), book.named.Digest(), book.local()
	return h
}

// PaydayOf is the day on which a week is paid: the first of the employer's paydays after the week has ended.
func PaydayOf(weekStart dated.Date, profile *models.EmployerProfile) dated.Date {
	next := weekStart.AddDays(7)
	return next.AddDays((int(profile.Content.Payday-next.Weekday()) + 7) % 7)
}

// checkRolls tells of days on which a worker was called on a roll and has no time.
func (w *workerWeek) checkRolls(r *records) {
	for id := range r.workers {
		if r.settled(id) != w.worker.ID {
			continue
		}
		for _, day := range r.rolls[id] {
			if d := w.days[day]; d == nil || len(d.Time) == 0 {
				w.problem(Problem{Kind: Decide, Code: "pay_problem.on_roll_without_time", Date: day, Subject: "roll"})
			}
		}
	}
}
