package synthetic

import (
	"context"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// History gives the employer so many weeks of work and pay before a week, the oldest first, each of the first so many workers: recorded in bulk, drafted and approved as any
// week is. After each week it tells how many are done.
func (e *Employer) History(ctx context.Context, books *rulebook.Library, before dated.Date, weeks, workers int, done func(weeks int)) error {
	for n := range weeks {
		week := before.AddDays(-7 * (weeks - n))
		if err := e.Record(ctx, week, workers); err != nil {
			return err
		}
		run, err := e.Draft(ctx, books, week)
		if err == nil {
			_, err = e.Approve(ctx, books, run)
		}
		if err != nil {
			return err
		}
		done(n + 1)
	}
	return nil
}

// Draft drafts the regular run of a week.
func (e *Employer) Draft(ctx context.Context, books *rulebook.Library, week dated.Date) (run *payrun.Run, err error) {
	err = e.Store.In(ctx, e.Clerk, func(tx *models.Tx) error {
		run, _, err = payrun.DraftRun(tx, books, payrun.DraftRequest{ID: models.NewID(), Kind: payrun.Regular, WeekStart: models.Day(week)})
		return err
	})
	return run, err
}

// Approve approves a run as the owner.
func (e *Employer) Approve(ctx context.Context, books *rulebook.Library, run *payrun.Run) (approved *payrun.Run, err error) {
	err = e.Store.In(ctx, e.Owner, func(tx *models.Tx) error {
		approved, err = payrun.Approve(tx, books, run.ID, run.Version)
		return err
	})
	return approved, err
}
