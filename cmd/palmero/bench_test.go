package main

import (
	"encoding/json"
	"path/filepath"
	"testing"

	"palmero/handlers/measuring"
)

func TestBench(t *testing.T) {
	database := "--database=sqlite://" + filepath.Join(t.TempDir(), "bench.db")
	requireSays(t, says(t, failed, "bench", database), "palmero migrate")
	requireDone(t, "migrate", database)
	requireSays(t, says(t, done, "bench", database, "--workers", "3", "--weeks", "1", "--history=2"),
		"synthetic-1 on sqlite: 3 workers; 1 weeks of 2 of them", "crew sheets in", "statements out, HTML", "reference s")
	var result measuring.Result
	if err := json.Unmarshal([]byte(says(t, done, "bench", database, "--workers", "3", "--weeks", "0", "--json")), &result); err != nil || result.Employer != "synthetic-2" || len(result.Parts) != 6 {
		t.Errorf("%+v, %v", result, err)
	}
}

func TestBenchRefusesWhatItDidNotMake(t *testing.T) {
	season, _ := seasonDatabase(t)
	requireSays(t, says(t, misuse, "bench", season), `no "bench" in it`, "palmero migrate --database sqlite://bench.db")
	database := "--database=sqlite://" + filepath.Join(t.TempDir(), "bench.db")
	requireDone(t, "migrate", database)
	requireDone(t, "account", "employer", "tres-pozos", "--legal-name", "Huerta Tres Pozos LLC", "--address", "88 Canal Road", "--size", "40", database)
	requireSays(t, says(t, failed, "bench", database, "--workers", "3"), "not synthetic: tres-pozos", "palmero migrate --database sqlite://bench.db")
	for _, wrong := range [][]string{{"--workers", "0"}, {"--workers", "many"}, {"--weeks", "501"}, {"--workers", "5", "--history", "6"}} {
		requireSays(t, says(t, misuse, append([]string{"bench", database}, wrong...)...), wrong[len(wrong)-2], "is not a number between")
	}
}
