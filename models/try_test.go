package models_test

import (
	"context"
	"database/sql"
	"errors"
	"testing"
	"time"

	"palmero/migrations"
	"palmero/models"
)

// What is tried is undone, and keeps nobody from writing meanwhile.
func TestTry(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		add := func(name string) func(tx *models.Tx) error {
			return func(tx *models.Tx) error {
				_, _, err := models.Create(tx, tx.NewID(), models.CrewContent{Name: name})
				return err
			}
		}
		names := func(tx *models.Tx) (names []string) {
			all, err := models.List[models.Crew](tx, models.Page{Limit: 10})
			if err != nil {
				t.Error(err)
			}
			for _, c := range all {
				names = append(names, c.Content.Name)
			}
			return names
		}
		in(t, store, scope, add("North"))
		err := store.Try(t.Context(), scope, func(tx *models.Tx) error {
			if err := add("Tried")(tx); err != nil {
				return err
			}
			ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
			defer cancel()
			if got := names(tx); len(got) != 2 || got[1] != "Tried" {
				t.Errorf("while one is tried there are %v", got)
			}
			return store.View(ctx, scope, func(tx *models.Tx) error {
				if got := names(tx); len(got) != 1 {
					t.Errorf("others see %v", got)
				}
				return nil
			})
		})
		if err != nil {
			t.Error(err)
		}
		in(t, store, scope, func(tx *models.Tx) error {
			if got := names(tx); len(got) != 1 {
				t.Errorf("afterwards there are %v", got)
			}
			return nil
		})
		if err := store.Try(t.Context(), scope, func(*models.Tx) error { return models.FaultAt("/name", "fault.empty", nil) }); models.KindOf(err) != models.Invalid {
			t.Errorf("what went wrong: %v", err)
		}
	})
}

// On SQLite others write while something is tried.
func TestTryKeepsNoWriterWaiting(t *testing.T) {
	target := databases.Target(t, migrations.SQLite)
	store, err := models.Open(t.Context(), target, models.Options{Now: clock})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = store.Close() }()
	scope := found(t, store, "tres-pozos")
	err = store.Try(t.Context(), scope, func(*models.Tx) error {
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		defer cancel()
		return store.In(ctx, scope, func(tx *models.Tx) error {
			_, _, err := models.Create(tx, tx.NewID(), worker("Ana Rojas"))
			return err
		})
	})
	if err != nil {
		t.Error(err)
	}
}

// What the database gives up on can be sent again, and says so.
func TestWhatTakesTooLongIsBusy(t *testing.T) {
	target := databases.Target(t, migrations.Postgres)
	store, err := models.Open(t.Context(), target, models.Options{Now: clock, StatementTimeout: time.Second})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = store.Close() }()
	err = store.View(t.Context(), found(t, store, "tres-pozos"), func(tx *models.Tx) error {
		_, err := tx.Conn().ExecContext(t.Context(), "SELECT pg_sleep(5)")
		return err
	})
	if models.KindOf(err) != models.Busy {
		t.Errorf("a statement over its time: %v", err)
	}

	target = databases.Target(t, migrations.SQLite)
	if store, err = models.Open(t.Context(), target, models.Options{Now: clock}); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = store.Close() }()
	other, err := target.OpenSQL()
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = other.Close() }()
	err = store.In(t.Context(), found(t, store, "tres-pozos"), func(*models.Tx) error { return impatient(t, other) })
	if models.KindOf(err) != models.Busy {
		t.Errorf("a database that another program writes to: %v", err)
	}
}

// impatient begins to write without waiting for others.
func impatient(t *testing.T, db *sql.DB) (err error) {
	conn, err := db.Conn(t.Context())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	if _, err := conn.ExecContext(t.Context(), "PRAGMA busy_timeout = 0"); err != nil {
		return err
	}
	_, err = conn.ExecContext(t.Context(), "BEGIN IMMEDIATE")
	return err
}
