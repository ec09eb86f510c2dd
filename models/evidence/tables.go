package evidence

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"palmero/migrations"
)

// An archive is made and read by what the database says of its own tables, so that a table that a later version adds is in it without a word here.

// conn is what tables are read from and written to.
type conn interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

// kind is how a column's values are written into an archive: alike from either database.
type kind int

const (
	textual kind = iota // texts, identifiers, days
	number
	flag
	instant
)

// column is a column of a table.
type column struct {
	name string
	kind kind
}

// table is a table as an archive holds it.
type table struct {
	name    string
	columns []column // in the order of their names
	key     []string // its primary key, where it has no sequence
	refers  []string // to which other tables
	highest int64    // number of its sequence in a restore
}

// leftOut are tables that hold nothing but the state of signing in: after a restore everybody signs in again. The schema's version stands in the manifest.
var leftOut = []string{"goose_db_version", "refresh_tokens", "sign_in_attempts"}

// placed are columns that say where in the database a row stands. A restore finds them anew from the order of the rows.
var placed = map[string][]string{"audit_entries": {"tx"}, "audit_seals": {"last_tx", "last_seq"}}

func (t *table) has(name string) bool {
	return slices.ContainsFunc(t.columns, func(c column) bool { return c.name == name })
}

// owned tells whether the table's rows belong to employers.
func (t *table) owned() bool { return t.has("employer_id") }

// employer is the column that says whose a row is; "" for the texts of rulebooks, which are everybody's.
func (t *table) employer() string {
	switch {
	case t.owned():
		return "employer_id"
	case t.name == "employers":
		return "id"
	}
	return ""
}

var kinds = map[string]kind{
	"text": textual, "uuid": textual, "date": textual, "bigint": number, "integer": number, "boolean": flag,
	"timestamp with time zone": instant, "datetime": instant,
}

// schemaOf lists the tables of an archive, each after those that it refers to.
func schemaOf(ctx context.Context, db conn, dialect migrations.Dialect) ([]*table, error) {
	columns, keys, references := sqliteColumns, sqliteKeys, sqliteReferences
	if dialect == migrations.Postgres {
		columns, keys, references = postgresColumns, postgresKeys, postgresReferences
	}
	tables := map[string]*table{}
	err := each(ctx, db, columns, func(r [3]string) error {
		if slices.Contains(leftOut, r[0]) || slices.Contains(placed[r[0]], r[1]) {
			return nil
		}
		k, ok := kinds[strings.ToLower(r[2])]
		if !ok {
			return fmt.Errorf("an archive cannot hold the type %q of %s.%s", r[2], r[0], r[1])
		}
		if tables[r[0]] == nil {
			tables[r[0]] = &table{name: r[0]}
		}
		tables[r[0]].columns = append(tables[r[0]].columns, column{r[1], k})
		return nil
	})
	if err == nil {
		err = each(ctx, db, keys, func(r [3]string) error {
			if t := tables[r[0]]; t != nil {
				t.key = append(t.key, r[1])
			}
			return nil
		})
	}
	if err == nil {
		err = each(ctx, db, references, func(r [3]string) error {
			if t := tables[r[0]]; t != nil && r[0] != r[1] {
				t.refers = append(t.refers, r[1])
			}
			return nil
		})
	}
	if err != nil {
		return nil, fmt.Errorf("read the schema: %w", err)
	}
	return inOrder(tables), nil
}

// inOrder puts tables after those that they refer to, and by name where they may stand either way.
func inOrder(tables map[string]*table) []*table {
	var names []string
	for name, t := range tables {
		slices.SortFunc(t.columns, func(a, b column) int { return cmp.Compare(a.name, b.name) })
		names = append(names, name)
	}
	slices.Sort(names)
	var ordered []*table
	placed := map[string]bool{}
	var place func(name string)
	place = func(name string) {
		if t := tables[name]; t != nil && !placed[name] {
			placed[name] = true
			slices.Sort(t.refers)
			for _, other := range t.refers {
				place(other)
			}
			ordered = append(ordered, t)
		}
	}
	for _, name := range names {
		place(name)
	}
	return ordered
}

// each calls fn with every row of a query of up to three texts.
func each(ctx context.Context, db conn, query string, fn func([3]string) error) (err error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var r [3]string
		if err := rows.Scan(&r[0], &r[1], &r[2]); err != nil {
			return err
		}
		if err := fn(r); err != nil {
			return err
		}
	}
	return rows.Err()
}

const (
	postgresColumns = `SELECT c.relname::text, a.attname::text, format_type(a.atttypid, NULL) FROM pg_class c
		JOIN pg_namespace n ON n.oid = c.relnamespace JOIN pg_attribute a ON a.attrelid = c.oid
		WHERE n.nspname = current_schema() AND c.relkind = 'r' AND a.attnum > 0 AND NOT a.attisdropped`
	postgresKeys = `SELECT c.relname::text, a.attname::text, '' FROM pg_index i
		JOIN pg_class c ON c.oid = i.indrelid JOIN pg_namespace n ON n.oid = c.relnamespace
		JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum = ANY (i.indkey)
		WHERE n.nspname = current_schema() AND i.indisprimary ORDER BY c.relname, array_position(i.indkey::int2[], a.attnum)`
	postgresReferences = `SELECT c.relname::text, f.relname::text, '' FROM pg_constraint k
		JOIN pg_class c ON c.oid = k.conrelid JOIN pg_class f ON f.oid = k.confrelid JOIN pg_namespace n ON n.oid = c.relnamespace
		WHERE n.nspname = current_schema() AND k.contype = 'f'`
	sqliteColumns = `SELECT m.name, c.name, c.type FROM sqlite_schema m JOIN pragma_table_info(m.name) c
		WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite\_%' ESCAPE '\'`
	sqliteKeys = `SELECT m.name, c.name, '' FROM sqlite_schema m JOIN pragma_table_info(m.name) c
		WHERE m.type = 'table' AND c.pk > 0 ORDER BY m.name, c.pk`
	sqliteReferences = `SELECT m.name, f."table", '' FROM sqlite_schema m JOIN pragma_foreign_key_list(m.name) f WHERE m.type = 'table'`
)

// parameter is the nth parameter of a statement.
func parameter(dialect migrations.Dialect, n int) string {
	if dialect == migrations.Postgres {
		return fmt.Sprint("$", n)
	}
	return fmt.Sprint("?", n)
}

// selection writes the query for an employer's rows of the table, or for all rows of a table that is nobody's, in the order of the archive: of their
// sequence, of the audit chain, or of their key. Both databases give the same order.
func (t *table) selection(dialect migrations.Dialect) string {
	var list []string
	for _, c := range t.columns {
		list = append(list, t.expression(c.name, dialect))
	}
	query := "SELECT " + strings.Join(list, ", ") + " FROM " + t.name
	if t.employer() != "" {
		query += " WHERE " + t.employer() + " = " + parameter(dialect, 1)
	}
	return query + " ORDER BY " + strings.Join(t.order(dialect), ", ")
}

func (t *table) order(dialect migrations.Dialect) (order []string) {
	if t.name == "audit_entries" {
		order = append(order, "tx")
	}
	if t.has("seq") {
		return append(order, "seq")
	}
	for _, name := range t.key {
		by := t.expression(name, dialect)
		if dialect == migrations.Postgres && t.kindOf(name) == textual {
			by += ` COLLATE "C"`
		}
		order = append(order, by)
	}
	return order
}

func (t *table) kindOf(name string) kind {
	i := slices.IndexFunc(t.columns, func(c column) bool { return c.name == name })
	return t.columns[i].kind
}

// expression reads a column: identifiers and days as text.
func (t *table) expression(name string, dialect migrations.Dialect) string {
	if dialect == migrations.Postgres && t.kindOf(name) == textual {
		return name + "::text"
	}
	return name
}
