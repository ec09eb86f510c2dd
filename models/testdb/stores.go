package testdb

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"palmero/migrations"
	"palmero/models"
)

// Databases are the two kinds of database for the tests of one package: a PostgreSQL server with a migrated template to clone from, and
// files for SQLite.
type Databases struct {
	server *Server
	serial atomic.Int64
}

// servingRole is the role that the tests serve with; it owns nothing, as in earnest.
const servingRole = "palmero_serving"

// Start starts the PostgreSQL server and migrates the template. Stop ends it.
func Start() (*Databases, error) {
	server, err := StartPostgres()
	if err != nil {
		return nil, err
	}
	d := &Databases{server: server}
	if err := d.makeTemplate(); err != nil {
		server.Stop()
		return nil, err
	}
	return d, nil
}

func (d *Databases) makeTemplate() error {
	if err := d.server.CreateDatabase("palmero_template", ""); err != nil {
		return err
	}
	target, err := models.ParseTarget(d.server.DSN("palmero_template", Superuser))
	if err != nil {
		return err
	}
	db, err := target.OpenSQL()
	if err != nil {
		return err
	}
	defer db.Close()
	ctx := context.Background()
	if _, err := migrations.Up(ctx, db, migrations.Postgres); err != nil {
		return err
	}
	return migrations.Grant(ctx, db, servingRole)
}

// Stop ends the server.
func (d *Databases) Stop() { d.server.Stop() }

// Run is the body of a package's TestMain: it starts the databases, hands them over, runs the tests and ends what it started.
func Run(m *testing.M, use func(*Databases)) int {
	d, err := Start()
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer d.Stop()
	use(d)
	return m.Run()
}

// Dialects are the databases that tests run on: both, but for PostgreSQL alone under the race detector.
func Dialects() []migrations.Dialect {
	if raced {
		return []migrations.Dialect{migrations.Postgres}
	}
	return []migrations.Dialect{migrations.SQLite, migrations.Postgres}
}

// Each runs a test on both databases, each time with a fresh, migrated store whose clock reads now.
func (d *Databases) Each(t *testing.T, now func() time.Time, test func(t *testing.T, store *models.Store)) {
	t.Helper()
	for _, dialect := range Dialects() {
		t.Run(string(dialect), func(t *testing.T) {
			test(t, d.Store(t, dialect, now))
		})
	}
}

// Store returns a fresh, migrated store on one of the databases.
func (d *Databases) Store(t testing.TB, dialect migrations.Dialect, now func() time.Time) *models.Store {
	t.Helper()
	target := d.Target(t, dialect)
	store, err := models.Open(context.Background(), target, models.Options{Now: now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := store.Close(); err != nil {
			t.Error(err)
		}
	})
	return store
}

// Target returns a fresh, migrated database of one kind, to be opened as the serving role.
func (d *Databases) Target(t testing.TB, dialect migrations.Dialect) models.Target {
	t.Helper()
	serving, _ := d.Targets(t, dialect)
	return serving
}

// Targets returns a fresh, migrated database of one kind twice: to be opened as the serving role, and as the owner of its tables, who on PostgreSQL
// bypasses every policy. On SQLite the two are the same.
func (d *Databases) Targets(t testing.TB, dialect migrations.Dialect) (serving, owner models.Target) {
	t.Helper()
	if dialect == migrations.Postgres {
		return d.clone(t, "palmero_template")
	}
	_, owner = d.Empty(t, dialect)
	db, err := owner.OpenSQL()
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := migrations.Up(t.Context(), db, migrations.SQLite); err != nil {
		t.Fatal(err)
	}
	return owner, owner
}

// Empty returns a database without any table, as Targets does.
func (d *Databases) Empty(t testing.TB, dialect migrations.Dialect) (serving, owner models.Target) {
	t.Helper()
	if dialect == migrations.Postgres {
		return d.clone(t, "")
	}
	owner, err := models.ParseTarget("sqlite://" + filepath.Join(t.TempDir(), "palmero.db"))
	if err != nil {
		t.Fatal(err)
	}
	return owner, owner
}

// ServingRole is the role that the tests serve with.
func (d *Databases) ServingRole() string { return servingRole }

// clone copies a database of the server.
func (d *Databases) clone(t testing.TB, template string) (serving, owner models.Target) {
	t.Helper()
	name := fmt.Sprintf("palmero_test_%d", d.serial.Add(1))
	if err := d.server.CreateDatabase(name, template); err != nil {
		t.Fatal(err)
	}
	var err error
	if serving, err = models.ParseTarget(d.server.DSN(name, servingRole)); err != nil {
		t.Fatal(err)
	}
	if owner, err = models.ParseTarget(d.server.DSN(name, Superuser)); err != nil {
		t.Fatal(err)
	}
	return serving, owner
}

// OwnerTarget returns a fresh, migrated PostgreSQL database to be opened as the owner of its tables, which serving must refuse.
func (d *Databases) OwnerTarget(t testing.TB) models.Target {
	t.Helper()
	_, owner := d.Targets(t, migrations.Postgres)
	return owner
}

// ServingDSN returns a fresh, migrated PostgreSQL database, and its address as the serving role for what goes around the store.
func (d *Databases) ServingDSN(t testing.TB) (models.Target, string) {
	t.Helper()
	name := fmt.Sprintf("palmero_test_%d", d.serial.Add(1))
	if err := d.server.CreateDatabase(name, "palmero_template"); err != nil {
		t.Fatal(err)
	}
	dsn := d.server.DSN(name, servingRole)
	target, err := models.ParseTarget(dsn)
	if err != nil {
		t.Fatal(err)
	}
	return target, dsn
}

// Analyze has PostgreSQL gather the statistics that it would have gathered by itself in a while, for benchmarks that have just filled a database.
func (d *Databases) Analyze(t testing.TB, dsn string) {
	t.Helper()
	config, err := pgx.ParseConfig(dsn)
	if err != nil {
		t.Fatal(err)
	}
	config.User = Superuser
	conn, err := pgx.ConnectConfig(context.Background(), config)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close(context.Background()) }()
	if _, err := conn.Exec(context.Background(), "ANALYZE"); err != nil {
		t.Fatal(err)
	}
}
