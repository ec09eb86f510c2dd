package dated

import (
	"bytes"
	"encoding/json"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Figure is a value as its file writes it, to be shown to people and handed to other programs. At most one of Text,
// Fields and Items is set; where none is, the file says null.
type Figure struct {
	Text   string // a word, a decimal such as "16.90", or a whole number
	Number bool   // Text is a whole number, written without quotes
	Fields []FigureField
	Items  []Figure
}

// FigureField is one key of a figure with what it says, in the order written.
type FigureField struct {
	Key string
	Figure
}

// IsNull tells whether the file says that there is nothing.
func (f Figure) IsNull() bool { return f.Text == "" && f.Fields == nil && f.Items == nil }

// Figure returns the value as the file writes it.
func (n Node) Figure() Figure {
	if n.node == nil {
		return Figure{}
	}
	return figureOf(n.node)
}

func figureOf(node *yaml.Node) Figure {
	switch node.Kind {
	case yaml.MappingNode:
		f := Figure{Fields: make([]FigureField, 0, len(node.Content)/2)}
		for i := 0; i+1 < len(node.Content); i += 2 {
			f.Fields = append(f.Fields, FigureField{node.Content[i].Value, figureOf(node.Content[i+1])})
		}
		return f
	case yaml.SequenceNode:
		f := Figure{Items: make([]Figure, len(node.Content))}
		for i, item := range node.Content {
			f.Items[i] = figureOf(item)
		}
		return f
	}
	if node.Tag == "!!null" {
		return Figure{}
	}
	return Figure{Text: node.Value, Number: node.Tag == "!!int"}
}

// String writes the figure on one line: "16.90", "daily 8, weekly 40, double_daily none".
func (f Figure) String() string {
	return f.Write(func(word string) string { return word })
}

// Write writes the figure on one line, its keys and words as say has them. Items stand apart by semicolons.
func (f Figure) Write(say func(word string) string) string {
	switch {
	case f.IsNull():
		return say("none")
	case f.Fields != nil:
		parts := make([]string, len(f.Fields))
		for i, field := range f.Fields {
			parts[i] = say(field.Key) + " " + field.Write(say)
		}
		return strings.Join(parts, ", ")
	case f.Items != nil:
		parts := make([]string, len(f.Items))
		for i, item := range f.Items {
			parts[i] = item.Write(say)
		}
		return strings.Join(parts, "; ")
	case f.Number:
		return f.Text
	}
	return say(f.Text)
}

// MarshalJSON writes the figure as the file has it: decimals as strings, whole numbers as numbers, keys in their order.
func (f Figure) MarshalJSON() ([]byte, error) {
	switch {
	case f.IsNull():
		return []byte("null"), nil
	case f.Items != nil:
		return json.Marshal(f.Items)
	case f.Number:
		return []byte(f.Text), nil
	case f.Fields == nil:
		return json.Marshal(f.Text)
	}
	var b bytes.Buffer
	b.WriteByte('{')
	for i, field := range f.Fields {
		if i > 0 {
			b.WriteByte(',')
		}
		key, err := json.Marshal(field.Key)
		if err != nil {
			return nil, err
		}
		value, err := field.MarshalJSON()
		if err != nil {
			return nil, err
		}
		b.Write(key)
		b.WriteByte(':')
		b.Write(value)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}
