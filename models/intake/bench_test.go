package intake_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
)

const crewSize = 40

// bigCrew adds workers to the ground.
func (g *ground) bigCrew(b *testing.B) []uuid.UUID {
	b.Helper()
	ids := make([]uuid.UUID, crewSize)
	err := g.store.In(context.Background(), g.scope, func(tx *models.Tx) error {
		var errs []error
		for i := range ids {
			ids[i] = models.NewID()
			_, _, err := models.Create(tx, ids[i], models.WorkerContent{Name: fmt.Sprintf("Hand %d", i), Address: "1 Palm Lane", Language: "es", StartedOn: monday})
			errs = append(errs, err)
		}
		return errors.Join(errs...)
	})
	if err != nil {
		b.Fatal(err)
	}
	return ids
}

// bigSheet is a day of the crew, n days before Monday: eight stretches of time and three tallies each.
func (g *ground) bigSheet(workers []uuid.UUID, n int) intake.Sheet {
	day := monday.AddDays(-n)
	clock := func(minutes int) *time.Time {
		t := models.WorkdayBegin(day, minutes, zone)
		return &t
	}
	s := intake.Sheet{ID: models.NewID(), CrewID: g.crew, GardenID: g.garden, Workday: models.Day(day), RecordedAt: *clock(900), Roll: workers}
	kinds := []payroll.TimeKind{payroll.Nonproductive, payroll.Piece, payroll.Rest, payroll.Piece, payroll.MealPeriod, payroll.Piece, payroll.Rest, payroll.Piece}
	for _, w := range workers {
		for i, k := range kinds {
			s.Time = append(s.Time, intake.TimeLine{ID: models.NewID(), WorkerID: w, Kind: k, BlockID: &g.block, OperationID: &g.pollination, Start: clock(360 + 60*i), End: clock(420 + 60*i)})
		}
		for i := range 3 {
			s.Tallies = append(s.Tallies, intake.TallyLine{ID: models.NewID(), WorkerID: w, BlockID: g.block, OperationID: g.pollination, Pieces: payroll.Pieces(50_000 + 1000*i)})
		}
	}
	return s
}

// BenchmarkCrewSheet takes in sheets of forty workers. The reference puts the same rows, checked by nobody, through COPY into temporary tables and INSERT … SELECT
// into the same tables as the same role.
func BenchmarkCrewSheet(b *testing.B) {
	for _, dialect := range []migrations.Dialect{migrations.SQLite, migrations.Postgres} {
		b.Run(string(dialect), func(b *testing.B) {
			g := newGround(b, databases.Store(b, dialect, evening), "tres-pozos")
			workers := g.bigCrew(b)
			n := 0
			for b.Loop() {
				s := g.bigSheet(workers, n)
				if _, err := g.submit(s, intake.Whole); err != nil {
					b.Fatal(err)
				}
				n++
			}
			b.ReportMetric(float64(n*crewSize*11)/b.Elapsed().Seconds(), "rows/s")
		})
	}
	b.Run("reference", func(b *testing.B) {
		target, dsn := databases.ServingDSN(b)
		store, err := models.Open(context.Background(), target, models.Options{Now: evening})
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { _ = store.Close() })
		g := newGround(b, store, "tres-pozos")
		workers := g.bigCrew(b)
		conn, err := pgx.Connect(context.Background(), dsn)
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { _ = conn.Close(context.Background()) })
		n := 0
		for b.Loop() {
			if err := g.copySheet(conn, g.bigSheet(workers, n)); err != nil {
				b.Fatal(err)
			}
			n++
		}
		b.ReportMetric(float64(n*crewSize*11)/b.Elapsed().Seconds(), "rows/s")
	})
}

// copySheet is the reference for a sheet: the rows by COPY and INSERT … SELECT, in one transaction.
func (g *ground) copySheet(conn *pgx.Conn, s intake.Sheet) error {
	ctx := context.Background()
	tx, err := conn.Begin(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback(ctx) }()
	for _, statement := range []string{
		"SELECT set_config('palmero.employer', '" + g.scope.Employer.String() + "', true)",
		"CREATE TEMPORARY TABLE staged_time (LIKE time_entries) ON COMMIT DROP",
		"ALTER TABLE staged_time DROP COLUMN seq",
		"CREATE TEMPORARY TABLE staged_tallies (LIKE tallies) ON COMMIT DROP",
		"ALTER TABLE staged_tallies DROP COLUMN seq",
	} {
		if _, err := tx.Exec(ctx, statement); err != nil {
			return err
		}
	}
	const hash = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"
	employer, actor := g.scope.Employer, g.scope.Actor
	timeColumns := []string{"employer_id", "id", "content_hash", "worker_id", "workday", "kind", "garden_id", "block_id", "operation_id", "started_at", "ended_at", "recorded_at", "received_at", "recorded_by", "reason"}
	day := s.Workday.Midnight(time.UTC)
	_, err = tx.CopyFrom(ctx, pgx.Identifier{"staged_time"}, timeColumns, pgx.CopyFromSlice(len(s.Time), func(i int) ([]any, error) {
		l := s.Time[i]
		return []any{employer, l.ID, hash, l.WorkerID, day, string(l.Kind), g.garden, l.BlockID, l.OperationID, *l.Start, *l.End, s.RecordedAt, s.RecordedAt, actor, ""}, nil
	}))
	if err != nil {
		return err
	}
	tallyColumns := []string{"employer_id", "id", "content_hash", "worker_id", "workday", "block_id", "operation_id", "pieces", "recorded_at", "received_at", "recorded_by", "reason"}
	_, err = tx.CopyFrom(ctx, pgx.Identifier{"staged_tallies"}, tallyColumns, pgx.CopyFromSlice(len(s.Tallies), func(i int) ([]any, error) {
		l := s.Tallies[i]
		return []any{employer, l.ID, hash, l.WorkerID, day, l.BlockID, l.OperationID, int64(l.Pieces), s.RecordedAt, s.RecordedAt, actor, ""}, nil
	}))
	if err != nil {
		return err
	}
	for table, columns := range map[string][]string{"time_entries": timeColumns, "tallies": tallyColumns} {
		list := ""
		for i, c := range columns {
			if i > 0 {
				list += ", "
			}
			list += c
		}
		staged := map[string]string{"time_entries": "staged_time", "tallies": "staged_tallies"}[table]
		if _, err := tx.Exec(ctx, "INSERT INTO "+table+" ("+list+") SELECT "+list+" FROM "+staged); err != nil {
			return err
		}
	}
	return tx.Commit(ctx)
}
