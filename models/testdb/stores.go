package testdb

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
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
	mu     sync.Mutex
	filled map[string]*filled
}

// filled is a database that was filled once, to be copied.
type filled struct {
	once sync.Once
	err  error
	file []byte // of SQLite; PostgreSQL has a database of the name
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
	return open(t, d.Target(t, dialect), now)
}

func open(t testing.TB, target models.Target, now func() time.Time) *models.Store {
	t.Helper()
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

// Filled returns a store on a copy of a database that fill has filled: once, however many tests ask for one of that name. What the store's clock reads is the caller's.
func (d *Databases) Filled(t testing.TB, dialect migrations.Dialect, name string, now func() time.Time, fill func(*models.Store) error) *models.Store {
	t.Helper()
	name = fmt.Sprintf("palmero_filled_%s_%s", dialect, name)
	d.mu.Lock()
	if d.filled == nil {
		d.filled = map[string]*filled{}
	}
	f := d.filled[name]
	if f == nil {
		f = &filled{}
		d.filled[name] = f
	}
	d.mu.Unlock()
	f.once.Do(func() { f.err = d.fill(t, f, dialect, name, now, fill) })
	if f.err != nil {
		t.Fatal(f.err)
	}
	target, err := d.copied(t, f, dialect, name)
	if err != nil {
		t.Fatal(err)
	}
	return open(t, target, now)
}

// fill fills a database, and closes it: PostgreSQL copies none to which somebody is connected.
func (d *Databases) fill(t testing.TB, f *filled, dialect migrations.Dialect, name string, now func() time.Time, fill func(*models.Store) error) error {
	path := filepath.Join(t.TempDir(), "palmero.db")
	target, err := d.toFill(dialect, name, path)
	if err != nil {
		return err
	}
	store, err := models.Open(context.Background(), target, models.Options{Now: now})
	if err != nil {
		return err
	}
	if err := errors.Join(fill(store), store.Close()); err != nil || dialect == migrations.Postgres {
		return err
	}
	f.file, err = os.ReadFile(path)
	return err
}

// toFill is a migrated database of a name or, of SQLite, at a path.
func (d *Databases) toFill(dialect migrations.Dialect, name, path string) (models.Target, error) {
	if dialect == migrations.Postgres {
		if err := d.server.CreateDatabase(name, "palmero_template"); err != nil {
			return models.Target{}, err
		}
		return models.ParseTarget(d.server.DSN(name, servingRole))
	}
	return migrated(path)
}

// migrated makes an SQLite database at a path.
func migrated(path string) (models.Target, error) {
	target, err := models.ParseTarget("sqlite://" + path)
	if err != nil {
		return target, err
	}
	db, err := target.OpenSQL()
	if err != nil {
		return target, err
	}
	_, err = migrations.Up(context.Background(), db, migrations.SQLite)
	return target, errors.Join(err, db.Close())
}

// copied is a copy of a filled database.
func (d *Databases) copied(t testing.TB, f *filled, dialect migrations.Dialect, name string) (models.Target, error) {
	if dialect == migrations.Postgres {
		serving, _ := d.clone(t, name)
		return serving, nil
	}
	path := filepath.Join(t.TempDir(), "palmero.db")
	if err := os.WriteFile(path, f.file, 0o600); err != nil {
		return models.Target{}, err
	}
	return models.ParseTarget("sqlite://" + path)
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
	owner, err := migrated(filepath.Join(t.TempDir(), "palmero.db"))
	if err != nil {
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

// owningRole is a role that owns a database and may do nothing else: the policies of its own tables hold it.
const owningRole = "palmero_owning"

// Owned returns an empty PostgreSQL database twice: to be opened as a plain role that owns it, and as the server's administrator.
func (d *Databases) Owned(t testing.TB) (owner, administrator models.Target) {
	t.Helper()
	name := fmt.Sprintf("palmero_test_%d", d.serial.Add(1))
	err := d.server.CreateDatabase(name, "")
	for _, statement := range []string{"DO $$ BEGIN CREATE ROLE " + owningRole + " LOGIN; EXCEPTION WHEN duplicate_object THEN NULL; END $$", "ALTER DATABASE " + quoted(name) + " OWNER TO " + owningRole} {
		if err == nil {
			err = d.server.administer(statement)
		}
	}
	if err == nil {
		owner, err = models.ParseTarget(d.server.DSN(name, owningRole))
	}
	if err == nil {
		administrator, err = models.ParseTarget(d.server.DSN(name, Superuser))
	}
	if err != nil {
		t.Fatal(err)
	}
	return owner, administrator
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

// Settle has PostgreSQL do what it would have done by itself in a while, for benchmarks that have just filled a database: gather statistics, and note which pages of a table everybody sees.
func (d *Databases) Settle(t testing.TB, dsn string) {
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
	if _, err := conn.Exec(context.Background(), "VACUUM ANALYZE"); err != nil {
		t.Fatal(err)
	}
}
