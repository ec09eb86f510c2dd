package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var block = regexp.MustCompile("(?ms)^```(sh)?\n(.*?)^```")

// TestReadmeQuarterOfAnHour runs the commands of the README against a demo, in order and in one shell, and looks for every line of the answers that it
// shows. A line with an ellipsis stands for its part before that.
func TestReadmeQuarterOfAnHour(t *testing.T) {
	runReadme(t, "## A first quarter of an hour", startDemo(t, "--port", "0").url)
}

func TestReadmeReckon(t *testing.T) {
	runReadme(t, "## Pay without a database", "")
}

func TestReadmeFigure(t *testing.T) {
	runReadme(t, "## Safe to climb, without a database", "")
}

func runReadme(t *testing.T, heading, url string) {
	t.Helper()
	for _, tool := range []string{"bash", "curl", "jq"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Fatalf("the commands of the README need %s, which is not installed here (on Debian: apt-get install curl jq)", tool)
		}
	}
	var script strings.Builder
	var answers []string
	for _, match := range block.FindAllStringSubmatch(readmeSection(t, heading), -1) {
		if match[1] == "sh" {
			fmt.Fprintf(&script, "%s\necho '%s'\n", match[2], mark)
			answers = append(answers, "")
		} else if len(answers) > 0 {
			answers[len(answers)-1] = match[2]
		}
	}
	if len(answers) == 0 {
		t.Fatalf("no commands below %q", heading)
	}
	outputs := strings.Split(shell(t, strings.ReplaceAll(script.String(), "http://127.0.0.1:8470", url)), mark+"\n")
	if len(outputs) != len(answers)+1 {
		t.Fatalf("%d blocks of commands, %d ran", len(answers), len(outputs)-1)
	}
	for i, answer := range answers {
		for line := range strings.Lines(answer) {
			shown, _, _ := strings.Cut(strings.TrimSpace(line), "…")
			if !strings.Contains(outputs[i], strings.TrimSpace(shown)) {
				t.Errorf("the README shows\n  %s\nand the answer is\n%s", shown, outputs[i])
			}
		}
	}
}

// mark ends the output of a block.
const mark = "-- end of block --"

// readmeSection is the README from a heading to the next of its rank.
func readmeSection(t *testing.T, heading string) string {
	t.Helper()
	content, err := os.ReadFile(filepath.Join(root, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, rest, found := strings.Cut(string(content), heading+"\n")
	if !found {
		t.Fatalf("the README has no %q", heading)
	}
	section, _, _ := strings.Cut(rest, "\n## ")
	return section
}

// shell runs a script in an empty folder; "./cmd/palmero" is found there all the same.
func shell(t *testing.T, script string) string {
	t.Helper()
	folder := t.TempDir()
	repository, err := filepath.Abs(root)
	if err != nil {
		t.Fatal(err)
	}
	script = strings.ReplaceAll(script, "go run ./cmd/palmero", "go run -C '"+repository+"' ./cmd/palmero")
	command := exec.CommandContext(t.Context(), "bash", "-euo", "pipefail", "-c", script)
	command.Dir = folder
	var errOut bytes.Buffer
	command.Stderr = &errOut
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%v: %s\n%s", err, errOut.String(), out)
	}
	return string(out)
}
