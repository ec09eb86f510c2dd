package pages_test

import (
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// What the matrix is to know of workers.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /workers":               "ca",
		"GET /workers/new":           "c",
		"POST /workers/new":          "c",
		"GET /workers/{id}":          "ca",
		"POST /workers/{id}":         "c",
		"POST /workers/{id}/leaving": "c",
		"POST /workers/{id}/return":  "c",
		"POST /workers/{id}/same":    "c",
	})
}

// A clerk enters a worker, who leaves and comes back.
func TestWorkersComeAndGo(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("hazel", "en").speak("en")
		blank := b.get("/workers/new")
		form := url.Values{"id": {blank.hidden("id")}, "name": {"Lucía Ibarra"}, "usual_hours": {"eight"}, "started_on": {""}}
		b.post("/workers/new", form).wants(http.StatusUnprocessableEntity).says(`href="#started_on"`, `href="#language"`, `href="#usual_hours"`, "Lucía Ibarra")
		form.Set("started_on", "2026-02-23")
		form.Set("language", "es")
		form.Set("usual_hours", "7.75")
		form.Set("birth_date", "2126-01-01")
		b.post("/workers/new", form).wants(http.StatusUnprocessableEntity).says(`href="#address"`, `href="#birth_date"`)
		form.Set("birth_date", "1994-08-17")
		form.Set("address", "5 Calle del Aljibe\nArenal Flats")
		form.Set("crew", optionOf(blank, "Norte"))
		at := "/workers/" + form.Get("id")
		for range 2 {
			b.post("/workers/new", form).leads(at + "?done=worker_new")
		}
		shown := b.get(at+"?done=worker_new").says("on the books", "7:45 h", "Norte", "works here", "Open an account for this worker", "since Feb 23, 2026")
		b.get(shown.led("/accounts?worker=")).says(`value="Lucía Ibarra"`)
		b.get(shown.led("/rates?number=")).says(`name="number" type="text" value="26"`)
		b.get(shown.led("/sick-leave/")).wants(http.StatusOK)
		if p := b.get(shown.led("/workers/new?crew=")); !strings.Contains(p.body, `selected>Norte`) {
			t.Error("whoever enters the next worker chooses the crew again")
		}
		b.get("/workers?find=ibarra+LUCIA").says("Lucía Ibarra", "Norte").hides("Eusebio")
		b.get("/workers?find=18").says("Inés Barraza").hides("Eusebio")
		b.get("/workers?find=%3Cb%3E").says("Nobody here is meant")

		form.Set("version", shown.hidden("version"))
		form.Set("address", "")
		b.post(at, form).wants(http.StatusUnprocessableEntity).says(`href="#address"`)
		form.Set("address", "9 Siding Road")
		form.Set("number", "18")
		b.post(at, form).wants(http.StatusUnprocessableEntity).says("another record", `href="#number"`)
		form.Set("number", "318")
		b.post(at, form).leads(at + "?done=worker_kept")
		b.post(at, form).wants(http.StatusPreconditionFailed).says("9 Siding Road")

		leave := url.Values{"version": {"2"}, "last_day": {"2026-02-01"}}
		b.post(at+"/leaving", leave).wants(http.StatusUnprocessableEntity).says(`href="#last_day"`)
		leave.Set("last_day", "2026-02-27")
		b.post(at+"/leaving", leave).leads(at + "?done=worker_left")
		b.post(at+"/leaving", leave).wants(http.StatusPreconditionFailed)
		gone := b.get(at+"?done=worker_left").says("left, last day Feb 27, 2026", "in no crew", "Hire again")
		b.get(gone.led("/final-pay?number=")).says(`value="318"`, `value="2026-02-27"`)
		b.get("/workers?find=ibarra").says("Nobody here is meant")
		b.get("/workers?find=ibarra&list=left").says("Lucía Ibarra")

		back := url.Values{"version": {gone.hidden("version")}, "first_day": {"2026-02-27"}}
		b.post(at+"/return", back).wants(http.StatusUnprocessableEntity).says(`href="#first_day"`, "after the last day")
		back.Set("first_day", "2026-03-02")
		b.post(at+"/return", back).leads(at + "?done=worker_back")
		b.get(at).says("since Mar 2, 2026; Feb 23, 2026 through Feb 27, 2026", "7:45 h")
		leave = url.Values{"version": {"4"}, "last_day": {"2026-03-06"}}
		b.post(at+"/leaving", leave).leads(at + "?done=worker_left")
		b.post(at+"/leaving", url.Values{"version": {"5"}, "back": {"yes"}}).leads(at + "?done=worker_stays")
		b.get(at).says("works here")

		owner := s.as("abril", "en").speak("es")
		if strings.Contains(owner.get(at).says("trabaja aquí", "Capacitación registrada").main(), "<form") {
			t.Error("the owner is offered what only the clerk may")
		}
	})
}

// optionOf is the value of the choice that says some words.
func optionOf(p *page, words string) string {
	p.Helper()
	before, _, found := strings.Cut(p.body, ">"+words+"</option>")
	if !found {
		p.Fatalf("%s offers no %q", p.what, words)
	}
	before = before[strings.LastIndex(before, `value="`)+len(`value="`):]
	return before[:strings.IndexByte(before, '"')]
}

// A hand who is known by name only is somebody on the books, or somebody new.
func TestHandsAreSettled(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("hazel", "en").speak("en")
		at := b.get("/workers?list=unsettled").says("Chuy Lomelí", "known by name only").led("/workers/0")
		form := url.Values{"version": {b.get(at).says("Is it somebody on the books?").hidden("version")}, "same_number": {"x"}}
		b.post(at+"/same", form).wants(http.StatusUnprocessableEntity).says(`href="#same_number"`, `value="x"`)
		form.Set("same_number", "999")
		b.post(at+"/same", form).wants(http.StatusUnprocessableEntity).says("Nobody here has the number 999")
		form.Set("same_number", "20")
		b.post(at+"/same", form).leads(at + "?done=worker_same")
		b.get(at).says("It is Celso Madrigal, number 20")
		b.get("/workers?list=unsettled").says("Nobody here is meant")
	})
}

// A farm of many finds its people page by page.
func TestManyWorkersArePaged(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("hazel", "en").speak("en")
		for n := range 40 {
			form := url.Values{"id": {b.get("/workers/new").hidden("id")}, "name": {fmt.Sprintf("Núñez %d", n)}, "language": {"es"}, "address": {"1 Camino Seco"}, "started_on": {"2026-02-23"}}
			b.post("/workers/new", form).wants(http.StatusSeeOther)
		}
		first := b.get("/workers?find=nunez&list=all").says("Núñez 39")
		if n := strings.Count(first.body, "Núñez"); n != 40 {
			t.Errorf("%d are found of 40", n)
		}
		all := b.get("/workers")
		if n := strings.Count(all.body, `href="/workers/0`); n != 50 {
			t.Errorf("%d are on the first page", n)
		}
		next := all.led("?")
		if n := strings.Count(b.get("/workers"+next).says("Núñez 39").body, `href="/workers/0`); n == 0 || n >= 50 {
			t.Errorf("%d are on the second page", n)
		}
	})
}

// valueBefore is the value of the field that is labelled with some words.
func valueBefore(p *page, words string) string {
	p.Helper()
	before, _, found := strings.Cut(p.main(), words+"</span>")
	if !found {
		p.Fatalf("%s has nothing labelled %q", p.what, words)
	}
	before = before[strings.LastIndex(before, `value="`)+len(`value="`):]
	return before[:strings.IndexByte(before, '"')]
}
