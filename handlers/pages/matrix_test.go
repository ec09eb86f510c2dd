package pages_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"palmero/handlers/pages"
	"palmero/models"
)

// allowed says who may see and do what, apart from the table that the pages are built of: w a worker, l a crew lead, c a clerk, s a safety officer, a an
// administrator, - whoever is not signed in. The pages of a concern are added by its own test file, in init.
var allowed = map[string]string{
	"GET /":                   "wlcsa",
	"GET /my/week":            "wl",
	"GET /my/pay":             "wl",
	"GET /my/counts/{id}":     "wl",
	"POST /my/counts/{id}":    "wl",
	"GET /my/statements":      "wl",
	"GET /my/statements/{id}": "wl",
	"GET /rulebooks/{key}":    "wlcsa",
	"GET /account":            "wlcsa",
	"POST /account/language":  "wlcsa",
	"POST /account/secret":    "wlcsa",
	"GET /sign-in":            "-",
	"POST /sign-in":           "-",
	"GET /first-sign-in":      "-",
	"POST /first-sign-in":     "-",
	"POST /sign-out":          "-",
	"POST /language":          "-",
}

// people are the season's, one of each role, by the role's letter.
var people = map[string]string{"w": "ines", "l": "ramiro", "c": "hazel", "s": "oscar", "a": "abril"}

// Somebody has said of every page who may.
func TestMatrixIsComplete(t *testing.T) {
	listed := map[string]bool{}
	for _, p := range pages.Pages() {
		name := p.Method + " " + p.Path
		listed[name] = true
		if _, ok := allowed[name]; !ok {
			t.Errorf("%s: nobody has said who may", name)
		}
	}
	for name := range allowed {
		if !listed[name] {
			t.Errorf("%s is no page", name)
		}
	}
}

// askByEveryRole asks for every page as every role and as nobody.
func askByEveryRole(t *testing.T, s *site) {
	browsers := map[string]*browser{}
	for letter, account := range people {
		browsers[letter] = s.as(account, "en").speak("en")
	}
	for _, p := range pages.Pages() {
		may := allowed[p.Method+" "+p.Path]
		if may == "-" {
			continue
		}
		path := strings.ReplaceAll(p.Path, "{id}", models.NewID().String())
		if got := s.try(s.browser("en"), p.Method, path); got.status != http.StatusSeeOther || !strings.HasPrefix(got.header.Get("Location"), "/sign-in") {
			t.Errorf("%s by nobody: %d", got.what, got.status)
		}
		for letter, b := range browsers {
			got := s.try(b, p.Method, path)
			if refused := got.status == http.StatusForbidden; refused == strings.Contains(may, letter) {
				t.Errorf("%s by %s: %d", got.what, people[letter], got.status)
			}
			if got.status == http.StatusForbidden {
				got.says("<h1>This page is not for your account</h1>", "It is for: ")
			}
		}
	}
}

func (s *site) try(b *browser, method, path string) *page {
	s.Helper()
	if method == http.MethodPost {
		return b.post(path, url.Values{})
	}
	return b.get(path)
}
