package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

const root = "../.."

var (
	fence     = regexp.MustCompile("(?ms)^[ \t]*```[^\n]*\n(.*?)^[ \t]*```")
	span      = regexp.MustCompile("`([^`\n]+)`")
	path      = regexp.MustCompile(`^(?:\./)?([A-Za-z0-9_.{},*-]+(?:/[A-Za-z0-9_.{},*-]*)+|[A-Za-z0-9_-]+\.(?:go|md|mod|sum|ya?ml|json|sql|txtar|html))$`)
	makeWords = regexp.MustCompile(`(?m)(?:^\s*(?:\$ )?|&& |; |sudo )make ((?:[a-z][a-z-]*[ \t]*)+)`)
	palmero   = regexp.MustCompile(`(?:^|[\s/(])palmero ([a-z]+)\b`)
	target    = regexp.MustCompile(`(?m)^([a-z][a-z-]*):`)
	domain    = regexp.MustCompile(`^[a-z0-9-]+(\.[a-z0-9-]+)*\.(com|org|io|dev|net|in|gov)/`)
	mediaType = regexp.MustCompile(`^(application|text|image)/`)
)

// TestDocsNameWhatExists holds the two documents to the code: every path, make target and subcommand that they show in code
// must be there. Paths of the API begin with a slash and are held to the code by the test of the API description.
func TestDocsNameWhatExists(t *testing.T) {
	for _, name := range []string{"README.md", "DEVELOPERS.md"} {
		content, err := os.ReadFile(filepath.Join(root, name))
		if err != nil {
			t.Error(err)
			continue
		}
		for _, fault := range docFaults(string(content)) {
			t.Errorf("%s: %s", name, fault)
		}
	}
}

// docFaults lists what a document's code names and is not there.
func docFaults(document string) (faults []string) {
	blocks, prose := splitCode(document)
	for _, code := range blocks {
		faults = append(faults, commandFaults(code)...)
	}
	for _, match := range span.FindAllStringSubmatch(prose, -1) {
		faults = append(faults, commandFaults(match[1])...)
		faults = append(faults, pathFaults(match[1])...)
	}
	for _, code := range blocks {
		for _, word := range strings.Fields(code) {
			if strings.HasPrefix(word, "./") {
				faults = append(faults, pathFaults(word)...)
			}
		}
	}
	return faults
}

// splitCode takes the fenced blocks out of a document.
func splitCode(document string) (blocks []string, prose string) {
	for _, match := range fence.FindAllStringSubmatch(document, -1) {
		blocks = append(blocks, match[1])
	}
	return blocks, fence.ReplaceAllString(document, "")
}

func commandFaults(code string) (faults []string) {
	for _, match := range makeWords.FindAllStringSubmatch(code, -1) {
		for name := range strings.FieldsSeq(match[1]) {
			if !slices.Contains(makeTargets(), name) {
				faults = append(faults, "no target of make: "+name)
			}
		}
	}
	for _, match := range palmero.FindAllStringSubmatch(code, -1) {
		if name := match[1]; name != "help" && !slices.ContainsFunc(commands(), func(c command) bool { return c.name == name }) {
			faults = append(faults, "no command of palmero: "+name)
		}
	}
	return faults
}

func makeTargets() (names []string) {
	content, err := os.ReadFile(filepath.Join(root, "Makefile"))
	if err != nil {
		return nil
	}
	for _, match := range target.FindAllStringSubmatch(string(content), -1) {
		names = append(names, match[1])
	}
	return names
}

// pathFaults looks for the code as a path, if it looks like one: with a slash that is not the first letter, or a known
// extension. It may hold wildcards.
func pathFaults(code string) []string {
	match := path.FindStringSubmatch(code)
	if match == nil || domain.MatchString(code) || mediaType.MatchString(code) {
		return nil
	}
	pattern := strings.TrimSuffix(strings.TrimSuffix(match[1], "..."), "/")
	for _, alternative := range alternatives(pattern) {
		if !exists(alternative) {
			return []string{"no such path: " + alternative}
		}
	}
	return nil
}

// exists looks for a path from the root, and for a bare name in every folder.
func exists(pattern string) bool {
	if found, err := filepath.Glob(filepath.Join(root, pattern)); err == nil && len(found) > 0 {
		return true
	}
	if strings.Contains(pattern, "/") {
		return false
	}
	found := false
	_ = filepath.WalkDir(root, func(_ string, entry fs.DirEntry, err error) error {
		if err == nil && entry.IsDir() && entry.Name() == ".git" {
			return fs.SkipDir
		}
		if err == nil && entry.Name() == pattern {
			found = true
			return fs.SkipAll
		}
		return nil
	})
	return found
}

// alternatives spells out braces: a/{b,c}/d is a/b/d and a/c/d.
func alternatives(pattern string) []string {
	before, rest, found := strings.Cut(pattern, "{")
	choices, after, closed := strings.Cut(rest, "}")
	if !found || !closed {
		return []string{pattern}
	}
	var all []string
	for choice := range strings.SplitSeq(choices, ",") {
		all = append(all, alternatives(before+choice+after)...)
	}
	return all
}

func TestDocFaults(t *testing.T) {
	tests := []struct {
		document string
		faults   int
	}{
		{"Run `make test`, then `palmero serve`.", 0},
		{"Run `make tests`.", 1},
		{"Run `palmero server`.", 1},
		{"```sh\ngo run ./cmd/palmero serve --listen :80\nmake lint test  # make sure of it\n```", 0},
		{"```sh\ngo run ./cmd/palmeros version\nmake nonsense\n```", 2},
		{"See `cmd/palmero/main.go`, `migrations/{postgres,sqlite}/*.sql`, `./payroll/...`, `handlers/`, `go.mod`, `help.txtar`.", 0},
		{"See `cmd/palmero/none.go`, `migrations/{postgres,oracle}/`, `payrolls/...`, `missing.md`.", 4},
		{"The API at `/api/v1/workers`, `application/problem+json`, `go.yaml.in/yaml/v3`, `a / b`, `github.com/x/y`.", 0},
		{"In prose make haste, and palmero is a word.", 0},
	}
	for _, test := range tests {
		if got := docFaults(test.document); len(got) != test.faults {
			t.Errorf("%s\nfaults %q, want %d", test.document, got, test.faults)
		}
	}
}
