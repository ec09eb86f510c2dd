package pages_test

import (
	"maps"
	"testing"
)

// What the matrix is to know of the owner's pages.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /progress":       "ca",
		"GET /progress/weeks": "ca",
	})
	maps.Copy(looking, map[string]func(t *testing.T, s *site){
		"progress":      lookAtProgress,
		"owner's first": lookAtOwnersFirst,
	})
}

func lookAtProgress(t *testing.T, s *site) {
	b := s.as("abril", "en").speak("en")
	b.get("/progress").says("Progress in 2026", `role="img"`, "<desc", "pollination", "A-4", "Compare with last season")
	b.get("/progress?operation=de-thorning&season=2026").says("De-thorning"[1:], "118")
	b.get("/progress?season=1999").says("Progress in 1999", "No work is recorded")
	b.get("/progress?season=soon&operation=%3Cscript%3E").says("Progress in 2026").hides("<script>")
	b.get("/progress/weeks").says("2026 against 2025", `role="img"`)
	b.get("/progress/weeks?season=2025").says("No work is recorded")
	s.as("abril", "en").speak("es").get("/progress").says("Avance de 2026", "Costo de mano de obra")
}

func lookAtOwnersFirst(t *testing.T, s *site) {
	s.as("abril", "en").speak("en").get("/").says("What needs you now")
}
