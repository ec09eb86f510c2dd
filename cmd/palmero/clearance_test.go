package main

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
)

// TestClearance asks the demo's records, which read the same whenever they are asked as of an instant.
func TestClearance(t *testing.T) {
	folder := t.TempDir()
	startDemo(t, "--port", "0", "--data", folder).end(t)
	ask := func(args ...string) (int, string) {
		var out bytes.Buffer
		args = append(append([]string{"clearance"}, args...), "--database", "sqlite://"+filepath.Join(folder, "demo.db"))
		return run(t.Context(), args, nil, &out, &out, nil), out.String()
	}
	const noon = "2026-03-02T13:30:00-08:00"
	for _, test := range []struct {
		status int
		want   []string
		args   []string
	}{
		{done, []string{"Crew 2, Canal, Mon Mar 2, 2026", "Lift, block B-1, pollination: 8 of 8 cleared", "  yes    9  Gudelia Ríos\n", "For everybody:\n", "A competent person on site decides"},
			[]string{"media-tarde", "--crew", "2", "--on", "2026-03-02", "--at", noon}},
		{failed, []string{"7 de 8", "  NO    22  Clayton Webb\n              No hay guantes.", "8 CCR 3384(a)"}, []string{"--crew", "3", "--on", "2026-03-02", "--at", noon, "--language", "es"}},
		{failed, []string{"Nobody has said yet how this crew goes up"}, []string{"--crew", "3", "--on", "2026-03-04"}},
		{failed, []string{"there is no crew 9 at media-tarde"}, []string{"--crew", "9", "--on", "2026-03-02"}},
		{failed, []string{`there is no employer "nobody"`}, []string{"nobody", "--crew", "3", "--on", "2026-03-02"}},
		{failed, []string{"--at: This lies after the workday"}, []string{"--crew", "3", "--on", "2026-03-02", "--at", "2026-03-04T00:00:00Z"}},
		{misuse, []string{"--crew needs", "--on needs", "--at needs", `"fr" is not one of en, es`}, []string{"--crew", "three", "--at", "noon", "--language", "fr"}},
	} {
		status, got := ask(test.args...)
		if status != test.status {
			t.Errorf("%v: status %d", test.args, status)
		}
		for _, want := range test.want {
			if !strings.Contains(got, want) {
				t.Errorf("%v: no %q in\n%s", test.args, want, got)
			}
		}
	}
	_, got := ask("--crew", "3", "--on", "2026-03-02", "--at", noon, "--json")
	var answer struct {
		Ways []struct{ Cleared int }
	}
	if err := json.Unmarshal([]byte(got), &answer); err != nil || len(answer.Ways) != 2 || answer.Ways[0].Cleared != 7 {
		t.Errorf("%v: %s", err, got)
	}
}
