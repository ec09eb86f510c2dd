package pages

import (
	"net/http"
	"strconv"

	"palmero/handlers/failures"
	"palmero/handlers/server"
)

// fail answers with the page of an error. One that is the program's own is logged, once, here.
func (v *visit) fail(err error) {
	f := failures.From(err)
	if f.Status == http.StatusInternalServerError {
		v.Log.Error("a page failed", "error", err, "route", v.gin.FullPath(), "request_id", server.RequestID(v.gin))
	}
	v.writeFailure(f)
}

// failed is what the page of an error says.
type failed struct {
	Title, Text string
	RequestID   string // to tell whoever runs the server; "" where the reader can do without
}

func (v *visit) writeFailure(f *failures.Failure) {
	said := failed{Title: v.inPageWords("title."+f.Kind, f), Text: v.inPageWords(f.Key, f)}
	if f.Status >= http.StatusInternalServerError {
		said.RequestID = server.RequestID(v.gin)
	}
	v.retryAfter(f)
	a := show("failure", said)
	a.status = f.Status
	body, err := v.render[v.language()].page(a.template, v.frame(a))
	if err != nil { // the page of errors itself is broken: say so without it
		v.Log.Error("the page of an error failed", "error", err, "request_id", server.RequestID(v.gin))
		v.gin.String(http.StatusInternalServerError, "%s\n", v.say("title.internal", nil))
		return
	}
	v.gin.Header("Content-Language", v.language())
	v.gin.Data(a.status, "text/html; charset=utf-8", body)
}

// inPageWords says a message by its words for people on a page, page.KEY, where it has such: others are the API's, and speak of identifiers and documents.
func (v *visit) inPageWords(key string, f *failures.Failure) string {
	if c := v.catalogue(); c.Has("page." + key) {
		return c.Say("page."+key, f.Terms)
	}
	return v.say(key, f.Terms)
}

func (v *visit) retryAfter(f *failures.Failure) {
	if seconds, ok := f.Seconds(); ok {
		v.gin.Header("Retry-After", strconv.Itoa(seconds))
	}
}
