//go:build !race

package pages_test

import (
	"testing"

	"palmero/handlers/text"
	"palmero/models/season"
)

// The page of a crew's day is looked at as all pages are: the season itself has no such day.
func TestUnclearedCrewDayIsChecked(t *testing.T) {
	s, origin := newSeason(t)
	s.workUncleared(4)
	c := newChromium(t)
	html := map[string][]byte{}
	for _, language := range text.Languages() {
		b := s.as("oscar", language).speak(language)
		path := b.get("/uncleared-work").first(crewDayLink)
		html[path+" "+language] = []byte(b.get(path).body)
		for _, width := range []int64{phone, desktop} {
			w := c.window(t, origin, language, width)
			w.signIn("oscar", season.Secret)
			for _, path := range []string{"/uncleared-work", path} {
				w.visit(path)
				w.accessible()
				w.fits()
				w.light()
			}
		}
	}
	validHTML(t, html)
}
