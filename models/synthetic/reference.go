package synthetic

import (
	"context"
	"encoding/json"
	"errors"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// The references are what the program's own times are held against: the same rows read and written on PostgreSQL by the same role with nothing checked, reckoned or explained,
// by COPY into temporary tables and INSERT … SELECT into the same tables. Rows are read to the last column, as whoever wants to reckon with them must.

// begin begins a transaction for the employer.
func (e *Employer) begin(ctx context.Context, conn *pgx.Conn) (pgx.Tx, error) {
	tx, err := conn.Begin(ctx)
	if err != nil {
		return nil, err
	}
	_, err = tx.Exec(ctx, "SELECT set_config('palmero.employer', $1, true)", e.Clerk.Employer.String())
	return tx, err
}

// ended commits, or undoes where something failed.
func ended(ctx context.Context, tx pgx.Tx, err error) error {
	if tx == nil {
		return err
	}
	if err != nil {
		return errors.Join(err, tx.Rollback(ctx))
	}
	return tx.Commit(ctx)
}

// rowsOf is some rows of a table, to be put into it.
type rowsOf struct {
	table   string
	columns []string
	rows    [][]any
}

// put copies the rows into a temporary table, which the connection keeps, and from there into the table itself; a single row goes in by itself.
func (r *rowsOf) put(ctx context.Context, tx pgx.Tx) error {
	staged, list := "staged_"+r.table, strings.Join(r.columns, ", ")
	if len(r.rows) == 1 {
		places := make([]string, len(r.columns))
		for i := range places {
			places[i] = "$" + strconv.Itoa(i+1)
		}
		_, err := tx.Exec(ctx, "INSERT INTO "+r.table+" ("+list+") VALUES ("+strings.Join(places, ", ")+")", r.rows[0]...)
		return err
	}
	if _, err := tx.Exec(ctx, "CREATE TEMPORARY TABLE IF NOT EXISTS "+staged+" ON COMMIT DELETE ROWS AS SELECT "+list+" FROM "+r.table+" WHERE false"); err != nil {
		return err
	}
	if _, err := tx.CopyFrom(ctx, pgx.Identifier{staged}, r.columns, pgx.CopyFromRows(r.rows)); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, "INSERT INTO "+r.table+" ("+list+") SELECT "+list+" FROM "+staged)
	return err
}

// SheetReference is the rows of one crew sheet.
type SheetReference struct {
	employer *Employer
	tables   []rowsOf
}

// SheetReference makes ready the rows that a sheet comes to: its envelope, its lines, and an audit entry as long as a true one. The sheet must not have been taken in.
func (e *Employer) SheetReference(s intake.Sheet, now time.Time) *SheetReference {
	employer, actor, day := e.Lead.Employer, e.Lead.Actor, s.Workday.Midnight(time.UTC)
	hash := models.ContentHash(s.ID)
	entries := rowsOf{table: "time_entries", columns: []string{"employer_id", "id", "content_hash", "sheet_id", "worker_id", "workday", "kind", "garden_id", "block_id", "operation_id",
		"started_at", "ended_at", "recorded_at", "received_at", "recorded_by", "reason"}}
	tallies := rowsOf{table: "tallies", columns: []string{"employer_id", "id", "content_hash", "sheet_id", "worker_id", "workday", "block_id", "operation_id", "pieces",
		"recorded_at", "received_at", "recorded_by", "reason"}}
	kept := map[uuid.UUID]string{}
	for _, l := range s.Time {
		kept[l.ID] = hash
		entries.rows = append(entries.rows, []any{employer, l.ID, hash, s.ID, l.WorkerID, day, string(l.Kind), s.GardenID, l.BlockID, l.OperationID, *l.Start, *l.End, s.RecordedAt, now, actor, ""})
	}
	for _, l := range s.Tallies {
		kept[l.ID] = hash
		tallies.rows = append(tallies.rows, []any{employer, l.ID, hash, s.ID, l.WorkerID, day, l.BlockID, l.OperationID, int64(l.Pieces), s.RecordedAt, now, actor, ""})
	}
	sheets := rowsOf{table: "crew_sheets", columns: []string{"employer_id", "id", "content_hash", "crew_id", "workday", "recorded_at", "received_at", "clock_skew", "roll", "recorded_by"},
		rows: [][]any{{employer, s.ID, hash, s.CrewID, day, s.RecordedAt, now, int64(0), text(s.Roll), actor}}}
	audit := rowsOf{table: "audit_entries", columns: []string{"employer_id", "id", "content_hash", "at", "account_id", "action", "subject_kind", "subject_id", "before_doc", "after_doc", "reason"},
		rows: [][]any{{employer, models.NewID(), hash, now, actor, "record", "crew_sheets", s.ID, "null", text(kept), ""}}}
	return &SheetReference{e, append([]rowsOf{sheets, entries, tallies, audit}, ledgersOf(employer, s)...)}
}

// ledgersOf are the entries of the ledgers that a sheet comes to.
func ledgersOf(employer uuid.UUID, s intake.Sheet) []rowsOf {
	entry, day := models.NewID(), s.Workday.Midnight(time.UTC)
	minutes, pieces := map[uuid.UUID]int64{}, map[[2]uuid.UUID]int64{}
	for _, l := range s.Time {
		if minutes[l.WorkerID] += 0; l.Kind != payroll.MealPeriod {
			minutes[l.WorkerID] += int64(l.End.Sub(*l.Start) / time.Minute)
		}
	}
	for _, l := range s.Tallies {
		pieces[[2]uuid.UUID{l.BlockID, l.OperationID}] += int64(l.Pieces)
	}
	times := rowsOf{table: "time_ledger", columns: []string{"employer_id", "workday", "worker_id", "garden_id", "entry_id", "minutes"}}
	for worker, m := range minutes {
		times.rows = append(times.rows, []any{employer, day, worker, s.GardenID, entry, m})
	}
	counts := rowsOf{table: "count_ledger", columns: []string{"employer_id", "workday", "block_id", "operation_id", "entry_id", "pieces"}}
	for of, n := range pieces {
		counts.rows = append(counts.rows, []any{employer, day, of[0], of[1], entry, n})
	}
	return []rowsOf{times, counts}
}

// Run puts the rows in, in one transaction.
func (r *SheetReference) Run(ctx context.Context, conn *pgx.Conn) (err error) {
	tx, err := r.employer.begin(ctx, conn)
	defer func() { err = ended(ctx, tx, err) }()
	for i := range r.tables {
		if err == nil {
			err = r.tables[i].put(ctx, tx)
		}
	}
	return err
}

func text(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // identifiers and hashes
	}
	return string(b)
}

// DraftReference is what a draft reads, and the rows that it wrote.
type DraftReference struct {
	employer *Employer
	days     pgx.NamedArgs // the week's first and last day, and the one before, since a time entry may run on past midnight
	tables   []rowsOf
}

// drafted are the tables that a draft writes, with the condition on those of a run.
var drafted = []struct{ table, of string }{
	{"pay_runs", "id = $1"},
	{"statements", "run_id = $1"},
	{"statement_lines", "statement_id IN (SELECT id FROM statements WHERE run_id = $1)"},
	{"pay_run_problems", "run_id = $1"},
	{"pay_run_books", "run_id = $1"},
}

// DraftReference reads the rows that a run came to, to write them again as those of another.
func (e *Employer) DraftReference(ctx context.Context, conn *pgx.Conn, run uuid.UUID, week dated.Date) (r *DraftReference, err error) {
	day := func(n int) time.Time { return week.AddDays(n).Midnight(time.UTC) }
	r = &DraftReference{employer: e, days: pgx.NamedArgs{"before": day(-1), "first": day(0), "last": day(6)}}
	tx, err := e.begin(ctx, conn)
	defer func() { err = ended(ctx, tx, err) }()
	if err != nil {
		return nil, err
	}
	twin := twins{}
	for _, d := range drafted {
		rows, err := tx.Query(ctx, "SELECT * FROM "+d.table+" WHERE "+d.of, run)
		if err != nil {
			return nil, err
		}
		copied, err := twin.read(d.table, rows)
		if err != nil {
			return nil, err
		}
		r.tables = append(r.tables, copied)
	}
	return r, nil
}

// twins gives rows that are written again identifiers of their own, the same one everywhere.
type twins map[[16]byte][16]byte

func (t twins) read(table string, rows pgx.Rows) (rowsOf, error) {
	r := rowsOf{table: table}
	var at []int
	for i, f := range rows.FieldDescriptions() {
		if f.Name != "seq" {
			r.columns, at = append(r.columns, f.Name), append(at, i)
		}
	}
	for rows.Next() {
		values, err := rows.Values()
		if err != nil {
			return r, err
		}
		row := make([]any, len(at))
		for i, from := range at {
			row[i] = t.of(table, r.columns[i], values[from])
		}
		r.rows = append(r.rows, row)
	}
	return r, rows.Err()
}

func (t twins) of(table, column string, value any) any {
	switch {
	case table == "pay_runs" && column == "number":
		return value.(int64) + 1_000_000
	case table == "pay_runs" && column == "kind":
		return string(payrun.Correction) // a week has one regular draft at a time
	case column == "id":
		t[value.([16]byte)] = models.NewID()
	}
	if id, ok := value.([16]byte); ok {
		if twin, ok := t[id]; ok {
			return twin
		}
	}
	return value
}

// inputs is what a draft reads of a week, to the last column.
var inputs = []string{
	"SELECT * FROM workers WHERE id IN (SELECT worker_id FROM time_entries WHERE workday BETWEEN @before AND @last UNION SELECT worker_id FROM tallies WHERE workday BETWEEN @first AND @last)",
	"SELECT * FROM time_entries WHERE superseded_by IS NULL AND workday BETWEEN @before AND @last",
	"SELECT * FROM tallies WHERE superseded_by IS NULL AND workday BETWEEN @first AND @last",
	"SELECT * FROM break_records WHERE superseded_by IS NULL AND workday BETWEEN @first AND @last",
}

// Run reads the inputs and writes the rows, up to the commit, and undoes it.
func (r *DraftReference) Run(ctx context.Context, conn *pgx.Conn) (err error) {
	tx, err := r.employer.begin(ctx, conn)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, tx.Rollback(ctx)) }()
	if err := r.readInputs(ctx, tx); err != nil {
		return err
	}
	for i := range r.tables {
		if len(r.tables[i].rows) > 0 {
			if err := r.tables[i].put(ctx, tx); err != nil {
				return err
			}
		}
	}
	return nil
}

// Read reads the inputs and writes nothing.
func (r *DraftReference) Read(ctx context.Context, conn *pgx.Conn) (err error) {
	tx, err := r.employer.begin(ctx, conn)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, tx.Rollback(ctx)) }()
	return r.readInputs(ctx, tx)
}

func (r *DraftReference) readInputs(ctx context.Context, tx pgx.Tx) error {
	for _, query := range inputs {
		if err := readAll(ctx, tx, query, r.days); err != nil {
			return err
		}
	}
	return nil
}

func readAll(ctx context.Context, tx pgx.Tx, query string, args ...any) error {
	rows, err := tx.Query(ctx, query, args...)
	if err != nil {
		return err
	}
	for rows.Next() {
		if _, err := rows.Values(); err != nil {
			return err
		}
	}
	return rows.Err()
}
