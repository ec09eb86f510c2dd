package reckoning

import (
	"bufio"
	"bytes"
	"errors"
	"io"

	"github.com/go-json-experiment/json/jsontext"
)

// errLongWeek tells of a week longer than maxWeek. The reader has passed over it, and can go on.
var errLongWeek = errors.New("the week is too long")

// weekReader parts its input into weeks. Where the first line that is not blank holds a whole document, or something
// that no further line could make whole, each line is a week. Where it only begins one, a week ends with the line that closes its last
// bracket.
type weekReader struct {
	in      *bufio.Reader
	line    []byte
	ahead   []byte // a line read ahead, or nil
	aheadIs error  // what was the matter with it
	week    []byte
	started bool
	spread  bool // weeks take several lines
}

func newWeekReader(in io.Reader) *weekReader {
	return &weekReader{in: bufio.NewReaderSize(in, 64<<10)}
}

// next returns the next week, good until the next call; at the end io.EOF.
func (w *weekReader) next() ([]byte, error) {
	line, err := w.nextLine()
	if err != nil {
		return nil, err
	}
	if !w.started {
		w.started = true
		w.week = append(w.week[:0], bytes.TrimPrefix(line, []byte("\ufeff"))...)
		w.spread = breaksOff(w.week) && w.continues()
		line = w.week
	}
	if !w.spread {
		return line, nil
	}
	return w.gather(line)
}

// breaksOff tells whether a line is the beginning of a JSON value, but not the whole of it.
func breaksOff(line []byte) bool {
	d := jsontext.NewDecoder(bytes.NewBuffer(line), jsontext.AllowDuplicateNames(true))
	return errors.Is(d.SkipValue(), io.ErrUnexpectedEOF)
}

// continues tells whether a first line that breaks off goes on in the next, which it reads ahead. It does not where the next line
// is a whole object: then each line is a week, and the first is damaged.
func (w *weekReader) continues() bool {
	second, err := w.nextLine()
	w.ahead, w.aheadIs = bytes.Clone(second), err
	return err == nil && !(second[0] == '{' && jsontext.Value(second).IsValid(jsontext.AllowDuplicateNames(true)))
}

// gather adds lines to the first one until the brackets close.
func (w *weekReader) gather(first []byte) ([]byte, error) {
	var b brackets
	w.week = append(w.week[:0], first...) // where it is w.week already, this changes nothing
	b.read(first)
	for b.depth > 0 {
		line, err := w.nextLine()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		w.week = append(append(w.week, '\n'), line...)
		if len(w.week) > maxWeek {
			return nil, w.passOver(&b, line)
		}
		b.read(line)
	}
	return w.week, nil
}

// passOver reads on to the end of a week that is too long to be kept.
func (w *weekReader) passOver(b *brackets, line []byte) error {
	for b.read(line); b.depth > 0; b.read(line) {
		var err error
		if line, err = w.nextLine(); err == io.EOF {
			break
		} else if err != nil && err != errLongWeek {
			return err
		}
	}
	return errLongWeek
}

// nextLine returns the next line that is not blank, without its end.
func (w *weekReader) nextLine() ([]byte, error) {
	if w.ahead != nil || w.aheadIs != nil {
		line, err := w.ahead, w.aheadIs
		w.ahead, w.aheadIs = nil, nil
		return line, err
	}
	for {
		line, err := w.readLine()
		if line = bytes.TrimRight(line, " \t\r\n"); err != nil || len(bytes.TrimLeft(line, " \t")) > 0 {
			return line, err
		}
	}
}

// readLine reads to the end of a line. Of one beyond maxWeek it keeps nothing.
func (w *weekReader) readLine() ([]byte, error) {
	w.line = w.line[:0]
	long := false
	for {
		part, err := w.in.ReadSlice('\n')
		if long = long || len(w.line)+len(part) > maxWeek; !long {
			w.line = append(w.line, part...)
		}
		switch {
		case err == bufio.ErrBufferFull:
			continue
		case long && (err == nil || err == io.EOF):
			return nil, errLongWeek
		case err == io.EOF && len(w.line) > 0:
			return w.line, nil
		}
		return w.line, err
	}
}

// brackets follows how deep a document is in its brackets, line by line. A text ends with its line, as JSON has it.
type brackets struct{ depth int }

func (b *brackets) read(line []byte) {
	quoted, escaped := false, false
	for _, c := range line {
		switch {
		case escaped:
			escaped = false
		case quoted:
			quoted = c != '"'
			escaped = c == '\\'
		case c == '"':
			quoted = true
		case c == '{' || c == '[':
			b.depth++
		case c == '}' || c == ']':
			b.depth--
		}
	}
}
