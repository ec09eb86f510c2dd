package dated

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Document is a YAML file under strict reading. Its nodes note down what is wrong with them and read on, so that
// whoever writes the file sees every problem at once, by [Document.Err].
type Document struct {
	file     string
	root     *yaml.Node
	problems []error
}

// Problem is one thing wrong with a file: where, and what to do about it.
type Problem struct {
	File string
	Line int
	Path string // such as "parameters.toll.values[2].from"
	What string
	Form string // What before its particulars were put in: it names the problem in every language
	With []any  // those particulars
}

func (p *Problem) Error() string {
	if p.Path == "" {
		return fmt.Sprintf("%s:%d: %s", p.File, p.Line, p.What)
	}
	return fmt.Sprintf("%s:%d: %s: %s", p.File, p.Line, p.Path, p.What)
}

// Open parses the text of a file; the name is for its problems.
func Open(file string, text []byte) *Document {
	d := &Document{file: file}
	decoder := yaml.NewDecoder(strings.NewReader(string(text)))
	var whole, more yaml.Node
	if err := decoder.Decode(&whole); err != nil {
		d.report(1, "", "cannot be read as YAML (%v); write one mapping of keys to values", err)
		return d
	}
	d.root = whole.Content[0]
	if err := decoder.Decode(&more); !errors.Is(err, io.EOF) {
		d.report(more.Line, "", "holds a second document; keep one to a file")
	}
	return d
}

// Root returns the node of the whole file, in which nothing is found where the file could not be read.
func (d *Document) Root() Node { return Node{doc: d, node: d.root} }

// Err returns every problem noted so far as one error, nil where there is none.
func (d *Document) Err() error { return errors.Join(d.problems...) }

func (d *Document) report(line int, path, format string, args ...any) {
	d.problems = append(d.problems, &Problem{File: d.file, Line: line, Path: path, What: fmt.Sprintf(format, args...), Form: format, With: args})
}

// Node is one value of a file. Reading it as something it is not notes a problem and yields a zero value.
type Node struct {
	doc  *Document
	node *yaml.Node
	path string
}

// Report notes a problem with the node: what is wrong, and what to do.
func (n Node) Report(format string, args ...any) { n.doc.report(n.node.Line, n.path, format, args...) }

// problems is how many have been noted in the document so far.
func (n Node) problems() int {
	if n.doc == nil {
		return 0
	}
	return len(n.doc.problems)
}

func (n Node) key(name string, node *yaml.Node) Node {
	path := name
	if n.path != "" {
		path = n.path + "." + name
	}
	return Node{doc: n.doc, node: node, path: path}
}

// Entry is a key of a mapping with its value.
type Entry struct {
	Key string
	Node
}

// Entries reads a mapping whose keys are names of the file's own, in the order written.
func (n Node) Entries() []Entry {
	if n.node == nil {
		return nil
	}
	if n.node.Kind != yaml.MappingNode {
		n.Report("must be a mapping of keys to values")
		return nil
	}
	var entries []Entry
	seen := map[string]bool{}
	for i := 0; i+1 < len(n.node.Content); i += 2 {
		key, value := n.node.Content[i], n.node.Content[i+1]
		child := n.key(key.Value, value)
		switch {
		case key.Kind != yaml.ScalarNode || key.Tag != "!!str":
			child.Report("has a key that is no plain word; write a name")
		case seen[key.Value]:
			child.Report("stands here a second time; keep one of the two")
		case value.Kind == yaml.AliasNode:
			child.Report("is an alias; write the value out")
		default:
			seen[key.Value] = true
			entries = append(entries, Entry{key.Value, child})
		}
	}
	return entries
}

// Fields are the values of a mapping by key.
type Fields map[string]Node

// Fields reads a mapping that must have every key of required, may have those of optional, and has no other.
func (n Node) Fields(required []string, optional ...string) Fields {
	fields := Fields{}
	for _, e := range n.Entries() {
		if !slices.Contains(required, e.Key) && !slices.Contains(optional, e.Key) {
			e.Report("is not a key that is known here; use one of %s", strings.Join(append(slices.Clone(required), optional...), ", "))
			continue
		}
		fields[e.Key] = e.Node
	}
	for _, key := range required {
		if _, ok := fields[key]; !ok && n.IsMapping() {
			n.Report("lacks %s; add it", key)
		}
	}
	return fields
}

// Has tells whether the key was given.
func (f Fields) Has(key string) bool { _, ok := f[key]; return ok }

// Items reads a list of at least one item.
func (n Node) Items() []Node {
	if n.node == nil {
		return nil
	}
	if n.node.Kind != yaml.SequenceNode || len(n.node.Content) == 0 {
		n.Report("must be a list of at least one item")
		return nil
	}
	items := make([]Node, len(n.node.Content))
	for i, item := range n.node.Content {
		items[i] = Node{doc: n.doc, node: item, path: n.path + "[" + strconv.Itoa(i) + "]"}
	}
	return items
}

// IsNull tells whether the value is written as null.
func (n Node) IsNull() bool { return n.node != nil && n.node.Tag == "!!null" }

// Is tells whether the value is the plain word.
func (n Node) Is(word string) bool { return n.node != nil && n.node.Value == word }

// IsMapping tells whether the value is a mapping of keys to values.
func (n Node) IsMapping() bool { return n.node != nil && n.node.Kind == yaml.MappingNode }

// scalar returns the raw text of a value, and whether it is a plain one of the tags. A node that is missing from its mapping was
// reported there, and is not given here.
func (n Node) scalar(tags ...string) (text string, given, ok bool) {
	if n.node == nil {
		return "", false, false
	}
	return n.node.Value, true, n.node.Kind == yaml.ScalarNode && slices.Contains(tags, n.node.Tag)
}

// Text reads a string that is not empty.
func (n Node) Text() string {
	s, given, ok := n.scalar("!!str")
	switch {
	case !given:
	case !ok:
		n.Report("must be a text")
		return ""
	case strings.TrimSpace(s) == "":
		n.Report("is empty; write the text")
	}
	return s
}

// Word reads one of the words allowed.
func (n Node) Word(allowed ...string) string {
	s, given, ok := n.scalar("!!str")
	switch {
	case !given:
		return ""
	case !ok:
		n.Report("must be one of %s", strings.Join(allowed, ", "))
		return ""
	case !slices.Contains(allowed, s):
		n.Report("is %q; use one of %s", s, strings.Join(allowed, ", "))
		return ""
	}
	return s
}

// Int reads a whole number of at least low.
func (n Node) Int(low int) int {
	s, given, ok := n.scalar("!!int")
	if !ok {
		if given {
			n.Report("must be a whole number")
		}
		return 0
	}
	i, err := strconv.Atoi(s)
	if err != nil || i < low {
		n.Report("is %s; write a whole number of %d or more, in plain digits", s, low)
		return 0
	}
	return i
}

// Decimal reads a number of zero or more in quotes, with at most so many decimals, and returns it in units of the last place.
// The quotes keep every reader from making a binary fraction of it.
func (n Node) Decimal(places int) int64 {
	s, given, ok := n.scalar("!!str")
	if !ok {
		if given {
			n.Report("must be a decimal number in quotes, such as \"12.50\", with at most %d decimals", places)
		}
		return 0
	}
	whole, fraction, pointed := strings.Cut(s, ".")
	u, err := strconv.ParseUint(whole+fraction+strings.Repeat("0", max(0, places-len(fraction))), 10, 48)
	if err != nil || whole == "" || (pointed && fraction == "") || len(fraction) > places || (len(whole) > 1 && whole[0] == '0') {
		n.Report("is %q; it must be a decimal number in quotes, such as \"12.50\", with at most %d decimals", s, places)
		return 0
	}
	return int64(u)
}

// Date reads an ISO 8601 date.
func (n Node) Date() Date {
	s, given, ok := n.scalar("!!timestamp", "!!str")
	if !ok {
		if given {
			n.Report("must be a date such as 2026-02-16")
		}
		return Date{}
	}
	d, err := ParseDate(s)
	if err != nil {
		n.Report("%q is not a date like 2026-02-16", s)
	}
	return d
}
