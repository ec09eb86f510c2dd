package models_test

import (
	"context"
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/testdb"
	"palmero/payroll/dated"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

// noon is the instant at which these tests take place.
var noon = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)

func clock() time.Time { return noon }

// each runs a test on both databases.
func each(t *testing.T, test func(t *testing.T, store *models.Store)) {
	t.Helper()
	databases.Each(t, clock, test)
}

var employerContent = models.EmployerContent{
	LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road, Mesa Verde", TaxNumber: "00-0000001", InsuranceCarrier: "Mutual of the Valley",
	Size: 40, WeekStart: time.Sunday, WorkdayStart: 0, Payday: time.Friday, SecondApprover: true,
}

// found enters an employer and returns the scope of its records.
func found(t *testing.T, store *models.Store, signInName string) models.Scope {
	t.Helper()
	id := models.NewID()
	if err := store.FoundEmployer(t.Context(), id, signInName, employerContent); err != nil {
		t.Fatal(err)
	}
	return models.Scope{Employer: id}
}

// in runs fn in a writing transaction that must succeed.
func in(t *testing.T, store *models.Store, scope models.Scope, fn func(tx *models.Tx) error) {
	t.Helper()
	if err := store.In(context.Background(), scope, fn); err != nil {
		t.Fatal(err)
	}
}

func worker(name string) models.WorkerContent {
	return models.WorkerContent{Name: name, Address: "1 Palm Lane", Language: "es", StartedOn: models.Day(dated.MustDate("2026-02-01"))}
}

func TestKeptRecords(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		id := models.NewID()
		in(t, store, scope, func(tx *models.Tx) error {
			kept, repeated, err := models.Create(tx, id, worker("Ana Rojas"))
			if err != nil || repeated || kept.Content.Number != 1 || kept.Version != 1 {
				t.Errorf("create: %+v, repeated %v, %v", kept, repeated, err)
			}
			return nil
		})
		in(t, store, scope, func(tx *models.Tx) error {
			if _, repeated, err := models.Create(tx, id, worker("Ana Rojas")); err != nil || !repeated {
				t.Errorf("the same again: repeated %v, %v", repeated, err)
			}
			return nil
		})
		err := store.In(t.Context(), scope, func(tx *models.Tx) error {
			_, _, err := models.Create(tx, id, worker("Ana Rosas"))
			return err
		})
		if models.KindOf(err) != models.Conflict {
			t.Errorf("the same identifier with other content: %v", err)
		}
		in(t, store, scope, func(tx *models.Tx) error {
			changed := worker("Ana Rojas Luna")
			changed.EndedOn = models.Day(dated.MustDate("2026-04-01"))
			kept, err := models.Update(tx, id, 1, changed)
			if err != nil || kept.Version != 2 || kept.Content.Number != 1 {
				t.Errorf("update: %+v, %v", kept, err)
			}
			read, err := models.Get[models.WorkerContent](tx, id)
			if err != nil || read.Content.EndedOn.String() != "2026-04-01" || !read.Content.BirthDate.IsZero() || read.Content.Name != "Ana Rojas Luna" {
				t.Errorf("read back: %+v, %v", read, err)
			}
			if _, err := models.Update(tx, id, 1, changed); models.KindOf(err) != models.Stale {
				t.Errorf("an update on a version that moved: %v", err)
			}
			return nil
		})
	})
}

func TestEmployersStayApart(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		ours, theirs := found(t, store, "ours"), found(t, store, "theirs")
		id := models.NewID()
		in(t, store, ours, func(tx *models.Tx) error {
			_, _, err := models.Create(tx, id, worker("Ana Rojas"))
			return err
		})
		in(t, store, theirs, func(tx *models.Tx) error {
			if _, err := models.Get[models.WorkerContent](tx, id); models.KindOf(err) != models.NotFound {
				t.Errorf("another employer reads the worker: %v", err)
			}
			list, err := models.List[models.Worker](tx, models.Page{Limit: 10})
			if err != nil || len(list) != 0 {
				t.Errorf("another employer lists %d workers, %v", len(list), err)
			}
			if err := tx.DB().Exec("UPDATE workers SET name = 'x'").Error; err == nil {
				t.Error("a statement that names no employer ran")
			}
			return nil
		})
		if err := store.In(t.Context(), models.Scope{}, func(*models.Tx) error { return nil }); err == nil {
			t.Error("a transaction without an employer began")
		}
	})
}

// On PostgreSQL the wall stands in the database itself: SQL that forgets the employer sees and writes nothing of another's.
func TestRowLevelSecurity(t *testing.T) {
	store := databases.Store(t, migrations.Postgres, clock)
	ours, theirs := found(t, store, "ours"), found(t, store, "theirs")
	in(t, store, ours, func(tx *models.Tx) error {
		_, _, err := models.Create(tx, models.NewID(), worker("Ana Rojas"))
		return err
	})
	in(t, store, theirs, func(tx *models.Tx) error {
		var n int64
		if err := tx.DB().Raw("SELECT count(*) FROM workers WHERE employer_id = ? OR 1 = 1", tx.Employer).Scan(&n).Error; err != nil || n != 0 {
			t.Errorf("another employer counts %d workers, %v", n, err)
		}
		return nil
	})
	err := store.In(t.Context(), theirs, func(tx *models.Tx) error {
		return tx.DB().Exec("INSERT INTO crews (employer_id, id, content_hash, created_at, updated_at, version, number, name) "+
			"SELECT ?, ?, '', now(), now(), 1, 1, 'x' WHERE ?::uuid IS NOT NULL", ours.Employer, uuid.New(), theirs.Employer).Error
	})
	if err == nil || !strings.Contains(err.Error(), "row-level security") {
		t.Errorf("a row was written into another employer's records: %v", err)
	}
}

func TestAppendOnly(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		var actor uuid.UUID
		in(t, store, scope, func(tx *models.Tx) error {
			account, _, err := models.Create(tx, models.NewID(), models.AccountContent{SignInName: "clerk", Name: "Clerk", Role: models.RoleClerk, Language: "en"})
			actor = account.ID
			return err
		})
		scope.Actor = actor
		first, second := models.NewID(), models.NewID()
		rate := models.HourlyRateContent{Rate: 175000, EffectiveOn: models.Day(dated.MustDate("2026-02-01"))}
		in(t, store, scope, func(tx *models.Tx) error {
			_, _, err := models.Record(tx, first, rate, models.Recording{RecordedAt: noon})
			return err
		})
		in(t, store, scope, func(tx *models.Tx) error {
			rate.Rate = 180000
			_, _, err := models.Record(tx, second, rate, models.Recording{RecordedAt: noon, Supersedes: &first, Reason: "raise agreed in January"})
			return err
		})
		for name, statement := range map[string]string{
			"change":     "UPDATE hourly_rates SET rate = 1 WHERE employer_id = ? AND id = ?",
			"delete":     "DELETE FROM hourly_rates WHERE employer_id = ? AND id = ?",
			"mark again": "UPDATE hourly_rates SET superseded_by = id WHERE employer_id = ? AND id = ?",
			"unmark":     "UPDATE hourly_rates SET superseded_by = NULL WHERE employer_id = ? AND id = ?",
		} {
			err := store.In(t.Context(), scope, func(tx *models.Tx) error {
				return tx.DB().Exec(statement, scope.Employer, first).Error
			})
			if err == nil {
				t.Errorf("%s: a record of evidence was altered", name)
			}
		}
		err := store.In(t.Context(), scope, func(tx *models.Tx) error {
			_, _, err := models.Record(tx, models.NewID(), rate, models.Recording{RecordedAt: noon, Supersedes: &first, Reason: "twice"})
			return err
		})
		if models.KindOf(err) != models.Conflict {
			t.Errorf("a superseded record was superseded again: %v", err)
		}
	})
}

func TestShortNumbersAreUnique(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		errs := make(chan error)
		const writers = 8
		for range writers {
			go func() {
				errs <- store.In(context.Background(), scope, func(tx *models.Tx) error {
					_, _, err := models.Create(tx, models.NewID(), worker("Ana Rojas"))
					return err
				})
			}()
		}
		for range writers {
			if err := <-errs; err != nil {
				t.Error(err)
			}
		}
		err := store.In(t.Context(), scope, func(tx *models.Tx) error {
			w := worker("Berta Luz")
			w.Number = 3
			_, _, err := models.Create(tx, models.NewID(), w)
			return err
		})
		var e *models.Error
		if !errors.As(err, &e) || e.Kind != models.Invalid || len(e.Faults) != 1 || e.Faults[0].Pointer != "/number" {
			t.Errorf("a number given twice: %v", err)
		}
	})
}
