package handlers

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"

	"palmero/handlers/look"
)

// The description as a page to read: rendered once, without a script.

//go:embed openapi_page.html
var pageSource string

//go:embed openapi_page.css
var ownPageStyle string

var pageStyle = look.Palette + ownPageStyle

func docs(*request) (*reply, error) {
	r := document("text/html; charset=utf-8", docsPage())
	sum := sha256.Sum256([]byte(pageStyle))
	policy := "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
	r.header = http.Header{"Content-Security-Policy": {policy}}
	return r, nil
}

var docsPage = sync.OnceValue(func() []byte {
	page, err := readPage()
	if err != nil {
		panic(fmt.Sprintf("openapi.yaml: %v", err))
	}
	t := template.Must(template.New("docs").Parse(pageSource))
	var b bytes.Buffer
	if err := t.Execute(&b, page); err != nil {
		panic(fmt.Sprintf("openapi_page.html: %v", err))
	}
	return b.Bytes()
})

// docPage is what the template sees of the description.
type docPage struct {
	Title, Summary string
	Intro          []template.HTML
	Tags           []docTag
	Schemas        []docSchema
	Style          template.CSS
}

type docTag struct {
	Name, Anchor, Text string
	Operations         []docOperation
}

type docOperation struct {
	Method, Path, Anchor, Summary string
	Text                          template.HTML
	Roles                         []string
	Open                          bool
	Parameters                    []docParameter
	Takes                         string // name of a schema
	Answers                       []docAnswer
}

type docParameter struct {
	Name, In string
	Text     template.HTML
}

type docAnswer struct {
	Status string
	Text   template.HTML
	Gives  string // name of a schema
	Media  []string
}

type docSchema struct {
	Name   string
	Text   template.HTML
	Fields []docField
	Plain  string // what it is, where it has no fields
}

type docField struct {
	Name, Type, Ref string
	Optional        bool
	Text            template.HTML
}

// node is a mapping of the file with its order kept.
type node struct{ *yaml.Node }

func (n node) get(path ...string) node {
	for _, name := range path {
		if n.Node == nil || n.Kind != yaml.MappingNode {
			return node{}
		}
		found := node{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			if n.Content[i].Value == name {
				found = node{n.Content[i+1]}
			}
		}
		n = found
	}
	return n
}

func (n node) text() string {
	if n.Node == nil {
		return ""
	}
	return n.Value
}

// each goes through a mapping in the file's order.
func (n node) each(fn func(name string, value node)) {
	if n.Node == nil || n.Kind != yaml.MappingNode {
		return
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		fn(n.Content[i].Value, node{n.Content[i+1]})
	}
}

func (n node) items() []node {
	if n.Node == nil || n.Kind != yaml.SequenceNode {
		return nil
	}
	all := make([]node, len(n.Content))
	for i, c := range n.Content {
		all[i] = node{c}
	}
	return all
}

func (n node) words() []string {
	var all []string
	for _, item := range n.items() {
		all = append(all, item.text())
	}
	return all
}

// refName is the last step of a reference.
func (n node) refName() string {
	ref := n.get("$ref").text()
	return ref[strings.LastIndexByte(ref, '/')+1:]
}

func readPage() (*docPage, error) {
	var root yaml.Node
	if err := yaml.Unmarshal(openAPI, &root); err != nil {
		return nil, err
	}
	d := node{root.Content[0]}
	page := &docPage{
		Title: d.get("info", "title").text(), Summary: d.get("info", "summary").text(), Style: template.CSS(pageStyle),
		Intro: paragraphs(d.get("info", "description").text()),
	}
	for _, tag := range d.get("tags").items() {
		name := tag.get("name").text()
		page.Tags = append(page.Tags, docTag{Name: name, Anchor: anchor(name), Text: tag.get("description").text()})
	}
	d.get("paths").each(func(path string, item node) {
		item.each(func(method string, op node) {
			if method != "parameters" {
				page.add(d, path, method, item, op)
			}
		})
	})
	d.get("components", "schemas").each(func(name string, schema node) {
		page.Schemas = append(page.Schemas, readSchema(name, schema))
	})
	return page, nil
}

func (p *docPage) add(d node, path, method string, item, op node) {
	o := docOperation{
		Method: strings.ToUpper(method), Path: path, Anchor: op.get("operationId").text(), Summary: op.get("summary").text(),
		Text: inline(op.get("description").text()), Roles: op.get("x-roles").words(), Open: op.get("security").Node != nil,
		Takes: op.get("requestBody", "content", "application/json", "schema").refName(),
	}
	for _, ref := range append(item.get("parameters").items(), op.get("parameters").items()...) {
		q := d.get("components", "parameters", ref.refName())
		o.Parameters = append(o.Parameters, docParameter{q.get("name").text(), q.get("in").text(), inline(q.get("description").text())})
	}
	op.get("responses").each(func(status string, r node) {
		if name := r.refName(); name != "" {
			r = d.get("components", "responses", name)
		}
		a := docAnswer{Status: status, Text: inline(r.get("description").text())}
		r.get("content").each(func(media string, content node) {
			a.Media = append(a.Media, media)
			if name := content.get("schema").refName(); name != "" && name != "Problem" {
				a.Gives = name
			}
		})
		o.Answers = append(o.Answers, a)
	})
	tag := op.get("tags").words()[0]
	i := slices.IndexFunc(p.Tags, func(t docTag) bool { return t.Name == tag })
	p.Tags[i].Operations = append(p.Tags[i].Operations, o)
}

func readSchema(name string, schema node) docSchema {
	s := docSchema{Name: name, Text: inline(schema.get("description").text())}
	s.addFields(schema)
	for _, part := range schema.get("allOf").items() {
		if ref := part.refName(); ref != "" {
			s.Fields = append(s.Fields, docField{Name: "…", Type: "all of", Ref: ref})
			continue
		}
		s.addFields(part)
	}
	if len(s.Fields) == 0 {
		s.Plain, _ = typeOf(schema)
	}
	return s
}

func (s *docSchema) addFields(schema node) {
	required := schema.get("required").words()
	schema.get("properties").each(func(name string, property node) {
		f := docField{Name: name, Optional: !slices.Contains(required, name), Text: inline(property.get("description").text())}
		f.Type, f.Ref = typeOf(property)
		s.Fields = append(s.Fields, f)
	})
}

// typeOf says in few words what a schema allows, and which other one it names.
func typeOf(schema node) (words, ref string) {
	if name := schema.refName(); name != "" {
		return "", name
	}
	if all := schema.get("enum").words(); all != nil {
		return strings.Join(all, ", "), ""
	}
	if c := schema.get("const").text(); c != "" {
		return c, ""
	}
	if items := schema.get("items"); items.Node != nil {
		words, ref := typeOf(items)
		return strings.TrimSpace("list of " + words), ref
	}
	alternatives := append(schema.get("oneOf").items(), schema.get("anyOf").items()...)
	if len(alternatives) > 0 {
		var all []string
		for _, a := range alternatives {
			words, name := typeOf(a)
			if name != "" && ref == "" {
				ref = name
				continue
			}
			all = append(all, strings.TrimSpace(words+" "+name))
		}
		return "or " + strings.Join(all, " or "), ref
	}
	if types := schema.get("type").words(); types != nil {
		return strings.Join(types, " or "), ""
	}
	if t := schema.get("type").text(); t != "" {
		return t, ""
	}
	return "anything", ""
}

func anchor(s string) string { return strings.ToLower(strings.ReplaceAll(s, " ", "-")) }

// paragraphs turns the little Markdown of the introduction into HTML: headings, paragraphs, and what inline does.
func paragraphs(s string) []template.HTML {
	var all []template.HTML
	for _, block := range strings.Split(strings.TrimSpace(s), "\n\n") {
		if heading, ok := strings.CutPrefix(block, "## "); ok {
			all = append(all, "<h2>"+inline(heading)+"</h2>")
			continue
		}
		all = append(all, "<p>"+inline(block)+"</p>")
	}
	return all
}

// inline escapes a text and turns `code` and **strong** into their elements.
func inline(s string) template.HTML {
	s = template.HTMLEscapeString(strings.TrimSpace(s))
	return template.HTML(paired(paired(s, "`", "code"), "**", "strong"))
}

func paired(s, mark, element string) string {
	parts := strings.Split(s, mark)
	for i := 1; i+1 < len(parts); i += 2 {
		parts[i] = "<" + element + ">" + parts[i] + "</" + element + ">"
	}
	return strings.Join(parts, "")
}
