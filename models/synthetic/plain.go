package synthetic

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll/dated"
)

// plainRows keeps an INSERT of many rows below the number of parameters that SQLite takes.
const plainRows = 500

// plain is the reference on SQLite, where there is no COPY: inserts of many rows.
type plain struct {
	e      *Employer
	db     *sql.DB
	tables []rowsOf // of a draft
	first  dated.Date
}

// Close closes the connections.
func (p *plain) Close() error { return p.db.Close() }

// Sheet puts a sheet's rows in.
func (p *plain) Sheet(ctx context.Context, s intake.Sheet, now time.Time) error {
	r := p.e.SheetReference(s, now)
	return plainly(ctx, p.db, true, func(tx *sql.Tx) error { return insertAll(ctx, tx, r.tables) })
}

func insertAll(ctx context.Context, tx *sql.Tx, tables []rowsOf) error {
	for i := range tables {
		if err := tables[i].insert(ctx, tx); err != nil {
			return err
		}
	}
	return nil
}

// Know reads the rows that a run came to.
func (p *plain) Know(ctx context.Context, run uuid.UUID, week dated.Date) error {
	p.first, p.tables = week, nil
	twin := map[string]string{}
	return plainly(ctx, p.db, false, func(tx *sql.Tx) error {
		for _, d := range drafted {
			rows, err := tx.QueryContext(ctx, "SELECT * FROM "+d.table+" WHERE employer_id = $2 AND "+d.of, run, p.e.Clerk.Employer)
			if err != nil {
				return err
			}
			r, err := readPlain(d.table, rows, twin)
			if err != nil {
				return err
			}
			p.tables = append(p.tables, r)
		}
		return nil
	})
}

// Draft reads what the draft read and writes what it wrote, up to the commit.
func (p *plain) Draft(ctx context.Context) error {
	return plainly(ctx, p.db, false, func(tx *sql.Tx) error {
		if err := p.inputs(ctx, tx); err != nil {
			return err
		}
		return insertAll(ctx, tx, p.tables)
	})
}

// Inputs reads what the draft read.
func (p *plain) Inputs(ctx context.Context) error {
	return plainly(ctx, p.db, false, func(tx *sql.Tx) error { return p.inputs(ctx, tx) })
}

func (p *plain) inputs(ctx context.Context, tx *sql.Tx) error {
	days := []any{sql.Named("employer", p.e.Clerk.Employer), sql.Named("before", p.first.AddDays(-1).String()), sql.Named("first", p.first.String()), sql.Named("last", p.first.AddDays(6).String())}
	for _, query := range inputs {
		// Policies hold the statements to the employer on PostgreSQL; here they say so themselves.
		if err := readThrough(ctx, tx, strings.ReplaceAll(query, "WHERE ", "WHERE employer_id = @employer AND "), days...); err != nil {
			return err
		}
	}
	return nil
}

// Statement reads a statement and its lines.
func (p *plain) Statement(ctx context.Context, id uuid.UUID) error {
	return p.reads(ctx, statementRows, id)
}

// OwnWeek reads what is recorded of a worker in the week.
func (p *plain) OwnWeek(ctx context.Context, worker uuid.UUID, week dated.Date) error {
	return p.reads(ctx, ownRows, worker, week.AddDays(-1).String(), week.AddDays(6).String())
}

func (p *plain) reads(ctx context.Context, queries []string, args ...any) error {
	return plainly(ctx, p.db, false, func(tx *sql.Tx) error {
		for _, query := range queries {
			if err := readThrough(ctx, tx, query, append([]any{p.e.Clerk.Employer}, args...)...); err != nil {
				return err
			}
		}
		return nil
	})
}

func readThrough(ctx context.Context, tx *sql.Tx, query string, args ...any) (err error) {
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	names, err := rows.Columns()
	for err == nil && rows.Next() {
		_, err = scanned(rows, len(names))
	}
	return errors.Join(err, rows.Err())
}

// plainly works in a transaction, which it keeps or undoes.
func plainly(ctx context.Context, db *sql.DB, keep bool, do func(*sql.Tx) error) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := do(tx); err != nil || !keep {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

// insert puts the rows in, some hundred at a time.
func (r *rowsOf) insert(ctx context.Context, tx *sql.Tx) error {
	places := "(" + strings.Repeat("?, ", len(r.columns)-1) + "?)"
	for begin := 0; begin < len(r.rows); begin += plainRows {
		some := r.rows[begin:min(begin+plainRows, len(r.rows))]
		var args []any
		for _, row := range some {
			for i, v := range row {
				args = append(args, plainValue(r.columns[i], v))
			}
		}
		query := "INSERT INTO " + r.table + " (" + strings.Join(r.columns, ", ") + ") VALUES " + strings.Repeat(places+", ", len(some)-1) + places
		if _, err := tx.ExecContext(ctx, query, args...); err != nil {
			return err
		}
	}
	return nil
}

// plainValue is a value as SQLite keeps it: days are text.
func plainValue(column string, v any) any {
	if at, ok := v.(time.Time); ok && column == "workday" {
		return at.Format(time.DateOnly)
	}
	return v
}

func readPlain(table string, rows *sql.Rows, twin map[string]string) (r rowsOf, err error) {
	defer func() { err = errors.Join(err, rows.Close()) }()
	r.table = table
	names, err := rows.Columns()
	if err != nil {
		return r, err
	}
	for _, n := range names {
		if n != "seq" {
			r.columns = append(r.columns, n)
		}
	}
	for rows.Next() {
		values, err := scanned(rows, len(names))
		if err != nil {
			return r, err
		}
		var row []any
		for i, n := range names {
			if n != "seq" {
				row = append(row, plainTwin(twin, table, n, values[i]))
			}
		}
		r.rows = append(r.rows, row)
	}
	return r, rows.Err()
}

func plainTwin(twin map[string]string, table, column string, value any) any {
	text, isText := value.(string)
	switch {
	case table == "pay_runs" && column == "number":
		return value.(int64) + 1_000_000
	case table == "pay_runs" && column == "kind":
		return string(payrun.Correction)
	case isText && column == "id":
		twin[text] = models.NewID().String()
	}
	if t, ok := twin[text]; ok {
		return t
	}
	return value
}

// scanned is a row to the last column.
func scanned(rows *sql.Rows, n int) ([]any, error) {
	values, into := make([]any, n), make([]any, n)
	for i := range values {
		into[i] = &values[i]
	}
	return values, rows.Scan(into...)
}
