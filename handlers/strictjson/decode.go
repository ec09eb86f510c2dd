package strictjson

import (
	"bytes"
	"reflect"
	"strconv"
	"strings"
	"sync"

	"github.com/go-json-experiment/json/jsontext"

	"palmero/payroll"
)

// Bounds on what a document may ask of its reader.
const (
	maxFaults = 100 // faults told; one more says that there are others
	maxDepth  = 64  // objects and lists inside one another
	maxName   = 128 // bytes of a name that a pointer repeats
	maxQuoted = 60  // characters of a value that a message repeats
)

// Decode reads the one JSON document in data into the value that into points to, and returns everything wrong with it, in
// the document's order. Where there are faults the value is incomplete and not to be used.
// Broken JSON ends the reading, so it is the last fault told. The message keys are those that begin with "input.".
//
// It panics if into is not a pointer, or points to a type that the package does not read.
func Decode(data []byte, into any) []payroll.Fault {
	target := reflect.ValueOf(into)
	if target.Kind() != reflect.Pointer || target.IsNil() {
		panic("strictjson: Decode needs a pointer to fill")
	}
	d := decoders.Get().(*decoder)
	defer d.release()
	d.begin(data)
	if d.value(planFor(target.Type().Elem()), target.Elem()) {
		d.end()
	}
	return d.faults
}

// decoder is the state of one reading. Its methods that read return false once there is no going on.
type decoder struct {
	tokens  *jsontext.Decoder
	buffer  bytes.Buffer
	data    []byte
	path    []step
	scratch []byte
	faults  []payroll.Fault
}

// step is one step of the path to the value being read: a name or an index.
type step struct {
	name  string
	index int
	named bool
}

var decoders = sync.Pool{New: func() any { return &decoder{tokens: new(jsontext.Decoder)} }}

// duplicates are found here rather than by the tokenizer, which would stop at the first.
var duplicates = jsontext.AllowDuplicateNames(true)

func (d *decoder) begin(data []byte) {
	d.buffer = *bytes.NewBuffer(data)
	d.tokens.Reset(&d.buffer, duplicates)
	d.data, d.path, d.faults = data, d.path[:0], nil
}

func (d *decoder) release() {
	d.buffer, d.data, d.faults = bytes.Buffer{}, nil, nil
	clear(d.path[:cap(d.path)])
	decoders.Put(d)
}

// end refuses whatever follows the document.
func (d *decoder) end() {
	after := d.tokens.InputOffset()
	rest := bytes.TrimLeft(d.data[after:], " \t\r\n")
	if len(rest) > 0 {
		d.fault("input.trailing", d.position(len(d.data)-len(rest)))
	}
}

// value reads the next value by its plan.
func (d *decoder) value(p *plan, v reflect.Value) bool {
	kind := d.tokens.PeekKind()
	if kind == jsontext.KindInvalid {
		return d.broken()
	}
	if kind == jsontext.KindNull && !p.nullable {
		return d.fault("input.null", nil) && d.skip()
	}
	return p.read(d, p, v, kind)
}

// wrongKind tells that a value of another kind was wanted, and passes over it.
func (d *decoder) wrongKind(p *plan, kind jsontext.Kind) bool {
	return d.fault(p.want, payroll.Terms{"found": kindName(kind)}) && d.skip()
}

// skip passes over the next value whatever it is, but not into the depths.
func (d *decoder) skip() bool {
	base := d.tokens.StackDepth()
	for {
		if _, err := d.tokens.ReadToken(); err != nil {
			return d.syntax(err)
		}
		switch depth := d.tokens.StackDepth(); {
		case depth <= base:
			return true
		case depth > maxDepth:
			return d.tooDeep()
		}
	}
}

// open reads the bracket that begins an object or a list.
func (d *decoder) open() bool {
	if _, err := d.tokens.ReadToken(); err != nil {
		return d.syntax(err)
	}
	if d.tokens.StackDepth() > maxDepth {
		return d.tooDeep()
	}
	return true
}

// more tells whether another name or element follows before the closing bracket, which it reads.
func (d *decoder) more(closing jsontext.Kind) (more, ok bool) {
	switch d.tokens.PeekKind() {
	case jsontext.KindInvalid:
		return false, d.broken()
	case closing:
		if _, err := d.tokens.ReadToken(); err != nil {
			return false, d.syntax(err)
		}
		return false, true
	}
	return true, true
}

// text reads a JSON string; the bytes are good until the next read.
func (d *decoder) text() ([]byte, bool) {
	raw, err := d.tokens.ReadValue()
	if err != nil {
		return nil, d.syntax(err)
	}
	if bytes.IndexByte(raw, '\\') < 0 {
		return raw[1 : len(raw)-1], true
	}
	d.scratch, err = jsontext.AppendUnquote(d.scratch[:0], raw)
	if err != nil {
		return nil, d.syntax(err)
	}
	return d.scratch, true
}

// fault notes what is wrong with the value at the current path. It returns false once enough has been told.
func (d *decoder) fault(key string, terms payroll.Terms) bool {
	if len(d.faults) == maxFaults {
		d.faults = append(d.faults, payroll.Fault{Key: "input.more", Terms: payroll.Terms{"limit": maxFaults}})
		return false
	}
	d.faults = append(d.faults, payroll.Fault{Pointer: d.pointer(), Key: key, Terms: terms})
	return true
}

// faultAt is fault for a name within the object at the current path.
func (d *decoder) faultAt(name, key string, terms payroll.Terms) bool {
	d.push(name)
	defer d.pop()
	return d.fault(key, terms)
}

func (d *decoder) push(name string) { d.path = append(d.path, step{name: name, named: true}) }
func (d *decoder) pushIndex(i int)  { d.path = append(d.path, step{index: i}) }
func (d *decoder) pop()             { d.path = d.path[:len(d.path)-1] }

var pointerEscapes = strings.NewReplacer("~", "~0", "/", "~1")

// pointer writes the current path as RFC 6901 has it. A name too long to repeat is left out: the pointer then names the object
// that holds it.
func (d *decoder) pointer() string {
	var b strings.Builder
	for _, s := range d.path {
		if s.named && len(s.name) > maxName {
			break
		}
		b.WriteByte('/')
		if s.named {
			_, _ = pointerEscapes.WriteString(&b, s.name) // a strings.Builder does not fail
		} else {
			b.WriteString(strconv.Itoa(s.index))
		}
	}
	return b.String()
}

// kindName names a kind of JSON value as the "kind." messages do.
func kindName(k jsontext.Kind) string {
	switch k {
	case jsontext.KindNull:
		return "null"
	case jsontext.KindTrue, jsontext.KindFalse:
		return "boolean"
	case jsontext.KindString:
		return "string"
	case jsontext.KindNumber:
		return "number"
	case jsontext.KindBeginObject:
		return "object"
	}
	return "list"
}

// quoted is a value as a message repeats it, cut where it is long.
func quoted(b []byte) string {
	s := string(b)
	n := 0
	for i := range s {
		if n == maxQuoted {
			return s[:i] + "…"
		}
		n++
	}
	return s
}
