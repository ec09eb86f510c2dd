package intake_test

import (
	"context"
	"testing"

	"github.com/jackc/pgx/v5"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/intake"
	"palmero/models/synthetic"
)

// weeksThere is how many weeks of work there are before the sheets come in, so that the database is used to the tables.
const weeksThere = 20

// bigCrew is a synthetic employer with one full crew.
func bigCrew(b *testing.B, target models.Target) *synthetic.Employer {
	b.Helper()
	store, err := models.Open(context.Background(), target, models.Options{Now: evening})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = store.Close() })
	e, err := synthetic.Found(context.Background(), store, "synthetic", synthetic.CrewSize)
	for week := 1; week <= weeksThere && err == nil; week++ {
		err = e.Record(context.Background(), monday.AddDays(-1-7*week), synthetic.CrewSize)
	}
	if err != nil {
		b.Fatal(err)
	}
	return e
}

// BenchmarkCrewSheet takes in sheets of forty workers, day after day into the past. The reference puts the same rows in, checked by nobody.
func BenchmarkCrewSheet(b *testing.B) {
	ctx := context.Background()
	for _, dialect := range []migrations.Dialect{migrations.SQLite, migrations.Postgres} {
		b.Run(string(dialect), func(b *testing.B) {
			target, dsn := databases.Target(b, migrations.SQLite), ""
			if dialect == migrations.Postgres {
				target, dsn = databases.ServingDSN(b)
			}
			e := bigCrew(b, target)
			if dsn != "" {
				databases.Settle(b, dsn)
			}
			measureSheets(b, e, func(s intake.Sheet) error {
				return e.Store.In(ctx, e.Lead, func(tx *models.Tx) error {
					_, err := intake.Submit(tx, s, intake.Whole)
					return err
				})
			})
		})
	}
	b.Run("reference", func(b *testing.B) {
		target, dsn := databases.ServingDSN(b)
		e := bigCrew(b, target)
		databases.Settle(b, dsn)
		conn, err := pgx.Connect(ctx, dsn)
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { _ = conn.Close(ctx) })
		measureSheets(b, e, func(s intake.Sheet) error { return e.SheetReference(s, evening()).Run(ctx, conn) })
	})
}

func measureSheets(b *testing.B, e *synthetic.Employer, take func(intake.Sheet) error) {
	n := 0
	for b.Loop() {
		if err := take(e.Sheet(e.Crews[0], monday.AddDays(-7*weeksThere-7-n))); err != nil {
			b.Fatal(err)
		}
		n++
	}
	b.ReportMetric(float64(n*synthetic.CrewSize*synthetic.DayRows)/b.Elapsed().Seconds(), "rows/s")
}
