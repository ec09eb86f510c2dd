package handlers

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"

	"palmero/handlers/server"
	"palmero/models"
	"palmero/payroll"
)

// failure is a problem on its way out: what the problem document is made of.
type failure struct {
	status int
	kind   string // names the type of the problem: /problems/KIND, and its title: title.KIND
	key    string // of the detail
	terms  payroll.Terms
	faults []payroll.Fault // in the body, by JSON pointer
	query  []payroll.Fault // in the query, by the parameter's name in place of the pointer
	cause  error           // for the log
}

// Error is for the log.
func (f *failure) Error() string { return fmt.Sprintf("%s: %v", f.key, f.cause) }

// Unwrap returns the cause.
func (f *failure) Unwrap() error { return f.cause }

// kinds maps what went wrong to how HTTP says it.
var kinds = map[models.Kind]failure{
	models.Invalid:   {status: http.StatusUnprocessableEntity, kind: "invalid"},
	models.NotFound:  {status: http.StatusNotFound, kind: "not_found"},
	models.Conflict:  {status: http.StatusConflict, kind: "conflict"},
	models.Stale:     {status: http.StatusPreconditionFailed, kind: "stale"},
	models.Forbidden: {status: http.StatusForbidden, kind: "forbidden"},
	models.Refused:   {status: http.StatusUnauthorized, kind: "refused"},
	models.TooMany:   {status: http.StatusTooManyRequests, kind: "too_many"},
}

// protocol are the problems of a request's form, by status.
var protocol = map[int]failure{
	http.StatusBadRequest:            {kind: "malformed", key: "problem.malformed"},
	http.StatusNotFound:              {kind: "not_found", key: "problem.no_route"},
	http.StatusMethodNotAllowed:      {kind: "method_not_allowed", key: "problem.method_not_allowed"},
	http.StatusRequestEntityTooLarge: {kind: "too_large", key: "problem.too_large"},
	http.StatusUnsupportedMediaType:  {kind: "unsupported_media", key: "problem.unsupported_media"},
	http.StatusPreconditionRequired:  {kind: "version_needed", key: "problem.version_needed"},
	http.StatusServiceUnavailable:    {kind: "unavailable", key: "problem.unavailable"},
	http.StatusInternalServerError:   {kind: "internal", key: "problem.internal"},
}

// failureOf returns the problem of a status; one that is not in the table is an internal one.
func failureOf(status int) *failure {
	f, ok := protocol[status]
	if !ok {
		status = http.StatusInternalServerError
		f = protocol[status]
	}
	f.status = status
	return &f
}

// toFailure turns any error into a problem. What nobody has foreseen is internal: it is told without detail.
func toFailure(err error) *failure {
	var f *failure
	if errors.As(err, &f) {
		return f
	}
	var e *models.Error
	if errors.As(err, &e) {
		if kind, ok := kinds[e.Kind]; ok {
			kind.key, kind.terms, kind.faults, kind.cause = e.Key, e.Terms, e.Faults, e.Cause
			return &kind
		}
	}
	status := http.StatusInternalServerError
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		status = http.StatusServiceUnavailable
	}
	f = failureOf(status)
	f.cause = err
	return f
}

// fail answers with a problem. One that is the program's own is logged, once, here.
func (rq *request) fail(err error) {
	f := toFailure(err)
	if f.status == http.StatusInternalServerError {
		rq.Log.Error("a request failed", "error", err, "route", rq.gin.FullPath(), "request_id", server.RequestID(rq.gin))
	}
	rq.renderProblem(f)
}

// Problem is a problem document of RFC 9457, with a key that stays the same in every language.
type Problem struct {
	Type   string       `json:"type"`
	Title  string       `json:"title"`
	Status int          `json:"status"`
	Detail string       `json:"detail"`
	Key    string       `json:"key"`
	Errors []FaultEntry `json:"errors,omitempty"`
}

// FaultEntry is one thing wrong: in the body by its JSON pointer, or in the query by the parameter's name.
type FaultEntry struct {
	Pointer   *string `json:"pointer,omitempty"`
	Parameter string  `json:"parameter,omitempty"`
	Key       string  `json:"key"`
	Detail    string  `json:"detail"`
}

func (rq *request) renderProblem(f *failure) {
	p := Problem{
		Type: "/problems/" + f.kind, Title: rq.say("title."+f.kind, nil), Status: f.status,
		Key: f.key, Detail: rq.say(f.key, f.terms), Errors: rq.entries(f),
	}
	data, err := json.Marshal(p)
	if err != nil {
		panic(err) // texts and a number
	}
	if f.status == http.StatusUnauthorized {
		rq.gin.Header("WWW-Authenticate", `Bearer realm="palmero"`)
	}
	if seconds, ok := f.terms["seconds"].(int); ok && f.status == http.StatusTooManyRequests {
		rq.gin.Header("Retry-After", strconv.Itoa(seconds))
	}
	rq.gin.Header("Content-Language", rq.language())
	rq.gin.Data(f.status, "application/problem+json", data)
}

// entries tells each fault in the reader's language.
func (rq *request) entries(f *failure) []FaultEntry {
	var all []FaultEntry
	for _, fault := range f.query {
		all = append(all, FaultEntry{Parameter: fault.Pointer, Key: fault.Key, Detail: rq.say(fault.Key, fault.Terms)})
	}
	for _, fault := range f.faults {
		all = append(all, FaultEntry{Pointer: &fault.Pointer, Key: fault.Key, Detail: rq.say(fault.Key, fault.Terms)})
	}
	return all
}
