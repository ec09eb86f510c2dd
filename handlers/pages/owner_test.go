package pages_test

import (
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"testing"
)

// What the matrix is to know of the owner's pages.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /progress":            "ca",
		"GET /progress/weeks":      "ca",
		"GET /rates":               "ca",
		"GET /safety":              "a",
		"GET /set-up":              "ca",
		"POST /rates":              "ca",
		"POST /rates/hourly":       "ca",
		"GET /accounts":            "ca",
		"POST /accounts":           "ca",
		"GET /accounts/{id}":       "ca",
		"POST /accounts/{id}":      "ca",
		"POST /accounts/{id}/code": "ca",
	})
	maps.Copy(looking, map[string]func(t *testing.T, s *site){
		"progress":      lookAtProgress,
		"owner's first": lookAtOwnersFirst,
	})
}

func lookAtProgress(t *testing.T, s *site) {
	b := s.as("abril", "en").speak("en")
	b.get("/progress").says("Progress in 2026", `role="img"`, "<desc", "pollination", "A-4", "Compare with last season")
	b.get("/progress?operation=de-thorning&season=2026").says("De-thorning"[1:], "272 palms", "98%")
	b.get("/progress?season=1999").says("Progress in 1999", "No work is recorded")
	b.get("/progress?season=soon&operation=%3Cscript%3E").says("Progress in 2026").hides("<script>")
	b.get("/progress/weeks").says("2026 against 2025", `role="img"`)
	b.get("/progress/weeks?season=2025").says("No work is recorded")
	s.as("abril", "en").speak("es").get("/progress").says("Avance de 2026", "Costo de mano de obra")
}

func lookAtOwnersFirst(t *testing.T, s *site) {
	s.as("abril", "en").speak("en").get("/").says("What needs you now")
}

var codeShown = regexp.MustCompile(`<b>([0-9A-Z]{5}-[0-9A-Z]{5})</b>`)

// An account is opened, handed over by a code that is shown once, and suspended.
func TestAccountsAreHandedOver(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("abril", "en").speak("en")
		form := url.Values{"id": {b.get("/accounts").says("Open an account").hidden("id")}, "name": {"Tomás Urías"}, "sign_in_name": {"Tomas"}, "role": {"worker"}, "language": {"es"}, "worker_id": {"999"}}
		b.post("/accounts", form).wants(http.StatusUnprocessableEntity).says(`href="#worker_id"`, `value="999"`)
		form.Set("worker_id", "19")
		at := "/accounts/" + form.Get("id")
		for range 2 {
			b.post("/accounts", form).leads(at + "?done=account_opened")
		}
		b.get("/").says("Tomás Urías has never signed in", `href="`+at+`"`)
		m := codeShown.FindStringSubmatch(b.post(at+"/code", url.Values{}).wants(http.StatusOK).body)
		if m == nil {
			t.Fatal("no code is shown")
		}
		account := b.get(at).hides(m[1])
		his := s.browser("es")
		his.post("/first-sign-in", url.Values{"employer": {"media-tarde"}, "account": {"tomas"}, "code": {m[1]}, "secret": {"tres palmas altas"}, "again": {"tres palmas altas"}}).leads("/")
		form.Set("version", account.hidden("version"))
		form.Set("suspended", "yes")
		b.post(at, form).leads(at + "?done=account_kept")
		b.post(at, form).wants(http.StatusPreconditionFailed).says("Somebody changed this")
		his.get("/my/week").wants(http.StatusSeeOther)
	})
}
