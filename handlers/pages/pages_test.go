package pages_test

import (
	"cmp"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"palmero/handlers/pages"
	"palmero/handlers/text"
	"palmero/models/season"
)

// Everybody follows every link there is for them, in both languages, and finds every page that they may see.
func TestEveryPageIsLedTo(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		s.goOn(t)
		followEveryLink(t, s)
	})
}

// goOn takes the season a little further, so that every page has something to show.
func (s *site) goOn(t *testing.T) {
	hazel, oscar, ramiro := s.as("hazel", text.English), s.as("oscar", text.English).speak(text.English), s.as("ramiro", text.English)
	begin(t, s, ramiro)
	ramiro.post("/day/time", ramiro.get("/day/time").dayForm("kind", "piece", "do", "start"))
	s.workUncleared(4)
	oscar.cut(nil)
	for _, list := range slices.Compact(checklistLink.FindAllString(oscar.get("/checklists").body, -1)) {
		oscar.post(list, url.Values{"decision": {"sent_back"}, "reason": {"Look at the ropes again"}})
	}
	_, aside := oscar.findAside("2026-03-02")
	form := url.Values{"competent_person": {"Lourdes Ibarra"}, "grounds": {"Looked myself"}}
	for _, name := range []string{"id", "crew", "on", "way", "block", "worker", "code"} {
		form.Set(name, oscar.get(aside).hidden(name))
	}
	oscar.post("/rules-set-aside/new", form).wants(http.StatusSeeOther)
	book := hazel.get("/books/text").hidden("id")
	s.as("abril", text.English).post("/books/text", url.Values{"id": {book}, "text": {oasis}, "replaces": {""}}).leads("/books/" + book + "?done=book_entered")
	run := hazel.drafted()
	hazel.posted(run+"/redraft", url.Values{"version": {hazel.get(run).hidden("version")}}).leads(run + "?done=redrafted")
}

// notLedTo are pages to which nothing leads somebody in the season, even after it went on, and why.
var notLedTo = map[string]string{
	"c /pay/{id}/payments": "the open week is not approved",
	"a /pay/{id}/payments": "the open week is not approved",
	"c /imports/{id}":      "no file waits",
	"a /imports/{id}":      "no file waits",
	"s /photos/{id}":       "photos are files",
	"s /photos/{id}/small": "photos are files",
	"a /photos/{id}":       "photos are files",
	"a /photos/{id}/small": "photos are files",
	"l /photos/{id}":       "photos are files",
	"l /photos/{id}/small": "photos are files",
	"a /sick-leave/{id}":   "it is found by the worker's number",
	"l /my/counts/{id}":    "the crew lead counts no bunches of his own",
	"s /rulebooks/{key}":   "they are about pay",
}

func followEveryLink(t *testing.T, s *site) {
	for letter, account := range people {
		for _, language := range text.Languages() {
			found := map[string]bool{}
			for address := range s.as(account, "fr").speak(language).walk("/", language) {
				path, _, _ := strings.Cut(address, "?")
				found[pageOf(path)] = true
			}
			for _, p := range pages.Pages() {
				if p.Method == "GET" && !p.Open && strings.Contains(allowed["GET "+p.Path], letter) && !found[p.Path] && notLedTo[letter+" "+p.Path] == "" && !strings.HasSuffix(p.Path, ".csv") {
					t.Errorf("nothing leads %s to %s", account, p.Path)
				}
			}
		}
	}
}

// pageOf is the path in the table of the page at an address, "" where it is none of the pages.
func pageOf(path string) string {
	steps := strings.Split(path, "/")
	for _, p := range pages.Pages() {
		wanted := strings.Split(p.Path, "/")
		if p.Method == "GET" && slices.EqualFunc(wanted, steps, func(want, step string) bool { return want == step || strings.HasPrefix(want, "{") }) {
			return p.Path
		}
	}
	return ""
}

// mostOfEach is how many addresses of one page a walk looks at, since there is always a week before.
const mostOfEach = 3

// walk reads a page and all that it leads to, and returns what it looked at.
func (b *browser) walk(from, language string) map[string]bool {
	b.Helper()
	seen := map[string]bool{from: true}
	looked := map[string]int{}
	for next := []string{from}; len(next) > 0; next = next[1:] {
		if strings.HasPrefix(next[0], "/api/") {
			continue
		}
		if strings.HasPrefix(next[0], "/assets/") {
			b.asset(next[0])
			continue
		}
		path, _, _ := strings.Cut(next[0], "?")
		page := cmp.Or(pageOf(path), path)
		if looked[page]++; looked[page] > mostOfEach {
			delete(seen, next[0])
			continue
		}
		p := b.get(next[0]).wants(http.StatusOK)
		if p.header.Get("Content-Disposition") != "" {
			delete(seen, next[0])
			continue
		}
		p.says(`<html lang="` + language + `">`)
		if n := len(p.body); n > 100_000 {
			b.Errorf("%s has %d bytes", p.what, n)
		}
		if n := strings.Count(p.body, "<h1"); n != 1 {
			b.Errorf("%s has %d first headings", p.what, n)
		}
		for _, to := range p.links() {
			if !seen[to] {
				seen[to] = true
				next = append(next, to)
			}
		}
	}
	return seen
}

func (b *browser) asset(path string) {
	b.Helper()
	r, err := http.NewRequestWithContext(b.Context(), http.MethodGet, path, nil)
	if err != nil {
		b.Fatal(err)
	}
	r.Header.Set("Accept-Encoding", "gzip, br")
	w := httptest.NewRecorder()
	b.handler.ServeHTTP(w, r)
	if w.Code != http.StatusOK || !strings.Contains(w.Header().Get("Cache-Control"), "immutable") || w.Header().Get("Content-Encoding") != "gzip" && w.Body.Len() > 1000 {
		b.Errorf("%s: %d %v", path, w.Code, w.Header())
	}
}

func signInAndOut(t *testing.T, s *site) {
	b := s.browser("es")
	b.get("/").leads("/sign-in")
	b.get("/my/pay?week=2026-02-22").leads("/sign-in?to=%2Fmy%2Fpay%3Fweek%3D2026-02-22")
	b.get("/sign-in?to=%2Fmy%2Fpay%3Fweek%3D2026-02-22").says(`value="/my/pay?week=2026-02-22"`, "Entrar")
	wrong := b.signIn("ines", "no es esta").wants(http.StatusUnprocessableEntity)
	wrong.says("El empleador, la cuenta o la clave está mal.", `role="alert"`, `value="ines"`, "No se hizo: ").hides("no es esta")
	if len(b.cookies) > 0 {
		t.Errorf("cookies of nobody: %v", b.cookies)
	}
	b.post("/sign-in", url.Values{"employer": {" Media-Tarde "}, "account": {"INES"}, "secret": {season.Secret}, "to": {"/my/pay?week=2026-02-22"}}).leads("/my/pay?week=2026-02-22")
	b.get("/my/pay?week=2026-02-22").wants(http.StatusOK)
	if c := b.cookies["palmero"]; c.MaxAge != 0 || c.Secure {
		t.Errorf("a session that ends with the browser: %v", c)
	}
	out := b.post("/sign-out", url.Values{}).leads("/sign-in?done=signed_out")
	if out.header.Get("Clear-Site-Data") != `"cache", "cookies", "storage"` || len(b.cookies) > 0 {
		t.Errorf("signing out leaves %v behind", b.cookies)
	}
	b.get("/sign-in?done=signed_out").says("En este aparato no queda nada suyo.")
	b.get("/my/week").leads("/sign-in?to=%2Fmy%2Fweek")
}

func keepSessions(t *testing.T, s *site) {
	b := s.browser("es")
	b.post("/sign-in", url.Values{"employer": {"media-tarde"}, "account": {"ines"}, "secret": {season.Secret}, "keep": {"yes"}}).leads("/")
	first := b.cookies["palmero"]
	if first.MaxAge < 29*24*60*60 {
		t.Errorf("a session to keep: %v", first)
	}
	s.clock.Start(s.clock.Now().Add(time.Hour))
	b.get("/my/week").wants(http.StatusOK)
	if b.cookies["palmero"].Value == first.Value {
		t.Error("the session was not refreshed")
	}
	b.get("/my/week").wants(http.StatusOK)
	stolen := s.browser("es")
	stolen.cookies["palmero"] = b.cookies["palmero"]
	b.post("/sign-out", url.Values{})
	stolen.get("/my/week").leads("/sign-in?done=session_ended&to=%2Fmy%2Fweek")
	for _, nonsense := range []string{"", "~", "~~", "a~b~c", strings.Repeat("~", 5000)} {
		stolen.cookies["palmero"] = &http.Cookie{Name: "palmero", Value: nonsense}
		stolen.get("/my/week").wants(http.StatusSeeOther)
	}
}

func guess(t *testing.T, s *site) {
	b := s.browser("en")
	for range 10 {
		b.signIn("nobody", "a guess in the dark").wants(http.StatusUnprocessableEntity)
	}
	if p := b.signIn("nobody", season.Secret).wants(http.StatusTooManyRequests).says("Wait 15 min"); p.header.Get("Retry-After") == "" {
		t.Error("how long to wait is not said")
	}
}

func signInFirst(t *testing.T, s *site) {
	old := s.as("gudelia", "es")
	code := s.code("gudelia")
	b := s.browser("es")
	form := url.Values{"employer": {"media-tarde"}, "account": {"gudelia"}, "code": {code}, "secret": {"tres palmas altas"}, "again": {"tres palmas"}}
	b.post("/first-sign-in", form).wants(http.StatusUnprocessableEntity).says(`href="#again"`, `id="again-fault"`, `aria-describedby="again-fault" aria-invalid="true"`, code).hides("tres palmas")
	form.Set("again", "tres palmas altas")
	b.post("/first-sign-in", form).leads("/")
	b.get("/").wants(http.StatusOK)
	old.get("/").leads("/sign-in?done=session_ended")
	s.browser("es").post("/first-sign-in", form).wants(http.StatusUnprocessableEntity).says("ya se usó o venció")
	s.browser("es").signIn("gudelia", "tres palmas altas").leads("/")
}

func sendFromElsewhere(t *testing.T, s *site) {
	b := s.as("ines", "en")
	for _, from := range [][]string{{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}, {"Sec-Fetch-Site", "", "Origin", "https://elsewhere.example"}, {"Sec-Fetch-Site", "", "Origin", "null"}} {
		b.post("/sign-out", url.Values{}, from...).wants(http.StatusForbidden).says("from another site")
	}
	b.post("/language", url.Values{"language": {"es"}, "to": {"/my/week"}}, "Sec-Fetch-Site", "", "Origin", "http://example.com").leads("/my/week")
	b.get("/my/week").wants(http.StatusOK).says("Mi semana")
}

func switchLanguages(t *testing.T, s *site) {
	stranger := s.browser("es-MX,es;q=0.9")
	stranger.get("/sign-in").says(`<html lang="es">`)
	stranger.post("/language", url.Values{"language": {"en"}, "to": {"/sign-in?to=%2Fmy%2Fweek"}}).leads("/sign-in?to=%2Fmy%2Fweek")
	stranger.get("/sign-in").says(`<html lang="en">`)
	for _, elsewhere := range []string{"https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "javascript:alert(1)", "", "x", "/\n/x"} {
		stranger.post("/language", url.Values{"language": {"tlh"}, "to": {elsewhere}}).leads("/")
	}
	stranger.get("/sign-in").says(`<html lang="en">`)
	ines := s.as("ines", "en")
	ines.get("/account").says(`<html lang="es">`, `value="es" checked`)
	ines.post("/account/language", url.Values{"language": {"en"}}).leads("/account?done=language")
	ines.get("/account?done=language").says(`<html lang="en">`, "Palmero speaks to you in English.", `value="en" checked`)
	ines.post("/account/language", url.Values{"language": {"tlh"}}).wants(http.StatusUnprocessableEntity).says(`href="#language"`)
	ines.post("/account/language", url.Values{"language": {"es"}}).leads("/account?done=language")
	s.as("ines", "en").get("/").says(`<html lang="es">`)
}

func changeSecret(t *testing.T, s *site) {
	here, there := s.as("eusebio", "en"), s.as("eusebio", "en")
	here.post("/account/secret", url.Values{"current": {"wrong"}, "secret": {"under the palms"}, "again": {"under the palms"}}).
		wants(http.StatusUnprocessableEntity).says(`href="#current"`).hides("under the palms")
	here.post("/account/secret", url.Values{"current": {season.Secret}, "secret": {"short"}, "again": {"short"}}).wants(http.StatusUnprocessableEntity).says(`href="#secret"`)
	here.post("/account/secret", url.Values{"current": {season.Secret}, "secret": {"under the palms"}, "again": {"under the palms"}}).leads("/account?done=secret")
	here.get("/account?done=secret").says("La clave nueva ya vale.")
	there.get("/account").leads("/sign-in?done=session_ended&to=%2Faccount")
	s.browser("en").signIn("eusebio", "under the palms").leads("/")
}

func lookForNothing(t *testing.T, s *site) {
	s.browser("es").get("/nowhere/<script>").wants(http.StatusNotFound).says("Esta página no existe").hides("<script>")
	s.as("ines", "en").get("/nowhere").wants(http.StatusNotFound).says("Esta página no existe", "Mi semana")
	s.as("ines", "en").post("/my/week", url.Values{}).wants(http.StatusMethodNotAllowed)
	s.as("hazel", "es").get("/my/week").wants(http.StatusForbidden).says("It is for: worker, crew lead.")
	s.as("ines", "es").post("/my/counts/no-id", url.Values{"note": {strings.Repeat("x", 3<<20)}}).wants(http.StatusRequestEntityTooLarge)
}

var countLink = regexp.MustCompile(`/my/counts/[0-9a-f-]{36}`)

func TestOwnCounts(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("ines", "es")
		week := b.get("/my/week?week=2026-02-24").says("22 feb 2026", "Polinización"[1:], "aún no dice nada")
		counts := countLink.FindAllString(week.body, -1)
		count := b.get(counts[0]).says("Anotado por")
		form := url.Values{"id": {count.hidden("id")}, "week": {"2026-02-23"}, "answer": {"disputed"}, "note": {" "}}
		b.post(counts[0], form).wants(http.StatusUnprocessableEntity).says(`href="#note"`, `id="note-fault"`, `value="`+form.Get("id")+`"`)
		form.Set("note", `Eran 90 <b>& más</b>`)
		for range 2 { // the button was pressed twice
			b.post(counts[0], form).leads("/my/week?week=2026-02-23&done=count_disputed")
		}
		if p := b.get(counts[0]).says("usted la reclamó", "Eran 90 &lt;b&gt;&amp; más&lt;/b&gt;"); strings.Count(p.body, "Eran 90") != 1 {
			t.Error("what was sent twice is there twice")
		}
		b.get("/my/week?week=2026-02-23&done=count_disputed").says("Su reclamo quedó anotado.", "usted la reclamó")
		form.Set("note", "Eran 91")
		b.post(counts[0], form).wants(http.StatusConflict).says("ya se había enviado con otra cosa", "Eran 91").hides(form.Get("id"))
		s.as("ramiro", "en").get(counts[0]).wants(http.StatusNotFound) // another's
	})
}

// Whose words are in one language are never mixed with another's, however many read at once.
func readAtOnce(t *testing.T, s *site) {
	b := s.as("ines", "en")
	var all sync.WaitGroup
	for i := range 8 {
		language, says, not := "en", "My wage statements", "Mis recibos"
		if i%2 == 1 {
			language, says, not = "es", "Mis recibos de pago", "My wage"
		}
		all.Go(func() {
			mine := &browser{s, language, map[string]*http.Cookie{"palmero": b.cookies["palmero"], "palmero-language": {Name: "palmero-language", Value: language}}}
			for range 20 {
				mine.get("/my/statements").says(says, fmt.Sprintf(`<html lang="%s">`, language)).hides(not)
			}
		})
	}
	all.Wait()
}

var said = regexp.MustCompile(`\bt "([a-z_.]+)"`)

// Every message that a template asks for is there, in every language.
func TestEveryKeyInTheTemplatesHasItsMessage(t *testing.T) {
	files, err := filepath.Glob("templates/*.html")
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	for _, file := range files {
		source, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range said.FindAllSubmatch(source, -1) {
			for _, lang := range text.Languages() {
				if key := string(m[1]); !text.For(lang).Has(key) {
					t.Errorf("%s: %s has no message %s", file, lang, key)
				}
			}
		}
	}
}
