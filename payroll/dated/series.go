package dated

import "fmt"

// Series is one parameter of a book: its values in date order, each following the one before without gap or overlap.
type Series[T any] struct {
	Book   string // key of the book
	Name   string // name of the parameter within the book
	About  string // what the parameter is, in a sentence
	Way    Way
	Values []Value[T]
}

// Value is what a parameter says from one day through another, and where that was read.
type Value[T any] struct {
	From    Date // first day in force; zero: since ever
	Through Date // last day in force; zero: until further notice
	Value   T
	Given   Figure // Value as the file writes it
	Source  Source
	ReadOn  Date // the day on which somebody took the value from the source
	Standing
}

// Source is where a value stands, so that a reader can look it up.
type Source struct {
	Title, Section, Link string
}

// Way says which of two values of a parameter protects the worker more.
type Way string

// The ways: the higher value, the lower, or neither, so that only the book that is named decides.
const (
	Higher        Way = "higher"
	Lower         Way = "lower"
	NotComparable Way = "not_comparable"
)

// Standing says how well a value is known.
type Standing string

// The standings: read at the source itself, on a copy or a report of it, worked out from other values of the source, or
// written down from memory.
const (
	Read      Standing = "read"
	Secondary Standing = "secondary"
	Computed  Standing = "computed"
	Memory    Standing = "memory"
)

// NoValueError tells that a parameter has no value for a day.
type NoValueError struct {
	Book, Parameter string
	Date            Date
}

func (e *NoValueError) Error() string {
	return fmt.Sprintf("book %s has no value of %s for %s", e.Book, e.Parameter, e.Date)
}

// On returns the value in force on day d, or a [*NoValueError].
func (s *Series[T]) On(d Date) (*Value[T], error) {
	for i := len(s.Values) - 1; i >= 0; i-- {
		if v := &s.Values[i]; v.covers(d) {
			return v, nil
		}
	}
	return nil, &NoValueError{Book: s.Book, Parameter: s.Name, Date: d}
}

func (v *Value[T]) covers(d Date) bool {
	return !d.Before(v.From) && (v.Through.IsZero() || !d.After(v.Through))
}

// Range returns the first and the last day for which the series has a value; zero dates where it is open.
func (s *Series[T]) Range() (from, through Date) {
	return s.Values[0].From, s.Values[len(s.Values)-1].Through
}

// Figures returns the series with its values as the file writes them, whatever their type.
func (s *Series[T]) Figures() *Series[Figure] {
	f := &Series[Figure]{Book: s.Book, Name: s.Name, About: s.About, Way: s.Way, Values: make([]Value[Figure], len(s.Values))}
	for i := range s.Values {
		v := &s.Values[i]
		f.Values[i] = Value[Figure]{From: v.From, Through: v.Through, Value: v.Given, Given: v.Given, Source: v.Source, ReadOn: v.ReadOn, Standing: v.Standing}
	}
	return f
}
