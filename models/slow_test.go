package models_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"palmero/models"
	"palmero/models/testdb"
)

// Slow statements are told by the function that asked, whichever way the statement goes, and counted; their values are not told.
func TestSlowStatementsAreToldByName(t *testing.T) {
	for _, dialect := range testdb.Dialects() {
		t.Run(string(dialect), func(t *testing.T) {
			var told []string
			store, err := models.Open(t.Context(), databases.Target(t, dialect), models.Options{
				Now: clock, StatementTimeout: time.Minute, ConnectionLifetime: time.Minute, IdleConnections: 1,
				Slow: models.SlowStatements{After: time.Nanosecond, Tell: func(name string, took time.Duration) {
					if took <= 0 {
						t.Errorf("%s took %s", name, took)
					}
					told = append(told, name)
				}},
			})
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { _ = store.Close() })
			scope := found(t, store, "tres-pozos")
			told = nil
			in(t, store, scope, createsTwo)
			readsWork(t, store, scope)
			slices.Sort(told)
			for _, name := range []string{"models_test.createsTwo", "models_test.readsWork.func1"} {
				if !slices.ContainsFunc(told, func(s string) bool { return strings.HasSuffix(s, name) }) {
					t.Errorf("nothing tells of %s: %q", name, told)
				}
			}
			if said := strings.Join(told, " "); strings.Contains(said, "Ana") || strings.Contains(said, "SELECT") {
				t.Errorf("values are told: %s", said)
			}
			if n := store.Counts()[models.CountedThing{What: models.CountSlow, Kind: told[0]}]; n == 0 {
				t.Errorf("%s was not counted", told[0])
			}
		})
	}
}

func createsTwo(tx *models.Tx) error {
	_, _, err := models.Create(tx, models.NewID(), worker("Ana Rojas"))
	return err
}

func readsWork(t *testing.T, store *models.Store, scope models.Scope) {
	t.Helper()
	err := store.View(t.Context(), scope, func(tx *models.Tx) error {
		_, err := models.OfWorkers[models.TimeEntryContent](tx, nil, models.Date{}, models.Date{})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// What was undone is not counted.
func TestKeptCommandsAreCounted(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		for range 2 {
			in(t, store, scope, createsTwo)
		}
		if err := store.In(t.Context(), scope, func(tx *models.Tx) error {
			tx.Count(models.CountSheets, "new", 1)
			if err := createsTwo(tx); err != nil {
				return err
			}
			return models.FaultAt("/name", "fault.empty", nil)
		}); err == nil {
			t.Error("no error")
		}
		counts := store.Counts()
		for what := range counts {
			if what.What == models.CountMicroseconds {
				delete(counts, what)
			}
		}
		want := map[models.CountedThing]int64{{What: models.CountCommands, Kind: "create employers"}: 1, {What: models.CountCommands, Kind: "create workers"}: 2}
		if diff := cmp.Diff(want, counts); diff != "" {
			t.Error(diff)
		}
		if !store.LastSealed().IsZero() {
			t.Error("it says that it sealed")
		}
		if age := store.SealAge(); age != 0 {
			t.Errorf("before the first seal its age is %v", age)
		}
		if _, err := store.SealAll(t.Context()); err != nil || !store.LastSealed().Equal(noon) {
			t.Errorf("sealed at %v, %v", store.LastSealed(), err)
		}
	})
}
