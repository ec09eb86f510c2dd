//go:build !race

package pages_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// checkers is the folder in which "make prepare" keeps the checkers of pages; see .ci/pages/package.json.
const checkers = "../../.ci/pages/node_modules"

// The widths that people look at the pages with: an old phone, a desktop.
const (
	phone   = 360
	desktop = 1280
)

// chromium is a running browser.
type chromium struct {
	ctx context.Context
	axe string // the script of the accessibility checker
}

// newChromium starts Chromium for one test.
func newChromium(t testing.TB) *chromium {
	t.Helper()
	program, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatalf("%v: the tests of the pages need Chromium; \"make prepare\" installs it", err)
	}
	axe, err := os.ReadFile(filepath.Join(checkers, "axe-core", "axe.min.js"))
	if err != nil {
		t.Fatalf("%v: \"make prepare\" brings the checkers of the pages", err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(program), chromedp.UserDataDir(t.TempDir()), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-dev-shm-usage", true),
	)
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, end := chromedp.NewContext(ctx, chromedp.WithErrorf(t.Logf))
	t.Cleanup(end)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("%v: Chromium does not start", err)
	}
	return &chromium{ctx: ctx, axe: string(axe)}
}

// window is one window of a browser, with cookies of its own, which holds every page to two rules: nothing is asked of another host, and nothing is complained of on the console.
type window struct {
	testing.TB
	*chromium
	ctx    context.Context
	origin string // such as http://127.0.0.1:4711
	lang   string // what the browser asks for

	mu       sync.Mutex
	requests []string // of the page that is shown
	bytes    float64  // of them all
	faults   []string
}

// window opens a window for a test on a server's pages.
func (c *chromium) window(tb testing.TB, origin, lang string, width int64) *window {
	tb.Helper()
	ctx, stop := chromedp.NewContext(c.ctx, chromedp.WithNewBrowserContext())
	ctx, enough := context.WithTimeout(ctx, 5*time.Minute)
	t := &window{TB: tb, chromium: c, ctx: ctx, origin: origin, lang: lang}
	tb.Cleanup(func() {
		enough()
		stop()
	})
	if err := chromedp.Listen(ctx, t.hear); err != nil {
		tb.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, network.SetExtraHTTPHeaders, network.SetExtraHTTPHeadersParams{Headers: network.Headers{"Accept-Language": lang}}); err != nil {
		tb.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, network.SetCacheDisabled, network.SetCacheDisabledParams{CacheDisabled: true}); err != nil {
		tb.Fatal(err)
	}
	t.do(chromedp.EmulateViewport(width, 800))
	return t
}

func (w *window) hear(event any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		u, err := url.Parse(e.Request.URL)
		if err != nil || u.Scheme != "data" && u.Scheme+"://"+u.Host != w.origin {
			w.faults = append(w.faults, "asked of another host: "+e.Request.URL)
		}
		w.requests = append(w.requests, e.Request.URL)
	case *network.EventLoadingFinished:
		w.bytes += e.EncodedDataLength
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError || e.Entry.Level == log.EntryLevelWarning {
			w.faults = append(w.faults, fmt.Sprintf("%s: %s %s", e.Entry.Level, e.Entry.Text, e.Entry.URL))
		}
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning || e.Type == runtime.ConsoleAPICalledTypeAssert {
			said, _ := json.Marshal(e.Args)
			w.faults = append(w.faults, fmt.Sprintf("%s: %s", e.Type, said))
		}
	case *runtime.EventExceptionThrown:
		w.faults = append(w.faults, "thrown: "+e.ExceptionDetails.Text)
	}
}

// do runs actions, or ends the test.
func (w *window) do(actions ...chromedp.Action[chromedp.Void]) {
	w.Helper()
	if err := chromedp.Do(w.ctx, actions...); err != nil {
		w.Fatalf("%v, at %s", err, w.where())
	}
}

// got runs an action for what it yields, or ends the test.
func got[T any](w *window, action chromedp.Action[T]) T {
	w.Helper()
	v, err := chromedp.Run(w.ctx, action)
	if err != nil {
		w.Fatalf("%v, at %s", err, w.where())
	}
	return v
}

// where is the address of the page that is shown.
func (w *window) where() string {
	at, err := chromedp.Run(w.ctx, chromedp.Location())
	if err != nil {
		return "no page: " + err.Error()
	}
	return strings.TrimPrefix(at, w.origin)
}

// visit shows the page of a path.
func (w *window) visit(path string) {
	w.Helper()
	w.mu.Lock()
	w.requests, w.bytes = nil, 0
	w.mu.Unlock()
	w.do(chromedp.Navigate(w.origin+path), chromedp.WaitReady(chromedp.CSS("body")))
	w.quiet()
}

// quiet ends the test if a page asked anything of another host, or complained.
func (w *window) quiet() {
	w.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, fault := range w.faults {
		w.Errorf("%s", fault)
	}
	w.faults = nil
}

// says ends the test unless the page shows a text.
func (w *window) says(words string) {
	w.Helper()
	text := got(w, chromedp.Text(chromedp.CSS("body")))
	if !strings.Contains(strings.Join(strings.Fields(text), " "), words) {
		w.Fatalf("%s does not say %q but\n%s", w.where(), words, text)
	}
}

// violation is what the accessibility checker finds.
type violation struct {
	ID     string `json:"id"`
	Impact string `json:"impact"`
	Help   string `json:"help"`
	Nodes  []struct {
		Target []string `json:"target"`
		HTML   string   `json:"html"`
		Reason string   `json:"failureSummary"`
	} `json:"nodes"`
}

// accessible has axe-core look at the page that is shown, for everything it knows of WCAG 2.2 A and AA and of good practice.
func (w *window) accessible() {
	w.Helper()
	if !got(w, chromedp.Evaluate[bool](`"axe" in window`)) {
		got(w, chromedp.Evaluate[bool](w.axe+"; true"))
	}
	found := got(w, chromedp.Evaluate[[]violation](
		`axe.run(document, {resultTypes: ["violations"], runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then(r => r.violations)`,
		chromedp.EvalAwaitPromise))
	for _, v := range found {
		for _, n := range v.Nodes {
			w.Errorf("%s (%s): %s (%s): %s at %s\n%s", w.where(), w.lang, v.ID, v.Impact, v.Help, n.HTML, n.Reason)
		}
	}
}

// fits ends the test if the page is wider than the window, so that a phone would have to be pushed sideways.
func (w *window) fits() {
	w.Helper()
	over := got(w, chromedp.Evaluate[int](`document.documentElement.scrollWidth - document.documentElement.clientWidth`))
	if over > 0 {
		w.Errorf("%s (%s) is %d pixels wider than the window", w.where(), w.lang, over)
	}
}

// The most that the first view of a page may take.
const mostRequests, mostBytes = 8, 150_000

// light ends the test if the page that is shown took more than that, with nothing in the browser's cache.
func (w *window) light() {
	w.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.requests) > mostRequests || w.bytes > mostBytes {
		w.Errorf("%d requests and %.0f bytes: %v", len(w.requests), w.bytes, w.requests)
	}
}

// validHTML has the Nu HTML checker read pages, named by what they show.
func validHTML(t testing.TB, pages map[string][]byte) {
	t.Helper()
	folder := t.TempDir()
	names := map[string]string{}
	for name, text := range pages {
		file := fmt.Sprintf("page%d.html", len(names))
		names[file] = name
		if err := os.WriteFile(filepath.Join(folder, file), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	jar := filepath.Join(checkers, "vnu-jar", "build", "dist", "vnu.jar")
	if _, err := os.Stat(jar); err != nil {
		t.Fatalf("%v: \"make prepare\" brings the checkers of the pages", err)
	}
	var complaints strings.Builder
	command := exec.CommandContext(t.Context(), "java", "-Xmx512m", "-jar", jar, "--format", "json", "--exit-zero-always", "--stdout", folder)
	command.Stderr = &complaints
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%v: %s: the checker of HTML needs Java; \"make prepare\" installs it", err, complaints.String())
	}
	var answer struct {
		Messages []struct {
			Type    string `json:"type"`
			URL     string `json:"url"`
			Line    int    `json:"lastLine"`
			Message string `json:"message"`
			Extract string `json:"extract"`
		} `json:"messages"`
	}
	if err := json.Unmarshal(out, &answer); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	for _, m := range answer.Messages {
		t.Errorf("%s, line %d: %s: %s in %q", names[filepath.Base(m.URL)], m.Line, m.Type, m.Message, m.Extract)
	}
}
