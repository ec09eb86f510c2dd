// Package reckoning turns a stream of documents into a stream of answers, worker-weeks into statements or safety documents into figures: several
// at once and in order, in memory that does not grow with the input.
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

// maxWeek bounds one document, in bytes, so that memory stays bounded however long a line is.
const maxWeek = 4 << 20

// Stream turns documents into answers.
type Stream struct {
	Answer  func(document []byte) (answer any, faults []payroll.Fault) // may be called by several goroutines at once
	Words   *text.Catalogue
	Refused string // message key of what is said of a document that has faults
	TooLong string // message key of what is said of one that is longer than its term limit
	Indent  bool   // write the answer over several lines; for one document only
}

// Run reads documents from in, one per line or one over several lines, and writes an answer or an error for each to out. Its error is one of
// reading or writing, or [ErrSeveral].
func (r Stream) Run(in io.Reader, out io.Writer) (Outcome, error) {
	weeks := newWeekReader(in)
	if r.Indent {
		return r.runOne(weeks, out)
	}
	return r.runAll(weeks, out)
}

// Weeks turns worker-weeks into statements.
type Weeks struct {
	Books  *rulebook.Library
	Words  *text.Catalogue
	Indent bool // write the statement over several lines; for one document only
}

// Run is [Stream.Run] for worker-weeks.
func (r Weeks) Run(in io.Reader, out io.Writer) (Outcome, error) {
	return Stream{Answer: r.answer, Words: r.Words, Refused: "reckon.refused", TooLong: "reckon.long_line", Indent: r.Indent}.Run(in, out)
}

func (r Weeks) answer(document []byte) (any, []payroll.Fault) {
	var week payroll.Week
	if faults := strictjson.Decode(document, &week); len(faults) > 0 {
		return nil, faults
	}
	statement, faults := payroll.Reckon(r.Books, &week)
	if len(faults) > 0 {
		return nil, faults
	}
	return documents.StatementJSON(statement, r.Words), nil
}

// Outcome counts what became of the documents.
type Outcome struct{ Documents, Refused int }

func (o *Outcome) count(j *job) {
	o.Documents++
	if j.refused {
		o.Refused++
	}
}

// ErrSeveral tells of several documents where one was asked for.
var ErrSeveral = errors.New("several documents")

// runOne answers the only document there is.
func (r Stream) runOne(weeks *weekReader, out io.Writer) (tally Outcome, err error) {
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

// job is one document on its way to its answer. Jobs are used again and again, so memory does not grow with the input.
type job struct {
	week    []byte
	long    error
	answer  bytes.Buffer
	refused bool
	ready   chan struct{}
}

// runAll answers any number of documents, several at once, and writes the answers in their order.
func (r Stream) runAll(weeks *weekReader, out io.Writer) (Outcome, error) {
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

// reckon fills the answer to a document: what comes of it or what is wrong with it.
func (j *job) reckon(r Stream) {
	j.answer.Reset()
	if j.long != nil {
		j.refuse(r, []payroll.Fault{{Key: r.TooLong, Terms: payroll.Terms{"limit": maxWeek}}})
		return
	}
	answer, faults := r.Answer(j.week)
	if len(faults) > 0 {
		j.refuse(r, faults)
		return
	}
	j.refused = false
	j.encode(r, answer)
}

// refusal is what stands in the place of an answer.
type refusal struct {
	Title  string         `json:"title"`
	Errors []refusedField `json:"errors"`
}

// refusedField is one thing to correct.
type refusedField struct {
	Pointer string `json:"pointer"`
	Detail  string `json:"detail"`
}

func (j *job) refuse(r Stream, faults []payroll.Fault) {
	j.refused = true
	fields := make([]refusedField, len(faults))
	for i, f := range faults {
		fields[i] = refusedField{f.Pointer, r.Words.Say(f.Key, f.Terms)}
	}
	j.encode(r, struct {
		Error refusal `json:"error"`
	}{refusal{r.Words.Say(r.Refused, nil), fields}})
}

func (j *job) encode(r Stream, v any) {
	e := json.NewEncoder(&j.answer)
	e.SetEscapeHTML(false)
	if r.Indent {
		e.SetIndent("", "  ")
	}
	if err := e.Encode(v); err != nil {
		panic(err) // plain values always encode
	}
}
