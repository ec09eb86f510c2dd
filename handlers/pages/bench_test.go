package pages_test

import (
	"cmp"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"text/tabwriter"
	"time"

	"palmero/handlers/server"
	"palmero/migrations"
	"palmero/models"
	"palmero/models/access"
	"palmero/models/season"
	"palmero/models/synthetic"
	"palmero/models/testdb"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// What a farm has behind it: seasons of as many weeks, each paid, each climb looked over and cleared.
const (
	farmWorkers = 200
	farmSeasons = 5
	farmWeeks   = 20
	farmPalms   = 2000
)

// BenchmarkPages measures the server's time for every page that somebody at such a farm is led to, as each role, and logs it page by page, the slowest first: the 50th, 95th and 99th percentile, the
// slowest, and the processor's time, in milliseconds; statements; bytes, and how many of
// them are sent. A page is measured as often as the benchmark runs, so -benchtime=40x is a fair count.
func BenchmarkPages(b *testing.B) {
	for _, dialect := range testdb.Dialects() {
		b.Run(string(dialect), func(b *testing.B) {
			f := newFarm(b, dialect)
			var pages []*timedPage
			for _, role := range []models.Role{models.RoleWorker, models.RoleCrewLead, models.RoleClerk, models.RoleSafetyOfficer, models.RoleAdministrator} {
				pages = append(pages, f.led(b, role)...)
			}
			for b.Loop() {
				for _, p := range pages {
					f.ask(b, p)
				}
			}
			b.ReportMetric(float64(report(b, pages).Microseconds())/1000, "worst-p95-ms")
		})
	}
}

// timedPage is a page as one role is led to it.
type timedPage struct {
	role    models.Role
	pattern string // the address without identifiers and values
	path    string
	cookies map[string]*http.Cookie

	took       []time.Duration
	worked     time.Duration     // of the processor in this process, all together: what else the machine does leaves it alone
	bytes      int               // of the page
	sent       int               // of them once compressed
	statements map[string]asking // of one request, by who asked
}

// asking is how often somebody asked, and how long that took.
type asking struct {
	times int
	took  time.Duration
}

// at is a percentile of the times.
func (p *timedPage) at(percent int) time.Duration {
	return p.took[min(len(p.took)*percent/100, len(p.took)-1)]
}

// report logs the pages, the slowest first, and returns the slowest one's 95th percentile.
func report(b *testing.B, pages []*timedPage) time.Duration {
	for _, p := range pages {
		slices.Sort(p.took)
	}
	slices.SortFunc(pages, func(a, b *timedPage) int { return cmp.Compare(b.at(95), a.at(95)) })
	var text strings.Builder
	w := tabwriter.NewWriter(&text, 0, 0, 2, ' ', tabwriter.AlignRight)
	_, _ = fmt.Fprintln(w, "p50\tp95\tp99\tmost\tprocessor\tstatements\tbytes\tsent\t  page\t")
	for _, p := range pages {
		n, longest, name := 0, asking{}, ""
		for asker, a := range p.statements {
			if n += a.times; a.took > longest.took {
				longest, name = a, asker
			}
		}
		ms := func(d time.Duration) string { return fmt.Sprintf("%.1f", float64(d.Microseconds())/1000) }
		_, _ = fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%d\t%d\t%d\t  %s as %s; %d by %s: %s\t\n", ms(p.at(50)), ms(p.at(95)), ms(p.at(99)), ms(p.at(100)),
			ms(p.worked/time.Duration(len(p.took))), n, p.bytes, p.sent, p.pattern, p.role, longest.times, name, ms(longest.took))
	}
	_ = w.Flush()                                                      // into memory
	_, _ = fmt.Fprintf(os.Stdout, "\n%d pages\n%s", len(pages), &text) // a benchmark's log is cut after a few lines
	return pages[0].at(95)
}

// measuredFarm is the server over a synthetic employer, with a count of the statements that are asked.
type measuredFarm struct {
	*site
	*synthetic.Employer
	mu    sync.Mutex
	asked map[string]asking
}

func newFarm(b *testing.B, dialect migrations.Dialect) *measuredFarm {
	b.Helper()
	books, err := rulebook.Load()
	if err != nil {
		b.Fatal(err)
	}
	week := dated.MustDate("2026-03-01")
	clock := &season.Clock{}
	clock.Set(time.Date(2026, 3, 6, 23, 30, 0, 0, time.UTC)) // Friday afternoon
	target, dsn := databases.Target(b, migrations.SQLite), ""
	if dialect == migrations.Postgres {
		target, dsn = databases.ServingDSN(b)
	}
	server.CollectLess()
	f := &measuredFarm{asked: map[string]asking{}}
	store, err := models.Open(b.Context(), target, models.Options{Now: clock.Now, Slow: models.SlowStatements{After: 1, Tell: f.count}})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = store.Close() })
	if f.Employer, err = synthetic.Found(b.Context(), store, "synthetic", farmWorkers); err == nil {
		err = f.grow(b, books, week)
	}
	if err != nil {
		b.Fatal(err)
	}
	if dsn != "" {
		databases.Settle(b, dsn)
	}
	f.site = newSite(b, store, clock, books)
	return f
}

// grow gives the farm its seasons, the last of which goes on: this week is drafted.
func (f *measuredFarm) grow(b *testing.B, books *rulebook.Library, week dated.Date) error {
	ctx := b.Context()
	gear, err := f.Equip(ctx, farmPalms)
	for n := farmSeasons - 1; n >= 0 && err == nil; n-- {
		last := week.AddDays(-7 * 52 * n)
		if err = f.History(ctx, books, last, farmWeeks, farmWorkers, func(int) {}); err == nil {
			err = f.Season(ctx, gear, last.AddDays(-7*(farmWeeks-1)), farmWeeks)
		}
		b.Logf("a season is done, %s", time.Now().Format(time.TimeOnly))
	}
	if err == nil {
		err = f.Record(ctx, week, farmWorkers)
	}
	if err == nil {
		_, err = f.Draft(ctx, books, week)
	}
	return err
}

func (f *measuredFarm) count(name string, took time.Duration) {
	f.mu.Lock()
	defer f.mu.Unlock()
	name = name[strings.LastIndexByte(name, '/')+1:]
	so := f.asked[name]
	f.asked[name] = asking{so.times + 1, so.took + took}
}

var (
	links   = regexp.MustCompile(`<a [^>]*href="(/[^"#]*)`)
	idsIn   = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f-]{27}`)
	valueIn = regexp.MustCompile(`=[^&]*`)
)

// led lists the pages that a role is led to from its first page on, one of each kind.
func (f *measuredFarm) led(b *testing.B, role models.Role) (pages []*timedPage) {
	cookies := f.employ(role)
	seen := map[string]bool{}
	for next := []string{"/"}; len(next) > 0; next = next[1:] {
		path := strings.ReplaceAll(next[0], "&amp;", "&")
		pattern := valueIn.ReplaceAllString(idsIn.ReplaceAllString(path, "{id}"), "")
		if seen[pattern] || strings.HasPrefix(path, "/api/") || strings.Contains(path, "/csv") {
			continue
		}
		seen[pattern] = true
		p := &timedPage{role: role, pattern: pattern, path: path, cookies: cookies}
		body := f.ask(b, p)
		for _, m := range links.FindAllStringSubmatch(body, -1) {
			next = append(next, m[1])
		}
		p.took, p.worked, p.bytes = nil, 0, len(body) // what it took the first time does not count
		pages = append(pages, p)
	}
	return pages
}

// ask asks for a page once.
func (f *measuredFarm) ask(b *testing.B, p *timedPage) (body string) {
	b.Helper()
	clear(f.asked)
	r := httptest.NewRequest(http.MethodGet, p.path, nil)
	if p.bytes > 0 { // it was read once
		r.Header.Set("Accept-Encoding", "gzip")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	for _, c := range p.cookies {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	began, worked := time.Now(), processor(b)
	f.handler.ServeHTTP(w, r)
	p.took, p.worked = append(p.took, time.Since(began)), p.worked+processor(b)-worked
	if w.Code >= http.StatusInternalServerError || w.Code == http.StatusNotFound {
		b.Fatalf("%s: %d %s", p.path, w.Code, w.Body)
	}
	p.sent, p.statements = w.Body.Len(), maps.Clone(f.asked)
	return w.Body.String()
}

// processor is the time that the processor has worked for this process.
func processor(b *testing.B) time.Duration {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// employ opens an account at the synthetic employer, signs it in, and returns its cookies.
func (f *measuredFarm) employ(role models.Role) map[string]*http.Cookie {
	f.Helper()
	worker, id, name := f.Worker(0), models.NewID(), "my-"+models.NewID().String()[24:]
	if role == models.RoleWorker {
		worker = f.Worker(7)
	}
	err := f.store.In(f.Context(), f.Owner, func(tx *models.Tx) error {
		_, _, err := access.CreateAccount(tx, models.RoleAdministrator, id, models.AccountContent{SignInName: name, Name: "Somebody", Role: role, Language: "es", WorkerID: &worker})
		return err
	})
	if err != nil {
		f.Fatal(err)
	}
	code, err := access.New(f.store, cheap).IssueCode(f.Context(), f.Owner, models.RoleAdministrator, id)
	if err != nil {
		f.Fatal(err)
	}
	b := f.browser("es")
	const secret = "ladder in the tall palms"
	b.post("/first-sign-in", url.Values{"employer": {"synthetic"}, "account": {name}, "code": {code.Code}, "secret": {secret}, "again": {secret}}).leads("/")
	return b.cookies
}
