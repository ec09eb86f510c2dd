package payrun

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// reckonCorrection makes statements that pay what is accepted for weeks already paid, and nothing else: of the workers named, or of everybody who is
// owed something.
func reckonCorrection(tx *models.Tx, books *rulebook.Library, run *Run, only map[uuid.UUID]bool) (*result, error) {
	sel := selection{weekStart: run.WeekStart.Date, only: only, paidToo: true}
	r, err := gather(tx, sel)
	if err != nil {
		return nil, err
	}
	owed, err := owedWorkers(tx, r)
	if err != nil {
		return nil, err
	}
	res := &result{books: map[string]*rulebook.Book{}}
	inputs := newDigest(r.profile)
	for _, o := range owed {
		if only != nil && !only[o.worker.ID] {
			continue
		}
		w := newWeek(r, o.worker, run.WeekStart.Date)
		w.week.HourlyRate = nil
		w.books = []string{o.rulebook}
		for id, g := range r.gardens {
			if g.Content.Rulebook == o.rulebook {
				w.gardens[id] = true
			}
		}
		s := res.reckonWeek(r, books, w)
		inputs.add(s)
	}
	res.finish(inputs)
	return res, nil
}

// owed is a worker who is owed something, with the rulebook of the first of the weeks.
type owed struct {
	worker   *models.Worker
	rulebook string
}

func owedWorkers(tx *models.Tx, r *records) ([]owed, error) {
	var out []owed
	var workers []models.Worker
	err := tx.DB().Where("id IN (SELECT a.worker_id FROM adjustments a WHERE a.employer_id = workers.employer_id AND a.state = 'accepted')").Order("number").Find(&workers).Error
	if err != nil {
		return nil, err
	}
	for i := range workers {
		accepted := r.accepted[workers[i].ID]
		if len(accepted) == 0 {
			continue
		}
		frozen, err := frozenStatements(tx, accepted[0].ForWeek.Date)
		if err != nil {
			return nil, err
		}
		for _, f := range frozen {
			if f.row.WorkerID == workers[i].ID {
				out = append(out, owed{&workers[i], f.week.Rulebook})
				break
			}
		}
	}
	return out, nil
}

// finalDue sets the day by which the rulebooks want a final run paid: the earliest of those of its statements.
func (res *result) finalDue(run *Run) {
	for _, s := range res.statements {
		due, ok := finalPayDue(s.book, run.Ending, run.ThroughDate.Date)
		if !ok {
			res.problems = append(res.problems, Problem{WorkerID: s.worker.ID, Kind: Note, Code: "pay_problem.no_final_pay_rule", Subject: "run",
				Terms: payroll.Terms{"rulebook": s.book.Title()}})
			continue
		}
		if res.due.IsZero() || due.Before(res.due) {
			res.due = due
		}
	}
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
