// Package checklists holds what is gone through before a climb or a day on the ground, one YAML file per list, in English and Spanish.
//
// An employer may add items of their own to a list; what the list itself asks is never taken away.
package checklists

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"palmero/payroll/dated"
)

//go:embed *.yaml
var files embed.FS

// Words is a sentence in each language, by its code: "en", "es".
type Words map[string]string

// Checklist is a list of items. It is read-only and safe to share.
type Checklist struct {
	Key    string `json:"key"`
	Digest string `json:"digest"` // SHA-256 of the file, by which a filled list says what was asked
	Title  Words  `json:"title"`
	Items  []Item `json:"items"`

	text []byte
}

// Text is the text of the list's file.
func (c *Checklist) Text() []byte { return slices.Clone(c.text) }

// Item is one thing to look at, and what each answer to it means.
type Item struct {
	ID          string         `json:"id"`
	Ask         Words          `json:"ask"`
	About       []string       `json:"about,omitempty"` // the kinds of equipment that it looks at
	OK          Words          `json:"ok"`
	Defect      Words          `json:"defect"`
	MayNotApply bool           `json:"may_not_apply"` // whether "does not apply" is an answer
	Stops       bool           `json:"stops"`         // whether a defect stops the climb
	Note        When           `json:"note"`          // when a note is wanted
	Photo       When           `json:"photo"`         // when a photo is wanted
	Authority   string         `json:"authority"`
	Link        string         `json:"link"`
	Standing    dated.Standing `json:"standing"`
	Required    bool           `json:"required"` // false: the employer's own addition
}

// When says in which case something is wanted of whoever answers.
type When string

// The cases.
const (
	Never    When = "never"
	OnDefect When = "defect"
	Always   When = "always"
)

// Answer is what somebody found of an item.
type Answer string

// The answers.
const (
	OK           Answer = "ok"
	Defect       Answer = "defect"
	DoesNotApply Answer = "does_not_apply"
)

// Load reads the lists that come with the program, by key.
func Load() (map[string]*Checklist, error) {
	all := map[string]*Checklist{}
	var problems []error
	for file, text := range dated.Texts(files) {
		list, err := Parse(file, text)
		problems = append(problems, err)
		all[list.Key] = list
	}
	return all, errors.Join(problems...)
}

// Parse reads one list. The error joins every problem of the file.
func Parse(file string, text []byte) (*Checklist, error) {
	doc := dated.Open(file, text)
	f := doc.Root().Fields([]string{"checklist", "title", "sources", "items"})
	sum := sha256.Sum256(text)
	list := &Checklist{Key: strings.TrimSuffix(file, ".yaml"), Digest: hex.EncodeToString(sum[:]), Title: readWords(f["title"]), text: slices.Clone(text)}
	if key := f["checklist"].Text(); key != "" && key != list.Key {
		f["checklist"].Report("is %q in a file of another name; rename one of the two", key)
	}
	sources := dated.ReadSources(f["sources"])
	seen := map[string]bool{}
	for _, node := range f["items"].Items() {
		item := readItem(node, sources)
		if seen[item.ID] {
			node.Report("has the id %q a second time; rename one of the two", item.ID)
		}
		seen[item.ID] = true
		list.Items = append(list.Items, item)
	}
	sources.CheckUsed()
	return list, doc.Err()
}

func readItem(n dated.Node, sources *dated.Sources) Item {
	f := n.Fields(append([]string{"id", "ask", "ok", "defect", "may_not_apply", "stops", "note", "photo"}, dated.BasisKeys...), "about")
	basis := sources.Basis(f)
	var about []string
	if f.Has("about") {
		for _, kind := range f["about"].Items() {
			about = append(about, kind.Text())
		}
	}
	return Item{
		About: about,
		ID:    f["id"].Text(), Ask: readWords(f["ask"]), OK: readWords(f["ok"]), Defect: readWords(f["defect"]),
		MayNotApply: f["may_not_apply"].Word("yes", "no") == "yes", Stops: f["stops"].Word("yes", "no") == "yes",
		Note: readWhen(f["note"]), Photo: readWhen(f["photo"]),
		Authority: basis.Source.Section, Link: basis.Source.Link, Standing: basis.Standing, Required: true,
	}
}

func readWhen(n dated.Node) When {
	return When(n.Word(string(Never), string(OnDefect), string(Always)))
}

func readWords(n dated.Node) Words {
	words := Words{}
	for lang, node := range n.Fields([]string{"en", "es"}) {
		words[lang] = node.Text()
	}
	return words
}

// With returns the list with an employer's own items after its own. An addition that takes the place of an item, its own or another's, is an
// error, as is one that asks nothing: what the list requires stays as it is.
func (c *Checklist) With(additions []Item) (*Checklist, error) {
	longer := *c
	longer.Items = slices.Clone(c.Items)
	for _, item := range additions {
		taken := slices.ContainsFunc(longer.Items, func(i Item) bool { return i.ID == item.ID })
		switch {
		case item.ID == "" || len(item.Ask) == 0:
			return nil, errors.New("an added item needs an id and something to ask")
		case taken:
			return nil, fmt.Errorf("the list has an item %q already; give the added one an id of its own", item.ID)
		}
		item.Required = false
		longer.Items = append(longer.Items, item)
	}
	return &longer, nil
}

// Outcome is what came of going through a list.
type Outcome struct {
	Passed     bool
	Stopped    []string // items with a defect that stops the climb
	Unanswered []string // items without an answer that counts
}

// Judge tells what a list's answers, by item, come to. An item without an answer, or with one that it does not take, is unanswered, and an
// unanswered item is never a pass.
func (c *Checklist) Judge(answers map[string]Answer) Outcome {
	var o Outcome
	for _, item := range c.Items {
		switch a := answers[item.ID]; {
		case a == Defect && item.Stops:
			o.Stopped = append(o.Stopped, item.ID)
		case a == OK || a == Defect || a == DoesNotApply && item.MayNotApply:
		default:
			o.Unanswered = append(o.Unanswered, item.ID)
		}
	}
	o.Passed = len(o.Stopped)+len(o.Unanswered) == 0
	return o
}

// Keys returns the keys of lists in alphabetical order.
func Keys(lists map[string]*Checklist) []string { return slices.Sorted(maps.Keys(lists)) }
