package payrun_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
)

// fill gives the farm more workers, and each a five-day week of eight stretches of time and three tallies a day.
func (f *farm) fill(t testing.TB, workers int) {
	t.Helper()
	zone, err := models.Zone("America/Los_Angeles")
	if err != nil {
		t.Fatal(err)
	}
	f.in(t, f.scope, func(tx *models.Tx) error {
		people := make([]models.Worker, workers)
		for i := range people {
			people[i] = models.Worker{Keyed: models.Keyed{ID: models.NewID()}, CreatedAt: tx.Now, UpdatedAt: tx.Now, Version: 1,
				Content: models.WorkerContent{Number: int64(100 + i), Name: fmt.Sprintf("Hand %d", i), Address: "1 Palm Lane", Language: "es", StartedOn: weekStart}}
		}
		if err := models.InsertAll(tx, people); err != nil {
			return err
		}
		for day := 1; day <= 5; day++ {
			var times []models.TimeEntry
			var tallies []models.Tally
			for _, p := range people {
				times, tallies = f.workedDay(tx, times, tallies, p.ID, models.Day(weekStart.AddDays(day)), zone)
			}
			if err := models.InsertAll(tx, times); err != nil {
				return err
			}
			if err := models.InsertAll(tx, tallies); err != nil {
				return err
			}
		}
		return nil
	})
}

func (f *farm) workedDay(tx *models.Tx, times []models.TimeEntry, tallies []models.Tally, worker uuid.UUID, day models.Date, zone *time.Location) ([]models.TimeEntry, []models.Tally) {
	kinds := []payroll.TimeKind{payroll.Nonproductive, payroll.Piece, payroll.Rest, payroll.Piece, payroll.MealPeriod, payroll.Piece, payroll.Rest, payroll.Piece}
	lengths := []int{20, 120, 10, 110, 30, 120, 10, 90}
	at := 360
	for i, k := range kinds {
		start, end := models.WorkdayBegin(day.Date, at, zone).UTC(), models.WorkdayBegin(day.Date, at+lengths[i], zone).UTC()
		at += lengths[i]
		times = append(times, models.TimeEntry{Keyed: models.Keyed{ID: models.NewID()}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor,
			Content: models.TimeEntryContent{WorkerID: worker, Workday: day, Kind: k, GardenID: f.garden, BlockID: &f.block, StartedAt: &start, EndedAt: &end}})
	}
	for i := range 3 {
		pieces := payroll.Pieces(50_000 + 1000*i)
		tallies = append(tallies, models.Tally{Keyed: models.Keyed{ID: models.NewID()}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor,
			Content: models.TallyContent{WorkerID: worker, Workday: day, BlockID: f.block, OperationID: f.pollination, Pieces: &pieces}})
	}
	return times, tallies
}

// BenchmarkDraft drafts a week of many workers again and again. The reference reads the same inputs as they are and writes as many lines and statements, by COPY and
// INSERT … SELECT as the same role, and reckons nothing.
func BenchmarkDraft(b *testing.B) {
	library := books(b)
	for _, workers := range []int{500, 2000} {
		for _, dialect := range []migrations.Dialect{migrations.SQLite, migrations.Postgres} {
			b.Run(fmt.Sprintf("%s/%d", dialect, workers), func(b *testing.B) {
				f, _ := filledFarm(b, dialect, workers)
				run := f.draft(b, library, week)
				for b.Loop() {
					f.in(b, f.clerk, func(tx *models.Tx) (err error) {
						run, err = payrun.Redraft(tx, library, run.ID, run.Version)
						return err
					})
				}
				b.ReportMetric(float64(b.N*workers)/b.Elapsed().Seconds(), "workers/s")
			})
		}
		b.Run(fmt.Sprintf("reference/%d", workers), func(b *testing.B) { benchmarkDraftReference(b, workers) })
	}
}

// filledFarm is a farm with a week of many workers, on a database that knows how much it holds; with the address on PostgreSQL.
func filledFarm(b *testing.B, dialect migrations.Dialect, workers int) (*farm, string) {
	b.Helper()
	if dialect == migrations.SQLite {
		f := newFarm(b, databases.Store(b, dialect, now))
		f.fill(b, workers)
		return f, ""
	}
	target, dsn := databases.ServingDSN(b)
	store, err := models.Open(context.Background(), target, models.Options{Now: now})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = store.Close() })
	f := newFarm(b, store)
	f.fill(b, workers)
	databases.Analyze(b, dsn)
	return f, dsn
}

func benchmarkDraftReference(b *testing.B, workers int) {
	ctx := context.Background()
	f, dsn := filledFarm(b, migrations.Postgres, workers)
	f.draft(b, books(b), week)
	conn, err := pgx.Connect(ctx, dsn)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = conn.Close(ctx) })
	for b.Loop() {
		if err := f.copyDraft(ctx, conn); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N*workers)/b.Elapsed().Seconds(), "workers/s")
}

// copyDraft reads the week's time entries and tallies row by row, takes the draft's statements and lines out and puts them back.
func (f *farm) copyDraft(ctx context.Context, conn *pgx.Conn) error {
	tx, err := conn.Begin(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback(ctx) }()
	if _, err := tx.Exec(ctx, "SELECT set_config('palmero.employer', $1, true)", f.scope.Employer.String()); err != nil {
		return err
	}
	for _, table := range []string{"time_entries", "tallies"} {
		rows, err := tx.Query(ctx, "SELECT * FROM "+table+" WHERE superseded_by IS NULL AND workday BETWEEN $1 AND $2", weekStart.Midnight(time.UTC), weekStart.AddDays(6).Midnight(time.UTC))
		if err != nil {
			return err
		}
		for rows.Next() {
			if _, err := rows.Values(); err != nil {
				return err
			}
		}
		if rows.Err() != nil {
			return rows.Err()
		}
	}
	for _, statement := range []string{
		"CREATE TEMPORARY TABLE kept_statements ON COMMIT DROP AS SELECT * FROM statements",
		"CREATE TEMPORARY TABLE kept_lines ON COMMIT DROP AS SELECT * FROM statement_lines",
		"DELETE FROM statement_lines",
		"DELETE FROM statements",
		"INSERT INTO statements OVERRIDING SYSTEM VALUE SELECT * FROM kept_statements",
		"INSERT INTO statement_lines SELECT * FROM kept_lines",
	} {
		if _, err := tx.Exec(ctx, statement); err != nil {
			return err
		}
	}
	return tx.Commit(ctx)
}
