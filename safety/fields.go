package safety

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"sync"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// field is what the tags of a document's field say of it.
type field struct {
	name      string // in JSON
	embedded  bool   // its fields are the document's
	needed    bool   // a pointer that may not be left out
	objects   bool   // holds an object or objects of the document
	day       bool
	words     []string // that a text can be
	ranged    bool
	low, high quantity.Number
}

// shapes and names keep what was read of each type of document: a clearance has dozens of facts, and a farm's answers hundreds of clearances.
var shapes, names sync.Map

// fieldsOf are the fields of a type of document, in their order.
func fieldsOf(t reflect.Type) []*field {
	if found, ok := shapes.Load(t); ok {
		return found.([]*field)
	}
	fields := make([]*field, t.NumField())
	for i := range fields {
		fields[i] = readField(t.Field(i))
	}
	shapes.Store(t, fields)
	return fields
}

func readField(f reflect.StructField) *field {
	name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
	read := &field{
		name: name, embedded: f.Anonymous, needed: f.Type.Kind() == reflect.Pointer && options == "",
		objects: isObject(f.Type), day: f.Type == reflect.TypeFor[dated.Date](),
	}
	if tag, ok := f.Tag.Lookup("oneof"); ok {
		read.words = strings.Fields(tag)
	}
	if tag, ok := f.Tag.Lookup("range"); ok {
		low, high, _ := strings.Cut(tag, " ")
		read.ranged, read.low, read.high = true, bound(low), bound(high)
	}
	return read
}

// bound is an end of a range; one that is none is a fault of the program, found by its first test.
func bound(text string) quantity.Number {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		panic(fmt.Sprintf("a range ends at %q", text))
	}
	return quantity.Of(n)
}

// isObject tells whether a type is, points to or lists objects of a document. What reads itself is one value rather than an object of several.
func isObject(t reflect.Type) bool {
	if t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	_, reads := reflect.PointerTo(t).MethodByName("UnmarshalNull")
	return t.Kind() == reflect.Struct && t.PkgPath() == reflect.TypeFor[field]().PkgPath() && !reads
}

// valueOf returns the field of a JSON name; a name that is none is a fault of the rulebook, found by its first test.
func valueOf(v reflect.Value, name string) reflect.Value {
	index, ok := namesOf(v.Type())[name]
	if !ok {
		panic(fmt.Sprintf("a rulebook asks for %q, which no document has", name))
	}
	return v.FieldByIndex(index)
}

// namesOf lists where a type has its fields, by JSON name.
func namesOf(t reflect.Type) map[string][]int {
	if found, ok := names.Load(t); ok {
		return found.(map[string][]int)
	}
	fields := map[string][]int{}
	for _, f := range reflect.VisibleFields(t) {
		if tag, _, _ := strings.Cut(f.Tag.Get("json"), ","); !f.Anonymous {
			fields[tag] = f.Index
		}
	}
	names.Store(t, fields)
	return fields
}
