package pages

import (
	"strconv"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// What stands in a field, read as what it should be. An empty field is the zero value; what cannot be read is noted as a fault of the form.

// Day reads a date, as a date field sends it.
func (f *Form) Day(name string) dated.Date {
	return readField(f, name, "input.not_date", dated.ParseDate)
}

// Pieces reads a count.
func (f *Form) Pieces(name string) payroll.Pieces {
	return readField(f, name, "input.not_decimal", payroll.ParsePieces)
}

// Rate reads a rate of money.
func (f *Form) Rate(name string) payroll.Rate {
	return readField(f, name, "input.not_decimal", payroll.ParseRate)
}

// Cents reads an amount of money.
func (f *Form) Cents(name string) payroll.Cents {
	return readField(f, name, "input.not_decimal", payroll.ParseCents)
}

// Whole reads a whole number.
func (f *Form) Whole(name string) int64 {
	return readField(f, name, "input.not_whole", func(s string) (int64, error) { return strconv.ParseInt(s, 10, 64) })
}

// Ref reads a choice among records, by the identifier that is its value.
func (f *Form) Ref(name string) uuid.UUID {
	return readField(f, name, "input.not_understood", uuid.Parse)
}

func readField[T any](f *Form, name, key string, parse func(string) (T, error)) T {
	var none T
	s := f.Value(name)
	if s == "" {
		return none
	}
	value, err := parse(s)
	if err != nil {
		f.fault(name, key, payroll.Terms{"value": s})
		return none
	}
	return value
}
