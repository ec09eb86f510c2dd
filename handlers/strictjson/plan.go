package strictjson

import (
	"encoding"
	"fmt"
	"reflect"
	"strings"
	"sync"
	"time"

	"github.com/go-json-experiment/json/jsontext"
)

// plan is how values of one type are read. Plans are made once per type and shared.
type plan struct {
	read     func(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool
	want     string // message key for a value of another kind
	nullable bool
	elem     *plan // of a pointer, list or map
	decimals int   // of a decimal: how many may be given
	integer  bool  // of a text: a JSON integer will do as well
	fields   []field
	byName   map[string]int
	byTwin   map[string]int // by the other name that a field may go by
	byFold   map[string]int

	takesNull bool // null is a value of the type's own
}

// field is one field of an object.
type field struct {
	name     string
	twin     string // another name for it, by which its value may be read otherwise; "" where it has none
	index    []int
	plan     *plan
	optional bool
}

var plans sync.Map // reflect.Type → *plan, complete ones only

func planFor(t reflect.Type) *plan {
	if p, ok := plans.Load(t); ok {
		return p.(*plan)
	}
	b := builder{}
	p := b.plan(t)
	for made, p := range b {
		plans.LoadOrStore(made, p)
	}
	return p
}

// builder holds the plans being made, so that a type may hold itself.
type builder map[reflect.Type]*plan

var (
	textUnmarshaler   = reflect.TypeFor[encoding.TextUnmarshaler]()
	numberUnmarshaler = reflect.TypeFor[interface {
		UnmarshalNumber(name, number string) error
	}]()
	booleanUnmarshaler = reflect.TypeFor[interface{ UnmarshalBool(bool) }]()
	nullUnmarshaler    = reflect.TypeFor[interface{ UnmarshalNull() }]()
	integerUnmarshaler = reflect.TypeFor[interface{ UnmarshalInteger(int64) error }]()
	timeType           = reflect.TypeFor[time.Time]()
)

func (b builder) plan(t reflect.Type) *plan {
	if p, ok := plans.Load(t); ok {
		return p.(*plan)
	}
	if p, ok := b[t]; ok {
		return p
	}
	p := new(plan)
	b[t] = p
	b.fill(p, t)
	return p
}

func (b builder) fill(p *plan, t reflect.Type) {
	pointer := reflect.PointerTo(t)
	p.takesNull = pointer.Implements(nullUnmarshaler)
	switch {
	case t == timeType || pointer.Implements(textUnmarshaler):
		fillText(p, t)
		return
	case pointer.Implements(numberUnmarshaler):
		p.read, p.want = readNumber, "input.want_number"
		return
	case pointer.Implements(booleanUnmarshaler):
		p.read, p.want = readBoolean, "input.want_boolean"
		return
	}
	switch t.Kind() {
	case reflect.Struct:
		p.read, p.want = readObject, "input.want_object"
		b.fillObject(p, t)
	case reflect.Pointer:
		p.read, p.nullable, p.elem = readPointer, true, b.plan(t.Elem())
	case reflect.Slice:
		p.read, p.want, p.elem = readList, "input.want_list", b.plan(t.Elem())
	case reflect.Map:
		if t.Key().Kind() != reflect.String {
			unsupported(t)
		}
		p.read, p.want, p.elem = readMap, "input.want_object", b.plan(t.Elem())
	case reflect.String:
		p.read, p.want = readString, "input.want_text"
	case reflect.Bool:
		p.read, p.want = readBool, "input.want_boolean"
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		p.read, p.want = readInt, "input.want_integer"
	case reflect.Uint8, reflect.Uint16, reflect.Uint32:
		p.read, p.want = readUint, "input.want_integer"
	default:
		unsupported(t)
	}
}

func unsupported(t reflect.Type) { panic(fmt.Sprintf("strictjson: no reading of %v", t)) }

func (b builder) fillObject(p *plan, t reflect.Type) {
	p.byName, p.byFold, p.byTwin = map[string]int{}, map[string]int{}, map[string]int{}
	b.addFields(p, t, nil)
	for i, f := range p.fields {
		p.byFold[fold(f.name)] = i
	}
}

// addFields adds the fields of t, which is embedded in the object at index. The outermost of a name wins, so a struct's own fields
// come before those of the structs embedded in it.
func (b builder) addFields(p *plan, t reflect.Type, index []int) {
	var embedded []reflect.StructField
	for i := range t.NumField() {
		f := t.Field(i)
		tag, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case tag == "" && (f.Anonymous || options == "inline") && f.Type.Kind() == reflect.Struct && !reflect.PointerTo(f.Type).Implements(textUnmarshaler):
			embedded = append(embedded, f)
			continue
		case f.Anonymous && tag == "" && f.Type.Kind() == reflect.Pointer:
			unsupported(f.Type)
		case tag == "-" || !f.IsExported():
			continue
		case tag == "":
			tag = f.Name
		}
		if _, taken := p.byName[tag]; taken {
			continue
		}
		p.byName[tag] = len(p.fields)
		if twin := f.Tag.Get("twin"); twin != "" {
			p.byTwin[twin] = len(p.fields)
		}
		p.fields = append(p.fields, field{
			name: tag, twin: f.Tag.Get("twin"), index: append(append([]int{}, index...), i), plan: b.plan(f.Type),
			optional: strings.Contains(options, "omitempty") || strings.Contains(options, "omitzero"),
		})
	}
	for _, f := range embedded {
		b.addFields(p, f.Type, append(append([]int{}, index...), f.Index...))
	}
}

// fold brings names that a hurried writer confuses to one form: employerSize, Employer-Size, employer_size.
func fold(name string) string { return strings.ToLower(separators.Replace(name)) }

var separators = strings.NewReplacer("_", "", "-", "", " ", "")
