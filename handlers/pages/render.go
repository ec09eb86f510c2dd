package pages

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/access"
	"palmero/payroll"
	"palmero/payroll/dated"
)

//go:embed templates
var templateFiles embed.FS

// renderer writes pages in one language. The functions of its templates are bound to that language when they are read and never again, so that
// no reader ever gets another's.
type renderer struct{ templates *template.Template }

// readTemplates reads the templates once for each language. The page of a file NAME is the template NAME, and what it is called is the template "NAME title".
func readTemplates(a *assets) (map[string]*renderer, error) {
	all := map[string]*renderer{}
	for _, lang := range text.Languages() {
		read, err := template.New("pages").Funcs(functions(text.ForPages(lang), a)).ParseFS(templateFiles, "templates/*.html")
		if err != nil {
			return nil, err
		}
		all[lang] = &renderer{read}
	}
	return all, nil
}

// page writes a page whole, so that a fault in it never goes out by halves.
func (r *renderer) page(name string, f *frame) ([]byte, error) {
	around := *f
	var err error
	if around.Title, err = r.part(name+" title", f); err != nil {
		return nil, err
	}
	if around.Main, err = r.part(name, f); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = r.templates.ExecuteTemplate(&b, "layout", &around)
	return b.Bytes(), err
}

// part is what one of the templates wrote, which goes into the layout as it is.
func (r *renderer) part(name string, f *frame) (template.HTML, error) {
	var b strings.Builder
	err := r.templates.ExecuteTemplate(&b, name, f)
	return template.HTML(b.String()), err
}

// frame is what every template sees: the page around, and what the handler shows within it as Data.
type frame struct {
	Title    template.HTML // of the page, for the layout alone
	Main     template.HTML // the page itself, for the layout alone
	Language string
	Others   []string // the other languages
	Here     string   // the address of this page, to come back to
	Nav      []navItem
	Caller   *access.Caller // nil where nobody has signed in
	Done     string         // what was just done, as a sentence; "" where nothing was
	Form     *Form
	Data     any
}

type navItem struct {
	Path, Key string
	Current   bool
}

func (v *visit) frame(a *answer) *frame {
	lang := v.language()
	f := &frame{Language: lang, Here: v.here(), Caller: v.caller, Form: a.form, Data: a.data}
	f.Others = slices.DeleteFunc(text.Languages(), func(l string) bool { return l == lang })
	if v.caller != nil {
		for _, p := range navigation(v.caller.Role) {
			f.Nav = append(f.Nav, navItem{p.Path, p.Nav, p.leadsTo(v.page, v.caller.Role)})
		}
	}
	if key := "page.done." + v.gin.Query("done"); v.catalogue().Has(key) && (a.form == nil || a.form.Problem == "") {
		f.Done = v.say(key, nil)
	}
	return f
}

// functions are what templates call, in one language.
func functions(c *text.Catalogue, a *assets) template.FuncMap {
	return template.FuncMap{
		"t":         func(key string, pairs ...any) (string, error) { return saying(c, key, pairs) },
		"value":     func(v any) string { return c.Value(plainValue(v)) },
		"day":       func(d any) string { return c.Day(dateOf(d)) },
		"iso":       func(d any) string { return dateOf(d).String() },
		"hours":     func(m payroll.Minutes) string { return c.Value(m) + " h" },
		"moment":    func(t time.Time, zone *time.Location) string { return c.Moment(t.In(zone)) },
		"feet":      func(cm int64) string { return c.Value(feetOf(cm)) },
		"count":     func(n any, unit string) string { return c.Count(piecesOf(n), unit) },
		"quantity":  c.Quantity,
		"operation": c.Operation,
		"word":      func(family string, word any) string { return c.Word(family, fmt.Sprint(word)) },
		"asset":     a.path,
		"input":     input,
		"option":    func(value, label string) Option { return Option{Value: value, Label: label} },
		"options":   func(all ...Option) []Option { return all },
		"languages": text.Languages,
		"newID":     models.NewID,
		"pair":      func(first, second any) pair { return pair{first, second} },
		"mark":      func(kind, words string) Mark { return Mark{kind, words} },
	}
}

// pair is two things where a template takes one.
type pair struct{ First, Second any }

// Mark is a state with its word: "go" for what is in order, "look" for what wants one, "stop", and "plain". The style sheet gives each a sign and a colour.
type Mark struct{ Kind, Words string }

// saying says a message. A key without words is an error, so that none goes unseen; terms are given as pairs of a name and a value.
func saying(c *text.Catalogue, key string, pairs []any) (string, error) {
	if !c.Has(key) {
		return "", fmt.Errorf("nothing is said under %s", key)
	}
	if len(pairs) == 1 {
		if terms, ok := pairs[0].(payroll.Terms); ok {
			return c.Say(key, terms), nil
		}
	}
	terms := payroll.Terms{}
	for i := 0; i+1 < len(pairs); i += 2 {
		name, ok := pairs[i].(string)
		if !ok {
			return "", fmt.Errorf("%s: the name of a term is %v", key, pairs[i])
		}
		terms[name] = plainValue(pairs[i+1])
	}
	return c.Say(key, terms), nil
}

func (a *assets) path(name string) (string, error) {
	served, ok := a.named[name]
	if !ok {
		return "", fmt.Errorf("there is no asset %s", name)
	}
	return served, nil
}

// plainValue is a value as the catalogues write it: a column's date is a date.
func plainValue(v any) any {
	if d, ok := v.(models.Date); ok {
		return d.Date
	}
	return v
}

func dateOf(v any) dated.Date {
	switch d := v.(type) {
	case models.Date:
		return d.Date
	case dated.Date:
		return d
	}
	return dated.Date{}
}

func piecesOf(v any) payroll.Pieces {
	switch n := v.(type) {
	case payroll.Pieces:
		return n
	case *payroll.Pieces:
		return *n
	}
	return 0
}
