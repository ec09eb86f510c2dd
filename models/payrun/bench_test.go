package payrun_test

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/models/synthetic"
	"palmero/payroll/rulebook"
)

// errUndone undoes a transaction that was only measured.
var errUndone = errors.New("undone")

// made is a synthetic employer with so many workers, a week of their work and so many weeks of work and pay before it, on a database that knows how much it holds; with a
// connection to it on PostgreSQL.
func made(b *testing.B, dialect migrations.Dialect, workers, history int) (*synthetic.Employer, *pgx.Conn) {
	b.Helper()
	ctx := context.Background()
	target, dsn := databases.Target(b, migrations.SQLite), ""
	if dialect == migrations.Postgres {
		target, dsn = databases.ServingDSN(b)
	}
	store, err := models.Open(ctx, target, models.Options{Now: now})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = store.Close() })
	e, err := synthetic.Found(ctx, store, "synthetic", workers)
	if err == nil {
		err = e.History(ctx, books(b), weekStart.Date, history, workers, func(int) {})
	}
	if err == nil {
		err = e.Record(ctx, weekStart.Date, workers)
	}
	if err != nil {
		b.Fatal(err)
	}
	if dsn == "" {
		return e, nil
	}
	databases.Settle(b, dsn)
	conn, err := pgx.Connect(ctx, dsn)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = conn.Close(ctx) })
	return e, conn
}

// BenchmarkDraft drafts a week of many workers again and again, each time up to the commit. The reference reads and writes the same rows and reckons nothing.
func BenchmarkDraft(b *testing.B) {
	for _, workers := range []int{500, 5000} {
		for _, dialect := range []migrations.Dialect{migrations.SQLite, migrations.Postgres} {
			b.Run(fmt.Sprintf("%s/%d", dialect, workers), func(b *testing.B) {
				e, _ := made(b, dialect, workers, 0)
				measureDrafts(b, e, workers)
			})
		}
		b.Run(fmt.Sprintf("reference/%d", workers), func(b *testing.B) { benchmarkDraftReference(b, workers) })
	}
}

func measureDrafts(b *testing.B, e *synthetic.Employer, workers int) {
	library := books(b)
	peak := watchHeap(b)
	for b.Loop() {
		err := e.Store.In(context.Background(), e.Clerk, func(tx *models.Tx) error {
			if _, _, err := payrun.DraftRun(tx, library, payrun.DraftRequest{ID: models.NewID(), Kind: payrun.Regular, WeekStart: weekStart}); err != nil {
				return err
			}
			return errUndone
		})
		if !errors.Is(err, errUndone) {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N*workers)/b.Elapsed().Seconds(), "workers/s")
	b.ReportMetric(float64(peak()>>20), "peak-MiB")
}

// watchHeap looks at the memory in use every few milliseconds, and tells the most that it saw.
func watchHeap(b *testing.B) (peak func() uint64) {
	var most atomic.Uint64
	runtime.GC()
	go func() {
		for tick := time.NewTicker(5 * time.Millisecond); b.Context().Err() == nil; <-tick.C {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most.Store(max(most.Load(), m.HeapInuse))
		}
	}()
	return most.Load
}

func benchmarkDraftReference(b *testing.B, workers int) {
	ctx := context.Background()
	e, conn := made(b, migrations.Postgres, workers, 0)
	run, err := e.Draft(ctx, books(b), weekStart.Date)
	if err != nil {
		b.Fatal(err)
	}
	reference, err := e.DraftReference(ctx, conn, run.ID, weekStart.Date)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if err := reference.Run(ctx, conn); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N*workers)/b.Elapsed().Seconds(), "workers/s")
}

// withHistory is how many workers the employers with years behind them have.
const withHistory = 40

// BenchmarkHistory drafts a week, and looks at one worker's own week, with one week of work and pay behind it and with two hundred.
func BenchmarkHistory(b *testing.B) {
	for _, weeks := range []int{1, 200} {
		e, _ := made(b, migrations.Postgres, withHistory, weeks)
		b.Run(fmt.Sprintf("draft/%d", weeks), func(b *testing.B) { measureDrafts(b, e, withHistory) })
		b.Run(fmt.Sprintf("own-week/%d", weeks), func(b *testing.B) { measureOwnWeek(b, e) })
	}
}

// BenchmarkFarWeek looks at one worker's own week where PostgreSQL is a round trip of 40 ms away, with one week of work and pay behind it and with two hundred, and reports how many round
// trips that took.
func BenchmarkFarWeek(b *testing.B) {
	for _, weeks := range []int{1, 200} {
		e, conn := made(b, migrations.Postgres, withHistory, weeks)
		b.Run(fmt.Sprint(weeks), func(b *testing.B) {
			far := databases.Distant(b, conn.Config().ConnString(), 20*time.Millisecond)
			store, err := models.Open(b.Context(), far.Target, models.Options{Now: now})
			if err != nil {
				b.Fatal(err)
			}
			defer func() { _ = store.Close() }()
			there := *e
			there.Store = store
			if err := errors.Join(ownWeek(b.Context(), &there, books(b)), ownWeek(b.Context(), &there, books(b))); err != nil { // the statements are prepared
				b.Fatal(err)
			}
			before := far.Trips()
			measureOwnWeek(b, &there)
			b.ReportMetric(float64(far.Trips()-before)/float64(b.N), "trips/op")
		})
	}
}

// BenchmarkOwnWeek looks at one worker's own week among few workers and among many.
func BenchmarkOwnWeek(b *testing.B) {
	for _, workers := range []int{40, 2000} {
		e, _ := made(b, migrations.Postgres, workers, 0)
		b.Run(fmt.Sprint(workers), func(b *testing.B) { measureOwnWeek(b, e) })
	}
}

func measureOwnWeek(b *testing.B, e *synthetic.Employer) {
	library := books(b)
	for b.Loop() {
		if err := ownWeek(context.Background(), e, library); err != nil {
			b.Fatal(err)
		}
	}
}

// ownWeek looks at the week of one worker.
func ownWeek(ctx context.Context, e *synthetic.Employer, books *rulebook.Library) error {
	var own *payrun.SoFar
	err := e.Store.Ask(ctx, e.Clerk, func(b *models.Batch) (err error) {
		own, err = payrun.Preview(b, books, e.Worker(7), weekStart.Date)
		return err
	})
	if err == nil && own.Statement == nil {
		err = errors.New("no figures")
	}
	return err
}
