package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// running is a demo that was started by a test.
type running struct {
	url    string
	stop   context.CancelFunc
	status chan int
	out    *growing
}

// growing is a buffer that one goroutine writes and another reads.
type growing struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (g *growing) Write(p []byte) (int, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.b.Write(p)
}

func (g *growing) String() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.b.String()
}

var listensOn = regexp.MustCompile(`(?s)It listens on (http://[^,\s]+),.*Ctrl-C`)

// startDemo starts a demo and waits until it has said all that it says.
func startDemo(t *testing.T, args ...string) *running {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	r := &running{stop: stop, status: make(chan int, 1), out: &growing{}}
	go func() { r.status <- run(ctx, append([]string{"demo"}, args...), nil, r.out, r.out, nil) }()
	t.Cleanup(func() { r.end(t) })
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
		if match := listensOn.FindStringSubmatch(r.out.String()); match != nil {
			r.url = match[1]
			return r
		}
		if len(r.status) > 0 {
			t.Fatalf("the demo ended: %s", r.out)
		}
	}
	t.Fatalf("the demo did not start within a minute: %s", r.out)
	return nil
}

// end stops the demo as Ctrl-C does. It may be called again.
func (r *running) end(t *testing.T) {
	t.Helper()
	r.stop()
	status := <-r.status
	r.status <- status
	runtime.GC() // hashing secrets takes memory, which other tests measure
	if status != done {
		t.Errorf("the demo ended with status %d: %s", status, r.out)
	}
}

// call sends a request, with a token where there is one, and decodes the answer.
func call(t *testing.T, method, url, token, body string, into any) int {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Content-Type", "application/json")
	if token != "" {
		request.Header.Set("Authorization", "Bearer "+token)
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	if err := json.NewDecoder(response.Body).Decode(into); err != nil {
		t.Fatalf("%s: status %d: %v", url, response.StatusCode, err)
	}
	return response.StatusCode
}

var invited = regexp.MustCompile(`employer (\S+) and the secret "([^"]+)"`)

// signIn signs in by what the demo has printed.
func (r *running) signIn(t *testing.T, account string) string {
	t.Helper()
	match := invited.FindStringSubmatch(r.out.String())
	if match == nil {
		t.Fatalf("it does not say how to sign in: %s", r.out)
	}
	var answer struct {
		AccessToken string `json:"access_token"`
	}
	credentials := fmt.Sprintf(`{"employer": %q, "account": %q, "secret": %q}`, match[1], account, match[2])
	if status := call(t, "POST", r.url+"/api/v1/sign-in", "", credentials, &answer); status != http.StatusOK {
		t.Fatalf("%s signs in with status %d", account, status)
	}
	return answer.AccessToken
}

func TestDemoKeepsItsData(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "kept")
	draft := `{"id": "019caffc-6000-7000-8000-000000000001", "kind": "regular", "week_start": "2026-02-22"}`
	first := startDemo(t, "--port", "0", "--data", folder)
	if !strings.Contains(first.out.String(), "is kept in "+folder) || !strings.Contains(first.out.String(), "Monday 2 March 2026, 15:2") {
		t.Errorf("it says: %s", first.out)
	}
	var run struct{ State string }
	if status := call(t, "POST", first.url+"/api/v1/pay-runs", first.signIn(t, "hazel"), draft, &run); status != http.StatusCreated {
		t.Errorf("drafting: status %d", status)
	}
	first.end(t)

	second := startDemo(t, "--port", "0", "--data", folder)
	if status := call(t, "POST", second.url+"/api/v1/pay-runs", second.signIn(t, "hazel"), draft, &run); status != http.StatusOK || run.State != "draft" {
		t.Errorf("the draft again: status %d, %+v", status, run)
	}
}

func TestDemoLeavesNothing(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	demo := startDemo(t, "--port", "0")
	demo.signIn(t, "ines")
	demo.end(t)
	if left, err := os.ReadDir(os.TempDir()); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// Where the port is taken the demo takes the next one, and says so.
func TestDemoTakesTheNextPort(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	port := taken.Addr().(*net.TCPAddr).Port
	demo := startDemo(t, "--port", strconv.Itoa(port))
	_, got, err := net.SplitHostPort(strings.TrimPrefix(demo.url, "http://"))
	if n, _ := strconv.Atoi(got); err != nil || n <= port || n >= port+demoPorts {
		t.Errorf("it listens on %s, %d being taken", demo.url, port)
	}
	if !strings.Contains(demo.out.String(), fmt.Sprintf("(port %d is taken)", port)) {
		t.Errorf("it says: %s", demo.out)
	}
}

// A demo that was stopped while the season was entered begins anew the next time.
func TestDemoStoppedEarly(t *testing.T) {
	folder := t.TempDir()
	ctx, stop := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer stop()
	var errOut bytes.Buffer
	if status := run(ctx, []string{"demo", "--port", "0", "--data", folder}, nil, io.Discard, &errOut, nil); status != done {
		t.Errorf("stopped early: status %d: %s", status, errOut.String())
	}
	startDemo(t, "--port", "0", "--data", folder).signIn(t, "ramiro")
}

func TestDemoRefusesAnotherDatabase(t *testing.T) {
	folder := t.TempDir()
	requireDone(t, "migrate", "--database=sqlite://"+filepath.Join(folder, demoFile))
	var errOut bytes.Buffer
	if status := run(t.Context(), []string{"demo", "--port", "0", "--data", folder}, nil, io.Discard, &errOut, nil); status != failed || !strings.Contains(errOut.String(), "does not hold the season") {
		t.Errorf("status %d: %s", status, errOut.String())
	}
}
