package models_test

import (
	"context"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"palmero/migrations"
	"palmero/models"
)

func TestOpenRefusesAnOlderSchema(t *testing.T) {
	target, err := models.ParseTarget("sqlite://" + filepath.Join(t.TempDir(), "empty.db"))
	if err != nil {
		t.Fatal(err)
	}
	for range 2 { // a look at what is not there leaves nothing behind
		_, err = models.Open(t.Context(), target, models.Options{})
		if err == nil || !strings.Contains(err.Error(), "palmero migrate") || !strings.Contains(err.Error(), "there is no database") {
			t.Errorf("a missing database was opened, or the error names no command: %v", err)
		}
	}
	db, err := target.OpenSQL()
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec("CREATE TABLE other (id INTEGER)"); err != nil {
		t.Fatal(err)
	}
	_, err = models.Open(t.Context(), target, models.Options{})
	if err == nil || !strings.Contains(err.Error(), "lacks 0001") {
		t.Errorf("a database without the schema was opened, or the error does not say what it lacks: %v", err)
	}
}

func TestOpenRefusesARoleThatOwnsTables(t *testing.T) {
	_, err := models.Open(t.Context(), databases.OwnerTarget(t), models.Options{})
	if err == nil || !strings.Contains(err.Error(), "--serving-role") {
		t.Errorf("the owner of the tables may serve, or the error names no way out: %v", err)
	}
}

func TestMigratingTwiceChangesNothing(t *testing.T) {
	target := databases.Target(t, migrations.SQLite)
	db, err := target.OpenSQL()
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	names, err := migrations.Up(t.Context(), db, migrations.SQLite)
	if err != nil || len(names) != 0 {
		t.Errorf("applied again: %v, %v", names, err)
	}
}

func TestViewOnlyReads(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		err := store.View(t.Context(), scope, func(tx *models.Tx) error {
			_, _, err := models.Create(tx, models.NewID(), worker("Ana Rojas"))
			return err
		})
		if err == nil {
			t.Error("a transaction that only reads wrote a worker")
		}
	})
}

func TestAFailedTransactionLeavesNothing(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		err := store.In(t.Context(), scope, func(tx *models.Tx) error {
			if _, _, err := models.Create(tx, models.NewID(), worker("Ana Rojas")); err != nil {
				t.Error(err)
			}
			return context.Canceled
		})
		if err != context.Canceled {
			t.Errorf("error %v", err)
		}
		in(t, store, scope, func(tx *models.Tx) error {
			list, err := models.List[models.Worker](tx, models.Page{Limit: 1})
			if len(list) != 0 {
				t.Errorf("%d workers are kept", len(list))
			}
			return err
		})
	})
}

// A connection goes back to the pool with no employer set: what the next transaction does not name, it does not see.
func TestPooledConnectionsForgetTheEmployer(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scopes := []models.Scope{found(t, store, "one"), found(t, store, "two"), found(t, store, "three")}
		var wait sync.WaitGroup
		for round := range 30 {
			scope := scopes[round%len(scopes)]
			wait.Go(func() {
				err := store.In(context.Background(), scope, func(tx *models.Tx) error {
					if _, _, err := models.Create(tx, models.NewID(), worker("Ana Rojas")); err != nil {
						return err
					}
					var foreign int64
					err := tx.DB().Raw("SELECT count(*) FROM workers WHERE employer_id = ? AND employer_id <> ?", scope.Employer, scope.Employer).Scan(&foreign).Error
					if foreign != 0 {
						t.Errorf("%d workers of others", foreign)
					}
					return err
				})
				if err != nil {
					t.Error(err)
				}
			})
		}
		wait.Wait()
		for _, scope := range scopes {
			in(t, store, scope, func(tx *models.Tx) error {
				list, err := models.List[models.Worker](tx, models.Page{Limit: 100})
				if len(list) != 10 {
					t.Errorf("%d workers", len(list))
				}
				return err
			})
		}
	})
}

func TestPaging(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		in(t, store, scope, func(tx *models.Tx) error {
			for range 5 {
				if _, _, err := models.Create(tx, models.NewID(), worker("Ana Rojas")); err != nil {
					return err
				}
			}
			var numbers []int64
			for after := int64(0); ; {
				page, err := models.List[models.Worker](tx, models.Page{After: after, Limit: 2})
				if err != nil {
					return err
				}
				for _, w := range page[:min(2, len(page))] {
					numbers = append(numbers, w.Content.Number)
					after = w.Seq
				}
				if len(page) <= 2 {
					break
				}
			}
			if len(numbers) != 5 || numbers[0] != 1 || numbers[4] != 5 {
				t.Errorf("paged through %v", numbers)
			}
			return nil
		})
	})
}

func TestEveryCommandIsAudited(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		id := models.NewID()
		in(t, store, scope, func(tx *models.Tx) error {
			_, _, err := models.Create(tx, id, models.AccountContent{SignInName: "clerk", Name: "Clerk", Role: models.RoleClerk, Language: "en", SecretHash: "not to be seen"})
			return err
		})
		in(t, store, scope, func(tx *models.Tx) error {
			entries, err := models.List[models.AuditEntry](tx, models.Page{Limit: 10}, models.Where("subject_id = ?", id))
			if err != nil || len(entries) != 1 || entries[0].Action != "create" || !entries[0].At.Equal(noon) {
				t.Fatalf("%d entries, %v", len(entries), err)
			}
			if doc := string(entries[0].AfterDoc); !strings.Contains(doc, `"sign_in_name":"clerk"`) || strings.Contains(doc, "not to be seen") {
				t.Errorf("the entry says %s", doc)
			}
			return nil
		})
		err := store.In(t.Context(), scope, func(tx *models.Tx) error {
			return tx.DB().Exec("UPDATE audit_entries SET reason = 'x' WHERE employer_id = ?", scope.Employer).Error
		})
		if err == nil {
			t.Error("an audit entry was changed")
		}
	})
}
