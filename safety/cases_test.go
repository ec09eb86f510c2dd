package safety

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// published is an entry of testdata/safety/cases.yaml.
type published struct {
	ID     string
	Source struct{ Title, Section, URL string }
	Status string
	About  string
	Via    string
	Figure string
	Way    string
	Asks   []struct {
		Document, Change object
		Expect           object
	}
	Numbers map[string]float64
	Every   map[string]float64   // people, and how many are needed for them at the one number
	Product map[string][]float64 // the number times two factors is the third
	Bands   map[string]Band
	Levels  map[string]int
	Within  float64
}

func TestPublishedExamples(t *testing.T) {
	text, err := os.ReadFile("../testdata/safety/cases.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var cases []published
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	if err := d.Decode(&cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) != 47 {
		t.Errorf("%d examples", len(cases))
	}
	for _, c := range cases {
		t.Run(c.ID+" "+c.Source.Title, func(t *testing.T) {
			if c.About == "" || c.Source.Section == "" || c.Source.URL == "" || c.Status == "" {
				t.Error("it does not say what it is, or where it is from")
			}
			c.byNumbers(t)
			switch c.Via {
			case "figure":
				c.byFigure(t)
			case "clearance":
				c.byClearance(t)
			case "band":
				c.byBand(t)
			case "puncture":
				c.byPuncture(t)
			case "numbers":
				if len(c.Numbers) == 0 {
					t.Error("tests nothing")
				}
			case "beyond": // no figure answers it; "about" says why
			default:
				t.Errorf("via %q", c.Via)
			}
		})
	}
}

func (c *published) byFigure(t *testing.T) {
	for _, a := range c.Asks {
		answer, faults := ask(t, c.Figure, a.Document)
		if len(faults) > 0 {
			t.Fatalf("%v: %v", a.Document, faults)
		}
		c.expect(t, a.Expect, answer)
	}
}

func (c *published) byClearance(t *testing.T) {
	for _, a := range c.Asks {
		doc := passing(c.Way)
		var names []string
		for pointer := range a.Change {
			names = append(names, pointer)
		}
		slices.Sort(names) // what holds others comes before them
		for _, pointer := range names {
			set(doc, pointer, a.Change[pointer])
		}
		c.expect(t, a.Expect, clear(t, doc))
	}
}

// expect compares what an answer says: fields by name, parts by theirs, the only code among its reasons, and a note by a word of its terms.
func (c *published) expect(t *testing.T, want object, answer Answer) {
	t.Helper()
	answer.Speak(func(key string, terms Terms) string { return fmt.Sprint(key, terms) })
	got := asMap(t, answer)
	within := c.Within
	if w, ok := want["within"]; ok {
		within = w.(float64)
	}
	for name, value := range want {
		switch name {
		case "within":
		case "code":
			c.expectCode(t, value.(string), got)
		case "note":
			if !strings.Contains(fmt.Sprint(got["notes"]), value.(string)) {
				t.Errorf("no note says %s: %v", value, got["notes"])
			}
		case "part":
			for part, value := range value.(object) {
				c.expectPart(t, part, number(value), got["parts"].([]any))
			}
		default:
			if !same(value, got[name], within) {
				t.Errorf("%s is %v, want %v", name, got[name], value)
			}
		}
	}
}

func same(want, got any, within float64) bool {
	if number(want) != number(want) || number(got) != number(got) { // not both numbers
		return want == got
	}
	return math.Abs(number(want)-number(got)) <= within+1e-9
}

// number is a JSON or YAML number, and NaN for anything else.
func number(v any) float64 {
	switch n := v.(type) {
	case int:
		return float64(n)
	case float64:
		return n
	}
	return math.NaN()
}

func (c *published) expectCode(t *testing.T, code string, got object) {
	t.Helper()
	for _, r := range got["reasons"].([]any) {
		if reason := r.(object); reason["code"] == code {
			return
		} else if reason["code"] != "fact_missing" {
			t.Errorf("it is held against %v", reason)
		}
	}
	t.Errorf("%s is not among %v", code, got["reasons"])
}

func (c *published) expectPart(t *testing.T, name string, want float64, parts []any) {
	t.Helper()
	for _, p := range parts {
		if p.(object)["name"] == name {
			if !same(want, p.(object)["value"], c.Within) {
				t.Errorf("%s is %v, want %v", name, p, want)
			}
			return
		}
	}
	t.Errorf("there is no part %s in %v", name, parts)
}

func (c *published) byNumbers(t *testing.T) {
	for name, want := range c.Numbers {
		value := c.value(t, name)
		if math.Abs(value-want) > c.Within {
			t.Errorf("%s is %v, want %v", name, value, want)
		}
		for people, needed := range c.Every {
			n, err := strconv.ParseFloat(people, 64)
			if err != nil || math.Ceil(n/value) != needed {
				t.Errorf("%s people need %v, want %v", people, math.Ceil(n/value), needed)
			}
		}
	}
	for name, f := range c.Product {
		if got := c.value(t, name) * f[0] * f[1]; math.Abs(got-f[2]) > c.Within+1e-9 {
			t.Errorf("%s comes to %v, want %v", name, got, f[2])
		}
	}
}

func (c *published) value(t *testing.T, name string) float64 {
	t.Helper()
	book, _ := books().Book("us-ca")
	v, err := book.Number(rulebook.Number(name), dated.MustDate("2026-07-14"))
	if err != nil {
		t.Fatal(err)
	}
	return v.Value.Float()
}

func (c *published) byBand(t *testing.T) {
	s, _ := begin(books(), Head{"us-ca", dated.MustDate("2026-07-14")})
	for index, want := range c.Bands {
		n, err := quantity.Parse(index)
		if err != nil {
			t.Fatal(err)
		}
		if got := s.band(n); got != want {
			t.Errorf("%s is %s, want %s", index, got, want)
		}
	}
}

func (c *published) byPuncture(t *testing.T) {
	book, _ := books().Book("us-ca")
	levels, err := book.PunctureLevels(dated.MustDate("2026-07-14"))
	if err != nil {
		t.Fatal(err)
	}
	for newtons, want := range c.Levels {
		n, err := quantity.Parse(newtons)
		if err != nil {
			t.Fatal(err)
		}
		level := 0
		for level < len(levels.Value) && !n.Under(levels.Value[level]) {
			level++
		}
		if level != want {
			t.Errorf("%s N is level %d, want %d", newtons, level, want)
		}
	}
}

// The examples are plain JSON inside YAML, so that a reader can hand them to the command line.
func TestDocumentsOfTheExamplesAreJSON(t *testing.T) {
	text, err := os.ReadFile("../testdata/safety/cases.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		if ask, ok := strings.CutPrefix(line, "    - "); ok && !json.Valid([]byte(ask)) {
			t.Errorf("%s is no JSON", ask)
		}
	}
}
