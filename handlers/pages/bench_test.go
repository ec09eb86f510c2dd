package pages_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"testing"
	"time"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/access"
	"palmero/models/season"
	"palmero/models/synthetic"
	"palmero/models/testdb"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// What a farm of 200 has behind it after a season of twenty weeks. A page's cost follows the people of its week, not the weeks behind it.
const (
	farmWorkers = 200
	farmWeeks   = 20
)

// BenchmarkOwnPages measures the server's time for a worker's pages on such a farm, and reports its 95th percentile in milliseconds.
func BenchmarkOwnPages(b *testing.B) {
	for _, dialect := range testdb.Dialects() {
		b.Run(string(dialect), func(b *testing.B) {
			s, e := farm(b, dialect)
			cookies := s.employ(e, models.RoleWorker, "worker")
			for _, path := range []string{"/", "/my/week", "/my/pay", "/my/statements", "/account"} {
				b.Run(path, func(b *testing.B) { s.measure(b, path, cookies) })
			}
		})
	}
}

// farm is the server over a synthetic employer.
func farm(b *testing.B, dialect migrations.Dialect) (*site, *synthetic.Employer) {
	b.Helper()
	books, err := rulebook.Load()
	if err != nil {
		b.Fatal(err)
	}
	week := dated.MustDate("2026-03-01")
	clock := &season.Clock{}
	clock.Set(time.Date(2026, 3, 7, 22, 0, 0, 0, time.UTC))
	target, dsn := databases.Target(b, migrations.SQLite), ""
	if dialect == migrations.Postgres {
		target, dsn = databases.ServingDSN(b)
	}
	store, err := models.Open(b.Context(), target, models.Options{Now: clock.Now})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = store.Close() })
	e, err := synthetic.Found(b.Context(), store, "synthetic", farmWorkers)
	if err == nil {
		err = e.History(b.Context(), books, week, farmWeeks, farmWorkers, func(int) {})
	}
	if err == nil {
		err = e.Record(b.Context(), week, farmWorkers)
	}
	if err != nil {
		b.Fatal(err)
	}
	if dsn != "" {
		databases.Analyze(b, dsn)
	}
	return newSite(b, store, clock, books), e
}

// employ opens an account at the synthetic employer, signs it in, and returns its cookies.
func (s *site) employ(e *synthetic.Employer, role models.Role, name string) map[string]*http.Cookie {
	s.Helper()
	worker, id := e.Worker(0), models.NewID()
	err := s.store.In(s.Context(), e.Owner, func(tx *models.Tx) error {
		_, _, err := access.CreateAccount(tx, models.RoleAdministrator, id, models.AccountContent{SignInName: name, Name: "Somebody", Role: role, Language: "es", WorkerID: &worker})
		return err
	})
	if err != nil {
		s.Fatal(err)
	}
	code, err := access.New(s.store, cheap).IssueCode(s.Context(), e.Owner, models.RoleAdministrator, id)
	if err != nil {
		s.Fatal(err)
	}
	b := s.browser("es")
	const secret = "ladder in the tall palms"
	b.post("/first-sign-in", url.Values{"employer": {"synthetic"}, "account": {name}, "code": {code.Code}, "secret": {secret}, "again": {secret}}).leads("/")
	return b.cookies
}

func (s *site) measure(b *testing.B, path string, cookies map[string]*http.Cookie) {
	var took []time.Duration
	for b.Loop() {
		r := httptest.NewRequest(http.MethodGet, path, nil)
		for _, c := range cookies {
			r.AddCookie(c)
		}
		w := httptest.NewRecorder()
		began := time.Now()
		s.handler.ServeHTTP(w, r)
		took = append(took, time.Since(began))
		if w.Code != http.StatusOK {
			b.Fatalf("%s: %d %s", path, w.Code, w.Body)
		}
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
}
