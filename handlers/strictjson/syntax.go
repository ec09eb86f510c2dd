package strictjson

import (
	"bytes"
	"errors"
	"io"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"

	"palmero/payroll"
)

// broken tells of JSON that breaks off or is malformed where a value should begin. Always false.
func (d *decoder) broken() bool {
	_, err := d.tokens.ReadToken()
	return d.syntax(err)
}

// syntax tells of JSON that is no JSON, with line and column, and ends the reading. Always false.
func (d *decoder) syntax(err error) bool {
	offset := len(d.data)
	var syntactic *jsontext.SyntacticError
	if errors.As(err, &syntactic) {
		offset = min(int(syntactic.ByteOffset), len(d.data))
	}
	key, invalid := "input.syntax", invalidAt(d.data)
	switch {
	case len(bytes.TrimLeft(d.data, " \t\r\n")) == 0:
		key = "input.empty"
	case bytes.HasPrefix(d.data, []byte("\ufeff")):
		key = "input.byte_order_mark"
	case invalid < len(d.data) && invalid <= offset:
		key, offset = "input.not_utf8", invalid
	case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
		key = "input.truncated"
	}
	d.fault(key, d.position(offset))
	return false
}

// tooDeep tells of objects and lists nested beyond reason, and ends the reading. Always false.
func (d *decoder) tooDeep() bool {
	d.fault("input.too_deep", payroll.Terms{"limit": maxDepth})
	return false
}

// position says where an offset stands, as a person counts: line and column from 1, the column in characters.
func (d *decoder) position(offset int) payroll.Terms {
	before := d.data[:offset]
	line := bytes.Count(before, []byte("\n"))
	column := utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:])
	return payroll.Terms{"line": line + 1, "column": column + 1, "offset": offset}
}

// invalidAt returns the offset of the first byte that is no UTF-8, or the length where all is well.
func invalidAt(data []byte) int {
	for i := 0; i < len(data); {
		r, size := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return len(data)
}
