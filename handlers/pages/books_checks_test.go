//go:build !race

package pages_test

import (
	"net/url"
	"testing"

	"github.com/chromedp/chromedp"

	"palmero/handlers/text"
	"palmero/models/season"
)

// The page of a local book is looked at with one entered: the season has none.
func TestThePageOfALocalBookIsChecked(t *testing.T) {
	s, origin := newSeason(t)
	c := newChromium(t)
	b := s.as("abril", "en")
	id := b.get("/books/text").hidden("id")
	b.post("/books/text", url.Values{"id": {id}, "text": {oasis}, "replaces": {""}}).leads("/books/" + id + "?done=book_entered")
	html := map[string][]byte{}
	for _, language := range text.Languages() {
		b.speak(language)
		w := c.window(t, origin, language, desktop)
		w.signIn("abril", season.Secret)
		for _, path := range []string{"/books", "/books/" + id, "/books/value?replaces=" + id, "/books/text?replaces=" + id} {
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
