package payrun_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll/dated"
)

// end gives a block and an operation a last day, or takes it back.
func (f *farm) end(t *testing.T, block, operation uuid.UUID, last models.Date) {
	t.Helper()
	f.in(t, f.owner, func(tx *models.Tx) error {
		b, err := models.Get[models.BlockContent](tx, block)
		if err != nil {
			return err
		}
		b.Content.EndedOn = last
		if _, err := models.Update(tx, block, b.Version, b.Content); err != nil {
			return err
		}
		o, err := models.Get[models.OperationContent](tx, operation)
		if err != nil {
			return err
		}
		o.Content.EndedOn = last
		_, err = models.Update(tx, operation, o.Version, o.Content)
		return err
	})
}

// endings are the problems of a draft about what had ended, by code and worker, and how many of them were settled since.
func (f *farm) endings(t *testing.T, run *payrun.Run) (told map[string]string, settled int) {
	t.Helper()
	told = map[string]string{}
	f.in(t, f.clerk, func(tx *models.Tx) error {
		problems, err := payrun.Problems(tx, run.ID)
		if err != nil {
			return err
		}
		since, err := payrun.SettledSince(tx, run, problems)
		for _, p := range problems {
			if p.Code == "pay_problem.block_ended" || p.Code == "pay_problem.operation_ended" {
				told[p.Code+" "+p.WorkerName] = string(p.Kind) + " " + p.Date.String()
			}
			if since[p.ID()] {
				settled++
			}
		}
		return err
	})
	return told, settled
}

// Work in a block, or at an operation, that had ended is taken in and paid like any other, and the clerk is asked about it, once for each worker and day.
func TestWorkAfterTheEndIsPaid(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		monday := models.Day(dated.MustDate("2026-02-16"))
		f.submit(t, f.mondaySheet())
		f.end(t, f.block, f.bagging, monday)
		run := f.draft(t, library, week)
		before := f.statementsOf(t, run)
		if told, _ := f.endings(t, run); len(told) != 0 {
			t.Errorf("on the last day: %v", told)
		}

		f.end(t, f.block, f.bagging, models.Day(monday.AddDays(-1)))
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			run, err = payrun.Redraft(tx, library, run.ID, run.Version)
			return err
		})
		want := map[string]string{}
		for _, who := range []string{"Ana Rojas", "Beto Luz"} {
			want["pay_problem.block_ended "+who], want["pay_problem.operation_ended "+who] = "decide 2026-02-16", "decide 2026-02-16"
		}
		told, settled := f.endings(t, run)
		if diff := cmp.Diff(want, told); diff != "" || settled != 0 {
			t.Errorf("the day after, %d settled (-want +got):\n%s", settled, diff)
		}
		after := f.statementsOf(t, run)
		for i := range after {
			if after[i].Figures.Totals != before[i].Figures.Totals {
				t.Errorf("paid %+v, before %+v", after[i].Figures.Totals, before[i].Figures.Totals)
			}
		}

		f.end(t, f.block, f.bagging, models.Date{})
		if _, settled := f.endings(t, run); settled != 4 {
			t.Errorf("taken back: %d settled", settled)
		}
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			run, err = payrun.Redraft(tx, library, run.ID, run.Version)
			return err
		})
		if told, _ := f.endings(t, run); len(told) != 0 {
			t.Errorf("taken back: %v", told)
		}
	})
}
