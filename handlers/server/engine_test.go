package server

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
)

// trial is an engine with a few routes of its own, and what it logged.
type trial struct {
	*gin.Engine
	log bytes.Buffer
}

var account = uuid.Must(uuid.NewV7())

func newTrial(t *testing.T, change func(*Options)) *trial {
	t.Helper()
	tr := &trial{}
	options := Options{
		Log: slog.New(slog.NewJSONHandler(&tr.log, &slog.HandlerOptions{Level: slog.LevelDebug})),
		Problem: func(c *gin.Context, status int) {
			c.Data(status, "application/problem+json", []byte(`{"title":"a problem"}`))
		},
		Ready:     func(context.Context) error { return nil },
		BodyLimit: 100,
		Metrics:   true,
	}
	if change != nil {
		change(&options)
	}
	engine, err := NewEngine(options)
	if err != nil {
		t.Fatal(err)
	}
	tr.Engine = engine
	engine.GET("/workers/:id", func(c *gin.Context) { SetAccount(c, account); c.String(http.StatusOK, "here") })
	engine.GET("/panic", func(*gin.Context) { panic("the ladder fell") })
	engine.GET("/panic/late", func(c *gin.Context) { c.String(http.StatusOK, "half"); panic("the ladder fell") })
	engine.GET("/address", func(c *gin.Context) { c.String(http.StatusOK, c.ClientIP()) })
	engine.POST("/sheets", func(c *gin.Context) {
		var tooLarge *http.MaxBytesError
		if _, err := io.ReadAll(c.Request.Body); errors.As(err, &tooLarge) {
			c.String(http.StatusTeapot, "too large while reading")
		}
	})
	return tr
}

func (tr *trial) do(method, target, body string, headers ...string) *http.Response {
	request := httptest.NewRequest(method, target, strings.NewReader(body))
	if body == "" {
		request.Body = http.NoBody
	}
	for i := 0; i < len(headers); i += 2 {
		request.Header.Set(headers[i], headers[i+1])
	}
	recorder := httptest.NewRecorder()
	tr.ServeHTTP(recorder, request)
	return recorder.Result()
}

func text(t *testing.T, response *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// entries are what was logged, one map for each line.
func (tr *trial) entries(t *testing.T) (all []map[string]any) {
	t.Helper()
	for line := range strings.Lines(tr.log.String()) {
		var entry map[string]any
		if err := json.Unmarshal([]byte(line), &entry); err != nil {
			t.Fatal(err)
		}
		all = append(all, entry)
	}
	return all
}

func TestEngineAnswers(t *testing.T) {
	tests := []struct {
		name, method, target, body string
		status                     int
		say                        string
	}{
		{"alive", "GET", "/healthz", "", 200, "alive"},
		{"ready", "GET", "/readyz", "", 200, "ready"},
		{"a route", "GET", "/workers/14", "", 200, "here"},
		{"no such path", "GET", "/elsewhere", "", 404, "a problem"},
		{"a slash too many", "GET", "/sheets/", "", 404, "a problem"},
		{"no such method", "DELETE", "/workers/14", "", 405, "a problem"},
		{"a panic", "GET", "/panic", "", 500, "a problem"},
		{"a large body", "POST", "/sheets", strings.Repeat("x", 101), 413, "a problem"},
		{"a body that just fits", "POST", "/sheets", strings.Repeat("x", 100), 200, ""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			response := newTrial(t, nil).do(test.method, test.target, test.body)
			if got := text(t, response); response.StatusCode != test.status || !strings.Contains(got, test.say) || strings.Contains(got, "ladder") {
				t.Errorf("answer %d %q, want %d with %q", response.StatusCode, got, test.status, test.say)
			}
		})
	}
}

func TestMethodNotAllowedNamesTheAllowed(t *testing.T) {
	if got := newTrial(t, nil).do("DELETE", "/workers/14", "").Header.Get("Allow"); got != "GET" {
		t.Errorf("Allow: %q", got)
	}
}

func TestBodyWithoutLengthIsLimitedWhileReading(t *testing.T) {
	server := httptest.NewServer(newTrial(t, nil))
	defer server.Close()
	endless := io.LimitReader(neverEnding('x'), 1<<20)
	response, err := http.Post(server.URL+"/sheets", "application/json", endless)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	if response.StatusCode != http.StatusTeapot {
		t.Errorf("status %d", response.StatusCode)
	}
}

type neverEnding byte

func (b neverEnding) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(b)
	}
	return len(p), nil
}

func TestReadyReportsTheCheck(t *testing.T) {
	tr := newTrial(t, func(o *Options) {
		o.Ready = func(context.Context) error { return errors.New("the database at 10.0.0.7 is away") }
	})
	response := tr.do("GET", "/readyz", "")
	if response.StatusCode != http.StatusServiceUnavailable || strings.Contains(text(t, response), "10.0.0.7") {
		t.Errorf("status %d", response.StatusCode)
	}
	if !strings.Contains(tr.log.String(), "10.0.0.7 is away") {
		t.Errorf("the log does not say why: %s", tr.log.String())
	}
	if got := tr.do("GET", "/healthz", "").StatusCode; got != http.StatusOK {
		t.Errorf("alive: status %d", got)
	}
}

func TestHeaders(t *testing.T) {
	for _, target := range []string{"/workers/14", "/elsewhere", "/panic"} {
		header := newTrial(t, nil).do("GET", target, "").Header
		for name, want := range map[string]string{
			"X-Content-Type-Options":  "nosniff",
			"X-Frame-Options":         "DENY",
			"Referrer-Policy":         "no-referrer",
			"Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
			"Cache-Control":           "no-store",
		} {
			if got := header.Get(name); got != want {
				t.Errorf("%s: %s: %q, want %q", target, name, got, want)
			}
		}
	}
}

func TestRequestIDs(t *testing.T) {
	for _, kept := range []string{"a", "0195-abc_D.9", strings.Repeat("z", 64)} {
		if got := newTrial(t, nil).do("GET", "/healthz", "", requestIDHeader, kept).Header.Get(requestIDHeader); got != kept {
			t.Errorf("%q became %q", kept, got)
		}
	}
	for _, refused := range []string{"", strings.Repeat("z", 65), "a b", "<script>", "ñ"} {
		got := newTrial(t, nil).do("GET", "/healthz", "", requestIDHeader, refused).Header.Get(requestIDHeader)
		if id, err := uuid.Parse(got); err != nil || id.Version() != 7 {
			t.Errorf("%q became %q, want a UUID of version 7", refused, got)
		}
	}
}

func TestAccessLogTellsTheRouteAndNotThePath(t *testing.T) {
	tr := newTrial(t, nil)
	tr.do("GET", "/workers/rosa-ibarra?name=Rosa", "", requestIDHeader, "r1", "User-Agent", "rosa's phone")
	entries := tr.entries(t)
	if len(entries) != 1 {
		t.Fatalf("%d entries, want one", len(entries))
	}
	for name, want := range map[string]any{
		"msg": "request", "method": "GET", "route": "/workers/:id", "status": 200.0, "request_id": "r1", "account_id": account.String(),
	} {
		if got := entries[0][name]; got != want {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
	}
	if strings.Contains(strings.ToLower(tr.log.String()), "rosa") {
		t.Errorf("the log names someone: %s", tr.log.String())
	}
}

func TestPanicIsLoggedOnceWithTheRequest(t *testing.T) {
	tr := newTrial(t, nil)
	tr.do("GET", "/panic", "", requestIDHeader, "r2")
	var panics []map[string]any
	for _, entry := range tr.entries(t) {
		if entry["msg"] == "panic" {
			panics = append(panics, entry)
		}
	}
	if len(panics) != 1 {
		t.Fatalf("%d panics logged, want one", len(panics))
	}
	if stack, _ := panics[0]["stack"].(string); panics[0]["request_id"] != "r2" || !strings.Contains(stack, "engine_test.go") {
		t.Errorf("entry: %v", panics[0])
	}
}

func TestPanicAfterTheAnswerBeganCutsTheConnection(t *testing.T) {
	server := httptest.NewUnstartedServer(newTrial(t, nil))
	server.Config.ErrorLog = slog.NewLogLogger(slog.DiscardHandler, slog.LevelInfo)
	server.Start()
	defer server.Close()
	response, err := http.Get(server.URL + "/panic/late")
	if err != nil {
		return // cut before the header went out
	}
	defer response.Body.Close()
	if body, err := io.ReadAll(response.Body); err == nil {
		t.Errorf("a whole answer %q, want it cut", body)
	}
}

func TestForwardedAddressIsBelievedOnlyFromTrustedProxies(t *testing.T) {
	tests := []struct {
		trusted []string
		want    string
	}{
		{nil, "192.0.2.1"},
		{[]string{"10.0.0.0/8"}, "192.0.2.1"},
		{[]string{"192.0.2.0/24"}, "198.51.100.7"},
	}
	for _, test := range tests {
		tr := newTrial(t, func(o *Options) { o.TrustedProxies = test.trusted })
		if got := text(t, tr.do("GET", "/address", "", "X-Forwarded-For", "198.51.100.7")); got != test.want {
			t.Errorf("trusting %v: %s, want %s", test.trusted, got, test.want)
		}
	}
	if _, err := NewEngine(Options{TrustedProxies: []string{"the proxy"}}); err == nil {
		t.Error("a proxy that is no address was taken")
	}
}

func TestMetricsCountByRoute(t *testing.T) {
	tr := newTrial(t, nil)
	tr.do("GET", "/workers/14", "")
	tr.do("GET", "/workers/15", "")
	tr.do("GET", "/elsewhere/15", "")
	tr.do("BREW", "/elsewhere", "")
	tr.do("GET", "/panic", "")
	got := text(t, tr.do("GET", "/metrics", ""))
	for _, want := range []string{
		`palmero_http_requests_total{method="GET",route="/workers/:id",status="200"} 2`,
		`palmero_http_requests_total{method="GET",route="unmatched",status="404"} 1`,
		`palmero_http_requests_total{method="other",route="unmatched",status="404"} 1`,
		`palmero_http_requests_total{method="GET",route="/panic",status="500"} 1`,
		`palmero_http_request_duration_seconds_count{method="GET",route="/workers/:id"} 2`,
		`palmero_http_requests_in_flight 1`,
		`go_goroutines `,
		`process_open_fds `,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("no line %s", want)
		}
	}
	off := newTrial(t, func(o *Options) { o.Metrics = false })
	if status := off.do("GET", "/metrics", "").StatusCode; status != http.StatusNotFound {
		t.Errorf("switched off: status %d", status)
	}
}
