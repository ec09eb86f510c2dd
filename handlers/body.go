package handlers

import (
	"errors"
	"io"
	"mime"
	"net/http"
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/handlers/strictjson"
	"palmero/models"
	"palmero/payroll"
)

// taking makes a handler of a function that takes a JSON document.
func taking[In any](fn func(rq *request, in In) (*reply, error)) handler {
	return func(rq *request) (*reply, error) {
		var in In
		if err := rq.decode(&in); err != nil {
			return nil, err
		}
		return fn(rq, in)
	}
}

// decode reads the request's body strictly.
func (rq *request) decode(into any) error {
	if err := rq.wantJSON(); err != nil {
		return err
	}
	data, err := rq.body()
	if err != nil {
		return err
	}
	faults := strictjson.Decode(data, into)
	if slices.ContainsFunc(faults, isBroken) {
		f := failureOf(http.StatusBadRequest)
		f.Faults = faults
		return f
	}
	return models.Faulty(faults)
}

// body reads the request's body, as far as its limit lets it.
func (rq *request) body() ([]byte, error) {
	data, err := io.ReadAll(rq.gin.Request.Body)
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &tooLarge):
		return nil, failureOf(http.StatusRequestEntityTooLarge)
	case err != nil:
		f := failureOf(http.StatusBadRequest)
		f.Cause = err
		return nil, f
	}
	return data, nil
}

// limit holds the body to so many bytes: one that announces more is refused unread, and the reading of one that does not announce it ends there.
func (rq *request) limit(most int64) error {
	if rq.gin.Request.ContentLength > most {
		return failureOf(http.StatusRequestEntityTooLarge)
	}
	rq.gin.Request.Body = http.MaxBytesReader(rq.gin.Writer, rq.gin.Request.Body, most)
	return nil
}

func (rq *request) wantJSON() error {
	kind, parameters, err := mime.ParseMediaType(rq.gin.GetHeader("Content-Type"))
	charset := parameters["charset"]
	if err != nil || kind != "application/json" || charset != "" && !strings.EqualFold(charset, "utf-8") {
		return failureOf(http.StatusUnsupportedMediaType)
	}
	return nil
}

// brokenKeys are the faults of a body that is no JSON document at all.
var brokenKeys = []string{"input.empty", "input.syntax", "input.truncated", "input.trailing", "input.not_utf8", "input.byte_order_mark", "input.too_deep"}

func isBroken(f payroll.Fault) bool { return slices.Contains(brokenKeys, f.Key) }

// created is a record that is sent in, under the identifier that its author made.
type created[C any] struct {
	ID      uuid.UUID `json:"id"`
	Content C         `json:",inline"`
}

// checkID wants an identifier that an RFC 9562 generator may have made. Version 7 is what clients should make; any but the nil and the max
// UUID is taken, since all that matters is that it is theirs alone.
func checkID(pointer string, id uuid.UUID) []payroll.Fault {
	if id.Variant() == uuid.RFC4122 && id.Version() >= 1 && id.Version() <= 8 {
		return nil
	}
	return []payroll.Fault{{Pointer: pointer, Key: "fault.id_not_made"}}
}

// withFaults joins faults found by the handler with those that the records found, so that all are told at once. It must be called in
// the transaction, whose work the faults undo. A repeat is answered whatever is found.
func withFaults(err error, repeated bool, more []payroll.Fault) error {
	if repeated || len(more) == 0 {
		return err
	}
	var e *models.Error
	if errors.As(err, &e) && e.Kind == models.Invalid {
		known := func(f payroll.Fault) bool {
			return slices.ContainsFunc(e.Faults, func(g payroll.Fault) bool { return g.Pointer == f.Pointer })
		}
		return models.Faulty(append(slices.DeleteFunc(slices.Clone(more), known), e.Faults...))
	}
	if err != nil {
		return err
	}
	return models.Faulty(more)
}
