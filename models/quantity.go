package models

import (
	"database/sql/driver"
	"fmt"
	"math"

	"palmero/payroll"
	"palmero/safety/quantity"
)

// Quantity is an exact quantity as a column: whole thousandths of the customary unit that its field is named after. In JSON a field with a "twin" tag takes the metric form too.
type Quantity struct{ quantity.Number }

// QuantityOf wraps a number for the database.
func QuantityOf(n quantity.Number) *Quantity { return &Quantity{n.Round(quantityPlaces)} }

// quantityPlaces is how many decimals are kept.
const quantityPlaces = 3

// Scan reads thousandths.
func (q *Quantity) Scan(v any) error {
	n, ok := v.(int64)
	if !ok {
		return fmt.Errorf("a quantity cannot be read from %T", v)
	}
	q.Number = quantity.Thousandths(n)
	return nil
}

// Value writes thousandths.
func (q Quantity) Value() (driver.Value, error) { return q.thousandths(), nil }

func (q Quantity) thousandths() int64 { return int64(math.Round(q.Times(quantity.Of(1000)).Float())) }

// GormDataType names the column type for gorm.
func (Quantity) GormDataType() string { return "bigint" }

// Known returns a quantity as the engines take it, nil where it is unknown.
func (q *Quantity) Known() *quantity.Number {
	if q == nil {
		return nil
	}
	return &q.Number
}

// Quantity wants a quantity between two whole numbers of its customary unit, where it is known, and keeps it to the thousandth. The fault is told in the unit that the
// quantity was given in.
func (c *Checker) Quantity(pointer string, q *Quantity, low, high int64) {
	if q == nil {
		return
	}
	from, to := quantity.Of(low), quantity.Of(high)
	if n := q.Number; n.Under(from) || n.Over(to) {
		c.Fault(n.Pointer(pointer), "fault.beyond_range", payroll.Terms{"value": n.In(pointer, &n), "low": from.In(pointer, &n), "high": to.In(pointer, &n)})
	}
	q.Number = q.Round(quantityPlaces)
}

// OptionalRange wants low ≤ n ≤ high where n is known.
func (c *Checker) OptionalRange(pointer string, n *int64, low, high int64) {
	if n != nil {
		c.Range(pointer, *n, low, high)
	}
}
