package strictjson

import (
	"encoding"
	"errors"
	"reflect"
	"time"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// Types whose text form has messages of its own.
var (
	decimalPlaces = map[reflect.Type]int{
		reflect.TypeFor[payroll.Cents]():  2,
		reflect.TypeFor[payroll.Rate]():   4,
		reflect.TypeFor[payroll.Pieces](): 3,
		reflect.TypeFor[payroll.Share]():  6,
	}
	wantText = map[reflect.Type]string{
		timeType:                      "input.want_time",
		reflect.TypeFor[dated.Date](): "input.want_date",
		reflect.TypeFor[uuid.UUID]():  "input.want_uuid",
	}
)

// uuidLength is that of the canonical form, the only one taken of those that the library reads.
const uuidLength = 36

// fillText plans a type that reads itself from text.
func fillText(p *plan, t reflect.Type) {
	p.read, p.want = readText, "input.want_text"
	p.integer = reflect.PointerTo(t).Implements(integerUnmarshaler)
	if places, ok := decimalPlaces[t]; ok {
		p.want, p.decimals = "input.want_decimal", places
		if p.integer {
			p.want = "input.want_count"
		}
	} else if want, ok := wantText[underneath(t)]; ok {
		p.want = want
	}
}

// underneath is the type that a struct of nothing but an embedded one takes its text form from, such as a date made fit for a database.
func underneath(t reflect.Type) reflect.Type {
	if t != timeType && t.Kind() == reflect.Struct && t.NumField() == 1 && t.Field(0).Anonymous {
		return t.Field(0).Type
	}
	return t
}

func readText(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	if kind == jsontext.KindNumber && p.integer {
		return readInteger(d, p, v)
	}
	if kind != jsontext.KindString {
		return d.wrongKind(p, kind)
	}
	text, ok := d.text()
	if !ok {
		return false
	}
	if p.want == "input.want_uuid" && len(text) != uuidLength {
		return d.misread(p, text, nil)
	}
	if err := v.Addr().Interface().(encoding.TextUnmarshaler).UnmarshalText(text); err != nil {
		return d.misread(p, text, err)
	}
	return true
}

func readInteger(d *decoder, p *plan, v reflect.Value) bool {
	n, known, ok := d.integer(p, jsontext.KindNumber)
	if !known {
		return ok
	}
	if err := v.Addr().Interface().(interface{ UnmarshalInteger(int64) error }).UnmarshalInteger(n); err != nil {
		return d.misread(p, nil, err)
	}
	return true
}

// misread tells why a text is not what its type wants.
func (d *decoder) misread(p *plan, text []byte, err error) bool {
	value := payroll.Terms{"value": quoted(text)}
	var parse *time.ParseError
	switch {
	case errors.Is(err, payroll.ErrNotDecimal):
		return d.fault("input.not_decimal", value)
	case errors.Is(err, payroll.ErrDecimals):
		return d.fault("input.decimals", payroll.Terms{"value": quoted(text), "places": p.decimals})
	case errors.Is(err, payroll.ErrOutOfRange):
		return d.fault("input.out_of_range", nil)
	case p.want == "input.want_date":
		return d.fault("input.not_date", value)
	case p.want == "input.want_time" || errors.As(err, &parse):
		return d.fault("input.not_time", value)
	case p.want == "input.want_uuid":
		return d.fault("input.not_uuid", value)
	}
	return d.fault("input.not_understood", value)
}
