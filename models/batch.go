package models

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"sync"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/migrations"
)

// Batch is statements that are asked together. Find and Take say what to ask and where the rows go; Then says what is made of them once they are there. A batch of
// Store.Ask goes to PostgreSQL as a whole, in one round trip; in a transaction (Tx.Batch), and on SQLite, which is no trip away, each statement runs where it stands.
type Batch struct {
	*Tx
	queued []query // nil where statements run where they stand
	after  []func() error
	whole  bool // whether the batch goes as a whole
	sent   bool
	err    error // the first
}

// query is a statement of a batch that goes as a whole.
type query struct {
	text string
	args []any
	rows reflect.Value // a slice, which takes the rows
	then func() error  // nil: nothing more to do with them
}

// errUnforeseen says that a statement could not go along with its batch, since it depends on what others answer. All of it is then asked statement by statement.
var errUnforeseen = errors.New("a statement depends on what the others of its batch answer")

// Ask runs fn in a transaction that only reads, within one employer's records, in one round trip where the database is one away. What fn asks for is there once Ask has returned, or
// in a function given to Then. Where a statement depends on an answer, or the batch fails, fn runs again in a View; so it must begin afresh each time.
func (s *Store) Ask(ctx context.Context, scope Scope, fn func(*Batch) error) error {
	if s.dialect == migrations.Postgres && scope.Employer != uuid.Nil {
		if answered, err := s.askWhole(ctx, scope, fn); answered {
			return err
		}
	}
	return s.View(ctx, scope, func(tx *Tx) error {
		b := tx.Batch()
		if err := fn(b); err != nil {
			return err
		}
		return b.Err()
	})
}

// askWhole sends the batch as a whole. It tells whether that was answered, be it with an error.
func (s *Store) askWhole(ctx context.Context, scope Scope, fn func(*Batch) error) (answered bool, err error) {
	ctx = context.WithValue(ctx, employerKey{}, scope.Employer)
	db := s.read.WithContext(ctx)
	db.Statement.ConnPool = nowhere{}
	b := &Batch{Tx: &Tx{Scope: scope, Now: instant(s.now()), db: db, dialect: s.dialect, store: s}, whole: true}
	if err := fn(b); err != nil {
		return !errors.Is(err, errUnforeseen), translate(err)
	}
	if b.err != nil {
		return false, nil
	}
	timed := b.timing()
	err = sendBatch(ctx, s.read, scope.Employer, b.queued)
	timed()
	if err != nil {
		return false, nil
	}
	b.sent = true
	for _, q := range b.queued {
		if q.then != nil {
			b.Then(q.then)
		}
	}
	for _, then := range b.after {
		if b.err == nil {
			b.err = then()
		}
	}
	return !errors.Is(b.err, errUnforeseen), translate(b.err)
}

// Batch asks the statements of a batch within the transaction, each where it stands.
func (t *Tx) Batch() *Batch { return &Batch{Tx: t} }

// Err is the first error that came up.
func (b *Batch) Err() error { return b.err }

// Find asks for the rows of a query, into a slice of structs.
func (b *Batch) Find(query *gorm.DB, into any) { b.find(query, into, nil) }

func (b *Batch) find(asked *gorm.DB, into any, then func() error) {
	switch {
	case b.err != nil:
	case b.sent:
		b.err = errUnforeseen
	case b.whole:
		made := asked.Session(&gorm.Session{DryRun: true}).Find(into)
		b.queue(made, into, then)
	default:
		if b.err = translate(asked.Find(into).Error); b.err == nil && then != nil {
			b.err = then()
		}
	}
}

func (b *Batch) queue(made *gorm.DB, into any, then func() error) {
	b.queued = append(b.queued, query{made.Statement.SQL.String(), made.Statement.Vars, reflect.ValueOf(into).Elem(), then})
	b.err = made.Error
}

// fail ends a batch.
func (b *Batch) fail(err error) {
	if b.err == nil {
		b.err = err
	}
}

// Take asks for the one row of a query.
func Take[R any](b *Batch, query *gorm.DB, into *R) {
	var rows []R
	b.find(query.Limit(1), &rows, func() error {
		if len(rows) == 0 {
			return translate(gorm.ErrRecordNotFound)
		}
		*into = rows[0]
		return nil
	})
}

// Then runs a function once what was asked for before it is there.
func (b *Batch) Then(fn func() error) {
	switch {
	case b.err != nil:
	case b.whole && !b.sent:
		b.after = append(b.after, fn)
	default:
		b.err = fn()
	}
}

// Known asks for rows on which other statements of the batch depend. Where the batch goes as a whole it returns what the same query found the last time (or otherwise, if it never
// ran), and sees that this still stands: where it moved, the whole is asked again with what stands now.
func Known[R comparable](b *Batch, asked *gorm.DB, otherwise []R) ([]R, error) {
	rows := new([]R)
	made := asked.Session(&gorm.Session{DryRun: true}).Find(rows)
	key := fmt.Sprint(made.Statement.SQL.String(), made.Statement.Vars)
	if !b.whole {
		b.Find(asked.Session(&gorm.Session{}), rows)
		if b.err == nil && b.store != nil {
			b.store.known.remember(key, *rows)
		}
		return *rows, b.err
	}
	known, ok := b.store.known.of(key).([]R)
	if !ok {
		known = otherwise
	}
	if known == nil {
		return nil, errUnforeseen
	}
	b.queue(made, rows, func() error {
		if !slices.Equal(known, *rows) {
			return errUnforeseen
		}
		return nil
	})
	return known, b.err
}

// nowhere is the connection of a batch that goes as a whole: a statement that is asked around it was not foreseen.
type nowhere struct{}

func (nowhere) PrepareContext(context.Context, string) (*sql.Stmt, error) { return nil, errUnforeseen }

func (nowhere) ExecContext(context.Context, string, ...any) (sql.Result, error) {
	return nil, errUnforeseen
}

func (nowhere) QueryContext(context.Context, string, ...any) (*sql.Rows, error) {
	return nil, errUnforeseen
}

// QueryRowContext is asked by nothing that a batch is given to: its error could not be told.
func (nowhere) QueryRowContext(context.Context, string, ...any) *sql.Row { panic(errUnforeseen) }

// memory is what Known queries found the last time.
type memory struct {
	sync.Mutex
	found map[string]any
}

// mostKnown bounds what is remembered; beyond it all is forgotten and asked anew.
const mostKnown = 50_000

func (m *memory) of(key string) any {
	m.Lock()
	defer m.Unlock()
	return m.found[key]
}

func (m *memory) remember(key string, rows any) {
	m.Lock()
	defer m.Unlock()
	if m.found == nil || len(m.found) >= mostKnown {
		m.found = map[string]any{}
	}
	m.found[key] = rows
}
