package handlers

import (
	"encoding/json"
	"net/http"
	"strconv"

	"palmero/handlers/failures"
	"palmero/handlers/server"
)

// failure is a problem on its way out: what the problem document is made of.
type failure = failures.Failure

func failureOf(status int) *failure { return failures.Of(status) }

// fail answers with a problem. One that is the program's own is logged, once, here.
func (rq *request) fail(err error) {
	f := failures.From(err)
	if f.Status == http.StatusInternalServerError {
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
		Type: "/problems/" + f.Kind, Title: rq.say("title."+f.Kind, nil), Status: f.Status,
		Key: f.Key, Detail: rq.say(f.Key, f.Terms), Errors: rq.entries(f),
	}
	data, err := json.Marshal(p)
	if err != nil {
		panic(err) // texts and a number
	}
	if f.Status == http.StatusUnauthorized {
		rq.gin.Header("WWW-Authenticate", `Bearer realm="palmero"`)
	}
	if seconds, ok := f.Seconds(); ok {
		rq.gin.Header("Retry-After", strconv.Itoa(seconds))
	}
	rq.gin.Header("Content-Language", rq.language())
	rq.gin.Data(f.Status, "application/problem+json", data)
}

// entries tells each fault in the reader's language.
func (rq *request) entries(f *failure) []FaultEntry {
	var all []FaultEntry
	for _, fault := range f.Query {
		all = append(all, FaultEntry{Parameter: fault.Pointer, Key: fault.Key, Detail: rq.say(fault.Key, fault.Terms)})
	}
	for _, fault := range f.Faults {
		all = append(all, FaultEntry{Pointer: &fault.Pointer, Key: fault.Key, Detail: rq.say(fault.Key, fault.Terms)})
	}
	return all
}
