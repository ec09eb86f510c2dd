package pages_test

import (
	"slices"
	"testing"
	"time"

	"palmero/models"
	"palmero/models/season"
	"palmero/models/synthetic"
	"palmero/models/testdb"
	"palmero/payroll/rulebook"
)

// BenchmarkFindWorkers measures the server's time for finding people among five thousand, and reports its 95th percentile in milliseconds.
func BenchmarkFindWorkers(b *testing.B) {
	books, err := rulebook.Load()
	if err != nil {
		b.Fatal(err)
	}
	for _, dialect := range testdb.Dialects() {
		b.Run(string(dialect), func(b *testing.B) {
			clock := &season.Clock{}
			clock.Set(time.Date(2026, 3, 6, 23, 30, 0, 0, time.UTC))
			store := databases.Store(b, dialect, clock.Now)
			e, err := synthetic.Found(b.Context(), store, "synthetic", 5000)
			if err != nil {
				b.Fatal(err)
			}
			f := &measuredFarm{site: newSite(b, store, clock, books), Employer: e, asked: map[string]asking{}}
			cookies := f.employ(models.RoleClerk)
			for _, path := range []string{"/workers", "/workers?find=hand+49", "/workers?find=4711", "/crews", "/crews/" + e.Crews[0].ID.String()} {
				b.Run(path, func(b *testing.B) {
					p := &timedPage{role: models.RoleClerk, path: path, cookies: cookies}
					for b.Loop() {
						f.ask(b, p)
					}
					slices.Sort(p.took)
					b.ReportMetric(float64(p.at(95).Microseconds())/1000, "p95-ms")
				})
			}
		})
	}
}
