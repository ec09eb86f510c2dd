package pages_test

import (
	"net/http"
	"regexp"
	"testing"
)

var (
	ownStatement = regexp.MustCompile(`href="(/my/statements/[0-9a-f-]{36})"`)
	entryLink    = regexp.MustCompile(`href="(/rulebooks/[a-z-]+)#([a-z_.]+)"`)
)

// A worker goes from a line of a statement, and of the pay so far, to its provision and to what the rulebook makes of it.
func followProvisions(t *testing.T, s *site) {
	b := s.as("ines", "es")
	statements := ownStatement.FindStringSubmatch(b.get("/my/statements").body)
	if statements == nil {
		t.Fatal("there is no statement")
	}
	for _, path := range []string{statements[1], "/my/pay?week=2026-02-22"} {
		page := b.get(path).says(`<a href="https://leginfo.legislature.ca.gov/`, "en el reglamento")
		entries := entryLink.FindAllStringSubmatch(page.body, -1)
		if len(entries) == 0 {
			t.Errorf("%s leads to no rulebook", path)
		}
		for _, entry := range entries {
			b.get(entry[1]).wants(http.StatusOK).says(`id="` + entry[2] + `"`)
		}
	}
	b.get("/rulebooks/us-ca?on=2026-02-16").says(`id="in-force"`)
	b.get("/rulebooks/us-xx").wants(http.StatusNotFound)
}
