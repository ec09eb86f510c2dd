//go:build !race

package pages_test

import (
	"fmt"
	"maps"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"palmero/handlers/text"
	"palmero/migrations"
	"palmero/models/season"
	"palmero/payroll/rulebook"
)

// newSeason is a server over the invented season, on SQLite.
func newSeason(t *testing.T) (*site, string) {
	t.Helper()
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	store, clock := inSeason(t, migrations.SQLite, books)
	s := newSite(t, store, clock, books)
	server := httptest.NewServer(s.handler)
	t.Cleanup(server.Close)
	return s, server.URL
}

// Every page that anybody is led to is looked at by axe-core in a real browser, at the width of a phone and of a desktop, and its HTML by the Nu checker, in every language. A page
// that many records have, each with an address of its own, is looked at once for each role.
func TestPagesAreChecked(t *testing.T) {
	s, origin := newSeason(t)
	s.goOn(t)
	c := newChromium(t)
	html := map[string][]byte{}
	for _, account := range people {
		for _, language := range text.Languages() {
			b := s.as(account, language).speak(language)
			paths := oneOfEach(b.walk("/", language))
			for _, path := range paths {
				html[fmt.Sprintf("%s of %s in %s", path, account, language)] = []byte(b.get(path).body)
			}
			t.Run(account+" "+language, func(t *testing.T) {
				w := c.window(t, origin, language, desktop)
				w.signIn(account, season.Secret)
				for _, path := range paths {
					w.visit(path)
					w.light()
					for _, width := range []int64{phone, desktop} {
						w.do(chromedp.EmulateViewport(width, 800))
						w.accessible()
						w.fits()
					}
				}
			})
		}
	}
	validHTML(t, html)
}

// oneOfEach keeps one address of each page of the table.
func oneOfEach(seen map[string]bool) (paths []string) {
	known := map[string]bool{}
	for _, path := range slices.Sorted(maps.Keys(seen)) {
		plain, _, _ := strings.Cut(path, "?")
		if page := pageOf(plain); page != "" && !known[page] && !strings.HasSuffix(page, ".csv") && !strings.HasPrefix(page, "/photos/{id}") {
			known[page] = true
			paths = append(paths, path)
		}
	}
	return paths
}

func (w *window) signIn(account, secret string) {
	w.Helper()
	w.visit("/sign-in")
	w.do(
		chromedp.SetValue(chromedp.CSS("#employer"), "media-tarde"), chromedp.SetValue(chromedp.CSS("#account"), account), chromedp.SetValue(chromedp.CSS("#secret"), secret),
		chromedp.Click(chromedp.CSS("main form button")), chromedp.WaitReady(chromedp.CSS("nav")),
	)
	w.quiet()
}
