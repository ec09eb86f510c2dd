//go:build !race

package pages_test

import (
	"testing"

	"palmero/handlers/text"
	"palmero/models/season"
)

// The pages of a crew's day are looked at with a day begun: without one they have little to show.
func TestPagesOfABegunDayAreChecked(t *testing.T) {
	s, origin := newSeason(t)
	c := newChromium(t)
	begin(t, s, s.as("ramiro", "es"))
	b := s.as("ramiro", "en")
	b.post("/day/time", b.get("/day/time").dayForm("kind", "piece", "do", "start"))
	html := map[string][]byte{}
	for _, language := range text.Languages() {
		b.speak(language)
		for _, width := range []int64{phone, desktop} {
			w := c.window(t, origin, language, width)
			w.signIn("ramiro", season.Secret)
			for _, path := range []string{"/day", "/day/roll", "/day/time", "/day/counts", "/day/lots", "/day/climb", "/day/checklist?way=climb", "/day/palms", "/day/gear", "/day/send"} {
				html[path+" in "+language] = []byte(b.get(path).body)
				w.visit(path)
				w.accessible()
				w.fits()
				w.light()
			}
		}
	}
	validHTML(t, html)
}
