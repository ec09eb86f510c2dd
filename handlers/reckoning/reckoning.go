// Package reckoning turns a stream of worker-weeks into a stream of statements, several at once and in order, in memory that does not grow
// with the input.
package reckoning

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"runtime"
	"sync"

	"palmero/handlers/documents"
	"palmero/handlers/strictjson"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// maxWeek bounds one worker-week, in bytes, so that memory stays bounded however long a line is.
const maxWeek = 4 << 20

// Weeks turns worker-weeks into statements.
type Weeks struct {
	Books  *rulebook.Library
	Words  *text.Catalogue
	Indent bool // write the statement over several lines; for one document only
}

// Run reads worker-weeks from in, one per line or one over several lines, and writes a statement or an error for each to out. Its error is one of
// reading or writing, or [ErrSeveral].
func (r Weeks) Run(in io.Reader, out io.Writer) (Outcome, error) {
	weeks := newWeekReader(in)
	if r.Indent {
		return r.runOne(weeks, out)
	}
	return r.runAll(weeks, out)
}

// Outcome counts what became of the weeks.
type Outcome struct{ Weeks, Refused int }

func (o *Outcome) count(j *job) {
	o.Weeks++
	if j.refused {
		o.Refused++
	}
}

// ErrSeveral tells of several documents where one was asked for.
var ErrSeveral = errors.New("several documents")

// runOne reckons the only week there is.
func (r Weeks) runOne(weeks *weekReader, out io.Writer) (tally Outcome, err error) {
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
		return tally, ErrSeveral
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
func (r Weeks) runAll(weeks *weekReader, out io.Writer) (Outcome, error) {
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
func writeAll(out io.Writer, order <-chan *job, free chan<- *job) (Outcome, error) {
	var tally Outcome
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
func (j *job) reckon(r Weeks) {
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
	statement, faults := payroll.Reckon(r.Books, &week)
	if len(faults) > 0 {
		j.refuse(r, faults)
		return
	}
	j.refused = false
	j.encode(r, documents.StatementJSON(statement, r.Words))
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

func (j *job) refuse(r Weeks, faults []payroll.Fault) {
	j.refused = true
	fields := make([]refusedField, len(faults))
	for i, f := range faults {
		fields[i] = refusedField{f.Pointer, r.Words.Say(f.Key, f.Terms)}
	}
	j.encode(r, struct {
		Error refusal `json:"error"`
	}{refusal{r.Words.Say("reckon.refused", nil), fields}})
}

func (j *job) encode(r Weeks, v any) {
	e := json.NewEncoder(&j.answer)
	e.SetEscapeHTML(false)
	if r.Indent {
		e.SetIndent("", "  ")
	}
	if err := e.Encode(v); err != nil {
		panic(err) // plain values always encode
	}
}
