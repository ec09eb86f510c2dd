package rulebook

import (
	"bytes"
	"encoding/json"
	"fmt"

	"palmero/payroll/dated"
)

// Single is a local book of one value, as a form asks for it.
type Single struct {
	Key, Title, Parent string
	Local              LocalKind
	Parameter          string
	From, Through      dated.Date // zero: open
	Value              []byte     // JSON, which YAML reads as well: a decimal as a string such as "16.90"
	Source             dated.Source
	ReadOn             dated.Date
	Standing           dated.Standing
}

// Text writes the book as its file would have it. What is wrong with it is found by reading it, as with any other file.
func (s Single) Text(books *Library) []byte {
	var b bytes.Buffer
	about, way := s.described(books)
	fmt.Fprintf(&b, "book: %s\ntitle: %s\nparent: %s\nlocal: %s\n", quoted(s.Key), quoted(s.Title), quoted(s.Parent), quoted(string(s.Local)))
	fmt.Fprintf(&b, "sources:\n  source: {title: %s, section: %s, link: %s}\n", quoted(s.Source.Title), quoted(s.Source.Section), quoted(s.Source.Link))
	fmt.Fprintf(&b, "parameters:\n  %s:\n    about: %s\n    way: %s\n    values:\n", quoted(s.Parameter), quoted(about), way)
	fmt.Fprintf(&b, "      - {from: %s, through: %s, value: %s, source: source, read: %s, standing: %s}\n",
		end(s.From), end(s.Through), bytes.TrimSpace(s.Value), s.ReadOn, quoted(string(s.Standing)))
	b.WriteString("authorities: {}\n")
	return b.Bytes()
}

// described is what the parameter is about and which way it protects more, as the nearest forebear has it.
func (s Single) described(books *Library) (about string, way dated.Way) {
	about, way = s.Title, dated.NotComparable
	if k := kindNamed(s.Parameter); k != nil {
		way = k.way
	}
	parent, ok := books.Book(s.Parent)
	if !ok {
		return about, way
	}
	for _, at := range parent.Chain() {
		for _, name := range []string{s.Parameter, s.Parameter + ".large"} {
			if p, ok := at.Parameter(name); ok {
				return p.About, way
			}
		}
	}
	return about, way
}

// quoted writes a text in double quotes, as JSON and YAML both read it.
func quoted(s string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(s); err != nil {
		panic(err) // a text, written to memory
	}
	return string(bytes.TrimSpace(b.Bytes()))
}

// end writes one end of a range.
func end(d dated.Date) string {
	if d.IsZero() {
		return "open"
	}
	return d.String()
}
