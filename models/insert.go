package models

import (
	"fmt"
	"reflect"
	"strings"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"
	"gorm.io/gorm/schema"

	"palmero/migrations"
)

// InsertAll writes rows in set-sized statements: on PostgreSQL one that unfolds an array per column, which costs it far less than a long list of values.
func InsertAll[R any](tx *Tx, rows []R) error {
	if len(rows) == 0 {
		return nil
	}
	if tx.dialect == migrations.Postgres {
		return translate(unfold(tx, rows))
	}
	return translate(tx.DB().CreateInBatches(rows, rowsAtOnce).Error)
}

// rowsAtOnce keeps an INSERT of the widest table below the number of parameters that SQLite takes.
const rowsAtOnce = 500

// unfold inserts rows from an array per column.
func unfold[R any](tx *Tx, rows []R) error {
	db := tx.DB()
	statement := &gorm.Statement{DB: db}
	if err := statement.Parse(&rows[0]); err != nil {
		return err
	}
	var names, arrays []string
	var args []any
	for _, f := range statement.Schema.Fields {
		if f.DBName == "" || !f.Creatable {
			continue
		}
		array, kind, err := columnOfRows(tx, f, rows)
		if err != nil {
			return err
		}
		args = append(args, array)
		names = append(names, f.DBName)
		arrays = append(arrays, fmt.Sprintf("$%d::%s[]", len(args), kind))
	}
	defer tx.timing()()
	query := "INSERT INTO " + statement.Schema.Table + " (" + strings.Join(names, ", ") + ") SELECT * FROM unnest(" + strings.Join(arrays, ", ") + ")"
	_, err := db.Statement.ConnPool.ExecContext(db.Statement.Context, query, args...)
	return err
}

// columnOfRows is one column of all rows as an array, and the type of its elements. The employer is the transaction's, whatever the rows say.
func columnOfRows[R any](tx *Tx, f *schema.Field, rows []R) (any, string, error) {
	if f.Name == "EmployerID" {
		array := make([][16]byte, len(rows))
		for i := range array {
			array[i] = tx.Employer
		}
		return array, "uuid", nil
	}
	kind, err := elementType(f)
	if err != nil {
		return nil, "", err
	}
	switch kind {
	case "uuid":
		return pointers(tx, f, rows, func(v reflect.Value) [16]byte { return v.Interface().(uuid.UUID) }), kind, nil
	case "timestamptz":
		return pointers(tx, f, rows, func(v reflect.Value) time.Time { return v.Interface().(time.Time) }), kind, nil
	case "date":
		return pointers(tx, f, rows, func(v reflect.Value) time.Time { return v.Interface().(Date).Midnight(time.UTC) }), kind, nil
	case "text":
		return pointers(tx, f, rows, func(v reflect.Value) string {
			if d, ok := v.Interface().(Document); ok {
				return string(d)
			}
			return v.String()
		}), kind, nil
	case "bigint":
		return pointers(tx, f, rows, func(v reflect.Value) int64 {
			if q, ok := v.Interface().(Quantity); ok {
				return q.thousandths()
			}
			return v.Int()
		}), kind, nil
	}
	return pointers(tx, f, rows, reflect.Value.Bool), kind, nil
}

// elementType is PostgreSQL's name for what a field holds.
func elementType(f *schema.Field) (string, error) {
	switch f.IndirectFieldType {
	case reflect.TypeFor[uuid.UUID]():
		return "uuid", nil
	case reflect.TypeFor[time.Time]():
		return "timestamptz", nil
	case reflect.TypeFor[Date]():
		return "date", nil
	case reflect.TypeFor[Document]():
		return "text", nil
	case reflect.TypeFor[Quantity]():
		return "bigint", nil
	}
	switch f.IndirectFieldType.Kind() {
	case reflect.String:
		return "text", nil
	case reflect.Int, reflect.Int64:
		return "bigint", nil
	case reflect.Bool:
		return "boolean", nil
	}
	return "", fmt.Errorf("%s.%s holds a %s, which no column takes", f.Schema.Name, f.Name, f.FieldType)
}

// pointers is a field of all rows, nil where it is null.
func pointers[R, T any](tx *Tx, f *schema.Field, rows []R, value func(reflect.Value) T) []*T {
	values := make([]T, len(rows))
	array := make([]*T, len(rows))
	for i := range rows {
		v := f.ReflectValueOf(tx.db.Statement.Context, reflect.ValueOf(&rows[i]).Elem())
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				continue
			}
			v = v.Elem()
		}
		if d, ok := v.Interface().(Date); ok && d.IsZero() {
			continue
		}
		values[i] = value(v)
		array[i] = &values[i]
	}
	return array
}
