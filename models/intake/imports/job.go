package imports

import (
	"cmp"
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake/spreadsheet"
	"palmero/payroll"
)

// job is a file in the course of being taken in.
type job struct {
	tx      *models.Tx
	order   Order
	mapping Mapping
	table   *spreadsheet.Table
	columns map[string]int // by field
	heading []string
	rows    []*row
	known   *known
	report  *Report
	bad     map[int]bool       // lines with problems
	own     map[uuid.UUID]bool // the records that the file's rows make
	broken  bool               // whether a problem is about the file, so that no row can be good
}

// row is one line of the file, read field by field.
type row struct {
	*job
	line  int
	cells spreadsheet.Row
}

// headingRows is within how many rows the headings are looked for, since files begin with titles.
const headingRows = 20

// findColumns finds the row of headings: the one that names the most fields.
func (j *job) findColumns() error {
	at, best := j.headingsAt()
	if len(best) < 2 {
		return fileFault(0, "fault.no_headings", payroll.Terms{"fields": fieldNames(j.order.Kind)})
	}
	j.columns = best
	headings := j.table.Rows[at]
	j.heading = headings.Cells
	if err := j.checkColumns(headings); err != nil {
		return err
	}
	for _, r := range j.table.Rows[at+1:] {
		j.rows = append(j.rows, &row{j, r.Line, r})
	}
	j.report.Rows = len(j.rows)
	return nil
}

// headingsAt is the row of headings, and which column says which field; -1 where no row names any.
func (j *job) headingsAt() (at int, best map[string]int) {
	at = -1
	for i, r := range j.table.Rows[:min(len(j.table.Rows), headingRows)] {
		if found := j.match(r); len(found) > len(best) {
			best, at = found, i
		}
	}
	return at, best
}

// match is which column says which field if a row is the headings.
func (j *job) match(r spreadsheet.Row) map[string]int {
	found := map[string]int{}
	for i, cell := range r.Cells {
		if name := j.fieldOf(cell); name != "" {
			if _, twice := found[name]; !twice {
				found[name] = i
			}
		}
	}
	return found
}

// fieldOf is the field that a heading names: by the employer's own mapping, or as usual.
func (j *job) fieldOf(heading string) string {
	folded := fold(heading)
	if folded == "" {
		return ""
	}
	for _, f := range fields[j.order.Kind] {
		if own, ok := j.mapping.Columns[f.name]; ok && fold(own) == folded {
			return f.name
		}
	}
	for _, f := range fields[j.order.Kind] {
		if _, ok := j.mapping.Columns[f.name]; ok {
			continue
		}
		if folded == strings.ReplaceAll(f.name, "_", " ") || slices.Contains(f.headings, folded) {
			return f.name
		}
	}
	return ""
}

// checkColumns wants every required field and every mapped heading, each once.
func (j *job) checkColumns(headings spreadsheet.Row) error {
	var faults []payroll.Fault
	add := func(key string, terms payroll.Terms) {
		faults = append(faults, payroll.Fault{Pointer: "/" + itoa(headings.Line), Key: key, Terms: terms})
	}
	for i, cell := range headings.Cells {
		name := j.fieldOf(cell)
		if name != "" && j.columns[name] != i {
			add("fault.column_twice", payroll.Terms{"field": name, "columns": []string{spreadsheet.ColumnName(j.columns[name]), spreadsheet.ColumnName(i)}})
			continue
		}
		if cell != "" {
			j.report.Columns = append(j.report.Columns, ColumnUse{spreadsheet.ColumnName(i), cell, name})
		}
	}
	for _, f := range fields[j.order.Kind] {
		_, found := j.columns[f.name]
		if own := j.mapping.Columns[f.name]; own != "" && !found {
			add("fault.column_not_there", payroll.Terms{"field": f.name, "heading": own})
		} else if f.required && !found {
			add("fault.column_needed", payroll.Terms{"field": f.name})
		}
	}
	if (j.order.Kind == CrewSheets) && !j.has("worker") && !j.has("worker_number") && !j.has("worker_name") {
		add("fault.column_needed", payroll.Terms{"field": "worker"})
	}
	if len(faults) > 0 {
		return &models.Error{Kind: models.Invalid, Key: "problem.import_unreadable", Faults: faults}
	}
	return nil
}

func (j *job) has(field string) bool {
	_, ok := j.columns[field]
	return ok
}

// takeIn reads and stores every row, and puts what was found in order.
func (j *job) takeIn() error {
	var err error
	if j.known, err = learn(j.tx); err != nil {
		return err
	}
	if j.order.Kind == CrewSheets {
		err = j.takeSheets()
	} else {
		err = j.takeRecords()
	}
	byPlace := func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(len(a.Column), len(b.Column)), cmp.Compare(a.Column, b.Column))
	}
	slices.SortStableFunc(j.report.Problems, byPlace)
	slices.SortStableFunc(j.report.Notes, byPlace)
	j.report.Refused = len(j.bad)
	return err
}

func (j *job) progress(done int) {
	if j.order.Progress != nil {
		j.order.Progress(done, len(j.rows))
	}
}

// has tells whether a row says something in a field.
func (r *row) has(field string) bool { return r.text(field) != "" }

// text is what a row says in a field, in the records' words.
func (r *row) text(field string) string {
	i, ok := r.columns[field]
	if !ok {
		return ""
	}
	s := r.cells.Cell(i)
	if words := r.mapping.Values[field]; words != nil {
		for from, to := range words {
			if fold(from) == fold(s) {
				return to
			}
		}
	}
	return s
}

func (r *row) finding(field, key string, terms payroll.Terms) Finding {
	f := Finding{Line: r.line, Field: field, Key: key, Terms: terms}
	if i, ok := r.columns[field]; ok {
		f.Column, f.Heading = spreadsheet.ColumnName(i), r.heading[i]
	}
	return f
}

// fault notes a problem that keeps the row out.
func (r *row) fault(field, key string, terms payroll.Terms) {
	r.report.Problems = append(r.report.Problems, r.finding(field, key, terms))
	r.bad[r.line] = true
}

// ask notes a question that keeps the row out until it is answered.
func (r *row) ask(field, key string, terms payroll.Terms) {
	f := r.finding(field, key, terms)
	f.Question = true
	r.report.Problems = append(r.report.Problems, f)
	r.bad[r.line] = true
}

func (r *row) note(field, key string, terms payroll.Terms) {
	r.report.Notes = append(r.report.Notes, r.finding(field, key, terms))
}

// once notes a problem of the whole file, once.
func (j *job) once(key string, terms payroll.Terms) {
	j.broken = true
	if !slices.ContainsFunc(j.report.Problems, func(f Finding) bool { return f.Line == 0 && f.Key == key }) {
		j.report.Problems = append(j.report.Problems, Finding{Key: key, Terms: terms})
	}
}
