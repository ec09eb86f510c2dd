package pages_test

import (
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
)

func init() {
	allowed["GET /review"] = "s"
	allowed["GET /my/sick-leave"] = "wl"
	looking["what waits"] = readWhatWaits
	looking["own sick leave"] = readOwnLeave
}

var needLink = regexp.MustCompile(`<li><span class="mark [a-z]+">[^\n]*? href="(/[a-z]+[^"]*)"`)

// The officer begins with what waits, the worst first, and each thing leads to where it is seen to.
func readWhatWaits(t *testing.T, s *site) {
	b := s.as("oscar", "es").speak("en")
	first := b.get("/").says("What needs you now", "Not acknowledged by Gudelia", "L-23 is out of service", "danger", "to decide", "to plan", `href="/review"`, "by Mar 12, 2026").hides("More waits")
	if at := []int{strings.Index(first.body, "Not acknowledged"), strings.Index(first.body, "AR-2 was"), strings.Index(first.body, "L-23 is"), strings.Index(first.body, "on hand")}; !slices.IsSorted(at) {
		t.Errorf("the order is %v", at)
	}
	var to []string
	for _, m := range needLink.FindAllStringSubmatch(first.body, -1) {
		path, _, _ := strings.Cut(m[1], "?")
		to = append(to, regexp.MustCompile(`[0-9a-f-]{36}`).ReplaceAllString(path, "*"))
		b.get(m[1]).wants(http.StatusOK)
	}
	if want := []string{"/stops/*", "/equipment/*/inspection", "/checklists/*", "/equipment/*", "/uncleared-work/*", "/gear/issues/*", "/gear/kinds/*", "/training/meeting"}; !slices.Equal(to, want) {
		t.Errorf("things lead to %v", to)
	}
	b.get("/review").says("All that waits for you", "L-23 is out of service").hides("Back to the beginning")
	b.get("/review?after=" + "nonsense").says("L-23 is out of service").hides("Back to the beginning")
	b.get("/review?after=OR8fHw").says("Nothing waits for you.", "Back to the beginning of the list") // after "9", three separators
	b.speak("es").get("/").says("Lo que le toca ahora", "Falta que confirmen Gudelia", "peligro", "por decidir")
}

// A worker reads how much sick leave there is and how it came about; what is shown adds up.
func readOwnLeave(t *testing.T, s *site) {
	b := s.as("ines", "en").speak("en")
	b.get("/my/pay").says(`href="/my/sick-leave"`)
	p := b.get("/my/sick-leave").says("My sick leave", "You can use today", "earned by work", "Read the statement", "30:00 h of work")
	b.get("/my/sick-leave?before=1").says("Nothing has been entered yet")
	b.get("/my/sick-leave?before=x").says("earned by work")
	if strings.Contains(p.body, "leave_") {
		t.Error(p.main())
	}
}
