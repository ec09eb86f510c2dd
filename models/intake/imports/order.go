package imports

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/intake/spreadsheet"
	"palmero/payroll"
)

// Order is what is to be done with a file.
type Order struct {
	ID         uuid.UUID // under which others see how far it has come; made by whoever sends it
	Kind       Kind
	Reference  string // what the file is called, so that it is known again
	Data       []byte
	Mapping    *Mapping // nil: the remembered one. One that is given is remembered when the file is stored
	DryRun     bool     // whether everything is done but nothing stored
	Accept     intake.Acceptance
	OnMatch    Answers
	NewWorkers bool                  // whether names that are in no book are taken in as provisional workers
	Progress   func(rows, total int) // told now and then; may be nil

	looked func(l *Layout)                      // told how the file looks; may be nil
	stored func(tx *models.Tx, r *Report) error // done with what is stored, in its transaction; may be nil
}

// Answer is what is to be done with a row that matches what is recorded already.
type Answer string

// The answers: record it as well, in place of what is recorded, or not at all.
const (
	Add     Answer = "add"
	Replace Answer = "replace"
	Skip    Answer = "skip"
)

// Answers are those to rows that match: one for all, and ones for single lines, which win.
type Answers struct {
	All   Answer // "": ask
	Lines map[int]Answer
}

// ParseAnswers reads answers such as "skip" or "replace,14=skip,21=add".
func ParseAnswers(s string) (a Answers, err error) {
	a.Lines = map[int]Answer{}
	if s == "" {
		return a, nil
	}
	for part := range strings.SplitSeq(s, ",") {
		line, word, single := strings.Cut(part, "=")
		n := 0
		if !single {
			word = line
		} else if n, err = strconv.Atoi(line); err != nil || n < 1 {
			return a, fmt.Errorf("%q is no line", line)
		}
		answer := Answer(word)
		switch {
		case answer != Add && answer != Replace && answer != Skip:
			return a, fmt.Errorf("%q is none of add, replace and skip", word)
		case single:
			a.Lines[n] = answer
		default:
			a.All = answer
		}
	}
	return a, nil
}

func (a Answers) to(line int) Answer {
	if answer, ok := a.Lines[line]; ok {
		return answer
	}
	return a.All
}

// Report is what became of a file, or would become of it.
type Report struct {
	Kind      Kind        `json:"kind"`
	Reference string      `json:"reference"`
	Encoding  string      `json:"encoding,omitempty"`
	Separator string      `json:"separator,omitempty"`
	Sheet     string      `json:"sheet,omitempty"`
	Columns   []ColumnUse `json:"columns"`
	Stored    bool        `json:"stored"` // false of a dry run, and where problems keep everything out
	Rows      int         `json:"rows"`
	Recorded  int         `json:"recorded"` // rows that are new
	Repeated  int         `json:"repeated"` // rows that were stored before
	Skipped   int         `json:"skipped"`  // rows left out by an answer
	Refused   int         `json:"refused"`  // rows with problems
	Counts
	Problems []Finding `json:"-"`
	Notes    []Finding `json:"-"`
}

// ColumnUse says what a column was read as.
type ColumnUse struct {
	Column  string `json:"column"`
	Heading string `json:"heading"`
	Field   string `json:"field"` // "" where it is left aside
}

// Finding is something about a line: a problem that keeps it out, a question first of all, or a note.
type Finding struct {
	Line     int    // 0: about the file
	Field    string // what the column says, such as "worker"; "" where it is about the whole line
	Column   string // such as "C"; "" where it is about the whole line
	Heading  string
	Key      string
	Terms    payroll.Terms
	Question bool // whether an answer settles it
}

var errUndo = errors.New("undone")

const longestReference = 100

// Run takes in a file, in one transaction: all of it or, where problems are found, nothing; with GoodLines the rows without one. The error is
// a *models.Error where the order or the file as a whole is wrong. A file whose rows have problems is no error: the report tells them.
//
// The file is unpacked before the transaction begins: on SQLite nobody else writes while it runs. A dry run only tries, which keeps nobody waiting.
func Run(ctx context.Context, store *models.Store, scope models.Scope, o Order) (*Report, error) {
	unpacked, err := unpack(ctx, store, scope, o)
	if err != nil {
		return nil, err
	}
	run := store.In
	if o.DryRun {
		run = store.Try
	}
	var report *Report
	err = run(ctx, scope, func(tx *models.Tx) error {
		j, err := begin(tx, o, unpacked)
		if err != nil {
			return err
		}
		if err := j.takeIn(); err != nil {
			return err
		}
		report = j.report
		if report.Stored = !o.DryRun && (len(report.Problems) == 0 || o.Accept == intake.GoodLines && !j.broken); !report.Stored && !o.DryRun {
			return errUndo
		}
		if report.Stored && o.Mapping != nil {
			if err := j.mapping.remember(tx); err != nil {
				return err
			}
		}
		if report.Stored && o.stored != nil {
			return o.stored(tx, report)
		}
		return nil
	})
	if err != nil && !errors.Is(err, errUndo) {
		return nil, err
	}
	return report, nil
}

// file is a file's rows, or why they cannot be read.
type file struct {
	sheet   string // that was asked for
	table   *spreadsheet.Table
	refusal error
}

// unpack reads the file as its mapping says at this moment.
func unpack(ctx context.Context, store *models.Store, scope models.Scope, o Order) (f file, err error) {
	m := Mapping{}
	if o.Mapping != nil {
		m = *o.Mapping
	} else if err := store.View(ctx, scope, func(tx *models.Tx) error {
		kept, err := MappingOf(tx, o.Kind)
		if err == nil {
			m = kept.Mapping
		}
		return err
	}); err != nil {
		return f, err
	}
	f.sheet = strings.TrimSpace(m.Sheet)
	f.table, f.refusal = spreadsheet.Read(o.Data, f.sheet)
	return f, nil
}

// begin checks the order, and finds the columns of the file.
func begin(tx *models.Tx, o Order, f file) (*job, error) {
	if err := o.check(tx); err != nil {
		return nil, err
	}
	m, err := mappingOf(tx, o)
	if err != nil {
		return nil, err
	}
	if m.Sheet != f.sheet { // another mapping was remembered meanwhile
		f.table, f.refusal = spreadsheet.Read(o.Data, m.Sheet)
	}
	table, err := f.table, f.refusal
	var refusal *spreadsheet.Refusal
	if errors.As(err, &refusal) {
		return nil, fileFault(refusal.Line, refusal.Key, refusal.Terms)
	} else if err != nil {
		return nil, err
	}
	j := &job{tx: tx, order: o, mapping: m, table: table, bad: map[int]bool{}, report: &Report{
		Kind: o.Kind, Reference: o.Reference, Encoding: table.Encoding, Separator: table.Separator, Sheet: table.Sheet,
	}}
	if o.looked != nil {
		o.looked(j.layout())
	}
	return j, j.findColumns()
}

// check trims the order and returns what is wrong with it.
func (o *Order) check(tx *models.Tx) error {
	c := models.NewChecker(tx)
	c.OneOf("/kind", string(o.Kind), KindNames()...)
	c.Text("/reference", &o.Reference, longestReference)
	faults, err := c.Done()
	if err == nil {
		err = models.Faulty(faults)
	}
	return err
}

func mappingOf(tx *models.Tx, o Order) (Mapping, error) {
	if o.Mapping == nil {
		kept, err := MappingOf(tx, o.Kind)
		if err != nil {
			return Mapping{}, err
		}
		return kept.Mapping, nil
	}
	m := *o.Mapping
	m.Kind = o.Kind
	faults, err := m.check(tx)
	if err == nil {
		err = models.Faulty(faults)
	}
	return m, err
}

// fileFault is about a file as a whole, or about the line at which it can be read no further.
func fileFault(line int, key string, terms payroll.Terms) error {
	pointer := ""
	if line > 0 {
		pointer = "/" + strconv.Itoa(line)
	}
	return &models.Error{Kind: models.Invalid, Key: "problem.import_unreadable", Faults: []payroll.Fault{{Pointer: pointer, Key: key, Terms: terms}}}
}

// Pointer is where a finding lies, as /LINE/COLUMN.
func (f Finding) Pointer() string {
	switch {
	case f.Line == 0:
		return ""
	case f.Column == "":
		return "/" + strconv.Itoa(f.Line)
	}
	return "/" + strconv.Itoa(f.Line) + "/" + f.Column
}

// Faults are the problems as faults, for a file that was refused.
func (r *Report) Faults() []payroll.Fault {
	faults := make([]payroll.Fault, len(r.Problems))
	for i, p := range r.Problems {
		faults[i] = payroll.Fault{Pointer: p.Pointer(), Key: p.Key, Terms: p.Terms}
	}
	return faults
}
