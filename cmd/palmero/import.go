package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/intake"
	"palmero/models/intake/imports"
	"palmero/models/intake/spreadsheet"
	"palmero/payroll"
)

const importHelp = `Usage: palmero import FILE --employer NAME --account NAME [MORE] [SETTINGS]

Takes in a spreadsheet, CSV or XLSX: crew sheets, workers, blocks or rates. All of it is stored or, where a problem is found,
nothing. The same file under the same reference is stored once. FILE may be - for standard input.

  --employer NAME        whose it is
  --account NAME         in whose name it is recorded: a payroll clerk's account
  --kind KIND            crew-sheets (default), workers, blocks, piece-rates or hourly-rates
  --reference TEXT       what the file is called, so that it is known again (default its name)
  --dry-run              check everything, store nothing
  --accept good_lines    store the rows without a problem, though others have some
  --on-match ANSWERS     what to do with rows that match what is recorded: add, replace or skip; for single
                         lines by their numbers, as in skip,14=replace
  --new-workers          take in names that are in no book, as workers to be settled
  --language en|es       of the report (default en)

How the file is read. What is said here is remembered for the kind once a file is stored:

  --map FIELD=HEADING    the column that says FIELD, where its heading is none of the usual ones; may be repeated
  --value FIELD:WORD=FOR what a word of the file stands for, as in operation:Pol.=pollination; may be repeated
  --date-order ORDER     mdy, dmy or ymd, for dates that may be read in two ways
  --decimal-mark MARK    . or , for numbers that may be read in two ways
  --sheet NAME           of a workbook (default its first)
  --crew NAME            name or number of the crew, where no column says so
  --garden NAME          name or number of the garden, where neither a column nor the block says so
  --overnight            a clock time before the one that it follows is of the next day

Example:

  palmero import week-8.xlsx --employer tres-pozos --account clerk --dry-run
`

// importing is what was asked for on the command line.
type importing struct {
	imports.Order
	file, employer, account, language string

	mapping imports.Mapping
	mapped  bool // whether the command line says how to read the file
	answers string
}

func runImport(ctx context.Context, args []string, c console) int {
	o, rest, err := parseImport(args)
	r := readSettings("import", byAccount, rest, c.environ)
	if status, ok := r.settle("import", importHelp, byAccount, c); !ok {
		return status
	}
	var report *imports.Report
	if err == nil {
		report, err = o.execute(ctx, r.settings, c)
	}
	if err != nil {
		fmt.Fprintf(c.err, "palmero import: %s\n", o.inWords(err))
		if errors.As(err, new(misused)) {
			fmt.Fprintln(c.err, "\"palmero help import\" tells how.")
			return misuse
		}
		return failed
	}
	o.print(c.out, report)
	if len(report.Problems) > 0 && !report.Stored {
		return failed
	}
	return done
}

// flags are the command's own, in the order of the help page.
func (o *importing) flags() *flag.FlagSet {
	f := flag.NewFlagSet("import", flag.ContinueOnError)
	f.SetOutput(io.Discard)
	f.StringVar(&o.employer, "employer", "", "")
	f.StringVar(&o.account, "account", "", "")
	f.StringVar((*string)(&o.Kind), "kind", string(imports.CrewSheets), "")
	f.StringVar(&o.Reference, "reference", "", "")
	f.BoolVar(&o.DryRun, "dry-run", false, "")
	f.StringVar((*string)(&o.Accept), "accept", string(intake.Whole), "")
	f.StringVar(&o.answers, "on-match", "", "")
	f.BoolVar(&o.NewWorkers, "new-workers", false, "")
	f.StringVar(&o.language, "language", text.English, "")
	f.Func("map", "", o.addColumn)
	f.Func("value", "", o.addValue)
	for name, into := range map[string]*string{
		"date-order": &o.mapping.DateOrder, "decimal-mark": &o.mapping.DecimalMark, "sheet": &o.mapping.Sheet, "crew": &o.mapping.Crew, "garden": &o.mapping.Garden,
	} {
		f.Func(name, "", func(value string) error {
			*into, o.mapped = value, true
			return nil
		})
	}
	f.BoolFunc("overnight", "", func(string) error {
		o.mapping.Overnight, o.mapped = true, true
		return nil
	})
	return f
}

func (o *importing) addColumn(s string) error {
	field, heading, ok := strings.Cut(s, "=")
	if !ok {
		return errors.New("write FIELD=HEADING")
	}
	if o.mapping.Columns == nil {
		o.mapping.Columns = map[string]string{}
	}
	o.mapping.Columns[field], o.mapped = heading, true
	return nil
}

func (o *importing) addValue(s string) error {
	field, words, ok := strings.Cut(s, ":")
	from, to, paired := strings.Cut(words, "=")
	if !ok || !paired {
		return errors.New("write FIELD:WORD=FOR")
	}
	if o.mapping.Values == nil {
		o.mapping.Values = map[string]imports.Words{}
	}
	if o.mapping.Values[field] == nil {
		o.mapping.Values[field] = imports.Words{}
	}
	o.mapping.Values[field][from], o.mapped = to, true
	return nil
}

// parseImport takes the command's own flags and the file's name out of args; the rest are settings.
func parseImport(args []string) (*importing, []string, error) {
	o := &importing{}
	own := o.flags()
	var rest []string
	var errs []error
	for i := 0; i < len(args); i++ {
		name, _, given := strings.Cut(strings.TrimLeft(args[i], "-"), "=")
		f := own.Lookup(name)
		switch {
		case args[i] == "-", !strings.HasPrefix(args[i], "-") && o.file == "":
			o.file = args[i]
		case !strings.HasPrefix(args[i], "-") || f == nil:
			if rest = append(rest, args[i]); strings.HasPrefix(args[i], "-") && !given && i+1 < len(args) && !strings.HasPrefix(args[i+1], "-") {
				i++ // the value of a setting
				rest = append(rest, args[i])
			}
		default:
			these := args[i : i+1]
			if b, isSwitch := f.Value.(interface{ IsBoolFlag() bool }); !given && !(isSwitch && b.IsBoolFlag()) {
				these = args[i:min(i+2, len(args))]
				i++
			}
			if err := own.Parse(these); err != nil {
				errs = append(errs, misused{fmt.Errorf("--%s: %w", name, err)})
			}
		}
	}
	return o, rest, errors.Join(append(errs, o.check())...)
}

func (o *importing) check() error {
	var errs []error
	for _, needed := range [][2]string{{o.file, "name the file"}, {o.employer, "--employer is missing"}, {o.account, "--account is missing"}} {
		if needed[0] == "" {
			errs = append(errs, misused{errors.New(needed[1])})
		}
	}
	var err error
	if o.OnMatch, err = imports.ParseAnswers(o.answers); err != nil {
		errs = append(errs, misused{fmt.Errorf("--on-match: %w", err)})
	}
	if o.Accept != intake.Whole && o.Accept != intake.GoodLines {
		errs = append(errs, misused{fmt.Errorf("--accept: %q is neither whole nor good_lines", o.Accept)})
	}
	if o.Reference == "" && o.file != "-" {
		o.Reference = filepath.Base(o.file)
	}
	if o.mapped {
		o.Mapping = &o.mapping
	}
	return errors.Join(errs...)
}

// execute reads the file, opens the database and takes the file in.
func (o *importing) execute(ctx context.Context, s settings, c console) (report *imports.Report, err error) {
	if o.Data, err = o.read(c.in); err != nil {
		return nil, err
	}
	store, err := models.Open(ctx, s.database, models.Options{})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	account := &accountOrder{store: store, names: []string{o.employer, o.account}}
	scope, clerk, err := account.find(ctx)
	if err != nil {
		return nil, err
	}
	if clerk.Content.Role != models.RoleClerk || clerk.Content.Suspended {
		return nil, fmt.Errorf("the account %s is not a payroll clerk's, or it is suspended", o.account)
	}
	scope.Actor = clerk.ID
	const often = 1_000
	told := 0
	o.Progress = func(rows, total int) {
		if rows >= told+often {
			told = rows
			fmt.Fprintf(c.err, "%d of %d rows\n", rows, total)
		}
	}
	o.ID = models.NewID()
	_, report, _, err = imports.Take(ctx, store, scope, o.Order, imports.Choices{Accept: o.Accept, OnMatch: o.answers, NewWorkers: o.NewWorkers})
	return report, err
}

// read reads the file, no further than what is refused anyway.
func (o *importing) read(in io.Reader) (data []byte, err error) {
	if o.file != "-" {
		f, err := os.Open(o.file)
		if err != nil {
			return nil, err
		}
		defer func() { _ = f.Close() }() // it is only read
		in = f
	}
	return io.ReadAll(io.LimitReader(in, spreadsheet.MaxBytes+1))
}

// inWords tells an error in full: what is wrong with the file, line by line.
func (o *importing) inWords(err error) string {
	var e *models.Error
	if !errors.As(err, &e) {
		return err.Error()
	}
	catalogue := o.catalogue()
	words := catalogue.Say(e.Key, e.Terms)
	for _, f := range e.Faults {
		words += "\n  " + strings.TrimPrefix(f.Pointer+": ", ": ") + catalogue.Say(f.Key, f.Terms)
	}
	return words
}

func (o *importing) catalogue() *text.Catalogue { return text.For(text.Match(o.language)) }

func (o *importing) print(w io.Writer, r *imports.Report) {
	say := o.catalogue().Say
	for _, findings := range [][]imports.Finding{r.Problems, r.Notes} {
		for _, f := range findings {
			at := o.file
			if f.Line > 0 {
				at += ":" + strconv.Itoa(f.Line)
			}
			if f.Column != "" {
				at += ":" + f.Column + " (" + f.Heading + ")"
			}
			fmt.Fprintf(w, "%s: %s\n", at, say(f.Key, f.Terms))
		}
	}
	outcome := "report.import_stored"
	switch {
	case o.DryRun:
		outcome = "report.import_dry"
	case !r.Stored:
		outcome = "report.import_nothing"
	}
	fmt.Fprintln(w, say(outcome, nil))
	fmt.Fprintln(w, say("report.import_counts", payroll.Terms{
		"rows": r.Rows, "recorded": r.Recorded, "repeated": r.Repeated, "skipped": r.Skipped, "refused": r.Refused,
	}))
	for _, part := range imports.Parts {
		if n, ok := r.Parts[part]; ok {
			fmt.Fprintln(w, "  "+say("report.import_part", payroll.Terms{
				"part": say("import.part."+string(part), nil), "recorded": n.Recorded, "repeated": n.Repeated, "corrected": n.Corrected,
			}))
		}
	}
	if r.Pieces > 0 || r.Minutes > 0 {
		fmt.Fprintln(w, "  "+say("report.import_sums", payroll.Terms{"pieces": r.Pieces, "minutes": r.Minutes}))
	}
	if len(r.Notes) > 0 {
		fmt.Fprintln(w, "  "+say("report.import_notes", payroll.Terms{"count": len(r.Notes)}))
	}
}
