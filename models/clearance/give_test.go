package clearance_test

import (
	"encoding/json"
	"errors"
	"testing"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/clearance"
	"palmero/payroll"
)

// work records a count of a worker's for today.
func (r *rig) work(worker uuid.UUID) {
	r.in(func(tx *models.Tx) error {
		t := models.Tally{Keyed: models.Keyed{ID: tx.NewID()}, Content: models.TallyContent{WorkerID: worker, OperationID: r.operation, BlockID: r.block, Workday: models.Day(today), Pieces: new(payroll.Pieces(100_000))},
			RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
		return models.KeepWork(tx, models.Work{Tallies: []models.Tally{t}}, models.Work{})
	})
}

func (r *rig) give(id uuid.UUID) (given *models.Clearance, repeated bool) {
	r.Helper()
	r.in(func(tx *models.Tx) (err error) {
		given, repeated, err = clearance.Give(tx, books, id, r.crew, today, say)
		return err
	})
	return given, repeated
}

func (r *rig) exceptions() (open []clearance.Exception) {
	r.Helper()
	r.in(func(tx *models.Tx) (err error) {
		open, err = clearance.Exceptions(tx, clearance.Recent(tx.Now), today, nil, 10)
		return err
	})
	return open
}

// What was given stays given: the same question by the same identifier is answered as it was, whatever has happened since.
func TestGiving(t *testing.T) {
	each(t, func(r *rig) {
		id := models.NewID()
		first, repeated := r.give(id)
		if repeated || first.AskedBy != r.scope.Actor {
			r.Fatalf("%+v", first)
		}
		var answer clearance.Answer
		if err := json.Unmarshal(first.Answer, &answer); err != nil || answer.Ways[0].Cleared != 2 {
			r.Fatalf("%s, %v", first.Answer, err)
		}
		r.stop(models.Stop{Scope: models.StopCrew, CrewID: &r.crew})
		again, repeated := r.give(id)
		if !repeated || string(again.Answer) != string(first.Answer) {
			r.Errorf("asked again: %s", again.Answer)
		}
		later, _ := r.give(models.NewID())
		if err := json.Unmarshal(later.Answer, &answer); err != nil || answer.Ways[0].Cleared != 0 {
			r.Errorf("after the stop: %s, %v", later.Answer, err)
		}
		err := r.store.In(r.Context(), r.scope, func(tx *models.Tx) error {
			_, _, err := clearance.Give(tx, books, id, r.crew, today.AddDays(1), say)
			return err
		})
		if models.KindOf(err) != models.Conflict {
			r.Errorf("the same identifier for another day: %v", err)
		}
	})
}

// Work of a day for which nobody cleared the worker is an exception until the officer speaks; a clearance that came before or after covers it.
func TestExceptions(t *testing.T) {
	each(t, func(r *rig) {
		r.settleEarlierDays()
		r.work(r.ana)
		r.work(r.lead)
		open := r.exceptions()
		if len(open) != 2 || open[0].Asked || open[0].Crew != nil {
			r.Fatalf("%+v", open)
		}
		r.give(models.NewID())
		if open := r.exceptions(); len(open) != 0 {
			r.Errorf("cleared, and yet %+v", open)
		}
	})
	each(t, func(r *rig) {
		r.settleEarlierDays()
		r.stop(models.Stop{Scope: models.StopCrew, CrewID: &r.crew})
		r.give(models.NewID()) // denied
		r.work(r.ana)
		open := r.exceptions()
		if len(open) != 1 || open[0].WorkerID != r.ana {
			r.Fatalf("%+v", open)
		}
		in := clearance.Settlement{ID: models.NewID(), WorkerID: r.ana, Workday: models.Day(today), Finding: models.DidNotClimb, Reason: "tied bunches from the ground"}
		for range 2 {
			r.settle(in, "")
		}
		if open := r.exceptions(); len(open) != 0 {
			r.Errorf("settled, and yet %+v", open)
		}
		again := in
		again.ID = models.NewID()
		r.settle(again, "problem.exception_settled")
		in.Reason = "something else"
		r.settle(in, "problem.id_reused")
		r.settle(clearance.Settlement{ID: models.NewID(), WorkerID: uuid.New(), Workday: models.Day(today), Finding: "fine"}, "problem.invalid")
	})
}

func (r *rig) settle(in clearance.Settlement, want string) {
	r.Helper()
	err := r.store.In(r.Context(), r.scope, func(tx *models.Tx) error {
		_, _, err := clearance.Settle(tx, in)
		return err
	})
	var e *models.Error
	if errors.As(err, &e); err != nil && (e == nil || e.Key != want) || err == nil && want != "" {
		r.Errorf("%v; want %q", err, want)
	}
}

// settleEarlierDays speaks on the days that the rig has work of.
func (r *rig) settleEarlierDays() {
	r.Helper()
	if got := len(r.exceptions()); got != 4 {
		r.Fatalf("%d exceptions of the days before", got)
	}
	for _, x := range r.exceptions() {
		r.settle(clearance.Settlement{ID: models.NewID(), WorkerID: x.WorkerID, Workday: x.Workday, Finding: models.WasSafe, Reason: "before we kept checklists"}, "")
	}
}

// Lists of exceptions go on where the last page ended.
func TestPagesOfExceptions(t *testing.T) {
	each(t, func(r *rig) {
		var days []string
		var after *clearance.Exception
		for range 4 {
			r.in(func(tx *models.Tx) error {
				page, err := clearance.Exceptions(tx, today.AddDays(-90), today, after, 1)
				if err == nil && len(page) > 0 {
					days, after = append(days, page[0].Workday.String()), &page[0]
				}
				return err
			})
		}
		if len(days) != 4 || days[0] != "2026-01-06" || days[3] != "2026-03-02" {
			r.Errorf("%v", days)
		}
	})
}
