package measuring_test

import (
	"context"
	"errors"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/handlers/measuring"
	"palmero/models"
	"palmero/models/synthetic"
	"palmero/models/testdb"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

func opened(t *testing.T, target models.Target) *models.Store {
	t.Helper()
	store, err := models.Open(t.Context(), target, models.Options{Now: measuring.Now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() })
	return store
}

// Every part of the week is measured beside its reference, and a second time in the same database with an employer of its own.
func TestAWeekIsMeasured(t *testing.T) {
	const workers, weeks, history = synthetic.CrewSize + 3, 2, 5
	for _, dialect := range testdb.Dialects() {
		t.Run(string(dialect), func(t *testing.T) {
			target := databases.Target(t, dialect)
			store := opened(t, target)
			for n, name := range []string{"synthetic-1", "synthetic-2"} {
				told := 0
				result, err := measuring.Run(t.Context(), store, target, measuring.Plan{Workers: workers, Weeks: weeks, History: history}, func(int) { told++ })
				if err != nil {
					t.Fatal(n, err)
				}
				if result.Employer != name || result.Database != string(dialect) || result.Loaded != weeks*history*synthetic.WeekRows || told != weeks {
					t.Errorf("%+v after %d weeks told", result, told)
				}
				type part struct {
					Name         string
					Rows, People int
				}
				var parts []part
				for _, p := range result.Parts {
					parts = append(parts, part{p.Name, p.Rows, p.People})
					if p.Seconds <= 0 || p.Reference <= 0 || p.PeakMiB <= 0 || p.Ratio() <= 0 {
						t.Errorf("nothing was measured: %+v", p)
					}
				}
				const rows = workers * synthetic.WeekRows
				want := []part{{"crew sheets in", rows, 5 * workers}, {"pay run drafted", rows, workers}, {"pay run approved", rows, workers},
					{"statements out, JSON", 0, workers}, {"statements out, HTML", 0, workers}, {"a worker's own week", rows, workers}}
				if diff := cmp.Diff(want, parts); diff != "" {
					t.Error(diff)
				}
			}
		})
	}
}

func TestOthersRecordsAreLeftAlone(t *testing.T) {
	target := databases.Target(t, testdb.Dialects()[0])
	store := opened(t, target)
	if _, err := synthetic.Found(t.Context(), store, "tres-pozos", 1); err != nil {
		t.Fatal(err)
	}
	if _, err := measuring.Run(t.Context(), store, target, measuring.Plan{Workers: 1}, func(int) {}); !errors.Is(err, measuring.ErrOthers) {
		t.Errorf("error: %v", err)
	}
}

func TestItStopsWhenItIsInterrupted(t *testing.T) {
	target := databases.Target(t, testdb.Dialects()[0])
	ctx, interrupt := context.WithCancel(t.Context())
	_, err := measuring.Run(ctx, opened(t, target), target, measuring.Plan{Workers: 5, Weeks: 100, History: 5}, func(int) { interrupt() })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error: %v", err)
	}
}
