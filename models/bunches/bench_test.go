package bunches_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/bunches"
	"palmero/models/testdb"
	"palmero/payroll/dated"
)

// BenchmarkResults measures what eight weeks come to after five seasons of twenty weeks, in which each of 25 crews had two samples of ten bunches looked at every day: what the
// page of results asks for.
func BenchmarkResults(b *testing.B) {
	for _, dialect := range testdb.Dialects() {
		b.Run(string(dialect), func(b *testing.B) {
			store := databases.Store(b, dialect, func() time.Time { return noon })
			r := &rig{TB: b, store: store}
			r.plant()
			fiveSeasons(r)
			operation := r.pollination
			b.ResetTimer()
			for b.Loop() {
				err := store.View(b.Context(), r.scope, func(tx *models.Tx) error {
					ask := bunches.Results{By: "operation", First: dated.MustDate("2026-01-12"), Last: dated.MustDate("2026-03-04")}
					if _, err := ask.Find(tx); err != nil {
						return err
					}
					ask.Operation, ask.CountsOnly = &operation, true
					for _, ask.By = range []string{"block", "worker"} {
						if _, err := ask.Find(tx); err != nil {
							return err
						}
					}
					_, err := bunches.Latest(tx, 15, models.Equal("operation_id", operation), models.WorkedFrom(ask.First))
					return err
				})
				if err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// fiveSeasons writes the checks of five seasons that end today.
func fiveSeasons(r *rig) {
	r.Helper()
	standard := r.set(models.WorkStandardContent{OperationID: r.pollination, EffectiveOn: day("2026-03-04"), Points: models.StandardPoints{strands, cut, thorns, tie}})
	var crews []uuid.UUID
	r.in(func(tx *models.Tx) error {
		for range 25 {
			crews = append(crews, keep(r, tx, models.Create[models.CrewContent], models.CrewContent{Name: models.NewID().String()[:8]}))
		}
		return nil
	})
	for year := range 5 {
		last := noon.AddDate(-year, 0, 0)
		for d := range 140 {
			r.in(func(tx *models.Tx) error { return oneDay(r, tx, standard.ID, crews, last.AddDate(0, 0, -d)) })
		}
	}
}

// oneDay writes two checks of each crew.
func oneDay(r *rig, tx *models.Tx, standard uuid.UUID, crews []uuid.UUID, at time.Time) error {
	var checks []models.BunchCheck
	var points []models.BunchCheckPoint
	for n := range 2 * len(crews) {
		c := models.BunchCheckContent{StandardID: standard, OperationID: r.pollination, CrewID: crews[n/2], WorkerID: &r.ana, Workday: models.Day(dated.DateOf(at)), BlockID: r.heavy,
			LookedAt: 10, AsAsked: int64(n % 11)}
		for range 10 {
			c.Bunches = append(c.Bunches, bunch(number("strands_kept", 33), number("share_cut", 40), yes("thorns_off", true), number("tie_length", 18)))
		}
		id := models.NewID()
		checks = append(checks, models.BunchCheck{Keyed: models.Keyed{ID: id}, Content: c, RecordedAt: at, ReceivedAt: at, RecordedBy: tx.Actor})
		for i, p := range []string{"strands_kept", "share_cut", "thorns_off", "tie_length"} {
			points = append(points, models.BunchCheckPoint{CheckID: id, No: int64(i + 1), PointCount: models.PointCount{Point: p, LookedAt: 10, AsAsked: int64(n % 11)}})
		}
	}
	if err := tx.DB().CreateInBatches(checks, 100).Error; err != nil {
		return err
	}
	return models.InsertAll(tx, points)
}
