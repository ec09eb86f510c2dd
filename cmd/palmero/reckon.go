package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"sync"

	"palmero/handlers/documents"
	"palmero/handlers/strictjson"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

const reckonHelp = `Usage: palmero reckon [--language en|es] [--indent]

Reckons worker-weeks, without a database. It reads them as JSON from standard input: one document, which may take
several lines, or one per line (NDJSON). For each it writes one statement per line, in the same order.

A week that cannot be reckoned gets an error in its place, which points at every field to correct:

  {"error":{"title":"…","errors":[{"pointer":"/days/0/tallies/0/pieces","detail":"…"}]}}

The other weeks are reckoned all the same, and the exit status is then 1. It is 2 if the command itself is wrong.

  --language   the language of reasons, notes and errors: en (the default) or es
  --indent     write the statement over several lines, to be read; for one document only

Example:

  echo '{"rulebook":"us-ca","week_start":"2026-02-15","days":[{"date":"2026-02-16",
    "time":[{"kind":"piece","minutes":450}],
    "tallies":[{"operation":"pollination","unit":"bunch","pieces":160,"rate":"1.15"}]}]}' | palmero reckon --indent

Local labor and safety codes govern; a statement shows its sources and is no legal advice.
`

// maxWeek bounds one worker-week, in bytes, so that memory stays bounded however long a line is.
const maxWeek = 4 << 20

// runReckon reads worker-weeks from in and writes statements to out. It returns the exit status.
func runReckon(args []string, in io.Reader, out, errOut io.Writer) int {
	flags := flag.NewFlagSet("reckon", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	language := flags.String("language", text.English, "")
	indent := flags.Bool("indent", false, "")
	switch err := flags.Parse(args); {
	case errors.Is(err, flag.ErrHelp):
		fmt.Fprint(out, reckonHelp)
		return done
	case err != nil:
		return reckonMisuse(errOut, err.Error())
	case flags.NArg() > 0:
		return reckonMisuse(errOut, fmt.Sprintf("%q is not expected; weeks are read from standard input", flags.Arg(0)))
	case !slices.Contains(text.Languages(), *language):
		return reckonMisuse(errOut, fmt.Sprintf("--language %q is not one of %s", *language, strings.Join(text.Languages(), ", ")))
	}
	books, err := rulebook.Load()
	if err != nil {
		fmt.Fprintf(errOut, "palmero reckon: the rulebooks cannot be read: %v\n", err)
		return failed
	}
	r := reckoner{books: books, words: text.For(*language), indent: *indent}
	return r.run(in, out, errOut)
}

func reckonMisuse(errOut io.Writer, what string) int {
	fmt.Fprintf(errOut, "palmero reckon: %s\nRun \"palmero help reckon\" for its use.\n", what)
	return misuse
}

// reckoner turns worker-weeks into statements.
type reckoner struct {
	books  *rulebook.Library
	words  *text.Catalogue
	indent bool
}

func (r reckoner) run(in io.Reader, out, errOut io.Writer) int {
	// What lives is no more than the weeks in flight, so collecting it less often costs little memory and saves much time.
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	weeks := newWeekReader(in)
	var tally outcome
	var err error
	if r.indent {
		tally, err = r.runOne(weeks, out)
	} else {
		tally, err = r.runAll(weeks, out)
	}
	switch {
	case errors.Is(err, errSeveral):
		return reckonMisuse(errOut, "--indent is for one document, and there are several; leave it out")
	case err != nil:
		fmt.Fprintf(errOut, "palmero reckon: %v\n", err)
		return failed
	case tally.weeks == 0:
		fmt.Fprint(errOut, "palmero reckon: nothing came on standard input; give it at least one worker-week\n")
		return failed
	case tally.refused > 0:
		return failed
	}
	return done
}

// outcome counts what became of the weeks.
type outcome struct{ weeks, refused int }

func (o *outcome) count(j *job) {
	o.weeks++
	if j.refused {
		o.refused++
	}
}

var errSeveral = errors.New("several documents")

// runOne reckons the only week there is.
func (r reckoner) runOne(weeks *weekReader, out io.Writer) (tally outcome, err error) {
	week, err := weeks.next()
	if err == io.EOF {
		return tally, nil
	}
	if err != nil && err != errLongWeek {
		return tally, err
	}
	j := job{week: bytes.Clone(week), long: err}
	switch _, err := weeks.next(); {
	case err == nil || err == errLongWeek:
		return tally, errSeveral
	case err != io.EOF:
		return tally, err
	}
	j.reckon(r)
	tally.count(&j)
	_, err = out.Write(j.answer.Bytes())
	return tally, err
}

// job is one week on its way to its statement. Jobs are used again and again, so memory does not grow with the input.
type job struct {
	week    []byte
	long    error
	answer  bytes.Buffer
	refused bool
	ready   chan struct{}
}

// runAll reckons any number of weeks, several at once, and writes the answers in the order of the weeks.
func (r reckoner) runAll(weeks *weekReader, out io.Writer) (outcome, error) {
	workers := runtime.GOMAXPROCS(0)
	inFlight := 3 * workers
	free := make(chan *job, inFlight)
	for range inFlight {
		free <- &job{ready: make(chan struct{}, 1)}
	}
	todo, order := make(chan *job, inFlight), make(chan *job, inFlight)
	stop := make(chan struct{})

	var running sync.WaitGroup
	for range workers {
		running.Go(func() {
			for j := range todo {
				j.reckon(r)
				j.ready <- struct{}{}
			}
		})
	}
	var readErr error
	running.Go(func() {
		defer close(order)
		defer close(todo)
		readErr = readAll(weeks, free, todo, order, stop)
	})
	tally, err := writeAll(out, order, free)
	if err != nil { // nobody reads on: stop reading too, without waiting for input that may never come
		close(stop)
		return tally, err
	}
	running.Wait()
	return tally, readErr
}

// readAll hands weeks to the workers, and in order to the writer, until there are no more.
func readAll(weeks *weekReader, free <-chan *job, todo, order chan<- *job, stop <-chan struct{}) error {
	for {
		week, err := weeks.next()
		if err == io.EOF {
			return nil
		}
		if err != nil && err != errLongWeek {
			return err
		}
		var j *job
		select {
		case j = <-free:
		case <-stop:
			return nil
		}
		j.week, j.long = append(j.week[:0], week...), err
		order <- j
		todo <- j
	}
}

// writeAll writes the answers as they come due, and holds none back while it waits for the next.
func writeAll(out io.Writer, order <-chan *job, free chan<- *job) (outcome, error) {
	var tally outcome
	w := bufio.NewWriterSize(out, 64<<10)
	for j := range order {
		<-j.ready
		tally.count(j)
		if _, err := w.Write(j.answer.Bytes()); err != nil {
			return tally, err
		}
		free <- j
		if len(order) == 0 {
			if err := w.Flush(); err != nil {
				return tally, err
			}
		}
	}
	return tally, w.Flush()
}

// reckon fills the answer to a week: its statement or what is wrong with it.
func (j *job) reckon(r reckoner) {
	j.answer.Reset()
	if j.long != nil {
		j.refuse(r, []payroll.Fault{{Key: "reckon.long_line", Terms: payroll.Terms{"limit": maxWeek}}})
		return
	}
	var week payroll.Week
	if faults := strictjson.Decode(j.week, &week); len(faults) > 0 {
		j.refuse(r, faults)
		return
	}
	statement, faults := payroll.Reckon(r.books, &week)
	if len(faults) > 0 {
		j.refuse(r, faults)
		return
	}
	j.refused = false
	j.encode(r, documents.StatementJSON(statement, r.words))
}

// refusal is what stands in the place of a statement.
type refusal struct {
	Title  string         `json:"title"`
	Errors []refusedField `json:"errors"`
}

// refusedField is one thing to correct.
type refusedField struct {
	Pointer string `json:"pointer"`
	Detail  string `json:"detail"`
}

func (j *job) refuse(r reckoner, faults []payroll.Fault) {
	j.refused = true
	fields := make([]refusedField, len(faults))
	for i, f := range faults {
		fields[i] = refusedField{f.Pointer, r.words.Say(f.Key, f.Terms)}
	}
	j.encode(r, struct {
		Error refusal `json:"error"`
	}{refusal{r.words.Say("reckon.refused", nil), fields}})
}

func (j *job) encode(r reckoner, v any) {
	e := json.NewEncoder(&j.answer)
	e.SetEscapeHTML(false)
	if r.indent {
		e.SetIndent("", "  ")
	}
	if err := e.Encode(v); err != nil {
		panic(err) // plain values always encode
	}
}
