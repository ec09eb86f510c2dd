package handlers

import (
	"bytes"
	"crypto/tls"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/access"
	chain "palmero/models/evidence"
)

// farm is two servers on one PostgreSQL behind a proxy that speaks TLS and sends every request to the next of them.
type farm struct {
	*rig
	servers [2]*httptest.Server
	stores  [2]*models.Store
	proxy   *httptest.Server
}

func newFarm(t *testing.T) *farm {
	t.Helper()
	clock, target := newClock(), databases.Target(t, migrations.Postgres)
	open := func() *models.Store {
		store, err := models.Open(t.Context(), target, models.Options{Now: read(clock)})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = store.Close() })
		return store
	}
	f := &farm{stores: [2]*models.Store{open(), open()}}
	f.rig = newRig(t, f.stores[0], clock)
	for i, store := range f.stores {
		handler, err := New(Config{
			Store: store, Books: f.books, Issuer: f.issuer, Access: access.Options{Cost: access.Cost{Memory: 64, Passes: 1, Threads: 1}},
			Log: slog.New(slog.NewJSONHandler(f.log, nil)), TrustedProxies: []string{"127.0.0.0/8"},
		})
		if err != nil {
			t.Fatal(err)
		}
		f.servers[i] = httptest.NewServer(handler)
		t.Cleanup(f.servers[i].Close)
	}
	f.proxy = httptest.NewTLSServer(f.byTurns())
	t.Cleanup(f.proxy.Close)
	return f
}

// byTurns is the proxy: it says who asked and that they asked by TLS.
func (f *farm) byTurns() http.Handler {
	var n atomic.Int64
	return &httputil.ReverseProxy{
		ErrorLog: slog.NewLogLogger(slog.DiscardHandler, slog.LevelInfo),
		Rewrite: func(r *httputil.ProxyRequest) {
			to, err := url.Parse(f.servers[n.Add(1)%2].URL)
			if err != nil {
				panic(err) // it is a test server's
			}
			r.SetURL(to)
			r.SetXForwarded()
			r.Out.Host = r.In.Host
		},
	}
}

// post sends a document to a server as a person, and returns the status and what came back; 0 where nothing did.
func post(client *http.Client, base, path string, as *person, body any) (int, []byte) {
	sent, err := json.Marshal(body)
	if err != nil {
		return 0, []byte(err.Error())
	}
	request, err := http.NewRequest(http.MethodPost, base+path, bytes.NewReader(sent))
	if err != nil {
		return 0, []byte(err.Error())
	}
	request.Header.Set("Content-Type", "application/json")
	if as != nil {
		request.Header.Set("Authorization", "Bearer "+as.token)
	}
	response, err := client.Do(request)
	if err != nil {
		return 0, []byte(err.Error())
	}
	defer func() { _ = response.Body.Close() }() // it was read
	answer, err := io.ReadAll(response.Body)
	if err != nil {
		return 0, []byte(err.Error())
	}
	return response.StatusCode, answer
}

// The same sheet sent to both servers at once is one sheet.
func TestTwoServersTakeASheetInOnce(t *testing.T) {
	f := newFarm(t)
	sheet := f.ours.sheet()
	var wait sync.WaitGroup
	statuses := make([]int, 6)
	for i := range statuses {
		wait.Go(func() { statuses[i], _ = post(http.DefaultClient, f.servers[i%2].URL, sheetsPath, f.lead(), sheet) })
	}
	wait.Wait()
	slices.Sort(statuses)
	if diff := cmp.Diff([]int{200, 200, 200, 200, 200, 201}, statuses); diff != "" {
		t.Error(diff)
	}
	if got := f.do("GET", sheetsPath, f.clerk(), nil).items(); len(got) != 1 {
		t.Errorf("%d sheets kept", len(got))
	}
}

// Whom one server has let in the other lets in, and whom one has turned away often enough the other turns away.
func TestTwoServersKnowTheSamePeople(t *testing.T) {
	f := newFarm(t)
	credentials := object{"employer": "tres-pozos", "account": f.clerk().name.Account, "secret": secret}
	status, answer := post(f.proxy.Client(), f.proxy.URL, "/api/v1/sign-in", nil, credentials)
	var in signedIn
	if err := json.Unmarshal(answer, &in); err != nil || status != http.StatusOK {
		t.Fatalf("status %d: %s", status, answer)
	}
	for i, want := range []int{http.StatusNoContent, http.StatusUnauthorized} { // the second server knows that the session has ended
		if status, answer := post(http.DefaultClient, f.servers[i].URL, "/api/v1/sign-out", &person{token: in.AccessToken}, nil); status != want {
			t.Errorf("server %d: status %d, want %d: %s", i+1, status, want, answer)
		}
	}
	credentials["secret"] = "not the one at all"
	for n := range 14 {
		want := http.StatusUnauthorized
		if n >= 10 {
			want = http.StatusTooManyRequests
		}
		if status, answer := post(http.DefaultClient, f.servers[n%2].URL, "/api/v1/sign-in", nil, credentials); status != want {
			t.Errorf("attempt %d: status %d, want %d: %s", n+1, status, want, answer)
		}
	}
}

// Behind a proxy that is trusted, a browser's cookies are for TLS only.
func TestCookiesBehindAProxyAreForTLSOnly(t *testing.T) {
	f := newFarm(t)
	client := *f.proxy.Client()
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	response, err := client.PostForm(f.proxy.URL+"/sign-in", url.Values{"employer": {"tres-pozos"}, "account": {f.clerk().name.Account}, "secret": {secret}})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = response.Body.Close() }()
	if response.StatusCode != http.StatusSeeOther || len(response.Cookies()) == 0 || response.TLS == nil || response.TLS.Version < tls.VersionTLS12 {
		t.Fatalf("status %d with %d cookies", response.StatusCode, len(response.Cookies()))
	}
	for _, c := range response.Cookies() {
		if !c.Secure && c.Value != "" {
			t.Errorf("the cookie %s goes without TLS", c.Name)
		}
	}
}

// Both servers seal at once and again, while commands come in; the chain holds.
func TestTwoServersSealOneChain(t *testing.T) {
	f := newFarm(t)
	var wait sync.WaitGroup
	for _, store := range f.stores {
		for range 5 {
			wait.Go(func() {
				if _, err := store.SealAll(t.Context()); err != nil {
					t.Error(err)
				}
			})
			wait.Go(func() {
				if status, answer := post(f.proxy.Client(), f.proxy.URL, "/api/v1/gardens", f.admin(), object{"id": models.NewID(), "name": models.NewID().String(), "time_zone": "America/Los_Angeles", "rulebook": "us-ca"}); status != http.StatusCreated {
					t.Errorf("status %d: %s", status, answer)
				}
			})
		}
	}
	wait.Wait()
	if _, err := f.stores[1].SealAll(t.Context()); err != nil {
		t.Fatal(err)
	}
	err := f.stores[0].View(t.Context(), f.ours.Scope, func(tx *models.Tx) error {
		v, err := chain.Verify(tx)
		if err == nil && (v.Break != nil || v.Seals == 0) {
			t.Errorf("%+v", v)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}
