package models

import (
	"cmp"
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/jackc/pgx/v5/stdlib"
	sqlitedialect "github.com/libtnb/sqlite"
	"gorm.io/driver/postgres"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"
	"gorm.io/gorm/schema"
	"modernc.org/sqlite"
	sqlitecode "modernc.org/sqlite/lib"

	"palmero/migrations"
	"palmero/payroll"
)

// Everything in which the two databases differ stands in this file.

// Target is a database, by kind and by the name under which its driver opens it.
type Target struct {
	Dialect migrations.Dialect
	name    string
}

// ParseTarget reads a database URL: postgres://user@host/name, or sqlite:///absolute/path or sqlite:relative/path.
func ParseTarget(s string) (Target, error) {
	switch {
	case strings.HasPrefix(s, "postgres://"), strings.HasPrefix(s, "postgresql://"):
		return Target{migrations.Postgres, s}, nil
	case strings.HasPrefix(s, "sqlite:"):
		path := strings.TrimPrefix(strings.TrimPrefix(s, "sqlite:"), "//")
		if path == "" {
			return Target{}, errors.New("the database URL names no file; write sqlite:///path/to/palmero.db")
		}
		return Target{migrations.SQLite, path}, nil
	}
	return Target{}, errors.New("the database URL must begin with sqlite: or postgres://, as in sqlite:///var/lib/palmero.db")
}

// DatabaseName is what the database is called, or its file, without where it is.
func (t Target) DatabaseName() string {
	if t.Dialect == migrations.SQLite {
		return filepath.Base(t.name)
	}
	address, err := url.Parse(t.name)
	if err != nil {
		return ""
	}
	return strings.TrimPrefix(address.Path, "/")
}

// OpenSQL opens the database for migrations.
func (t Target) OpenSQL() (*sql.DB, error) {
	if t.Dialect == migrations.SQLite {
		return sql.Open("sqlite", t.sqliteDSN("immediate", false))
	}
	return sql.Open("pgx", t.name)
}

// sqliteDSN sets what keeps SQLite correct under several writers: foreign keys, a write-ahead log, waiting for a lock, taking the lock at
// the start of a transaction that will write (an upgrade in mid-transaction fails at once), and times in UTC. A commit is on the disk when it is told
// of: what was acknowledged outlives a power cut.
func (t Target) sqliteDSN(lock string, readOnly bool) string {
	q := url.Values{}
	for _, pragma := range []string{"foreign_keys(1)", "journal_mode(WAL)", "busy_timeout(10000)", "synchronous(FULL)"} {
		q.Add("_pragma", pragma)
	}
	if readOnly {
		q.Add("_pragma", "query_only(1)")
	}
	q.Set("_txlock", lock)
	q.Set("_timezone", "UTC")
	q.Set("_time_format", "sqlite")
	return "file:" + (&url.URL{Path: t.name}).EscapedPath() + "?" + q.Encode()
}

// open returns handles for writing and for reading. PostgreSQL has one pool for both; SQLite writes through a single
// connection, so that writers queue instead of failing, and reads beside it.
func (t Target) open(config *gorm.Config, o Options) (write, read *gorm.DB, err error) {
	if t.Dialect == migrations.Postgres {
		dsn, err := t.postgresDSN(o.StatementTimeout)
		if err != nil {
			return nil, nil, err
		}
		db, err := gorm.Open(postgres.New(postgres.Config{DSN: dsn, DriverName: "pgx"}), config)
		if err != nil {
			return nil, nil, err
		}
		pool, err := db.DB()
		if err != nil {
			return nil, nil, err
		}
		pool.SetMaxOpenConns(o.MaxConnections)
		pool.SetMaxIdleConns(cmp.Or(o.IdleConnections, o.MaxConnections))
		pool.SetConnMaxLifetime(o.ConnectionLifetime)
		return db, db, nil
	}
	if _, err := os.Stat(t.name); err != nil { // opening it would make an empty one
		return nil, nil, fmt.Errorf("there is no database at %s; run \"palmero migrate\" first: %w", t.name, err)
	}
	write, err = openSQLite(t.sqliteDSN("immediate", false), 1, config)
	if err != nil {
		return nil, nil, err
	}
	read, err = openSQLite(t.sqliteDSN("deferred", true), o.MaxConnections, config)
	return write, read, err
}

// postgresDSN has the server end statements that take too long.
func (t Target) postgresDSN(limit time.Duration) (string, error) {
	if limit == 0 {
		return t.name, nil
	}
	address, err := url.Parse(t.name)
	if err != nil {
		return "", errors.New("the database URL cannot be read")
	}
	q := address.Query()
	q.Set("statement_timeout", strconv.FormatInt(limit.Milliseconds(), 10))
	address.RawQuery = q.Encode()
	return address.String(), nil
}

// on makes gorm work on a connection that is open already.
func (t Target) on(conn gorm.ConnPool) gorm.Dialector {
	if t.Dialect == migrations.Postgres {
		return postgres.New(postgres.Config{Conn: conn})
	}
	return &sqlitedialect.Dialector{Conn: conn}
}

func openSQLite(dsn string, connections int, config *gorm.Config) (*gorm.DB, error) {
	own := *config
	db, err := gorm.Open(sqlitedialect.Open(dsn), &own)
	if err != nil {
		return nil, err
	}
	pool, err := db.DB()
	if err != nil {
		return nil, err
	}
	pool.SetMaxOpenConns(connections)
	pool.SetMaxIdleConns(connections)
	return db, nil
}

// OneWriter tells whether one transaction that writes keeps all others from writing, however little they have to do with one another.
func (s *Store) OneWriter() bool { return s.dialect == migrations.SQLite }

// GatherStatistics has PostgreSQL look at what the tables hold, as it does by itself after a while, so that it plans by what was just loaded. SQLite plans by what its
// indexes are alone.
func (s *Store) GatherStatistics(ctx context.Context) error {
	if s.dialect != migrations.Postgres {
		return nil
	}
	pool, err := s.write.DB()
	if err != nil {
		return err
	}
	_, err = pool.ExecContext(ctx, "SELECT gather_statistics()")
	return err
}

// copySQLite copies the database, as it stands at this moment, into a file of SQLite's own for temporary things, which is gone once the copy is dropped. Others write meanwhile.
func (s *Store) copySQLite(ctx context.Context) (db *gorm.DB, drop func() error, err error) {
	pool, err := s.read.DB()
	if err != nil {
		return nil, nil, err
	}
	conn, err := pool.Conn(ctx)
	if err != nil {
		return nil, nil, err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	var whole aloneConn
	if err = conn.Raw(func(c any) (err error) {
		whole.Conn, err = backUp(c)
		return err
	}); err != nil {
		return nil, nil, fmt.Errorf("copy the database: %w", err)
	}
	alone := sql.OpenDB(whole)
	alone.SetMaxOpenConns(1)
	db, err = gorm.Open(&sqlitedialect.Dialector{Conn: alone}, &gorm.Config{Logger: logger.Discard, SkipDefaultTransaction: true, NowFunc: s.write.NowFunc})
	if err == nil {
		err = errors.Join(guard(db, s.owned), s.watchStatements(db))
	}
	if err != nil {
		return nil, nil, errors.Join(err, alone.Close())
	}
	return db, alone.Close, nil
}

// backUp copies what a connection reads into a database without a name.
func backUp(c any) (driver.Conn, error) {
	from, ok := c.(interface {
		NewBackup(to string) (*sqlite.Backup, error)
	})
	if !ok {
		return nil, fmt.Errorf("%T makes no copies", c)
	}
	backup, err := from.NewBackup(Target{Dialect: migrations.SQLite}.sqliteDSN("immediate", false))
	if err != nil {
		return nil, err
	}
	if _, err := backup.Step(-1); err != nil {
		return nil, errors.Join(err, backup.Finish())
	}
	return backup.Commit()
}

// aloneConn is a connection that there is one of.
type aloneConn struct{ driver.Conn }

// Connect returns it.
func (c aloneConn) Connect(context.Context) (driver.Conn, error) { return c.Conn, nil }

// Driver is SQLite's, through which no second one of it can be had.
func (c aloneConn) Driver() driver.Driver { return &sqlite.Driver{} }

// checkServingRole refuses a PostgreSQL role for which row-level security would not hold.
func checkServingRole(ctx context.Context, db *sql.DB) error {
	var role string
	var super, bypass, owns bool
	row := db.QueryRowContext(ctx, `SELECT current_user, r.rolsuper, r.rolbypassrls,
		EXISTS (SELECT 1 FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
		        WHERE n.nspname = current_schema() AND c.relkind = 'r' AND pg_has_role(current_user, c.relowner, 'USAGE'))
		FROM pg_roles r WHERE r.rolname = current_user`)
	if err := row.Scan(&role, &super, &bypass, &owns); err != nil {
		return fmt.Errorf("look at the serving role: %w", err)
	}
	if super || bypass || owns {
		return fmt.Errorf("the database role %q owns tables or bypasses row-level security, so nothing would keep employers apart; "+
			"serve with the role that \"palmero migrate --serving-role\" prepared", role)
	}
	return nil
}

// enter tells PostgreSQL for which employer the transaction works; its policies read it. The setting ends with the transaction.
func enter(db *gorm.DB, dialect migrations.Dialect, employer string) error {
	if dialect != migrations.Postgres {
		return nil
	}
	return db.Exec("SELECT set_config('palmero.employer', ?, true) /* employer_id */", employer).Error
}

// sendBatch asks PostgreSQL the statements of a batch in one round trip, the beginning and the end of their transaction included. A connection that an error leaves within its
// transaction is thrown away by the pool.
func sendBatch(ctx context.Context, db *gorm.DB, employer uuid.UUID, queued []query) (err error) {
	pool, err := db.DB()
	if err != nil {
		return err
	}
	conn, err := pool.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	return conn.Raw(func(driver any) error {
		c, ok := driver.(*stdlib.Conn)
		if !ok {
			return fmt.Errorf("the connection is a %T, not pgx's", driver)
		}
		var batch pgx.Batch
		batch.Queue("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
		batch.Queue("SELECT set_config('palmero.employer', $1, true)", employer.String())
		for i := range queued {
			batch.Queue(queued[i].text, queued[i].args...).Query(func(rows pgx.Rows) error {
				return scanBatch(db, c.Conn().TypeMap(), rows, queued[i].rows)
			})
		}
		batch.Queue("COMMIT")
		return c.Conn().SendBatch(ctx, &batch).Close()
	})
}

// scanBatch reads rows into a slice of structs, column by column. NULL leaves a field as it is.
func scanBatch(db *gorm.DB, types *pgtype.Map, rows pgx.Rows, into reflect.Value) error {
	statement := &gorm.Statement{DB: db}
	if err := statement.Parse(into.Addr().Interface()); err != nil {
		return err
	}
	columns := rows.FieldDescriptions()
	fields := make([]*schema.Field, len(columns))
	for i, c := range columns {
		fields[i] = statement.Schema.LookUpField(c.Name)
	}
	into.SetZero()
	for rows.Next() {
		row := reflect.New(into.Type().Elem()).Elem()
		for i, raw := range rows.RawValues() {
			if fields[i] == nil || raw == nil {
				continue
			}
			field := fields[i].ReflectValueOf(context.Background(), row).Addr().Interface()
			if err := types.Scan(columns[i].DataTypeOID, columns[i].Format, raw, field); err != nil {
				return fmt.Errorf("%s: %w", columns[i].Name, err)
			}
		}
		into.Set(reflect.Append(into, row))
	}
	return rows.Err()
}

// holdSeals keeps other sealers of the employer waiting until the transaction ends. It holds nobody else up; SQLite's writers are alone anyway.
func holdSeals(db *gorm.DB, dialect migrations.Dialect, employer string) error {
	if dialect != migrations.Postgres {
		return nil
	}
	return db.Exec("SELECT pg_advisory_xact_lock(hashtextextended('palmero.seal', 0) # hashtextextended(?, 0)) /* employer_id */", employer).Error
}

// ended is the condition that keeps the audit entries of transactions older than every one that still runs. It reads the snapshot of
// the statement that it stands in. On SQLite all that another transaction sees has ended.
func ended(dialect migrations.Dialect) string {
	if dialect == migrations.Postgres {
		return "tx < pg_snapshot_xmin(pg_current_snapshot())::text::bigint"
	}
	return "1 = 1"
}

// nextTx is a number that no transaction has had yet; SQLite does not number them.
func nextTx(db *gorm.DB, dialect migrations.Dialect, employer string) (next int64, err error) {
	if dialect != migrations.Postgres {
		return math.MaxInt64, nil
	}
	err = db.Raw("SELECT pg_snapshot_xmax(pg_current_snapshot())::text::bigint /* employer_id */ WHERE ?::text <> ''", employer).Scan(&next).Error
	return next, err
}

// ownedTables lists the tables whose rows belong to an employer.
func ownedTables(ctx context.Context, db interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}, dialect migrations.Dialect) (owned map[string]bool, err error) {
	query := "SELECT m.name FROM sqlite_schema m JOIN pragma_table_info(m.name) c WHERE m.type = 'table' AND c.name = 'employer_id'"
	if dialect == migrations.Postgres {
		query = "SELECT table_name FROM information_schema.columns WHERE table_schema = current_schema() AND column_name = 'employer_id'"
	}
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	owned = map[string]bool{}
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, err
		}
		owned[name] = true
	}
	return owned, rows.Err()
}

// lockRow is the clause that holds a row until the transaction ends; SQLite's writers are alone anyway.
func lockRow(dialect migrations.Dialect) string {
	if dialect == migrations.Postgres {
		return "FOR UPDATE"
	}
	return ""
}

// violation is a database's refusal: by a constraint, or because it took too long (PostgreSQL's statement_timeout) or another program wrote for too long (SQLite).
type violation int

const (
	noViolation violation = iota
	duplicate
	missingReference
	failedCheck
	overlap
	appendOnly
	tooSlow
	locked
)

// violationOf reads a driver's error: what was violated, and for a duplicate or a missing reference the column, where the driver tells.
func violationOf(err error) (violation, string) {
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		switch pg.Code {
		case "23505":
			if pg.ConstraintName == "time_entries_open" {
				return overlap, ""
			}
			return duplicate, columnOf(pg)
		case "23503":
			return missingReference, columnOf(pg)
		case "23514":
			return failedCheck, pg.ConstraintName
		case "23P01":
			return overlap, ""
		case "23000":
			return appendOnly, ""
		case "57014":
			return tooSlow, ""
		}
		return noViolation, ""
	}
	var lite *sqlite.Error
	if errors.As(err, &lite) {
		switch lite.Code() {
		case sqlitecode.SQLITE_CONSTRAINT_UNIQUE, sqlitecode.SQLITE_CONSTRAINT_PRIMARYKEY:
			if strings.Contains(lite.Error(), "time_entries.worker_id") {
				return overlap, ""
			}
			return duplicate, lastColumn(lite.Error())
		case sqlitecode.SQLITE_CONSTRAINT_FOREIGNKEY:
			return missingReference, ""
		case sqlitecode.SQLITE_CONSTRAINT_CHECK:
			return failedCheck, ""
		case sqlitecode.SQLITE_CONSTRAINT_TRIGGER:
			if strings.Contains(lite.Error(), "overlap:") {
				return overlap, ""
			}
			return appendOnly, ""
		}
		if lite.Code()&0xff == sqlitecode.SQLITE_BUSY { // the low byte is the error, the others say more of it
			return locked, ""
		}
	}
	return noViolation, ""
}

// crossed tells whether another transaction's work made this one fail, so that it may well succeed when it is run again.
func crossed(err error) bool {
	var pg *pgconn.PgError
	if errors.As(err, &pg) && (pg.Code == "40001" || pg.Code == "40P01") {
		return true
	}
	what, column := violationOf(err)
	return what == duplicate && column == "id"
}

// columnOf reads the column from the name that PostgreSQL gives a constraint, table_employer_id_column_key: under row-level security
// it keeps the detail to itself.
func columnOf(e *pgconn.PgError) string {
	name := strings.TrimPrefix(e.ConstraintName, e.TableName+"_")
	name = strings.TrimPrefix(name, "employer_id_")
	name = strings.TrimSuffix(strings.TrimSuffix(name, "_fkey"), "_key")
	if name == "pkey" {
		return "id"
	}
	return name
}

// lastColumn reads the column from SQLite's "UNIQUE constraint failed: table.employer_id, table.column (2067)".
func lastColumn(message string) string {
	message, _, _ = strings.Cut(message, " (")
	return message[strings.LastIndexByte(message, '.')+1:]
}

// translate turns a driver's refusal into an error that can be explained; other errors pass through.
func translate(err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return &Error{Kind: NotFound, Key: "problem.not_found", Cause: err}
	}
	what, column := violationOf(err)
	switch what {
	case duplicate:
		if column == "id" || column == "" {
			return &Error{Kind: Conflict, Key: "problem.id_taken", Cause: err}
		}
		return &Error{Kind: Invalid, Key: "problem.invalid", Faults: []payroll.Fault{{Pointer: "/" + column, Key: "fault.taken"}}, Cause: err}
	case missingReference:
		return &Error{Kind: Invalid, Key: "problem.missing_reference", Cause: err}
	case failedCheck:
		return &Error{Kind: Invalid, Key: "problem.failed_check", Cause: err}
	case overlap:
		return &Error{Kind: Conflict, Key: "problem.overlap", Cause: err}
	case appendOnly:
		return &Error{Kind: Conflict, Key: "problem.append_only", Cause: err}
	case tooSlow:
		return &Error{Kind: Busy, Key: "problem.too_slow", Cause: err}
	case locked:
		return &Error{Kind: Busy, Key: "problem.locked", Cause: err}
	}
	return err
}

// Among is the condition that a column is one of some identifiers. On PostgreSQL they go in as one array, joined to its key: a long list of parameters costs more to
// plan than to run.
func (t *Tx) Among(column string, ids []uuid.UUID) func(*gorm.DB) *gorm.DB {
	return func(db *gorm.DB) *gorm.DB {
		if t.dialect != migrations.Postgres {
			return db.Where(column+" IN ?", ids)
		}
		return db.Where(column+" = ANY(?::uuid[])", arrayOf(ids))
	}
}

// OfWorkers returns what stands recorded of some workers on the workdays from one through another, in the order of arrival: the identifiers and what the records say, without
// when and by whom they were recorded.
func OfWorkers[C any](tx *Tx, workers []uuid.UUID, first, last Date) ([]Recorded[C], error) {
	var records []Recorded[C]
	b := tx.Batch()
	FindOfWorkers(b, workers, first, last, &records)
	return records, b.err
}

// FindOfWorkers asks for what OfWorkers returns. On PostgreSQL each worker's are looked up by the index that begins with the worker, whatever the planner thinks of the length of
// the list: the cost is theirs alone, not the years'.
func FindOfWorkers[C any](b *Batch, workers []uuid.UUID, first, last Date, into *[]Recorded[C]) {
	columns, err := contentColumns[C](b.Tx)
	if err != nil {
		b.fail(err)
		return
	}
	args := map[string]any{"workers": workers, "employer": b.Employer, "first": first, "last": last}
	if b.dialect != migrations.Postgres {
		findRows(b, into, `SELECT `+columns+` FROM `+tableOf[C]()+` WHERE employer_id = @employer AND worker_id IN @workers AND superseded_by IS NULL
			AND workday BETWEEN @first AND @last ORDER BY seq`, args)
		return
	}
	args["workers"] = arrayOf(workers)
	findRows(b, into, `SELECT `+columns+` FROM unnest(CAST(@workers AS uuid[])) AS w (of_worker) CROSS JOIN LATERAL (
			SELECT * FROM `+tableOf[C]()+` x WHERE x.employer_id = @employer AND x.worker_id = w.of_worker AND x.superseded_by IS NULL
			AND x.workday BETWEEN @first AND @last) t ORDER BY t.seq`, args)
}

// FindLotsOfWorkers asks for the lots of which some workers' tallies on the workdays from one through another are parts.
func FindLotsOfWorkers(b *Batch, workers []uuid.UUID, first, last Date, into *[]Lot) {
	args := map[string]any{"workers": workers, "employer": b.Employer, "first": first, "last": last}
	tallies := `tallies x WHERE x.employer_id = @employer AND x.worker_id IN @workers`
	if b.dialect == migrations.Postgres {
		args["workers"] = arrayOf(workers)
		tallies = `unnest(CAST(@workers AS uuid[])) AS w (of_worker) JOIN tallies x ON x.employer_id = @employer AND x.worker_id = w.of_worker WHERE true`
	}
	b.Find(b.DB().Raw(`SELECT l.* FROM lots l WHERE l.employer_id = @employer AND l.id IN (SELECT x.lot_id FROM `+tallies+`
		AND x.lot_id IS NOT NULL AND x.superseded_by IS NULL AND x.workday BETWEEN @first AND @last)`, args), into)
}

// arrayOf is identifiers as PostgreSQL writes an array.
func arrayOf(ids []uuid.UUID) string {
	b := make([]byte, 0, 1+37*len(ids))
	b = append(b, '{')
	for i, id := range ids {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(b, id.String()...)
	}
	return string(append(b, '}'))
}
