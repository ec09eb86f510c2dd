package synthetic

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll/dated"
)

// Reference does with a database what the program does, by the plainest way that it knows: rows put in and rows read to the last column, nothing checked, reckoned or explained.
type Reference interface {
	// Sheet puts a crew sheet's rows in.
	Sheet(ctx context.Context, s intake.Sheet, now time.Time) error
	// Know reads the rows that a draft of a week came to, for Draft and Inputs.
	Know(ctx context.Context, run uuid.UUID, week dated.Date) error
	// Draft reads what that draft read, writes what it wrote, and undoes it.
	Draft(ctx context.Context) error
	// Inputs reads what that draft read.
	Inputs(ctx context.Context) error
	// Statement reads a statement and its lines.
	Statement(ctx context.Context, id uuid.UUID) error
	// OwnWeek reads what is recorded of a worker in a week.
	OwnWeek(ctx context.Context, worker uuid.UUID, week dated.Date) error
	Close() error
}

var (
	statementRows = []string{"SELECT * FROM statements WHERE employer_id = $1 AND id = $2", "SELECT * FROM statement_lines WHERE employer_id = $1 AND statement_id = $2"}
	ownRows       = []string{"SELECT * FROM workers WHERE employer_id = $1 AND id = $2 AND started_on <= $4 AND (ended_on IS NULL OR ended_on >= $3)", "SELECT * FROM time_entries WHERE employer_id = $1 AND worker_id = $2 AND workday BETWEEN $3 AND $4",
		"SELECT * FROM tallies WHERE employer_id = $1 AND worker_id = $2 AND workday BETWEEN $3 AND $4"}
)

// OpenReference opens the employer's database a second time: on PostgreSQL one connection as the same role, which COPYs into temporary tables, on SQLite one that inserts many
// rows at once.
func (e *Employer) OpenReference(ctx context.Context, target models.Target) (Reference, error) {
	db, err := target.OpenSQL()
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	if target.Dialect == migrations.SQLite {
		return &plain{e: e, db: db}, nil
	}
	held, err := db.Conn(ctx)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	s := &staged{e: e, db: db, held: held}
	err = held.Raw(func(driver any) error {
		conn, ok := driver.(*stdlib.Conn)
		if !ok {
			return fmt.Errorf("%T is no connection to PostgreSQL", driver)
		}
		s.conn = conn.Conn()
		return nil
	})
	return s, err
}

// staged is the reference on PostgreSQL.
type staged struct {
	e     *Employer
	db    *sql.DB
	held  *sql.Conn
	conn  *pgx.Conn
	draft *DraftReference
}

func (s *staged) Close() error { return errors.Join(s.held.Close(), s.db.Close()) }

func (s *staged) Sheet(ctx context.Context, sheet intake.Sheet, now time.Time) error {
	return s.e.SheetReference(sheet, now).Run(ctx, s.conn)
}

func (s *staged) Know(ctx context.Context, run uuid.UUID, week dated.Date) (err error) {
	s.draft, err = s.e.DraftReference(ctx, s.conn, run, week)
	return err
}

func (s *staged) Draft(ctx context.Context) error { return s.draft.Run(ctx, s.conn) }

func (s *staged) Inputs(ctx context.Context) error { return s.draft.Read(ctx, s.conn) }

func (s *staged) Statement(ctx context.Context, id uuid.UUID) error {
	return s.reads(ctx, statementRows, id)
}

func (s *staged) OwnWeek(ctx context.Context, worker uuid.UUID, week dated.Date) error {
	return s.reads(ctx, ownRows, worker, week.AddDays(-1).Midnight(time.UTC), week.AddDays(6).Midnight(time.UTC))
}

func (s *staged) reads(ctx context.Context, queries []string, args ...any) (err error) {
	tx, err := s.e.begin(ctx, s.conn)
	defer func() { err = ended(ctx, tx, err) }()
	for _, query := range queries {
		if err == nil {
			err = readAll(ctx, tx, query, append([]any{s.e.Clerk.Employer}, args...)...)
		}
	}
	return err
}
