package safety

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// check finds everything in a document that cannot be, by the tags of its type.
func check(document any) []Fault {
	var faults []Fault
	walk(reflect.ValueOf(document).Elem(), "", func(pointer string, f reflect.StructField, v reflect.Value) {
		if tag, ok := f.Tag.Lookup("range"); ok {
			faults = append(faults, checkRange(pointer, tag, v)...)
		}
		if tag, ok := f.Tag.Lookup("oneof"); ok && v.String() != "" && !slices.Contains(strings.Fields(tag), v.String()) {
			faults = append(faults, Fault{pointer, "fault.not_one_of", Terms{"value": v.String(), "allowed": strings.Fields(tag)}})
		}
		if day, ok := v.Interface().(dated.Date); ok && day.IsZero() {
			faults = append(faults, Fault{pointer, "fault.empty", nil})
		}
	})
	return faults
}

var numberType = reflect.TypeFor[quantity.Number]()

// walk visits the fields of a document, those of its objects and of the objects in its lists.
func walk(v reflect.Value, pointer string, visit func(pointer string, f reflect.StructField, v reflect.Value)) {
	for i := range v.NumField() {
		f, field := v.Type().Field(i), v.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		at := pointer + "/" + name
		if f.Anonymous {
			at = pointer
		} else {
			visit(at, f, field)
		}
		descend(field, at, visit)
	}
}

func descend(v reflect.Value, pointer string, visit func(pointer string, f reflect.StructField, v reflect.Value)) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			descend(v.Elem(), pointer, visit)
		}
	case reflect.Slice:
		for i := range v.Len() {
			descend(v.Index(i), pointer+"/"+strconv.Itoa(i), visit)
		}
	case reflect.Struct:
		if strings.HasPrefix(v.Type().PkgPath(), "palmero/safety") && v.Type() != numberType && !hasText(v.Type()) {
			walk(v, pointer, visit)
		}
	}
}

// hasText tells whether a type reads itself, and so is one value rather than an object of several.
func hasText(t reflect.Type) bool {
	_, reads := reflect.PointerTo(t).MethodByName("UnmarshalNull")
	return reads
}

func checkRange(pointer, tag string, v reflect.Value) (faults []Fault) {
	words := strings.Fields(tag)
	low, _ := strconv.ParseInt(words[0], 10, 64)
	high, _ := strconv.ParseInt(words[1], 10, 64)
	check := func(pointer string, n *quantity.Number) {
		from, to := quantity.Of(low), quantity.Of(high)
		if n.Under(from) || n.Over(to) {
			faults = append(faults, Fault{n.Pointer(pointer), "fault.beyond_range", Terms{"value": n.In(pointer, n), "low": from.In(pointer, n), "high": to.In(pointer, n)}})
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
		v = fieldOf(v, name)
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

// fieldOf returns the field of a JSON name; a name that is none is a fault of the rulebook, found by its first test.
func fieldOf(v reflect.Value, name string) reflect.Value {
	index, ok := fieldsOf(v.Type())[name]
	if !ok {
		panic(fmt.Sprintf("a rulebook asks for %q, which no document has", name))
	}
	return v.FieldByIndex(index)
}

// known keeps what fieldsOf found of each type of document: a clearance asks for dozens of facts.
var known sync.Map

// fieldsOf lists where a type has its fields, by JSON name.
func fieldsOf(t reflect.Type) map[string][]int {
	if found, ok := known.Load(t); ok {
		return found.(map[string][]int)
	}
	fields := map[string][]int{}
	for _, f := range reflect.VisibleFields(t) {
		if tag, _, _ := strings.Cut(f.Tag.Get("json"), ","); !f.Anonymous {
			fields[tag] = f.Index
		}
	}
	known.Store(t, fields)
	return fields
}

// optional tells whether a field may be left out.
func optional(f reflect.StructField) bool {
	_, options, _ := strings.Cut(f.Tag.Get("json"), ",")
	return options != ""
}
