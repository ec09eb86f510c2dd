package pages

import (
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"palmero/handlers/text"
	"palmero/models/payrun"
	"palmero/payroll"
)

// codesIn finds what a pattern's group matches in the sources of some folders, tests left out.
func codesIn(t *testing.T, pattern string, folders ...string) []string {
	t.Helper()
	found := map[string]bool{}
	for _, folder := range folders {
		files, err := filepath.Glob(filepath.Join("..", "..", folder, "*.go"))
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v", folder, err)
		}
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			source, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range regexp.MustCompile(pattern).FindAllSubmatch(source, -1) {
				found[string(m[1])] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(found))
}

// machine is what nobody but a program says.
var machine = regexp.MustCompile(`(?i)json|pointer|uuid|identifier|identificador|\bid\b|/[a-z_]+/|superse|\{[a-z_]+\}|\bsend\b|envíe`)

// Every problem that a pay run may have is said in words for people, in every language, and has a fix in its place, a page that mends it, or a reason why there is neither.
func TestEveryProblemHasWordsAndAFix(t *testing.T) {
	codes := codesIn(t, `"(pay_problem\.[a-z_]+)"`, "models/payrun")
	for _, note := range codesIn(t, `"note\.([a-z_]+)"`, "payroll") {
		codes = append(codes, "note."+note)
	}
	for _, note := range codesIn(t, `\.note\w*\([^"\n]*"([a-z_]+)"`, "payroll") {
		codes = append(codes, "note."+note)
	}
	codes = append(codes, codesIn(t, `"(fault\.[a-z_]+)"`, "payroll")...)
	if len(codes) < 40 {
		t.Errorf("only %q were found", codes)
	}
	terms := payroll.Terms{}
	for _, name := range []string{"operation", "block", "rulebook", "sums", "proposed", "limit", "pieces", "note", "garden", "dates", "what", "week", "job_order", "given", "book", "parameter",
		"date", "rate", "kind", "paid", "amount", "line", "recorded", "worked", "due", "length", "minutes", "before", "value", "known", "allowed", "from", "through", "lot", "other", "size", "coverage", "of"} {
		terms[name] = "x"
	}
	for _, code := range codes {
		p := &listedProblem{KeptProblem: payrun.KeptProblem{Problem: payrun.Problem{Kind: payrun.Note, Code: code, Terms: terms}}}
		p.Fix = fixOf(&p.KeptProblem)
		for _, lang := range text.Languages() {
			c := text.For(lang)
			words := payProblemWords(c, &p.KeptProblem, c.Say(code, terms))
			if found := machine.FindString(words); found != "" || words == code || words == "" {
				t.Errorf("%s in %s says %q: %s", code, lang, found, words)
			}
			if strings.HasPrefix(code, "pay_problem.") && !c.Has("page."+code) {
				t.Errorf("%s has no words for people in %s", code, lang)
			}
			switch why := payUnfixedWhy(c, p); {
			case p.Fix == fixNone && (why == "" || strings.HasPrefix(why, "page.")):
				t.Errorf("%s has no fix and no reason in %s: %q", code, lang, why)
			case p.Fix != fixNone && !c.Has("page.pay.fix."+string(p.Fix)):
				t.Errorf("%s: the fix %s has no words in %s", code, p.Fix, lang)
			}
		}
		if p.Fix == fixNone && payUnfixed[code] == "" && !strings.HasPrefix(code, "fault.") {
			t.Errorf("%s has neither a fix nor a reason of its own why there is none", code)
		}
	}
}
