package models_test

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/season"
	"palmero/payroll/rulebook"
	"palmero/safety"
)

// unowned are the tables that belong to no employer.
var unowned = []string{"book_texts", "employers", "goose_db_version"}

// opened opens a database for its own sake.
func opened(t *testing.T, target models.Target) *sql.DB {
	t.Helper()
	db, err := target.OpenSQL()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	return db
}

// texts returns the first column of a query.
func texts(t *testing.T, db interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}, query string, args ...any) (all []string) {
	t.Helper()
	rows, err := db.QueryContext(context.Background(), query, args...)
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	defer rows.Close()
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			t.Fatal(err)
		}
		all = append(all, s)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return all
}

// The schema itself keeps employers apart: on PostgreSQL every table that is not everybody's has the employer first in its key and in every reference to
// another, and a policy that holds even its owner.
func TestEveryTableBelongsToAnEmployer(t *testing.T) {
	db := opened(t, databases.OwnerTarget(t))
	in := " JOIN pg_namespace n ON n.oid = c.relnamespace WHERE n.nspname = current_schema() AND c.relkind = 'r' AND c.relname <> ALL ($1)"
	for what, query := range map[string]string{
		"has no employer_id": "SELECT c.relname FROM pg_class c" + in +
			" AND NOT EXISTS (SELECT 1 FROM pg_attribute a WHERE a.attrelid = c.oid AND a.attname = 'employer_id' AND a.attnotnull)",
		"does not begin its key with the employer": "SELECT c.relname FROM pg_class c" + in +
			" AND NOT EXISTS (SELECT 1 FROM pg_index i JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum = i.indkey[0] WHERE i.indrelid = c.oid AND i.indisprimary AND a.attname = 'employer_id')",
		"has no policy that holds even its owner": "SELECT c.relname FROM pg_class c" + in +
			` AND NOT (c.relrowsecurity AND c.relforcerowsecurity AND 1 = (SELECT count(*) FROM pg_policies p WHERE p.schemaname = n.nspname AND p.tablename = c.relname AND p.permissive = 'PERMISSIVE'
				AND p.cmd = 'ALL' AND p.roles = '{public}' AND p.with_check IS NULL AND p.qual LIKE '(employer_id = %NULLIF(current_setting(''palmero.employer''::text, true), ''''::text))::uuid%'))`,
		"is unique across employers, or by something else first": "SELECT c.relname || ': ' || x.relname FROM pg_class c JOIN pg_index i ON i.indrelid = c.oid JOIN pg_class x ON x.oid = i.indexrelid" + in +
			" AND i.indisunique AND (SELECT a.attname FROM pg_attribute a WHERE a.attrelid = c.oid AND a.attnum = i.indkey[0]) <> 'employer_id'",
		"refers to another employer's": "SELECT c.relname || ': ' || k.conname FROM pg_class c JOIN pg_constraint k ON k.conrelid = c.oid AND k.contype = 'f' JOIN pg_class f ON f.oid = k.confrelid" + in +
			` AND f.relname <> ALL ($1) AND NOT ((SELECT a.attname FROM pg_attribute a WHERE a.attrelid = c.oid AND a.attnum = k.conkey[1]) = 'employer_id'
				AND (SELECT a.attname FROM pg_attribute a WHERE a.attrelid = f.oid AND a.attnum = k.confkey[1]) = 'employer_id')`,
		"refers to its own rows in a way that a restore cannot put off": "SELECT c.relname || ': ' || k.conname FROM pg_class c JOIN pg_constraint k ON k.conrelid = c.oid AND k.confrelid = c.oid AND k.contype = 'f'" + in +
			" AND NOT k.condeferrable",
	} {
		if found := texts(t, db, query, unowned); len(found) > 0 {
			t.Errorf("%s: %q", what, found)
		}
	}
}

// The two databases have the same tables with the same columns, kinds and possible absences.
func TestBothDatabasesHaveTheSameTables(t *testing.T) {
	postgres := texts(t, opened(t, databases.OwnerTarget(t)), `SELECT table_name || '.' || column_name || CASE data_type WHEN 'bigint' THEN ' integer' WHEN 'boolean' THEN ' boolean'
			WHEN 'timestamp with time zone' THEN ' datetime' ELSE ' text' END || CASE WHEN is_nullable = 'YES' THEN ' null' ELSE '' END
		FROM information_schema.columns WHERE table_schema = current_schema() AND table_name <> 'goose_db_version'`)
	sqlite := texts(t, opened(t, databases.Target(t, migrations.SQLite)), `SELECT m.name || '.' || c.name || ' ' || lower(c.type) || iif(c."notnull" OR c.pk, '', ' null')
		FROM sqlite_schema m JOIN pragma_table_info(m.name) c WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite%' AND m.name <> 'goose_db_version'`)
	slices.Sort(postgres)
	slices.Sort(sqlite)
	if diff := cmp.Diff(postgres, sqlite); diff != "" {
		t.Errorf("(-PostgreSQL +SQLite)\n%s", diff)
	}
	if len(postgres) < 100 {
		t.Errorf("only %d columns were found", len(postgres))
	}
}

// The role that serves may delete from the tables of drafts and of signing in, and from no other. On SQLite, which knows no roles, the program's own text says as
// much.
func TestNothingElseIsEverDeleted(t *testing.T) {
	want := []string{"draft_moves", "pay_run_books", "pay_run_problems", "refresh_tokens", "sign_in_attempts", "statement_adjustments", "statement_lines", "statements"}
	may := texts(t, opened(t, databases.Target(t, migrations.Postgres)), `SELECT c.relname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
		WHERE n.nspname = current_schema() AND c.relkind = 'r' AND (has_table_privilege(c.oid, 'DELETE') OR has_table_privilege(c.oid, 'TRUNCATE')) ORDER BY c.relname`)
	if diff := cmp.Diff(want, may); diff != "" {
		t.Errorf("the role that serves may delete from (-want +got)\n%s", diff)
	}
	for _, table := range deletesInSource(t) {
		if !slices.Contains(want, table) {
			t.Errorf("the program deletes from %s", table)
		}
	}
}

// What the serving role sees and writes by itself, whatever the program asks for: with another employer set, with an empty setting, with none, and on a
// connection that served an employer before.
func TestPoliciesHoldTheServingRole(t *testing.T) {
	target := databases.Target(t, migrations.Postgres)
	clock := &season.Clock{}
	store, err := models.Open(t.Context(), target, models.Options{Now: clock.Now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() })
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	if err := season.Seed(t.Context(), store, clock, books, keys); err != nil {
		t.Fatal(err)
	}
	if _, err := store.SealAll(t.Context()); err != nil {
		t.Fatal(err)
	}
	theirs, err := store.FindEmployer(t.Context(), "media-tarde")
	if err != nil {
		t.Fatal(err)
	}
	ours := found(t, store, "ours")

	db := opened(t, target)
	db.SetMaxOpenConns(1) // one connection, used again and again
	tables := texts(t, db, "SELECT c.relname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace WHERE n.nspname = current_schema() AND c.relkind = 'r' AND c.relname <> ALL ($1) ORDER BY 1", unowned)
	full := map[string]bool{}
	as(t, db, theirs.ID.String(), func(tx *sql.Tx) {
		for _, table := range tables {
			full[table] = rowsOf(t, tx, table) > 0
		}
	})
	for _, table := range []string{"workers", "tallies", "statements", "audit_entries", "audit_seals", "accounts"} {
		if !full[table] {
			t.Errorf("the season has nothing in %s", table)
		}
	}
	// The connection has just served them.
	for name, setting := range map[string]string{"another employer": ours.Employer.String(), "an empty setting": "", "none": "-", "one that does not exist": models.NewID().String()} {
		t.Run(name, func(t *testing.T) {
			as(t, db, setting, func(tx *sql.Tx) {
				for _, table := range tables {
					if n := rowsOf(t, tx, table, theirs.ID); n != 0 {
						t.Errorf("sees %d of their rows in %s", n, table)
					}
				}
			})
			for _, table := range tables {
				as(t, db, setting, func(tx *sql.Tx) {
					result, err := tx.Exec("UPDATE " + table + " SET employer_id = employer_id WHERE employer_id = '" + theirs.ID.String() + "'")
					if err == nil {
						if n, _ := result.RowsAffected(); n != 0 {
							t.Errorf("writes %d of their rows in %s", n, table)
						}
					}
				})
			}
			as(t, db, setting, func(tx *sql.Tx) {
				_, err := tx.Exec("INSERT INTO crews (employer_id, id, content_hash, created_at, updated_at, version, number, name) VALUES ($1, $2, '', now(), now(), 1, 99, 'x')", theirs.ID, uuid.New())
				if err == nil || !strings.Contains(err.Error(), "row-level security") {
					t.Errorf("a crew of theirs was written, or refused for another reason: %v", err)
				}
			})
		})
	}
	for _, setting := range []string{"none", "'none'; DROP TABLE crews"} {
		as(t, db, setting, func(tx *sql.Tx) {
			if _, err := tx.Exec("SELECT count(*) FROM workers"); err == nil {
				t.Errorf("a setting of %q was taken", setting)
			}
		})
	}
}

// as runs fn in a transaction with the employer set; "-" sets none.
func as(t *testing.T, db *sql.DB, employer string, fn func(tx *sql.Tx)) {
	t.Helper()
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = tx.Rollback() }() // nothing is to stay
	if employer != "-" {
		if _, err := tx.Exec("SELECT set_config('palmero.employer', $1, true)", employer); err != nil {
			t.Fatal(err)
		}
	}
	fn(tx)
}

func rowsOf(t *testing.T, tx *sql.Tx, table string, employer ...uuid.UUID) (n int) {
	t.Helper()
	query, args := "SELECT count(*) FROM "+table, []any{}
	if len(employer) > 0 {
		query, args = query+" WHERE employer_id = $1", []any{employer[0]}
	}
	if err := tx.QueryRow(query, args...).Scan(&n); err != nil {
		t.Fatalf("%s: %v", table, err)
	}
	return n
}

// The door holds statements to the employer on both databases, or refuses them: SQL text, joins, conditions, other types than those of the table.
func TestStatementsAreHeldOrRefused(t *testing.T) {
	type name struct{ Name string }
	each(t, func(t *testing.T, store *models.Store) {
		ours, theirs := found(t, store, "ours"), found(t, store, "theirs")
		shared := models.NewID() // an identifier that both use
		for _, scope := range []models.Scope{ours, theirs} {
			in(t, store, scope, func(tx *models.Tx) error {
				_, _, err := models.Create(tx, shared, worker("of "+scope.Employer.String()))
				return err
			})
		}
		var names []name
		var n int64
		var list []models.Worker
		refused := map[string]func(db *gorm.DB) error{
			"text without the employer": func(db *gorm.DB) error { return db.Raw("SELECT name FROM workers").Scan(&names).Error },
			"another employer in the text": func(db *gorm.DB) error {
				return db.Raw("SELECT name FROM workers WHERE employer_id = ?", theirs.Employer).Scan(&names).Error
			},
			"the column only read": func(db *gorm.DB) error {
				return db.Raw("SELECT employer_id, name, ? AS x FROM workers", ours.Employer).Scan(&names).Error
			},
			"a join by identifier alone": func(db *gorm.DB) error {
				return db.Raw("SELECT a.name FROM workers a JOIN workers b ON b.id = a.id WHERE a.employer_id = ?", ours.Employer).Scan(&names).Error
			},
			"a subquery": func(db *gorm.DB) error {
				return db.Raw("SELECT name FROM workers WHERE employer_id = ? AND id IN (SELECT id FROM workers)", ours.Employer).Scan(&names).Error
			},
			"a subquery in a condition": func(db *gorm.DB) error { return db.Where("id IN (SELECT id FROM workers)").Find(&list).Error },
			"a join in gorm's words": func(db *gorm.DB) error {
				return db.Table("workers AS a").Joins("JOIN workers b ON b.id = a.id").Select("b.name").Find(&names).Error
			},
			"a row of a join": func(db *gorm.DB) error {
				rows, err := db.Table("workers AS a").Joins("JOIN workers b ON b.id = a.id").Select("count(*)").Rows()
				if err == nil {
					err = errors.Join(rows.Err(), rows.Close())
				}
				return err
			},
			"a change without the employer": func(db *gorm.DB) error { return db.Exec("UPDATE workers SET name = 'x'").Error },
			"a change by a subquery": func(db *gorm.DB) error {
				return db.Model(&models.Worker{}).Where("id IN (SELECT id FROM workers)").Update("name", "x").Error
			},
			"text that deletes":          func(db *gorm.DB) error { return db.Exec("DELETE FROM workers").Error },
			"a type without an employer": func(db *gorm.DB) error { return db.Table("workers").Create(&name{"x"}).Error },
			"a context of its own":       func(db *gorm.DB) error { return db.WithContext(context.Background()).Find(&list).Error },
			"everything, without a context": func(db *gorm.DB) error {
				return db.WithContext(context.Background()).Table("workers").Find(&names).Error
			},
		}
		for what, statement := range refused {
			err := store.In(t.Context(), ours, func(tx *models.Tx) error { return statement(tx.DB()) })
			if err == nil || !strings.Contains(err.Error(), "outside any employer's records") {
				t.Errorf("%s: %v", what, err)
			}
		}
		held := map[string]func(db *gorm.DB) error{
			"a type of another table's rows": func(db *gorm.DB) error { return db.Table("workers").Find(&names).Error },
			"an alias":                       func(db *gorm.DB) error { return db.Table("workers AS w").Select("w.name").Find(&names).Error },
			"a count":                        func(db *gorm.DB) error { return db.Model(&models.Worker{}).Count(&n).Error },
			"an alternative": func(db *gorm.DB) error {
				return db.Model(&models.Worker{}).Where("id = ?", shared).Or("1 = 1").Find(&names).Error
			},
			"an alternative in the text": func(db *gorm.DB) error {
				return db.Model(&models.Worker{}).Where("1 = 1\n\tor\n\t1 = 1").Find(&names).Error
			},
			"a join held by itself": func(db *gorm.DB) error {
				return db.Table("workers AS a").Joins("JOIN workers b ON b.employer_id = a.employer_id AND b.id = a.id").Select("b.name").Find(&names).Error
			},
		}
		in(t, store, ours, func(tx *models.Tx) error {
			for what, statement := range held {
				names, n = nil, 0
				if err := statement(tx.DB()); err != nil || max(int(n), len(names)) != 1 {
					t.Errorf("%s: %d, %v, %v", what, n, names, err)
				}
				if len(names) == 1 && names[0].Name != "of "+ours.Employer.String() {
					t.Errorf("%s: finds %v", what, names)
				}
			}
			changed := tx.DB().Model(&models.Worker{}).Where("id = ?", shared).Update("name", "changed")
			if changed.Error != nil || changed.RowsAffected != 1 {
				t.Errorf("changed %d rows, %v", changed.RowsAffected, changed.Error)
			}
			return nil
		})
		in(t, store, theirs, func(tx *models.Tx) error {
			w, err := models.Get[models.WorkerContent](tx, shared)
			if err == nil && w.Content.Name != "of "+theirs.Employer.String() {
				t.Errorf("theirs became %s", w.Content.Name)
			}
			return err
		})
	})
}

// keys says every message by its key.
func keys(key string, _ safety.Terms) string { return key }
