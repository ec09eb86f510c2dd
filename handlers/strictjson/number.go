package strictjson

import (
	"reflect"

	"github.com/go-json-experiment/json/jsontext"

	"palmero/payroll"
)

// readNumber hands a JSON number, as it is written, to a type that reads itself from one. It is told the name that its field goes by in the
// document, since that tells the unit; the elements of a list go by the list's.
func readNumber(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	if kind != jsontext.KindNumber {
		return d.wrongKind(p, kind)
	}
	raw, err := d.tokens.ReadValue()
	if err != nil {
		return d.syntax(err)
	}
	number := v.Addr().Interface().(interface {
		UnmarshalNumber(name, number string) error
	})
	if err := number.UnmarshalNumber(d.name(), string(raw)); err != nil {
		return d.fault("input.number_too_fine", payroll.Terms{"value": quoted(raw)})
	}
	return true
}

// name is the innermost name of the current path.
func (d *decoder) name() string {
	for i := len(d.path) - 1; i >= 0; i-- {
		if d.path[i].named {
			return d.path[i].name
		}
	}
	return ""
}

// readBoolean hands true or false to a type that reads itself from one.
func readBoolean(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	if kind != jsontext.KindTrue && kind != jsontext.KindFalse {
		return d.wrongKind(p, kind)
	}
	v.Addr().Interface().(interface{ UnmarshalBool(bool) }).UnmarshalBool(kind == jsontext.KindTrue)
	return d.skip()
}
