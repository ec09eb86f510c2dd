package models

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"
	"gorm.io/gorm/clause"
	"gorm.io/gorm/logger"

	"palmero/migrations"
)

// Store is the database. The only ways to a handle are In, View and Ask, which name the employer they work for.
type Store struct {
	dialect     migrations.Dialect
	write, read *gorm.DB
	now         func() time.Time
	opened      time.Time
	owned       map[string]bool // the tables whose rows belong to an employer
	counts      counts
	slow        SlowStatements
	known       memory
}

// Options of Open.
type Options struct {
	Now                func() time.Time // the clock; time.Now where nil
	MaxConnections     int              // to the database; 0: ten
	IdleConnections    int              // of those, kept open while nothing is asked; 0: all
	ConnectionLifetime time.Duration    // after which a connection is replaced; 0: never
	StatementTimeout   time.Duration    // after which PostgreSQL ends a statement; 0: never
	Slow               SlowStatements
}

// Open opens a migrated database. It refuses an older schema, naming the command that brings it up to date, and on
// PostgreSQL a role that row-level security does not hold.
func Open(ctx context.Context, target Target, o Options) (*Store, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.MaxConnections == 0 {
		o.MaxConnections = 10
	}
	write, read, err := target.open(&gorm.Config{
		Logger:                 logger.Discard,
		SkipDefaultTransaction: true,
		NowFunc:                func() time.Time { return instant(o.Now()) },
	}, o)
	if err != nil {
		return nil, fmt.Errorf("open the database: %w", err)
	}
	s := &Store{dialect: target.Dialect, write: write, read: read, now: o.Now, opened: o.Now(), slow: o.Slow}
	if err := s.check(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	for _, db := range []*gorm.DB{write, read} {
		if err := errors.Join(guard(db, s.owned), s.watchStatements(db)); err != nil {
			return nil, errors.Join(err, s.Close())
		}
		if read == write {
			break
		}
	}
	return s, nil
}

func (s *Store) check(ctx context.Context) error {
	db, err := s.write.DB()
	if err != nil {
		return err
	}
	pending, err := migrations.Pending(ctx, db, s.dialect)
	if err != nil {
		return err
	}
	if len(pending) > 0 {
		return fmt.Errorf("the database lacks %s; run \"palmero migrate\" first", strings.Join(pending, ", "))
	}
	if s.owned, err = ownedTables(ctx, db, s.dialect); err != nil {
		return fmt.Errorf("look at the tables: %w", err)
	}
	if s.dialect == migrations.Postgres {
		return checkServingRole(ctx, db)
	}
	return nil
}

// Close closes the connections, those that write last: the last one to leave SQLite's file tidies its log away, and has to be allowed to.
func (s *Store) Close() error {
	var errs []error
	for _, db := range []*gorm.DB{s.read, s.write} {
		pool, err := db.DB()
		if err == nil {
			err = pool.Close()
		}
		errs = append(errs, err)
	}
	return errors.Join(errs...)
}

// Ping tells whether the database answers.
func (s *Store) Ping(ctx context.Context) error {
	pool, err := s.read.DB()
	if err != nil {
		return err
	}
	return pool.PingContext(ctx)
}

// Scope says for whom a transaction works and who acts in it.
type Scope struct {
	Employer uuid.UUID
	Actor    uuid.UUID // the account; zero for the command line and for signing in
}

// Tx is one transaction within one employer's records.
type Tx struct {
	Scope
	Now time.Time // one instant for all that the transaction writes, UTC, whole microseconds as both databases keep

	db      *gorm.DB
	dialect migrations.Dialect
	command string // what it does, once that is written: the action of its audit entry
	audited string // the same with its subject
	counted []tally
	store   *Store // nil in a transaction that somebody else began
}

// attempts is how often In tries: the first time, and again where another transaction got in between.
const attempts = 3

// In runs fn in a transaction that may write, within one employer's records. An error from fn undoes all of it. Where the same record came in
// through another connection at that moment, or the database broke a deadlock, fn runs again and finds what the other left; so it must
// begin afresh each time.
func (s *Store) In(ctx context.Context, scope Scope, fn func(*Tx) error) error {
	var err error
	for range attempts {
		if err = s.enter(ctx, s.write, scope, nil, fn); !crossed(err) {
			return err
		}
	}
	return err
}

// errTried undoes what was only tried.
var errTried = errors.New("only tried")

// Try runs fn in a transaction that may write, and undoes all of it at the end. On SQLite, where one transaction that writes keeps all others waiting, fn works on
// a copy of the database, so that nobody waits for it; what others write meanwhile it does not see.
func (s *Store) Try(ctx context.Context, scope Scope, fn func(*Tx) error) (err error) {
	db := s.write
	if s.dialect == migrations.SQLite {
		copied, drop, err := s.copySQLite(ctx)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, drop()) }()
		db = copied
	}
	for range attempts {
		err = s.enter(ctx, db, scope, nil, func(tx *Tx) error {
			if err := fn(tx); err != nil {
				return err
			}
			return errTried
		})
		if !crossed(err) {
			break
		}
	}
	if errors.Is(err, errTried) {
		return nil
	}
	return err
}

// View runs fn in a transaction that only reads, within one employer's records. It sees one state throughout.
func (s *Store) View(ctx context.Context, scope Scope, fn func(*Tx) error) error {
	options := &sql.TxOptions{ReadOnly: true}
	if s.dialect == migrations.Postgres {
		options.Isolation = sql.LevelRepeatableRead
	}
	return s.enter(ctx, s.read, scope, options, fn)
}

func (s *Store) enter(ctx context.Context, db *gorm.DB, scope Scope, options *sql.TxOptions, fn func(*Tx) error) error {
	if scope.Employer == uuid.Nil {
		return errors.New("a transaction must name its employer")
	}
	ctx = context.WithValue(ctx, employerKey{}, scope.Employer)
	tx := &Tx{Scope: scope, dialect: s.dialect, store: s}
	begun := time.Now()
	err := db.WithContext(ctx).Transaction(func(g *gorm.DB) error {
		if err := enter(g, s.dialect, scope.Employer.String()); err != nil {
			return err
		}
		tx.db, tx.Now = g, instant(s.now())
		if err := fn(tx); err != nil {
			return err
		}
		failpoint(tx.command + ".commit")
		return nil
	}, options)
	if err == nil {
		s.counts.kept(tx, time.Since(begun))
		failpoint(tx.command + ".answer")
	}
	return translate(err)
}

// Within returns a handle on an employer's records in a transaction that somebody else began: a restore, which works as the owner of the tables. The
// transaction must be one of the target's database.
func (t Target) Within(ctx context.Context, tx *sql.Tx, scope Scope, now time.Time) (*Tx, error) {
	config := &gorm.Config{Logger: logger.Discard, SkipDefaultTransaction: true}
	db, err := gorm.Open(t.on(tx), config)
	if err != nil {
		return nil, err
	}
	db = db.WithContext(context.WithValue(ctx, employerKey{}, scope.Employer))
	owned, err := ownedTables(ctx, tx, t.Dialect)
	if err == nil {
		err = guard(db, owned)
	}
	if err == nil {
		err = enter(db, t.Dialect, scope.Employer.String())
	}
	return &Tx{Scope: scope, Now: instant(now), db: db, dialect: t.Dialect}, err
}

// Conn returns the transaction's own connection, for what copies whole tables whatever their columns are. Nothing holds what it is asked to the employer but
// the database itself.
func (t *Tx) Conn() gorm.ConnPool { return t.db.Statement.ConnPool }

// Dialect says on which kind of database the transaction runs.
func (t *Tx) Dialect() migrations.Dialect { return t.dialect }

// instant is a time as both databases keep it: UTC, whole microseconds.
func instant(t time.Time) time.Time { return t.UTC().Truncate(time.Microsecond) }

// DB returns a fresh handle of the transaction for the use cases that work on sets. Statements on types with an EmployerID are
// held to the transaction's employer by themselves; SQL text has to hold every table that it names to it, or it is refused.
func (t *Tx) DB() *gorm.DB { return t.db.Session(&gorm.Session{}) }

// Locking returns a handle whose rows are held until the transaction ends.
func (t *Tx) Locking() *gorm.DB {
	if lockRow(t.dialect) == "" {
		return t.DB()
	}
	return t.DB().Clauses(clause.Locking{Strength: clause.LockingStrengthUpdate})
}

// NewID makes an identifier for what this transaction records first.
func (t *Tx) NewID() uuid.UUID { return NewID() }

// NewID makes a UUID of version 7 (RFC 9562).
func NewID() uuid.UUID { return uuid.Must(uuid.NewV7()) }

// ContentHash is the hash by which a repeated record is recognised: SHA-256 over the JSON of its decoded, normalised content.
func ContentHash(content any) string {
	b, err := json.Marshal(content)
	if err != nil {
		panic(fmt.Sprintf("content %T cannot be written as JSON: %v", content, err))
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}
