package pages

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/handlers/failures"
	"palmero/models"
	"palmero/payroll"
)

// Form is what a page's form holds: what was typed, and what is wrong with it.
type Form struct {
	ID      uuid.UUID // of what the form records, made before it is filled in, so that a form sent twice records once
	Version int64     // of the kept record that the form changes; 0: none
	Problem string    // what is wrong in one sentence; "" where nothing is
	Faults  []FieldFault

	fields []string
	values url.Values
	found  []payroll.Fault // by the form itself, where what was typed cannot be read
}

// FieldFault is one thing wrong. Field is "" where it is about none of the form's fields.
type FieldFault struct{ Field, Text string }

// newForm is a form to be filled in, with what stands in it at first.
func newForm(values map[string]string) *Form {
	f := &Form{ID: models.NewID(), values: url.Values{}}
	for name, value := range values {
		f.values.Set(name, value)
	}
	return f
}

// form reads a form that was sent. The fields are those that the page shows: a fault in anything else is told above the form.
func (v *visit) form(fields ...string) (*Form, error) {
	if err := v.gin.Request.ParseForm(); err != nil {
		return nil, notReadable(err)
	}
	f := &Form{fields: fields, values: v.gin.Request.PostForm}
	var err error
	if f.ID, err = uuid.Parse(f.Value("id")); err != nil {
		f.ID = models.NewID()
	}
	if version, err := strconv.ParseInt(f.Value("version"), 10, 64); err == nil {
		f.Version = version
	}
	return f, nil
}

// Value is what stands in a field, without the spaces around it.
func (f *Form) Value(name string) string {
	if f == nil {
		return ""
	}
	return strings.TrimSpace(f.values.Get(name))
}

// Values are all that stands under a name: the boxes that are ticked.
func (f *Form) Values(name string) []string { return f.values[name] }

// Name is a sign-in name, which has no capitals however a phone's keyboard begins a word.
func (f *Form) Name(name string) string { return strings.ToLower(f.Value(name)) }

// Secret is what stands in a field to the letter. It is never shown again.
func (f *Form) Secret(name string) string { return f.values.Get(name) }

// Has tells whether a field was sent at all.
func (f *Form) Has(name string) bool { return f.values.Has(name) }

// Knows counts a field among those that the page shows.
func (f *Form) Knows(name string) { f.fields = append(f.fields, name) }

// Set puts something into a field.
func (f *Form) Set(name, value string) { f.values.Set(name, value) }

// Add ticks one more of the boxes under a name.
func (f *Form) Add(name, value string) { f.values.Add(name, value) }

// Holds tells whether a field has a value, or is one of those ticked under its name.
func (f *Form) Holds(name, value string) bool {
	return f != nil && slices.Contains(f.values[name], value)
}

// Keep puts the version of the record that is changed into the form, unless it came with one.
func (f *Form) Keep(version int64) {
	if f.Version == 0 {
		f.Version = version
	}
}

// Fault is what is wrong with a field; "" where nothing is.
func (f *Form) Fault(field string) string {
	if f == nil {
		return ""
	}
	for _, fault := range f.Faults {
		if fault.Field == field {
			return fault.Text
		}
	}
	return ""
}

// fault notes that a field cannot be read.
func (f *Form) fault(field, key string, terms payroll.Terms) {
	f.found = append(f.found, payroll.Fault{Pointer: "/" + strings.ReplaceAll(field, ".", "/"), Key: key, Terms: terms})
}

// Faulty is an error of what could not be read so far; nil where all could.
func (f *Form) Faulty() error { return models.Faulty(f.found) }

// again shows the page of a form once more, with what is wrong beside its fields and what was typed kept. What a person cannot mend in the form is
// returned, and has a page of its own.
func (v *visit) again(f *Form, err error, show func(*visit, *Form) (*answer, error)) (*answer, error) {
	what := failures.From(err)
	switch what.Status {
	case http.StatusUnprocessableEntity, http.StatusConflict, http.StatusPreconditionFailed, http.StatusTooManyRequests, http.StatusUnauthorized:
	default:
		return nil, err
	}
	v.explain(f, what)
	a, err := show(v, f)
	if err != nil {
		return nil, err
	}
	v.retryAfter(what)
	if a.status = what.Status; a.status == http.StatusUnauthorized { // which would ask for another way of signing in
		a.status = http.StatusUnprocessableEntity
	}
	return a.with(f), nil
}

// explain puts what went wrong into a form.
func (v *visit) explain(f *Form, what *failures.Failure) {
	f.Problem = v.inPageWords(what.Key, what)
	f.Faults = nil
	for _, fault := range what.Faults {
		field := strings.ReplaceAll(strings.TrimPrefix(fault.Pointer, "/"), "/", ".")
		if !slices.Contains(f.fields, field) {
			field = ""
		}
		f.Faults = append(f.Faults, FieldFault{field, v.inPageWords(fault.Key, &failures.Failure{Terms: fault.Terms})})
	}
	if what.Status == http.StatusPreconditionFailed {
		f.Version = 0 // the page says what is kept now, and the next try replaces that
	}
	if what.Key == "problem.id_reused" || what.Key == "problem.id_taken" {
		f.ID = models.NewID()
	}
}

// Input is a field of a form as the templates draw it.
type Input struct {
	Name, Label, Value, Fault         string
	Hint                              string // a sentence below the label
	Type, Autocomplete, Mode, Pattern string
	Rows                              int
	Required                          bool
	Options                           []Option
	Checked                           bool
}

// Option is one choice of a field.
type Option struct {
	Value, Label string
	Chosen       bool
}

// Describes names the elements that describe the field, for assistive technology.
func (i Input) Describes() string {
	var ids []string
	if i.Hint != "" {
		ids = append(ids, i.Name+"-hint")
	}
	if i.Fault != "" {
		ids = append(ids, i.Name+"-fault")
	}
	return strings.Join(ids, " ")
}

// input makes a field of a form: its label, then pairs of an option and its value. Fields of two forms on one page must not share a name, by which the page
// links to them. Options are type, autocomplete, inputmode, pattern, hint (a text), rows,
// required and options.
func input(f *Form, name, label string, options ...any) (Input, error) {
	i := Input{Name: name, Label: label, Value: f.Value(name), Fault: f.Fault(name), Type: "text"}
	for n := 0; n+1 < len(options); n += 2 {
		var ok bool
		switch value := options[n+1]; options[n] {
		case "type":
			i.Type, ok = value.(string)
		case "autocomplete":
			i.Autocomplete, ok = value.(string)
		case "inputmode":
			i.Mode, ok = value.(string)
		case "pattern":
			i.Pattern, ok = value.(string)
		case "hint":
			i.Hint, ok = value.(string)
		case "rows":
			i.Rows, ok = value.(int)
		case "required":
			i.Required, ok = value.(bool)
		case "options":
			i.Options, ok = value.([]Option)
		}
		if !ok {
			return i, fmt.Errorf("the field %s: the option %v cannot be %v", name, options[n], options[n+1])
		}
	}
	if i.Type == "password" {
		i.Value = ""
	}
	i.Checked = i.Type == "checkbox" && i.Value != ""
	for n := range i.Options {
		i.Options[n].Chosen = f.Holds(name, i.Options[n].Value)
	}
	return i, nil
}
