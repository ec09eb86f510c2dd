package models

import (
	"errors"
	"fmt"

	"palmero/payroll"
)

// Kind says what went wrong, coarsely enough that one table maps it to an answer.
type Kind int

// The kinds of error that the store and its use cases return. Anything else is a fault of the program.
const (
	Invalid   Kind = iota + 1 // the request's content is wrong; Faults say where
	NotFound                  // no such record of this employer
	Conflict                  // it contradicts what is recorded
	Stale                     // the record moved since it was read
	Forbidden                 // this account may not
	Refused                   // signing in failed
	TooMany                   // too many attempts; later
	Busy                      // the database took too long, or others kept it waiting; nothing was kept
)

// Error is what the program can explain to its user: a kind, a message key with its terms, and for Invalid each fault.
type Error struct {
	Kind   Kind
	Key    string
	Terms  payroll.Terms
	Faults []payroll.Fault
	Cause  error // for the log, never for the user
}

// Error tells the key, the terms and the cause, for the log.
func (e *Error) Error() string {
	s := e.Key
	if len(e.Terms) > 0 {
		s = fmt.Sprintf("%s %v", s, map[string]any(e.Terms))
	}
	for _, f := range e.Faults {
		s += fmt.Sprintf("; %s: %s", f.Pointer, f.Key)
	}
	if e.Cause != nil {
		s += ": " + e.Cause.Error()
	}
	return s
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Cause }

// Faulty returns an Invalid error of these faults, or nil where there are none.
func Faulty(faults []payroll.Fault) error {
	if len(faults) == 0 {
		return nil
	}
	return &Error{Kind: Invalid, Key: "problem.invalid", Faults: faults}
}

// FaultAt returns an Invalid error of one fault.
func FaultAt(pointer, key string, terms payroll.Terms) error {
	return Faulty([]payroll.Fault{{Pointer: pointer, Key: key, Terms: terms}})
}

// KindOf returns the kind of err, or 0 where it is a fault of the program.
func KindOf(err error) Kind {
	if e := explained(err); e != nil {
		return e.Kind
	}
	return 0
}

// explained is the error that can be explained within err; nil where there is none.
func explained(err error) *Error {
	var e *Error
	errors.As(err, &e)
	return e
}

// FaultsOf returns the faults of an Invalid error, and none of any other.
func FaultsOf(err error) []payroll.Fault {
	var e *Error
	if errors.As(err, &e) && e.Kind == Invalid {
		return e.Faults
	}
	return nil
}
