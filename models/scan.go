package models

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/schema"
)

// Large sets of rows are read straight into the fields of their types, column by column: what gorm does beside that for every value costs more than the rows themselves.

// Read returns the rows of a query, whose columns are named as the fields of R are. R has a name, and pointers, or types that take a NULL, for what may be NULL.
func Read[R any](tx *Tx, query *gorm.DB) (all []R, err error) {
	fields, err := fieldsOf[R](tx)
	if err != nil {
		return nil, err
	}
	defer tx.timing()()
	rows, err := query.Set(timedKey, true).Rows()
	if err != nil {
		return nil, translate(err)
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	names, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	columns := make([]*schema.Field, len(names))
	for i, name := range names {
		if columns[i] = fields.LookUpField(name); columns[i] == nil {
			return nil, fmt.Errorf("%s has no field for the column %s", fields.Name, name)
		}
	}
	into := make([]any, len(columns))
	for rows.Next() {
		all = append(all, *new(R))
		row := reflect.ValueOf(&all[len(all)-1]).Elem()
		for i, f := range columns {
			into[i] = f.ReflectValueOf(context.Background(), row).Addr().Interface()
		}
		if err := rows.Scan(into...); err != nil {
			return nil, err
		}
	}
	return all, translate(rows.Err())
}

// findRows asks for the rows of a query along with the others of a batch.
func findRows[R any](b *Batch, into *[]R, query string, args ...any) {
	switch {
	case b.whole:
		b.Find(b.DB().Raw(query, args...), into)
	case b.err == nil:
		*into, b.err = Read[R](b.Tx, b.DB().Raw(query, args...))
	}
}

// fieldsOf is what gorm knows of a type: its table and its columns.
func fieldsOf[R any](tx *Tx) (*schema.Schema, error) {
	statement := &gorm.Statement{DB: tx.db}
	err := statement.Parse(new(R))
	return statement.Schema, err
}

// contentColumns lists the columns of a record's identifier and of what it says.
func contentColumns[C any](tx *Tx) (string, error) {
	fields, err := fieldsOf[Recorded[C]](tx)
	if err != nil {
		return "", err
	}
	names := []string{"id"}
	for _, f := range fields.Fields {
		if f.BindNames[0] == "Content" {
			names = append(names, f.DBName)
		}
	}
	return strings.Join(names, ", "), nil
}
