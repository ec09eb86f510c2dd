package synthetic_test

import (
	"context"
	"os"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/models/synthetic"
	"palmero/models/testdb"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

var week = dated.MustDate("2026-02-15")

func now() time.Time { return time.Date(2026, 2, 22, 18, 0, 0, 0, time.UTC) }

const workers = synthetic.CrewSize + 5

// made is an employer with two weeks of history of ten workers, and a week of everybody.
func made(t *testing.T, store *models.Store) (*synthetic.Employer, *rulebook.Library) {
	t.Helper()
	ctx := t.Context()
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	e, err := synthetic.Found(ctx, store, "synthetic", workers)
	if err == nil {
		err = e.History(ctx, books, week, 2, 10, func(int) {})
	}
	if err == nil {
		err = e.Record(ctx, week, workers)
	}
	if err != nil {
		t.Fatal(err)
	}
	return e, books
}

// statements counts the statements of the runs of each week.
func statements(t *testing.T, e *synthetic.Employer) map[string]int {
	t.Helper()
	count := map[string]int{}
	err := e.Store.View(t.Context(), e.Clerk, func(tx *models.Tx) error {
		var rows []payrun.StatementRow
		err := tx.DB().Find(&rows).Error
		for _, r := range rows {
			count[r.WeekStart.String()]++
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return count
}

func TestAMadeUpEmployerIsPaidAsAnyIs(t *testing.T) {
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		e, books := made(t, store)
		if _, err := e.Draft(t.Context(), books, week); err != nil {
			t.Fatal(err)
		}
		want := map[string]int{"2026-02-01": 10, "2026-02-08": 10, "2026-02-15": workers}
		if diff := cmp.Diff(want, statements(t, e)); diff != "" {
			t.Errorf("statements by week:\n%s", diff)
		}
		for _, crew := range e.Crews {
			sheet := e.Sheet(crew, week.AddDays(6))
			err := store.In(t.Context(), e.Lead, func(tx *models.Tx) error {
				receipt, err := intake.Submit(tx, sheet, intake.Whole)
				if err == nil && len(receipt.Lines) != len(crew.Workers)*synthetic.DayRows {
					t.Errorf("%d lines taken in of a crew of %d", len(receipt.Lines), len(crew.Workers))
				}
				return err
			})
			if err != nil {
				t.Error(err)
			}
		}
	})
}

func TestTheReferencesReadAndWriteTheSameRows(t *testing.T) {
	target, dsn := databases.ServingDSN(t)
	store, err := models.Open(t.Context(), target, models.Options{Now: now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() })
	e, books := made(t, store)
	run, err := e.Draft(t.Context(), books, week)
	if err != nil {
		t.Fatal(err)
	}
	conn, err := pgx.Connect(t.Context(), dsn)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close(context.Background()) })
	draft, err := e.DraftReference(t.Context(), conn, run.ID, week)
	if err != nil {
		t.Fatal(err)
	}
	before := statements(t, e)
	for n := range 2 {
		if err := draft.Run(t.Context(), conn); err != nil {
			t.Fatal(err)
		}
		sheet := e.Sheet(e.Crews[0], week.AddDays(7+n))
		if err := e.SheetReference(sheet, now()).Run(t.Context(), conn); err != nil {
			t.Fatal(err)
		}
		if kept := read(t, e, sheet); len(kept.TimeEntries) != len(sheet.Time) || len(kept.Tallies) != len(sheet.Tallies) {
			t.Errorf("the reference wrote %d time entries and %d tallies of a sheet with %d and %d", len(kept.TimeEntries), len(kept.Tallies), len(sheet.Time), len(sheet.Tallies))
		}
	}
	if diff := cmp.Diff(before, statements(t, e)); diff != "" {
		t.Errorf("the reference left statements behind:\n%s", diff)
	}
}

func read(t *testing.T, e *synthetic.Employer, s intake.Sheet) (kept *intake.KeptSheet) {
	t.Helper()
	err := e.Store.View(t.Context(), e.Lead, func(tx *models.Tx) (err error) {
		kept, err = intake.ReadSheet(tx, s.ID, nil)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return kept
}
