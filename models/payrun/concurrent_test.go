package payrun_test

import (
	"context"
	"sync"
	"testing"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/models/synthetic"
)

// On SQLite writers take turns. While the week of five hundred workers is drafted, their Saturday's sheets keep coming in from all crews at once and somebody
// looks at their own week: nobody is turned away, and no sheet is lost.
func TestSheetsKeepComingInWhileAWeekIsDrafted(t *testing.T) {
	const workers = 500
	library, ctx := books(t), t.Context()
	store := databases.Store(t, migrations.SQLite, now)
	e, err := synthetic.Found(ctx, store, "synthetic", workers)
	if err == nil {
		err = e.Record(ctx, weekStart.Date, workers)
	}
	if err != nil {
		t.Fatal(err)
	}
	saturday := weekStart.AddDays(6)
	var phones sync.WaitGroup
	for _, crew := range e.Crews {
		phones.Go(func() {
			sheet := e.Sheet(crew, saturday)
			if err := send(ctx, e, sheet); err != nil {
				t.Errorf("a sheet: %v", err)
			}
			if err := ownWeek(ctx, e, library); err != nil {
				t.Errorf("an own week: %v", err)
			}
		})
	}
	run, err := e.Draft(ctx, library, weekStart.Date)
	phones.Wait()
	if err != nil {
		t.Fatal(err)
	}
	var sheets []models.CrewSheet
	err = store.View(ctx, e.Clerk, func(tx *models.Tx) (err error) {
		sheets, err = intake.Sheets(tx, models.Page{Limit: 1000}, nil, models.Equal("workday", models.Day(saturday)))
		return err
	})
	if err != nil || len(sheets) != len(e.Crews) {
		t.Errorf("%d sheets of %d crews came in, %v", len(sheets), len(e.Crews), err)
	}
	if s := countStatements(t, e, run); s != workers {
		t.Errorf("%d statements of %d workers", s, workers)
	}
}

func send(ctx context.Context, e *synthetic.Employer, s intake.Sheet) error {
	return e.Store.In(ctx, e.Lead, func(tx *models.Tx) error {
		_, err := intake.Submit(tx, s, intake.Whole)
		return err
	})
}

func countStatements(t *testing.T, e *synthetic.Employer, run *payrun.Run) (n int64) {
	t.Helper()
	err := e.Store.View(t.Context(), e.Clerk, func(tx *models.Tx) error {
		return tx.DB().Model(&payrun.StatementRow{}).Where("run_id = ?", run.ID).Count(&n).Error
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}
