package handlers

import (
	"encoding/base64"
	"math"
	"net/http"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

const (
	defaultLimit = 50
	maxLimit     = 200
	unlimited    = math.MaxInt32 - 1 // where a list is as long as what it belongs to
)

// page is a part of a list. Next, if it is there, is the cursor of the part after it.
type page[T any] struct {
	Items []T    `json:"items"`
	Next  string `json:"next,omitempty"`
}

// paged makes a page of records, of which one more than the limit were read where others follow.
func paged[R, T any](records []R, limit int, seq func(*R) int64, show func(*R) T) page[T] {
	more := len(records) > limit
	records = records[:min(len(records), limit)]
	p := page[T]{Items: make([]T, len(records))}
	for i := range records {
		p.Items[i] = show(&records[i])
	}
	if more {
		p.Next = cursor(seq(&records[limit-1]))
	}
	return p
}

// cursor names a place in a list. Clients are to hand it back as it is.
func cursor(seq int64) string {
	return base64.RawURLEncoding.EncodeToString([]byte(strconv.FormatInt(seq, 10)))
}

func readCursor(s string) (int64, bool) {
	b, err := base64.RawURLEncoding.Strict().DecodeString(s)
	if err != nil {
		return 0, false
	}
	seq, err := strconv.ParseInt(string(b), 10, 64)
	return seq, err == nil && seq >= 0 && cursor(seq) == s
}

// condition narrows a list.
type condition = models.Condition

// filter is a query parameter that narrows a list. read returns a fault where the value is not understood.
type filter struct {
	name string
	read func(value string) (condition, *payroll.Fault)
}

// pageQuery names the query parameters of a list.
func pageQuery(filters []filter) []string {
	names := []string{"cursor", "limit"}
	for _, f := range filters {
		names = append(names, f.name)
	}
	return names
}

// page reads which part of a list is asked for, and the conditions of its filters.
func (rq *request) page(filters ...filter) (models.Page, []condition, error) {
	p := models.Page{Limit: defaultLimit}
	var conditions []condition
	var faults []payroll.Fault
	fault := func(name string, f payroll.Fault) {
		f.Pointer = name
		faults = append(faults, f)
	}
	own := slices.ContainsFunc(filters, func(f filter) bool { return f.name == "cursor" }) // of a list that has no sequence
	if s, ok := rq.gin.GetQuery("cursor"); ok && !own {
		if p.After, ok = readCursor(s); !ok {
			fault("cursor", payroll.Fault{Key: "fault.cursor"})
		}
	}
	if s, ok := rq.gin.GetQuery("limit"); ok {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 || n > maxLimit {
			fault("limit", payroll.Fault{Key: "fault.not_between", Terms: payroll.Terms{"low": 1, "high": maxLimit}})
		}
		p.Limit = n
	}
	for _, f := range filters {
		if s, ok := rq.gin.GetQuery(f.name); ok {
			c, wrong := f.read(s)
			if wrong != nil {
				fault(f.name, *wrong)
				continue
			}
			conditions = append(conditions, c)
		}
	}
	return p, conditions, faultyQuery(faults)
}

// checkQuery refuses query parameters that the route does not take, and those given twice: a filter that is ignored
// would answer with too much.
func (rq *request) checkQuery(allowed []string) error {
	var faults []payroll.Fault
	query := rq.gin.Request.URL.Query()
	for name, values := range query {
		switch {
		case !slices.Contains(allowed, name):
			faults = append(faults, payroll.Fault{Pointer: name, Key: "fault.unknown_parameter"})
		case len(values) > 1:
			faults = append(faults, payroll.Fault{Pointer: name, Key: "fault.parameter_twice"})
		}
	}
	slices.SortFunc(faults, func(a, b payroll.Fault) int { return compareNames(a.Pointer, b.Pointer) })
	return faultyQuery(faults)
}

func compareNames(a, b string) int {
	if a < b {
		return -1
	}
	return 1
}

func faultyQuery(faults []payroll.Fault) error {
	if len(faults) == 0 {
		return nil
	}
	f := failureOf(http.StatusBadRequest)
	f.Key, f.Query = "problem.query", faults
	return f
}

// byID filters by a column that holds an identifier.
func byID(column string) filter {
	return filter{column, func(value string) (condition, *payroll.Fault) {
		id, err := uuid.Parse(value)
		if err != nil || len(value) != uuidLength {
			return nil, &payroll.Fault{Key: "input.not_uuid", Terms: payroll.Terms{"value": value}}
		}
		return models.Equal(column, id), nil
	}}
}

// byWord filters by a column that holds one of a few words.
func byWord(column string, words ...string) filter {
	return filter{column, func(value string) (condition, *payroll.Fault) {
		if !slices.Contains(words, value) {
			return nil, &payroll.Fault{Key: "fault.not_one_of", Terms: payroll.Terms{"value": value, "allowed": words}}
		}
		return models.Equal(column, value), nil
	}}
}

// byFlag filters by what is so, or is not.
func byFlag(name string, keeps func(bool) condition) filter {
	return filter{name, func(value string) (condition, *payroll.Fault) {
		if value != "true" && value != "false" {
			return nil, &payroll.Fault{Key: "fault.not_one_of", Terms: payroll.Terms{"value": value, "allowed": []string{"true", "false"}}}
		}
		return keeps(value == "true"), nil
	}}
}

// byDay filters by a day.
func byDay(name string, keeps func(dated.Date) condition) filter {
	return filter{name, func(value string) (condition, *payroll.Fault) {
		day, err := dated.ParseDate(value)
		if err != nil {
			return nil, &payroll.Fault{Key: "input.not_date", Terms: payroll.Terms{"value": value}}
		}
		return keeps(day), nil
	}}
}
