package strictjson

import (
	"math/bits"
	"reflect"
	"strconv"

	"github.com/go-json-experiment/json/jsontext"

	"palmero/payroll"
)

func readPointer(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	if kind == jsontext.KindNull {
		v.SetZero()
		return d.skip()
	}
	fresh := reflect.New(v.Type().Elem())
	v.Set(fresh)
	return d.value(p.elem, fresh.Elem())
}

func readList(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	if kind != jsontext.KindBeginArray {
		return d.wrongKind(p, kind)
	}
	if !d.open() {
		return false
	}
	v.Set(reflect.MakeSlice(v.Type(), 0, 0))
	for i := 0; ; i++ {
		more, ok := d.more(jsontext.KindEndArray)
		if !more {
			return ok
		}
		if i == v.Cap() {
			v.Grow(max(4, i))
		}
		v.SetLen(i + 1)
		d.pushIndex(i)
		if !d.value(p.elem, v.Index(i)) {
			return false
		}
		d.pop()
	}
}

func readMap(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	if kind != jsontext.KindBeginObject {
		return d.wrongKind(p, kind)
	}
	if !d.open() {
		return false
	}
	v.Set(reflect.MakeMap(v.Type()))
	for {
		more, ok := d.more(jsontext.KindEndObject)
		if !more {
			return ok
		}
		name, ok := d.text()
		if !ok || !d.entry(p, v, string(name)) {
			return false
		}
	}
}

// entry reads the value of one name of a map.
func (d *decoder) entry(p *plan, v reflect.Value, name string) bool {
	d.push(name)
	defer d.pop()
	key := reflect.ValueOf(name).Convert(v.Type().Key())
	switch {
	case len(name) > maxName:
		return d.fault("input.long_name", payroll.Terms{"limit": maxName}) && d.skip()
	case v.MapIndex(key).IsValid():
		return d.fault("input.duplicate", payroll.Terms{"field": name}) && d.skip()
	}
	elem := reflect.New(v.Type().Elem()).Elem()
	ok := d.value(p.elem, elem)
	v.SetMapIndex(key, elem)
	return ok
}

func readObject(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	if kind != jsontext.KindBeginObject {
		return d.wrongKind(p, kind)
	}
	if !d.open() {
		return false
	}
	var few [4]uint64
	o := object{decoder: d, plan: p, seen: few[:]}
	if len(p.fields) > len(few)*64 {
		o.seen = make([]uint64, len(p.fields)/64+1)
	}
	for {
		more, ok := d.more(jsontext.KindEndObject)
		if !ok {
			return false
		}
		if !more {
			return o.missing()
		}
		if !o.member(v) {
			return false
		}
	}
}

// object is the state of reading one object: which fields have come, or were meant by a name that is not theirs.
type object struct {
	*decoder
	plan    *plan
	seen    []uint64
	count   int
	unknown map[string]bool
}

// mark notes that a field has come, and tells whether it had before.
func (o *object) mark(i int) (again bool) {
	bit := uint64(1) << (i % 64)
	again = o.seen[i/64]&bit != 0
	o.seen[i/64] |= bit
	if !again {
		o.count++
	}
	return again
}

func (o *object) member(v reflect.Value) bool {
	name, ok := o.text()
	if !ok {
		return false
	}
	if i, known := o.plan.byName[string(name)]; known {
		return o.field(v, i, o.plan.fields[i].name)
	}
	if i, known := o.plan.byTwin[string(name)]; known {
		return o.field(v, i, o.plan.fields[i].twin)
	}
	return o.stranger(string(name))
}

// field reads the value of a field, which goes by its own name or by its twin's.
func (o *object) field(v reflect.Value, i int, name string) bool {
	f := &o.plan.fields[i]
	o.push(name)
	defer o.pop()
	if again := o.mark(i); again && f.twin != "" {
		return o.fault("input.twin", payroll.Terms{"field": f.name, "twin": f.twin}) && o.skip()
	} else if again {
		return o.fault("input.duplicate", payroll.Terms{"field": f.name}) && o.skip()
	}
	target := v.FieldByIndex(f.index)
	if f.plan.takesNull && o.tokens.PeekKind() == jsontext.KindNull {
		target.Addr().Interface().(interface{ UnmarshalNull() }).UnmarshalNull()
		return o.skip()
	}
	if f.optional && o.tokens.PeekKind() == jsontext.KindNull {
		target.SetZero()
		return o.skip()
	}
	return o.value(f.plan, target)
}

// stranger refuses a name that the object does not have, with the one that was probably meant.
func (o *object) stranger(name string) bool {
	o.push(name)
	defer o.pop()
	key, terms := "input.unknown", payroll.Terms{"field": quoted([]byte(name))}
	if i, ok := o.plan.byFold[fold(name)]; ok {
		key, terms["meant"] = "input.unknown_meant", o.plan.fields[i].name
		o.mark(i) // one message is enough: the field is not missing as well
	}
	if o.unknown[name] {
		key = "input.duplicate"
		delete(terms, "meant")
	}
	if o.unknown == nil {
		o.unknown = map[string]bool{}
	}
	o.unknown[name] = true
	return o.fault(key, terms) && o.skip()
}

// missing tells of each required field that did not come.
func (o *object) missing() bool {
	if o.count == len(o.plan.fields) {
		return true
	}
	for word, seen := range o.seen[:(len(o.plan.fields)+63)/64] {
		for absent := ^seen; absent != 0; absent &= absent - 1 {
			i := word*64 + bits.TrailingZeros64(absent)
			if i >= len(o.plan.fields) {
				break
			}
			f := &o.plan.fields[i]
			if !f.optional && !o.faultAt(f.name, "input.missing", payroll.Terms{"field": f.name}) {
				return false
			}
		}
	}
	return true
}

func readString(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	if kind != jsontext.KindString {
		return d.wrongKind(p, kind)
	}
	text, ok := d.text()
	if ok {
		v.SetString(string(text))
	}
	return ok
}

func readBool(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	if kind != jsontext.KindTrue && kind != jsontext.KindFalse {
		return d.wrongKind(p, kind)
	}
	v.SetBool(kind == jsontext.KindTrue)
	return d.skip()
}

func readInt(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	n, known, ok := d.integer(p, kind)
	if !known {
		return ok
	}
	if v.OverflowInt(n) {
		return d.fault("input.integer_range", payroll.Terms{"value": strconv.FormatInt(n, 10)})
	}
	v.SetInt(n)
	return true
}

func readUint(d *decoder, p *plan, v reflect.Value, kind jsontext.Kind) bool {
	n, known, ok := d.integer(p, kind)
	if !known {
		return ok
	}
	if n < 0 || v.OverflowUint(uint64(n)) {
		return d.fault("input.integer_range", payroll.Terms{"value": strconv.FormatInt(n, 10)})
	}
	v.SetUint(uint64(n))
	return true
}

// integer reads a JSON number that has to be whole and within 64 bits. Where it is not, that is told and known is false.
func (d *decoder) integer(p *plan, kind jsontext.Kind) (n int64, known, ok bool) {
	if kind != jsontext.KindNumber {
		return 0, false, d.wrongKind(p, kind)
	}
	raw, err := d.tokens.ReadValue()
	if err != nil {
		return 0, false, d.syntax(err)
	}
	for i, c := range raw {
		if (c < '0' || c > '9') && (c != '-' || i > 0) {
			return 0, false, d.fault("input.not_whole", payroll.Terms{"value": quoted(raw)})
		}
	}
	n, err = strconv.ParseInt(string(raw), 10, 64)
	if err != nil {
		return 0, false, d.fault("input.integer_range", payroll.Terms{"value": quoted(raw)})
	}
	return n, true, true
}
