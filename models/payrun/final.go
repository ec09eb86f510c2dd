package payrun

import (
	"encoding/json"
	"maps"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// reckonCorrection makes statements that pay what is accepted for weeks already paid, and nothing else: of the workers named, or of everybody who is
// owed something.
func reckonCorrection(tx *models.Tx, books *rulebook.Library, run *Run, only map[uuid.UUID]bool, each func(*statement) error) (*result, error) {
	sel := selection{weekStart: run.WeekStart.Date, only: only, paidToo: true}
	g, err := survey(tx, books, sel)
	if err != nil {
		return nil, err
	}
	r := &records{ground: g}
	b := tx.Batch()
	if r.findAccepted(b, sel, nil); b.Err() != nil {
		return nil, b.Err()
	}
	owed, err := owedWorkers(tx, r)
	if err != nil {
		return nil, err
	}
	ids := slices.Collect(maps.Keys(r.accepted))
	if r.findSick(b, sel, ids, ids); b.Err() != nil {
		return nil, b.Err()
	}
	res := newResult(g)
	for _, o := range owed {
		if only != nil && !only[o.worker.ID] {
			continue
		}
		s := res.take(r, o.week(r, run), false)
		if s == nil {
			continue
		}
		if err := each(s); err != nil {
			return nil, err
		}
	}
	return res, nil
}

// week is a week without work, under the rulebook of the week that is corrected.
func (o *owed) week(r *records, run *Run) *workerWeek {
	w := newWeek(r, o.worker, run.WeekStart.Date)
	w.week.HourlyRate = nil
	w.books = []string{r.books.Current(o.rulebook)}
	for id, g := range r.gardens {
		if r.books.Base(g.Content.Rulebook) == r.books.Base(o.rulebook) {
			w.gardens[id] = true
		}
	}
	return w
}

// reckonFinal reckons the named workers' week to a day, and sets the day by which the rulebooks want it paid: the earliest of those of its statements.
func reckonFinal(tx *models.Tx, books *rulebook.Library, run *Run, only map[uuid.UUID]bool, each func(*statement) error) (*result, error) {
	var due dated.Date
	var silent []Problem
	sel := selection{weekStart: run.WeekStart.Date, through: run.ThroughDate.Date, only: only}
	res, err := reckon(tx, books, sel, func(s *statement) error {
		d, ok := finalPayDue(s.book.Book, run.Ending, run.ThroughDate.Date)
		switch {
		case !ok:
			silent = append(silent, Problem{WorkerID: s.worker.ID, Kind: Note, Code: "pay_problem.no_final_pay_rule", Subject: "run",
				Terms: payroll.Terms{"rulebook": s.heading.RulebookTitle}})
		case due.IsZero() || d.Before(due):
			due = d
		}
		return each(s)
	})
	if err != nil {
		return nil, err
	}
	res.due, res.problems = due, append(res.problems, silent...)
	return res, nil
}

// owed is a worker who is owed something, with the rulebook of the first of the weeks.
type owed struct {
	worker   *models.Worker
	rulebook string
}

// owedWorkers reads whom the accepted adjustments are owed to, by number. Its cost is that of what is owed, not of what was ever adjusted.
func owedWorkers(tx *models.Tx, r *records) ([]owed, error) {
	ids := slices.Collect(maps.Keys(r.accepted))
	if len(ids) == 0 {
		return nil, nil
	}
	var workers []models.Worker
	if err := tx.DB().Scopes(tx.Among("id", ids)).Order("number").Find(&workers).Error; err != nil {
		return nil, err
	}
	books, err := booksOf(tx, r.accepted)
	if err != nil {
		return nil, err
	}
	var out []owed
	for i := range workers {
		first := r.accepted[workers[i].ID][0]
		if book, ok := books[first.ID]; ok {
			out = append(out, owed{&workers[i], book})
		}
	}
	return out, nil
}

// booksOf reads under which rulebook the week of each worker's first adjustment was paid, by the adjustment.
func booksOf(tx *models.Tx, accepted map[uuid.UUID][]Adjustment) (map[uuid.UUID]string, error) {
	first := make([]uuid.UUID, 0, len(accepted))
	for _, a := range accepted {
		first = append(first, a[0].ID)
	}
	var rows []struct {
		ID   uuid.UUID
		Week models.Document
	}
	err := tx.DB().Table("adjustments AS a").Select("a.id, s.week").
		Joins("JOIN statements s ON s.employer_id = a.employer_id AND s.worker_id = a.worker_id AND s.week_start = a.for_week AND s.voided_at IS NULL").
		Joins("JOIN pay_runs p ON p.employer_id = s.employer_id AND p.id = s.run_id AND p.state <> 'draft' AND p.kind <> 'correction'").
		Where("a.employer_id = ?", tx.Employer).Scopes(tx.Among("a.id", first)).Order("s.seq").Find(&rows).Error
	if err != nil {
		return nil, err
	}
	books := make(map[uuid.UUID]string, len(rows))
	for _, row := range rows {
		var week payroll.Week
		if err := json.Unmarshal(row.Week, &week); err != nil {
			return nil, err
		}
		if books[row.ID] == "" {
			books[row.ID] = week.Rulebook
		}
	}
	return books, nil
}

// finalPayDue is the day by which a rulebook wants final pay in the worker's hands; false where the book does not say.
func finalPayDue(book *rulebook.Book, ending Ending, last dated.Date) (dated.Date, bool) {
	rules := book.FinalPay(last)
	clock, notice := rules.Discharge, 0
	if ending != Discharge {
		clock = rules.Quit
	}
	if clock == nil {
		return dated.Date{}, false
	}
	if ending == QuitWithNotice {
		notice = clock.NoticeHours
	}
	return clock.Due(last, notice), true
}
