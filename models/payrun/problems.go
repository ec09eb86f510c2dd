package payrun

import (
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

// ProblemKind says what a problem does to pay. None holds anybody but the worker it is about.
type ProblemKind string

// The kinds of problem: one that keeps the worker's pay back until it is settled, one that somebody should decide while the worker is paid as
// recorded, and one that is only told.
const (
	Holds  ProblemKind = "holds"
	Decide ProblemKind = "decide"
	Note   ProblemKind = "note"
)

// Problem is something about a worker's week that whoever runs the pay should know.
type Problem struct {
	WorkerID uuid.UUID // zero where it is about nobody in particular
	Kind     ProblemKind
	Code     string     // message key
	Date     dated.Date // zero where it is about the week
	Terms    payroll.Terms
	Subject  string            // what exactly it is about, so that a decision finds it again after a redraft
	Question *payroll.Decision // of a break that the records do not show as it is owed; nil elsewhere
}

// ID identifies a problem within a week, across redrafts.
func (p Problem) ID() string { return p.subject() }

// problem notes a problem once, however often it is met.
func (w *workerWeek) problem(p Problem) {
	p.WorkerID = w.worker.ID
	for _, other := range w.problems {
		if other.subject() == p.subject() {
			return
		}
	}
	w.problems = append(w.problems, p)
	w.held = w.held || p.Kind == Holds
}

// subject identifies a problem within a week, across redrafts.
func (p Problem) subject() string {
	return p.WorkerID.String() + "|" + p.Code + "|" + p.Date.String() + "|" + p.Subject
}

// subjectWithin is what a problem is about within its worker, code and day, of the subject by which it is kept.
func subjectWithin(kept string) string {
	parts := strings.SplitN(kept, "|", 4)
	return parts[len(parts)-1]
}

// kindOfNote says which of the engine's notes somebody should settle by recording what happened; the others explain an amount.
func kindOfNote(code string) ProblemKind {
	switch code {
	case "no_pieces", "no_time":
		return Decide
	}
	return Note
}

// checkCounts asks about a day's count above what one worker can do.
func (w *workerWeek) checkCounts(r *records) {
	type key struct {
		day       dated.Date
		operation string
	}
	counts := map[key]payroll.Pieces{}
	var order []key
	for _, d := range w.week.Days {
		for _, t := range d.Tallies {
			if t.Part != nil {
				continue
			}
			k := key{d.Date, t.Operation}
			if counts[k] == 0 {
				order = append(order, k)
			}
			counts[k] += t.Pieces
		}
	}
	limits := map[string]payroll.Pieces{}
	for _, o := range r.operations {
		limits[o.Content.Code] = o.Content.DailyLimit
	}
	for _, k := range order {
		if counts[k] > limits[k.operation] {
			w.problem(Problem{Kind: Decide, Code: "pay_problem.over_daily_limit", Date: k.day, Subject: k.operation,
				Terms: payroll.Terms{"operation": k.operation, "pieces": counts[k], "limit": limits[k.operation]}})
		}
	}
}

// checkEmployment tells of work outside the time that the worker was employed: it is paid, and the dates want a look.
func (w *workerWeek) checkEmployment() {
	for _, d := range w.week.Days {
		c := w.worker.Content
		if d.Date.Before(c.StartedOn.Date) || !c.EndedOn.IsZero() && d.Date.After(c.EndedOn.Date) {
			w.problem(Problem{Kind: Decide, Code: "pay_problem.not_employed", Date: d.Date, Subject: "day"})
		}
	}
}

// checkEndings tells of work in a block, or at an operation, that had ended before the day: it is paid, and the record or the last day wants a look.
func (w *workerWeek) checkEndings(r *records, block, operation *uuid.UUID, day dated.Date) {
	if block != nil {
		if b := &r.blocks[*block].Content; !b.InUse(day) {
			w.problem(Problem{Kind: Decide, Code: "pay_problem.block_ended", Date: day, Subject: block.String(), Terms: payroll.Terms{"block": b.Code, "date": b.EndedOn.Date}})
		}
	}
	if operation != nil {
		if o := &r.operations[*operation].Content; !o.InUse(day) {
			w.problem(Problem{Kind: Decide, Code: "pay_problem.operation_ended", Date: day, Subject: operation.String(), Terms: payroll.Terms{"operation": o.Code, "date": o.EndedOn.Date}})
		}
	}
}
