package pages_test

import (
	"bytes"
	"html"
	"maps"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// What the matrix is to know of the pages of rulebooks.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /books":                "ca",
		"GET /books/value":          "ca",
		"POST /books/value":         "ca",
		"GET /books/text":           "ca",
		"POST /books/text":          "ca",
		"GET /books/{id}":           "ca",
		"POST /books/{id}/withdraw": "ca",
	})
}

// worked records six hours of a day for the worker of a number.
func (s *site) worked(number int64, day string) {
	s.Helper()
	employer, err := s.store.FindEmployer(s.Context(), "media-tarde")
	if err != nil {
		s.Fatal(err)
	}
	err = s.store.In(s.Context(), models.Scope{Employer: employer.ID, Actor: s.account("hazel")}, func(tx *models.Tx) error {
		workers, err := models.List[models.Worker](tx, models.Page{Limit: 1}, models.Equal("number", number))
		if err != nil {
			return err
		}
		gardens, err := models.List[models.Garden](tx, models.Page{Limit: 1})
		if err != nil {
			return err
		}
		minutes := payroll.Minutes(360)
		_, _, err = intake.RecordTime(tx, intake.SingleTime{Workday: models.Day(dated.MustDate(day)), GardenID: gardens[0].ID, RecordedAt: tx.Now,
			TimeLine: intake.TimeLine{ID: models.NewID(), WorkerID: workers[0].ID, Kind: payroll.Hourly, Minutes: &minutes}})
		return err
	})
	if err != nil {
		s.Fatal(err)
	}
}

// In January nothing is known of the minimum wage. The problem of the draft leads the clerk to a form, and the draft goes on.
func TestTheClerkEntersAnAnnouncedWage(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		s.clock.Start(time.Date(2027, 1, 11, 20, 0, 0, 0, time.UTC))
		s.worked(2, "2027-01-05")
		hazel := s.as("hazel", "en").speak("en")
		form := url.Values{"id": {hazel.get("/pay").hidden("id")}, "week_start": {"2027-01-05"}}
		run := strings.TrimSuffix(hazel.posted("/pay", form).wants(http.StatusSeeOther).header.Get("Location"), "?done=drafted")
		problems := hazel.get(run+"/problems").says("has no value for the minimum wage", "Jan 5, 2027", "Enter what was announced")
		to := regexp.MustCompile(`href="(/books/value\?[^"]+)"`).FindStringSubmatch(problems.body)
		if to == nil {
			t.Fatal(problems.main())
		}
		p := hazel.get(html.UnescapeString(to[1])).says("California", "16.90", `value="2027-01-01"`, `value="2027-12-31"`, `value="2027-01-11"`).hides("Gardens where a contract holds")
		book := url.Values{}
		for _, name := range []string{"id", "kind", "about", "run", "key", "replaces"} {
			book.Set(name, p.hidden(name))
		}
		hazel.post("/books/value", book).wants(http.StatusUnprocessableEntity).says(`href="#value"`, `href="#source_title"`, `href="#link"`, `href="#read"`)
		with(book, "value", "a lot", "from", "soon", "through", "2027-12-31", "source_title", "Announcement of the agency", "section", "Notice 2027", "link", "law.example", "read", "2027-01-11",
			"standing", "read", "title", "Minimum wage of 2027")
		hazel.post("/books/value", book).wants(http.StatusUnprocessableEntity).says(`href="#value"`, `href="#from"`, `href="#link"`, `value="a lot"`)
		with(book, "value", "$16.80", "from", "2027-01-01", "link", "https://law.example/2027")
		hazel.post("/books/value", book).wants(http.StatusUnprocessableEntity).says(`href="#value"`, "protects less than 16.90")
		with(book, "value", "17.30")
		for range 2 {
			hazel.post("/books/value", book).leads(run + "/problems?done=book_for_run")
		}
		p = hazel.get(run+"/problems?done=book_for_run").says("draft the pay run anew", "settled since the draft")
		hazel.posted(run+"/redraft", url.Values{"version": {p.hidden("version")}}).leads(run + "?done=redrafted")
		hazel.get(run).says("Statements: 1")
		hazel.get("/books").says("Minimum wage of 2027", "$17.30", "wherever the book holds").hides("Enter an ordinance")
		at := "/books/" + book.Get("id")
		hazel.get(at).says("in use", "17.30", "Notice 2027", "entered by", "us-ca-2027")
		hazel.get("/rulebooks/us-ca?on=2027-01-05").says("17.30")

		// A slip of the finger is corrected, and the first figure stays on record.
		p = hazel.get("/books/value?replaces="+book.Get("id")).says(`value="17.30"`, "Correct what was entered")
		with(book, "id", p.hidden("id"), "replaces", p.hidden("replaces"), "key", p.hidden("key"), "about", p.hidden("about"), "run", "", "value", "17.40")
		hazel.post("/books/value", book).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		with(book, "reason", "A slip of the finger")
		hazel.post("/books/value", book).leads("/books/" + book.Get("id") + "?done=book_replaced")
		hazel.get("/books/"+book.Get("id")).says("17.40", "17.30", "A slip of the finger")
		hazel.get(at).says("17.40")
		away := url.Values{"id": {models.NewID().String()}, "reason": {" "}}
		hazel.post("/books/"+book.Get("id")+"/withdraw", away).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		hazel.post("/books/"+book.Get("id")+"/withdraw", with(away, "reason", "Not in force")).leads("/books/" + away.Get("id") + "?done=book_withdrawn")
		hazel.get("/books/"+away.Get("id")).says("withdrawn", "Not in force")
		hazel.get("/books").says("No longer in use", "ended on Dec 31, 2026", "none is known")
	})
}

// upload sends a form with a file.
func (b *browser) upload(path string, form url.Values, name, text string) *page {
	b.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for key, values := range form {
		for _, value := range values {
			if err := w.WriteField(key, value); err != nil {
				b.Fatal(err)
			}
		}
	}
	file, err := w.CreateFormFile(name, "book.yaml")
	if err == nil {
		_, err = file.Write([]byte(text))
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		b.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, path, &body).WithContext(b.Context())
	r.Header.Set("Accept", "text/html")
	r.Header.Set("Accept-Language", b.language)
	r.Header.Set("Content-Type", w.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	for _, c := range b.cookies {
		r.AddCookie(c)
	}
	answer := httptest.NewRecorder()
	b.handler.ServeHTTP(answer, r)
	return &page{b, "POST " + path, answer.Code, answer.Result().Header, answer.Body.String()}
}

const oasis = `book: oasis
title: The invented city of Oasis
parent: us-ca
local: ordinance
sources:
  ordinance: {title: Oasis ordinance on pay, section: Oasis 1, link: "https://law.example/oasis"}
parameters:
  minimum_wage:
    about: What the ordinance sets
    way: higher
    values: [{from: 2026-03-01, through: open, value: "17.50", source: ordinance, read: 2026-02-25, standing: read}]
authorities: {}
`

// An owner enters an ordinance as a file, chooses it for a garden, and reads by what it is paid there.
func TestAnOrdinanceIsEnteredAndChosen(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		abril := s.as("abril", "en").speak("en")
		form := url.Values{"id": {abril.get("/books/text").hidden("id")}, "replaces": {""}}
		abril.upload("/books/text", form, "file", "").wants(http.StatusUnprocessableEntity).says(`href="#text"`)
		abril.upload("/books/text", form, "file", "\xff\xfe").wants(http.StatusUnprocessableEntity).says(`href="#file"`)
		abril.upload("/books/text", form, "file", strings.Replace(oasis, "way: higher", "way: taller", 1)).wants(http.StatusUnprocessableEntity).says("Line 10", "<code>    way: taller</code>", "way: taller</textarea>"[:11])
		abril.upload("/books/text", form, "file", strings.Replace(oasis, "17.50", "12.00", 1)).wants(http.StatusUnprocessableEntity).says("protects less than 16.90")
		s.as("hazel", "en").upload("/books/text", form, "file", oasis).wants(http.StatusForbidden)
		at := "/books/" + form.Get("id")
		for range 2 {
			abril.upload("/books/text", form, "file", oasis).leads(at + "?done=book_entered")
		}
		abril.get(at).says("The invented city of Oasis", "17.50", "local ordinance", "Correct it")
		garden := regexp.MustCompile(`href="(/gardens/[^"#]+)#rulebook"`).FindStringSubmatch(abril.get("/books").says("California").body)
		p := abril.get(garden[1]).says("The invented city of Oasis")
		abril.post(garden[1], url.Values{"id": {p.hidden("id")}, "version": {p.hidden("version")}, "name": {"Huerta Media Tarde"}, "time_zone": {"America/Los_Angeles"}, "rulebook": {"oasis"}}).wants(http.StatusSeeOther)
		abril.get("/books").says("The invented city of Oasis", "$17.50")
		abril.post(at+"/withdraw", url.Values{"id": {models.NewID().String()}, "reason": {"Repealed"}}).wants(http.StatusConflict).says("named by")
		abril.get("/books?on=yesterday").wants(http.StatusOK)
		abril.get("/books/value?kind=law&about=us-xx+wage").says("Go on")
		abril.get("/books/value?replaces=x").wants(http.StatusNotFound)
		abril.get("/books/" + models.NewID().String()).wants(http.StatusNotFound)
		s.as("hazel", "en").speak("es").get("/books").says("Reglamentos vigentes", "Huerta")
	})
}

// The terms of a contract are entered by form, and hold for the workers that they name.
func TestATermOfAContractIsEntered(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		abril := s.as("abril", "en").speak("es")
		p := abril.get("/books/value?kind=contract&about=us-ca+minimum_wage").says("Huertas donde vale un contrato", "Salario mínimo")
		form := url.Values{"value": {"18.25"}, "source_title": {"Acuerdo"}, "section": {"Acuerdo 4"}, "link": {"https://law.example/4"}, "read": {"2026-03-01"}, "standing": {"read"}, "title": {"Acuerdo de la cuadrilla"},
			"from": {"2026-03-01"}, "numbers": {"2, 999"}}
		for _, name := range []string{"id", "kind", "about", "run", "key", "replaces"} {
			form.Set(name, p.hidden(name))
		}
		abril.post("/books/value", form).wants(http.StatusUnprocessableEntity).says(`href="#numbers"`, "999")
		abril.post("/books/value", with(form, "numbers", "2; 3")).leads("/books/" + form.Get("id") + "?done=book_entered")
		abril.get("/books/"+form.Get("id")).says("trabajadores 2, 3", "18.25")
		abril.get("/books").says("trabajadores nombrados: 2")
	})
}
