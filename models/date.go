package models

import (
	"database/sql/driver"
	"fmt"
	"time"

	"palmero/payroll/dated"
)

// Date is a civil date as a column: a date on PostgreSQL, ISO 8601 text on SQLite. The zero Date is NULL.
type Date struct{ dated.Date }

// Day wraps a civil date for the database.
func Day(d dated.Date) Date { return Date{d} }

// Scan reads either database's form.
func (d *Date) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		*d = Date{}
		return nil
	case time.Time:
		d.Date = dated.DateOf(v)
		return nil
	case string:
		return d.scanText(v)
	case []byte:
		return d.scanText(string(v))
	}
	return fmt.Errorf("a date cannot be read from %T", v)
}

func (d *Date) scanText(s string) error {
	parsed, err := dated.ParseDate(s)
	if err != nil {
		return err
	}
	d.Date = parsed
	return nil
}

// Value writes ISO 8601 text, which both databases take.
func (d Date) Value() (driver.Value, error) {
	if d.IsZero() {
		return nil, nil
	}
	return d.String(), nil
}

// GormDataType names the column type for gorm.
func (Date) GormDataType() string { return "date" }
