package handlers

import (
	"bytes"
	"net/http"

	"palmero/handlers/rulebooks"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/dated"
)

func rulebookRoutes() []Route {
	return []Route{
		{Method: "GET", Path: "/api/v1/rulebooks", Roles: everyone, Status: http.StatusOK, handle: listRulebooks},
		{Method: "GET", Path: "/api/v1/rulebooks/{key}", Roles: everyone, Query: []string{"on", "with"}, Status: http.StatusOK, handle: getRulebook},
		{Method: "POST", Path: "/api/v1/rulebook-checks", Roles: office, Status: http.StatusOK, handle: taking(checkLocalBook)},
	}
}

func listRulebooks(rq *request) (*reply, error) {
	law, err := rq.law()
	if err != nil {
		return nil, err
	}
	return plain(struct {
		Items []rulebooks.Summary `json:"items"`
	}{rulebooks.Summaries(law.Library)}), nil
}

// getRulebook answers with a book as JSON or as a page, with what is in force on a day where one is asked for.
func getRulebook(rq *request) (*reply, error) {
	on, with, err := rq.daysAsked()
	if err != nil {
		return nil, err
	}
	law, err := rq.law()
	if err != nil {
		return nil, err
	}
	book, known := law.Book(rq.gin.Param("key"))
	if !known {
		return nil, errNotFound
	}
	words := text.For(rq.language())
	r := plain(rulebooks.Public(law.Library, book, on, with, words))
	r.header = http.Header{}
	if prefersHTML(rq.gin.GetHeader("Accept")) {
		var page bytes.Buffer
		if err := rulebooks.Page(&page, law.Library, book, on, words); err != nil {
			return nil, err
		}
		r = document("text/html; charset=utf-8", page.Bytes())
		r.header = http.Header{"Content-Security-Policy": {rulebooks.Policy()}}
	}
	r.header.Set("Content-Language", words.Language())
	r.header.Set("Vary", "Accept, Accept-Language")
	return r, nil
}

// daysAsked reads the day of which to tell what is in force, and the one to compare it to.
func (rq *request) daysAsked() (on, with dated.Date, err error) {
	var faults []payroll.Fault
	read := func(name string) (day dated.Date) {
		value, given := rq.gin.GetQuery(name)
		if !given {
			return day
		}
		day, err := dated.ParseDate(value)
		if err != nil {
			faults = append(faults, payroll.Fault{Pointer: name, Key: "input.not_date", Terms: payroll.Terms{"value": value}})
		}
		return day
	}
	on, with = read("on"), read("with")
	if len(faults) == 0 && on.IsZero() && !with.IsZero() {
		faults = append(faults, payroll.Fault{Pointer: "on", Key: "rulebook.on_needed"})
	}
	return on, with, faultyQuery(faults)
}

// localBook is the text of a local book to check.
type localBook struct {
	Name string `json:"name"` // its key, such as "oasis"
	Text string `json:"text"` // of its file, in YAML
}

// checkLocalBook says whether a local book is good beside the employer's others. Nothing is kept of it.
func checkLocalBook(rq *request, book localBook) (*reply, error) {
	law, err := rq.law()
	if err != nil {
		return nil, err
	}
	_, reasons := rulebooks.Check(law.Library, map[string][]byte{book.Name + ".yaml": []byte(book.Text)}, text.For(rq.language()))
	if reasons == nil {
		reasons = []string{}
	}
	return plain(struct {
		Good    bool     `json:"good"`
		Reasons []string `json:"reasons"`
	}{len(reasons) == 0, reasons}), nil
}
