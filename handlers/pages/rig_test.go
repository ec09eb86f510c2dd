package pages_test

import (
	"bytes"
	"context"
	"html"
	"io"
	"log/slog"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/handlers"
	"palmero/handlers/figuring"
	"palmero/handlers/text"
	"palmero/handlers/tokens"
	"palmero/migrations"
	"palmero/models"
	"palmero/models/access"
	"palmero/models/season"
	"palmero/models/testdb"
	"palmero/payroll/rulebook"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

// site is the server over the invented season, with its clock.
type site struct {
	testing.TB
	handler http.Handler
	store   *models.Store
	clock   *season.Clock
	log     *lockedBuffer
}

// looking are the tests that share a season on each database, since they leave its work as it is: what they change is their own account's.
var looking = map[string]func(t *testing.T, s *site){
	"matrix":               askByEveryRole,
	"signing in":           signInAndOut,
	"sessions":             keepSessions,
	"too many attempts":    guess,
	"first sign-in":        signInFirst,
	"forms of other sites": sendFromElsewhere,
	"language":             switchLanguages,
	"secret":               changeSecret,
	"no such page":         lookForNothing,
	"provisions":           followProvisions,
	"languages never mix":  readAtOnce,
}

func TestPages(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		for _, name := range slices.Sorted(maps.Keys(looking)) {
			t.Run(name, func(t *testing.T) {
				looking[name](t, &site{TB: t, handler: s.handler, store: s.store, clock: s.clock, log: s.log})
			})
		}
	})
}

// each runs a test on both databases, each with a season of its own.
func each(t *testing.T, test func(t *testing.T, s *site)) {
	t.Helper()
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	for _, dialect := range testdb.Dialects() {
		t.Run(string(dialect), func(t *testing.T) {
			store, clock := inSeason(t, dialect, books)
			test(t, newSite(t, store, clock, books))
		})
	}
}

// inSeason is a store with the invented season, of which each test has a copy of its own, and its clock where the season ends.
func inSeason(t testing.TB, dialect migrations.Dialect, books *rulebook.Library) (*models.Store, *season.Clock) {
	t.Helper()
	clock := &season.Clock{}
	store := databases.Filled(t, dialect, "season", clock.Now, func(store *models.Store) error {
		return season.Seed(context.Background(), store, clock, books, figuring.Saying(text.For(text.Spanish)))
	})
	clock.Set(season.Opening)
	return store, clock
}

// cheap makes hashes that cost next to nothing.
var cheap = access.Options{Cost: access.Cost{Memory: 64, Passes: 1, Threads: 1}}

func newSite(t testing.TB, store *models.Store, clock *season.Clock, books *rulebook.Library) *site {
	t.Helper()
	s := &site{TB: t, store: store, clock: clock, log: &lockedBuffer{}}
	keys := tokens.Keys{Current: tokens.Key{ID: "1", Secret: bytes.Repeat([]byte{7}, tokens.MinSecret)}}
	issuer, err := tokens.NewIssuer(keys, "palmero", 10*time.Minute, clock.Now)
	if err != nil {
		t.Fatal(err)
	}
	s.handler, err = handlers.New(handlers.Config{Store: store, Books: books, Issuer: issuer, Access: cheap, Log: slog.New(slog.NewTextHandler(s.log, nil))})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// browser is somebody's, with its cookies.
type browser struct {
	*site
	language string // what it asks for
	cookies  map[string]*http.Cookie
}

// page is what it was shown.
type page struct {
	*browser
	what   string
	status int
	header http.Header
	body   string
}

func (s *site) browser(language string) *browser {
	return &browser{s, language, map[string]*http.Cookie{}}
}

// as is the browser of somebody who has signed in.
func (s *site) as(account, language string) *browser {
	s.Helper()
	b := s.browser(language)
	b.signIn(account, season.Secret).wants(http.StatusSeeOther)
	return b
}

// speak chooses a language on the page.
func (b *browser) speak(language string) *browser {
	b.Helper()
	b.post("/language", url.Values{"language": {language}, "to": {"/"}}).leads("/")
	return b
}

func (b *browser) signIn(account, secret string) *page {
	b.Helper()
	return b.post("/sign-in", url.Values{"employer": {"media-tarde"}, "account": {account}, "secret": {secret}})
}

func (b *browser) get(path string) *page { b.Helper(); return b.send(http.MethodGet, path, nil) }

func (b *browser) post(path string, form url.Values, headers ...string) *page {
	b.Helper()
	return b.send(http.MethodPost, path, form, headers...)
}

func (b *browser) send(method, path string, form url.Values, headers ...string) *page {
	b.Helper()
	r := httptest.NewRequest(method, path, strings.NewReader(form.Encode())).WithContext(b.Context())
	r.Header.Set("Accept", "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8")
	r.Header.Set("Accept-Language", b.language)
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	for _, c := range b.cookies {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	b.handler.ServeHTTP(w, r)
	response := w.Result()
	for _, c := range response.Cookies() {
		if c.MaxAge < 0 {
			delete(b.cookies, c.Name)
		} else {
			b.cookies[c.Name] = c
		}
		if !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" {
			b.Errorf("%s %s: the cookie %s", method, path, c)
		}
	}
	body, err := io.ReadAll(response.Body)
	if err != nil {
		b.Fatal(err)
	}
	p := &page{b, method + " " + path, response.StatusCode, response.Header, string(body)}
	p.inspect()
	return p
}

// unfilled is a placeholder for which there was no term, or a key without its message.
var unfilled = regexp.MustCompile(`\{[a-z_]+(:[a-z]+)?\}|>\s*(page|problem|fault|title|note|pay_problem)\.[a-z_.]+\s*<`)

// verbatim is what is shown as it was written, as the text of a book.
var verbatim = regexp.MustCompile(`(?s)<pre\b.*?</pre>|<textarea\b.*?</textarea>|<samp\b.*?</samp>`)

// programsDate is a date as programs write it, which pages do not, but where they tell how a date or a sheet of readings is typed.
var programsDate = regexp.MustCompile(`>[^<>]*\b\d{4}-\d{2}-\d{2}\b[^<>]*<`)

// inspect checks what holds of every answer.
func (p *page) inspect() {
	p.Helper()
	if p.status >= 500 {
		p.Errorf("%s: %d %s\n%s", p.what, p.status, p.body, p.log)
	}
	if p.status >= 300 && p.status < 400 {
		return
	}
	if how := p.header.Get("Content-Disposition"); how != "" && p.status == http.StatusOK {
		p.inspectFile(how)
		return
	}
	if !strings.HasPrefix(p.body, "<!DOCTYPE html>\n<html lang=\"") || !strings.HasSuffix(strings.TrimSpace(p.body), "</html>") {
		p.Errorf("%s: %d with no whole page: %.200s", p.what, p.status, p.body)
	}
	if found := unfilled.FindString(p.body); found != "" {
		p.Errorf("%s shows %s", p.what, found)
	}
	if found := programsDate.FindString(verbatim.ReplaceAllString(p.body, "")); found != "" && p.status == http.StatusOK && !strings.Contains(p.what, " /heat/readings") {
		p.Errorf("%s writes a date as %s", p.what, found)
	}
	if strings.Contains(p.body, `<html lang="es">`) && strings.Contains(p.body, "good practice") {
		p.Errorf("%s speaks of good practice in Spanish", p.what)
	}
	for name, want := range map[string]string{"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin"} {
		if got := p.header.Get(name); got != want {
			p.Errorf("%s: %s is %q", p.what, name, got)
		}
	}
	if policy := p.header.Get("Content-Security-Policy"); !strings.HasPrefix(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") ||
		!strings.Contains(policy, "frame-ancestors 'none'") || !strings.Contains(policy, "form-action 'self'") {
		p.Errorf("%s: the policy is %q", p.what, policy)
	}
	for _, inline := range []string{" style=", "<style", " onclick=", "javascript:"} {
		if strings.Contains(p.body, inline) {
			p.Errorf("%s: the policy forbids %s", p.what, inline)
		}
	}
}

// inspectFile checks what holds of every file: it is kept by no cache, read as what it says it is, and can do nothing.
func (p *page) inspectFile(how string) {
	p.Helper()
	if !strings.Contains(how, `; filename="`) || p.header.Get("Cache-Control") != "no-store" || p.header.Get("X-Content-Type-Options") != "nosniff" ||
		!strings.HasPrefix(p.header.Get("Content-Security-Policy"), "default-src 'none'") || !strings.HasSuffix(p.header.Get("Content-Security-Policy"), "sandbox") {
		p.Errorf("%s is a file with %v", p.what, p.header)
	}
}

// wants checks the status.
func (p *page) wants(status int) *page {
	p.Helper()
	if p.status != status {
		p.Errorf("%s: %d %s; want %d", p.what, p.status, p.main(), status)
	}
	return p
}

// main is the page without what is around it.
func (p *page) main() string {
	_, after, _ := strings.Cut(p.body, "<main")
	before, _, _ := strings.Cut(after, "</main>")
	return before
}

// says wants texts on the page.
func (p *page) says(texts ...string) *page {
	p.Helper()
	for _, want := range texts {
		if !strings.Contains(p.body, want) {
			p.Errorf("%s does not say %q:\n%s", p.what, want, p.main())
		}
	}
	return p
}

// hides wants texts not to be on the page.
func (p *page) hides(texts ...string) *page {
	p.Helper()
	for _, not := range texts {
		if strings.Contains(p.body, not) {
			p.Errorf("%s says %q", p.what, not)
		}
	}
	return p
}

// leads wants a redirect.
func (p *page) leads(to string) *page {
	p.Helper()
	if p.wants(http.StatusSeeOther); p.header.Get("Location") != to {
		p.Errorf("%s leads to %q; want %q", p.what, p.header.Get("Location"), to)
	}
	return p
}

var link = regexp.MustCompile(`href="([^"]+)"`)

// source is a link to where a provision can be read, the one thing that leads away from here.
var source = regexp.MustCompile(`<a (?:class="source" rel="noreferrer" )?href="https?://[^"]+"(?: rel="noreferrer")?>`)

// links are the addresses that the page leads to on this site.
func (p *page) links() (all []string) {
	base, err := url.Parse(strings.Fields(p.what)[1])
	if err != nil {
		p.Fatal(err)
	}
	for _, m := range link.FindAllStringSubmatch(source.ReplaceAllString(p.body, ""), -1) {
		to, err := base.Parse(html.UnescapeString(m[1]))
		if err != nil || to.Host != "" {
			p.Errorf("%s leads to %q", p.what, m[1])
			continue
		}
		to.Fragment = ""
		all = append(all, to.String())
	}
	return all
}

// hidden is the value of a hidden field.
func (p *page) hidden(name string) string {
	p.Helper()
	m := regexp.MustCompile(`type="hidden" name="` + name + `" value="([^"]*)"`).FindStringSubmatch(p.body)
	if m == nil {
		p.Fatalf("%s has no hidden field %s", p.what, name)
	}
	return html.UnescapeString(m[1])
}

// code hands out a code for an account, as an administrator does.
func (s *site) code(signInName string) string {
	s.Helper()
	employer, err := s.store.FindEmployer(s.Context(), "media-tarde")
	if err != nil {
		s.Fatal(err)
	}
	scope := models.Scope{Employer: employer.ID}
	var id uuid.UUID
	err = s.store.View(s.Context(), scope, func(tx *models.Tx) error {
		accounts, err := models.List[models.Account](tx, models.Page{Limit: 1}, models.Equal("sign_in_name", signInName))
		if err == nil {
			id = accounts[0].ID
		}
		return err
	})
	if err != nil {
		s.Fatal(err)
	}
	code, err := access.New(s.store, cheap).IssueCode(s.Context(), scope, models.RoleAdministrator, id)
	if err != nil {
		s.Fatal(err)
	}
	return code.Code
}

// lockedBuffer gathers a log that several requests write.
type lockedBuffer struct {
	sync.Mutex
	buffer bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.Lock()
	defer b.Unlock()
	return b.buffer.Write(p)
}

func (b *lockedBuffer) String() string {
	b.Lock()
	defer b.Unlock()
	return b.buffer.String()
}
