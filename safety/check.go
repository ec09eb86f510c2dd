package safety

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"palmero/safety/quantity"
)

// check finds everything in a document that cannot be, then the quantities that it must give and does not: whoever reads JSON strictly finds the latter first.
func check(document any) []Fault {
	var wrong, missing []Fault
	walk(reflect.ValueOf(document).Elem(), make([]byte, 0, 64), func(pointer []byte, f *field, v reflect.Value) {
		switch {
		case f.ranged:
			wrong = append(wrong, f.checkRange(string(pointer), v)...)
		case f.words != nil && v.String() != "" && !slices.Contains(f.words, v.String()):
			wrong = append(wrong, Fault{string(pointer), "fault.not_one_of", Terms{"value": v.String(), "allowed": f.words}})
		case f.day && v.IsZero():
			wrong = append(wrong, Fault{string(pointer), "fault.empty", nil})
		}
		if f.needed && v.IsNil() {
			missing = append(missing, Fault{string(pointer), "fault.needed", nil})
		}
	})
	return append(wrong, missing...)
}

// walk visits the fields of a document, those of its objects and of the objects in its lists. A pointer is the visitor's until it returns.
func walk(v reflect.Value, pointer []byte, visit func(pointer []byte, f *field, v reflect.Value)) {
	for i, f := range fieldsOf(v.Type()) {
		at, value := pointer, v.Field(i)
		if !f.embedded {
			at = append(append(at, '/'), f.name...)
			visit(at, f, value)
		}
		if f.objects {
			descend(value, at, visit)
		}
	}
}

func descend(v reflect.Value, pointer []byte, visit func(pointer []byte, f *field, v reflect.Value)) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			walk(v.Elem(), pointer, visit)
		}
	case reflect.Slice:
		for i := range v.Len() {
			walk(v.Index(i), strconv.AppendInt(append(pointer, '/'), int64(i), 10), visit)
		}
	default:
		walk(v, pointer, visit)
	}
}

// checkRange holds a quantity, or each of a list, to what it can be at all.
func (f *field) checkRange(pointer string, v reflect.Value) (faults []Fault) {
	check := func(pointer string, n *quantity.Number) {
		if n.Under(f.low) || n.Over(f.high) {
			faults = append(faults, Fault{n.Pointer(pointer), "fault.beyond_range", Terms{"value": n.In(pointer, n), "low": f.low.In(pointer, n), "high": f.high.In(pointer, n)}})
		}
	}
	switch n := v.Interface().(type) {
	case *quantity.Number:
		if n != nil {
			check(pointer, n)
		}
	case *int:
		if n != nil {
			check(pointer, new(quantity.Of(int64(*n))))
		}
	case []quantity.Number:
		for i := range n {
			check(n[i].Pointer(pointer), &n[i])
			if last := len(faults) - 1; last >= 0 && faults[last].Pointer == n[i].Pointer(pointer) {
				faults[last].Pointer = fmt.Sprintf("%s/%d", faults[last].Pointer, i)
			}
		}
	default:
		panic(fmt.Sprintf("%s: a %T has no range", pointer, n))
	}
	return faults
}

// given tells whether the document has the fact at a pointer: something that is known, and for a list of weights one at least.
func given(document any, pointer string) bool {
	v := reflect.ValueOf(document)
	for name := range strings.SplitSeq(strings.TrimPrefix(pointer, "/"), "/") {
		for v.Kind() == reflect.Pointer {
			if v.IsNil() {
				return false
			}
			v = v.Elem()
		}
		v = valueOf(v, name)
	}
	switch n := v.Interface().(type) {
	case []quantity.Number:
		return len(n) > 0
	case Restriction:
		return n.Known
	case Outriggers:
		return n.Known
	}
	return !v.IsZero()
}
