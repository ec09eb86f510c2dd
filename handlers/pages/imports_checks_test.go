//go:build !race

package pages_test

import (
	"net/url"
	"testing"

	"github.com/chromedp/chromedp"

	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/season"
)

// The page of a file is led to only once somebody has sent one: one with every kind of problem, and one that was taken in, are looked at as all other pages are.
func TestImportedFilesAreChecked(t *testing.T) {
	s, origin := newSeason(t)
	c := newChromium(t)
	html := map[string][]byte{}
	hazel := s.as("hazel", "en").speak("en")
	_, faulty := hazel.sent("crew-sheets", "ten-faults.csv", importFile(t, "ten-faults.csv"))
	good := hazel.sends("blocks.csv", []byte("Block,Variety,Palms,Height cm,Garden\nX-1,Barhi,40,900,1\n"), url.Values{"id": {models.NewID().String()}, "kind": {"blocks"}}).header.Get("Location")
	hazel.post(good+"/take-in", hazel.get(good).typed(good+"/take-in")).leads(good)
	for _, language := range text.Languages() {
		b := s.as("hazel", language).speak(language)
		w := c.window(t, origin, language, desktop)
		w.signIn("hazel", season.Secret)
		if language == text.Spanish {
			w.do(chromedp.Click(chromedp.CSS(".tools button[lang=es]")), chromedp.WaitReady(chromedp.CSS("html[lang=es]")))
		}
		for _, path := range []string{"/imports", faulty, good} {
			html[path+" in "+language] = []byte(b.get(path).body)
			w.visit(path)
			w.light()
			for _, width := range []int64{phone, desktop} {
				w.do(chromedp.EmulateViewport(width, 800))
				w.accessible()
				w.fits()
			}
		}
	}
	validHTML(t, html)
}
