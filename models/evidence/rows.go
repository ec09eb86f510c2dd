package evidence

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"time"

	"github.com/google/uuid"

	"palmero/migrations"
)

// A table's rows in an archive are lines of JSON, each an object with a member for every column, in the order of their names. Texts, identifiers and
// days are strings; instants strings in UTC to the microsecond (RFC 3339).

// dump writes the rows of a table and returns their number.
func dump(ctx context.Context, db conn, dialect migrations.Dialect, t *table, employer uuid.UUID, w io.Writer) (n int64, err error) {
	var args []any
	if t.employer() != "" {
		args = append(args, employer.String())
	}
	rows, err := db.QueryContext(ctx, t.selection(dialect), args...)
	if err != nil {
		return 0, fmt.Errorf("read %s: %w", t.name, err)
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	cells := make([]any, len(t.columns))
	for i, c := range t.columns {
		cells[i] = newCell(c.kind)
	}
	var line bytes.Buffer
	for rows.Next() {
		if err := rows.Scan(cells...); err != nil {
			return n, fmt.Errorf("read %s: %w", t.name, err)
		}
		line.Reset()
		if err := writeLine(&line, t.columns, cells); err != nil {
			return n, err
		}
		if _, err := w.Write(line.Bytes()); err != nil {
			return n, err
		}
		n++
	}
	return n, rows.Err()
}

func newCell(k kind) any {
	switch k {
	case number:
		return new(sql.Null[int64])
	case flag:
		return new(sql.Null[bool])
	case instant:
		return new(sql.Null[time.Time])
	default:
		return new(sql.Null[string])
	}
}

func writeLine(b *bytes.Buffer, columns []column, cells []any) error {
	for i, c := range columns {
		b.WriteByte("{,"[min(i, 1)])
		b.WriteString(strconv.Quote(c.name))
		b.WriteByte(':')
		value, err := json.Marshal(plain(cells[i]))
		if err != nil {
			return err
		}
		b.Write(value)
	}
	b.WriteString("}\n")
	return nil
}

// plain is a cell's value, nil for NULL.
func plain(cell any) any {
	switch c := cell.(type) {
	case *sql.Null[string]:
		if c.Valid {
			return c.V
		}
	case *sql.Null[int64]:
		if c.Valid {
			return c.V
		}
	case *sql.Null[bool]:
		if c.Valid {
			return c.V
		}
	case *sql.Null[time.Time]:
		if c.Valid {
			return c.V.UTC().Truncate(time.Microsecond)
		}
	}
	return nil
}

// readLine reads a row back into values for the database, in the order of the columns. The line has to hold exactly these columns.
func readLine(line []byte, columns []column) ([]any, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(line, &members); err != nil {
		return nil, err
	}
	if len(members) != len(columns) {
		return nil, fmt.Errorf("%d columns where the table has %d", len(members), len(columns))
	}
	values := make([]any, len(columns))
	for i, c := range columns {
		raw, ok := members[c.name]
		if !ok {
			return nil, fmt.Errorf("no column %s", c.name)
		}
		value, err := readCell(raw, c.kind)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.name, err)
		}
		values[i] = value
	}
	return values, nil
}

func readCell(raw json.RawMessage, k kind) (any, error) {
	if string(raw) == "null" {
		return nil, nil
	}
	switch k {
	case number:
		return read[int64](raw)
	case flag:
		return read[bool](raw)
	case instant:
		return read[time.Time](raw)
	default:
		return read[string](raw)
	}
}

func read[T any](raw json.RawMessage) (any, error) {
	var v T
	err := json.Unmarshal(raw, &v)
	return v, err
}
