package evidence

import (
	"archive/zip"
	"bufio"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/migrations"
	"palmero/models"
)

// Archive is an archive opened for reading.
type Archive struct {
	Manifest
	files map[string]*zip.File
}

// OpenArchive reads an archive's manifest, and refuses an archive of another form, or one whose files are not those of the manifest.
func OpenArchive(r *zip.Reader) (*Archive, error) {
	a := &Archive{files: map[string]*zip.File{}}
	for _, f := range r.File {
		if a.files[f.Name] != nil {
			return nil, fmt.Errorf("the archive holds %s twice", f.Name)
		}
		a.files[f.Name] = f
	}
	if a.files[manifestName] == nil {
		return nil, errors.New("this is no archive of Palmero: it has no " + manifestName)
	}
	if err := a.readManifest(); err != nil {
		return nil, err
	}
	if a.Format != Format {
		return nil, fmt.Errorf("the archive is a %q, and this program reads a %q; the program that made it was %s", a.Format, Format, a.Program)
	}
	for _, f := range a.Files {
		if a.files[f.Name] == nil {
			return nil, fmt.Errorf("the archive lacks %s, which its manifest names", f.Name)
		}
	}
	if len(a.Files)+1 != len(a.files) {
		return nil, errors.New("the archive holds files that its manifest does not name")
	}
	return a, nil
}

func (a *Archive) readManifest() (err error) {
	r, err := a.files[manifestName].Open()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	if err := json.NewDecoder(r).Decode(&a.Manifest); err != nil {
		return fmt.Errorf("the archive's manifest cannot be read: %w", err)
	}
	return nil
}

// restore is an archive on its way into a database.
type restore struct {
	*Archive
	target models.Target
	db     *sql.Tx
	now    time.Time
	tables []*table
	loaded int // files
}

// Restore puts an archive into a database that holds no records, as the owner of its tables, and brings the schema up to date. It goes all in or not at
// all: every file is held to its hash, every table is read back and held to it again, and every chain of seals is walked.
func Restore(ctx context.Context, target models.Target, a *Archive, now time.Time) (err error) {
	db, err := target.OpenSQL()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := prepare(ctx, db, target.Dialect, a.Schema); err != nil {
		return err
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	r := &restore{Archive: a, target: target, db: tx, now: now}
	if err := r.all(ctx); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	_, err = migrations.Up(ctx, db, target.Dialect)
	return err
}

// prepare makes the tables as they were in the version that made the archive.
func prepare(ctx context.Context, db *sql.DB, dialect migrations.Dialect, schema int64) error {
	latest, err := migrations.Latest(db, dialect)
	if err != nil {
		return err
	}
	if schema < 1 || schema > latest {
		return fmt.Errorf("the archive's tables are of version %d, and this program knows them up to %d; use the version of the program that made it, or a newer one", schema, latest)
	}
	if err := migrations.UpTo(ctx, db, dialect, schema); err != nil {
		return err
	}
	version, err := migrations.Version(ctx, db)
	if err == nil && version != schema {
		err = fmt.Errorf("the database's tables are of version %d already, and the archive's of %d; restore into a database without tables", version, schema)
	}
	return err
}

func (r *restore) all(ctx context.Context) error {
	later := "PRAGMA defer_foreign_keys = ON"
	if r.target.Dialect == migrations.Postgres {
		later = "SET CONSTRAINTS ALL DEFERRED"
	}
	if _, err := r.db.ExecContext(ctx, later); err != nil {
		return err
	}
	var err error
	if r.tables, err = schemaOf(ctx, r.db, r.target.Dialect); err != nil {
		return err
	}
	if err := r.refuseRecords(ctx); err != nil {
		return err
	}
	if err := r.load(ctx, uuid.Nil); err != nil {
		return err
	}
	for _, h := range r.Employers {
		if err := r.employer(ctx, h); err != nil {
			return fmt.Errorf("restore %s: %w", h.SignInName, err)
		}
	}
	if r.loaded != len(r.Files) {
		return errors.New("the archive holds files of employers or tables that its manifest does not name")
	}
	return r.goOn(ctx)
}

func (r *restore) refuseRecords(ctx context.Context) error {
	var n int64
	err := r.db.QueryRowContext(ctx, "SELECT (SELECT count(*) FROM employers) + (SELECT count(*) FROM book_texts)").Scan(&n)
	if err == nil && n > 0 {
		err = errors.New("the database holds records already; restore into an empty one")
	}
	return err
}

func (r *restore) employer(ctx context.Context, h Holding) error {
	tx, err := r.target.Within(ctx, r.db, models.Scope{Employer: h.ID}, r.now)
	if err != nil {
		return err
	}
	if err := r.load(ctx, h.ID); err != nil {
		return err
	}
	report, err := Verify(tx)
	switch {
	case err != nil:
		return err
	case report.Break != nil:
		return fmt.Errorf("its audit entries do not stand as they were sealed (%s at seal %d)", report.Break.Kind, report.Break.Seal)
	case report.Sealed != h.Sealed || report.Tail != h.Tail || report.Head != nil && report.Head.Hash != h.Head:
		return errors.New("its audit chain is not the one that the manifest names")
	}
	return nil
}

// load loads the tables of an employer, or with uuid.Nil those that are nobody's.
func (r *restore) load(ctx context.Context, employer uuid.UUID) error {
	var placing place
	for _, t := range r.tables {
		if (t.employer() == "") != (employer == uuid.Nil) {
			continue
		}
		f, err := r.find(t.file(employer))
		if err != nil {
			return err
		}
		if t.name == "audit_entries" {
			placing.entries = f.Rows
		}
		if err := r.table(ctx, t, f, &placing); err != nil {
			return fmt.Errorf("%s: %w", f.Name, err)
		}
		if err := r.readBack(ctx, t, employer, f); err != nil {
			return fmt.Errorf("%s: %w", f.Name, err)
		}
		r.loaded++
	}
	return nil
}

func (r *restore) find(name string) (File, error) {
	for _, f := range r.Files {
		if f.Name == name {
			return f, nil
		}
	}
	return File{}, fmt.Errorf("the archive lacks %s", name)
}

// table puts a file's rows into their table.
func (r *restore) table(ctx context.Context, t *table, f File, placing *place) (err error) {
	in, err := r.files[f.Name].Open()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, in.Close()) }()
	sum := sha256.New()
	lines := bufio.NewReaderSize(io.TeeReader(in, sum), 64<<10)
	w := newInserter(r.db, r.target.Dialect, t)
	for n := int64(1); ; n++ {
		line, err := lines.ReadBytes('\n')
		if errors.Is(err, io.EOF) && len(line) == 0 {
			break
		}
		if err != nil {
			return err
		}
		values, err := readLine(line, t.columns)
		if err != nil {
			return fmt.Errorf("line %d: %w", n, err)
		}
		if values, err = placing.add(t, values); err != nil {
			return fmt.Errorf("line %d: %w", n, err)
		}
		if err := w.add(ctx, values); err != nil {
			return err
		}
	}
	if err := w.flush(ctx); err != nil {
		return err
	}
	return check(sum, f)
}

func check(sum hash.Hash, f File) error {
	if hex.EncodeToString(sum.Sum(nil)) != f.SHA256 {
		return errors.New("its bytes are not those that the manifest names; the archive is damaged")
	}
	return nil
}

// readBack holds what now stands in the table to the archive, to the byte.
func (r *restore) readBack(ctx context.Context, t *table, employer uuid.UUID, f File) error {
	sum := sha256.New()
	n, err := dump(ctx, r.db, r.target.Dialect, t, employer, sum)
	if err == nil && (n != f.Rows || hex.EncodeToString(sum.Sum(nil)) != f.SHA256) {
		err = errors.New("what was put into the database does not come back as it was")
	}
	return err
}

// goOn has PostgreSQL's sequences go on after the highest of the restored rows; SQLite's do so by themselves.
func (r *restore) goOn(ctx context.Context) error {
	if r.target.Dialect != migrations.Postgres {
		return nil
	}
	for _, t := range r.tables {
		if !t.has("seq") {
			continue
		}
		if _, err := r.db.ExecContext(ctx, "SELECT setval(pg_get_serial_sequence($1, 'seq'), $2)", t.name, max(t.highest, 1)); err != nil {
			return err
		}
	}
	_, err := r.db.ExecContext(ctx, "SET CONSTRAINTS ALL IMMEDIATE")
	return err
}

// place finds out where the rows of the audit chain stand in the new database. Entries come in the order of the chain; they are numbered up to zero, which is
// before every transaction to come on PostgreSQL, and on SQLite, which does not number transactions, no later than any.
type place struct {
	entries int64   // how many there are
	seqs    []int64 // of the entries so far
	sealed  int64   // entries under the seals so far
}

func (p *place) add(t *table, values []any) ([]any, error) {
	switch t.name {
	case "audit_entries":
		seq, ok := t.value(values, "seq").(int64)
		if !ok {
			return nil, errors.New("no seq")
		}
		p.seqs = append(p.seqs, seq)
		return append(values, int64(len(p.seqs))-p.entries), nil
	case "audit_seals":
		n, _ := t.value(values, "entries").(int64)
		p.sealed += n
		if n < 1 || p.sealed > int64(len(p.seqs)) {
			return nil, errors.New("the seal covers more entries than there are")
		}
		return append(values, p.sealed-p.entries, p.seqs[p.sealed-1]), nil
	}
	return values, nil
}

// value picks a column's value out of a row.
func (t *table) value(values []any, name string) any {
	for i, c := range t.columns {
		if c.name == name {
			return values[i]
		}
	}
	return nil
}

// inserter writes rows in set-sized statements.
type inserter struct {
	db      *sql.Tx
	dialect migrations.Dialect
	t       *table
	into    string
	width   int
	values  []any
}

// parametersAtOnce is below what either database takes in a statement.
const parametersAtOnce = 15000

func newInserter(db *sql.Tx, dialect migrations.Dialect, t *table) *inserter {
	var names []string
	for _, c := range t.columns {
		names = append(names, c.name)
	}
	names = append(names, placed[t.name]...)
	into := "INSERT INTO " + t.name + " (" + strings.Join(names, ", ") + ")"
	if t.has("seq") && dialect == migrations.Postgres {
		into += " OVERRIDING SYSTEM VALUE"
	}
	return &inserter{db: db, dialect: dialect, t: t, into: into + " VALUES ", width: len(names)}
}

func (w *inserter) add(ctx context.Context, row []any) error {
	if seq, ok := w.t.value(row, "seq").(int64); ok {
		w.t.highest = max(w.t.highest, seq)
	}
	w.values = append(w.values, row...)
	if len(w.values)+w.width > parametersAtOnce {
		return w.flush(ctx)
	}
	return nil
}

func (w *inserter) flush(ctx context.Context) error {
	if len(w.values) == 0 {
		return nil
	}
	var b strings.Builder
	b.WriteString(w.into)
	for n := range w.values {
		switch {
		case n == 0:
			b.WriteByte('(')
		case n%w.width == 0:
			b.WriteString("), (")
		default:
			b.WriteString(", ")
		}
		b.WriteString(parameter(w.dialect, n+1))
	}
	b.WriteByte(')')
	_, err := w.db.ExecContext(ctx, b.String(), w.values...)
	w.values = w.values[:0]
	return err
}
