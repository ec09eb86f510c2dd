// Package failures turns what went wrong into what an answer over HTTP needs to say it: a status, and words by their key. The API writes a problem
// document of it, the pages a page.
package failures

import (
	"context"
	"errors"
	"fmt"
	"net/http"

	"palmero/models"
	"palmero/payroll"
)

// Failure is a problem on its way out.
type Failure struct {
	Status int
	Kind   string // names the type of the problem, and its title: title.KIND
	Key    string // of the detail
	Terms  payroll.Terms
	Faults []payroll.Fault // in what was sent, by JSON pointer
	Query  []payroll.Fault // in the query, by the parameter's name in place of the pointer
	Cause  error           // for the log
}

// Error is for the log.
func (f *Failure) Error() string { return fmt.Sprintf("%s: %v", f.Key, f.Cause) }

// Unwrap returns the cause.
func (f *Failure) Unwrap() error { return f.Cause }

// kinds maps what went wrong to how HTTP says it.
var kinds = map[models.Kind]Failure{
	models.Invalid:   {Status: http.StatusUnprocessableEntity, Kind: "invalid"},
	models.NotFound:  {Status: http.StatusNotFound, Kind: "not_found"},
	models.Conflict:  {Status: http.StatusConflict, Kind: "conflict"},
	models.Stale:     {Status: http.StatusPreconditionFailed, Kind: "stale"},
	models.Forbidden: {Status: http.StatusForbidden, Kind: "forbidden"},
	models.Refused:   {Status: http.StatusUnauthorized, Kind: "refused"},
	models.TooMany:   {Status: http.StatusTooManyRequests, Kind: "too_many"},
	models.Busy:      {Status: http.StatusServiceUnavailable, Kind: "unavailable"},
}

// protocol are the problems of a request's form, by status.
var protocol = map[int]Failure{
	http.StatusBadRequest:            {Kind: "malformed", Key: "problem.malformed"},
	http.StatusNotFound:              {Kind: "not_found", Key: "problem.no_route"},
	http.StatusMethodNotAllowed:      {Kind: "method_not_allowed", Key: "problem.method_not_allowed"},
	http.StatusRequestEntityTooLarge: {Kind: "too_large", Key: "problem.too_large"},
	http.StatusUnsupportedMediaType:  {Kind: "unsupported_media", Key: "problem.unsupported_media"},
	http.StatusPreconditionRequired:  {Kind: "version_needed", Key: "problem.version_needed"},
	http.StatusServiceUnavailable:    {Kind: "unavailable", Key: "problem.unavailable"},
	http.StatusInternalServerError:   {Kind: "internal", Key: "problem.internal"},
}

// Of returns the problem of a status; one that is not in the table is an internal one.
func Of(status int) *Failure {
	f, ok := protocol[status]
	if !ok {
		status = http.StatusInternalServerError
		f = protocol[status]
	}
	f.Status = status
	return &f
}

// From turns any error into a problem. What nobody has foreseen is internal: it is told without detail.
func From(err error) *Failure {
	var f *Failure
	if errors.As(err, &f) {
		return f
	}
	var e *models.Error
	if errors.As(err, &e) {
		if kind, ok := kinds[e.Kind]; ok {
			kind.Key, kind.Terms, kind.Faults, kind.Cause = e.Key, e.Terms, e.Faults, e.Cause
			return &kind
		}
	}
	status := http.StatusInternalServerError
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		status = http.StatusServiceUnavailable
	}
	f = Of(status)
	f.Cause = err
	return f
}

// Seconds is how long to wait before trying again, where the problem says so.
func (f *Failure) Seconds() (seconds int, ok bool) {
	seconds, ok = f.Terms["seconds"].(int)
	return seconds, ok && f.Status == http.StatusTooManyRequests
}
