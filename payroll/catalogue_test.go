package payroll

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"palmero/payroll/dated"
)

var faultDate = dated.MustDate("2027-01-01")

func mustAdd(date string, days int) string { return dated.MustDate(date).AddDays(days).String() }

func itoa(n int) string { return strconv.Itoa(n) }

// keysWritten finds the keys that stand in this package's source: the message keys of a family such as "fault", or, for
// "raise", the codes of the notes.
func keysWritten(t *testing.T, family string) []string {
	t.Helper()
	sources, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	var keys []string
	add := func(e ast.Expr) {
		if lit, ok := e.(*ast.BasicLit); ok && lit.Kind == token.STRING {
			text, _ := strconv.Unquote(lit.Value)
			if (family == "raise" || strings.HasPrefix(text, family+".")) && !slices.Contains(keys, text) {
				keys = append(keys, text)
			}
		}
	}
	for _, source := range sources {
		if strings.HasSuffix(source, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), source, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.BasicLit:
				if family != "raise" {
					add(n)
				}
			case *ast.CallExpr:
				if s, ok := n.Fun.(*ast.SelectorExpr); ok && family == "raise" && s.Sel.Name == "raise" {
					add(n.Args[0])
				}
			}
			return true
		})
	}
	if family == "raise" {
		keys = append(keys, "meal_due", "second_meal_due")
	}
	return keys
}

// Every key that the engine writes is in both catalogues, with the same terms in both.
func TestEveryKeyIsInBothCatalogues(t *testing.T) {
	keys := keysWritten(t, "fault")
	for _, code := range keysWritten(t, "raise") {
		keys = append(keys, "note."+code)
	}
	keys = append(keys, keysWritten(t, "basis")...)
	for _, code := range []Code{PieceLine, SharedPieceLine, HourlyLine, NonproductiveLine, BonusLine, MinimumMakeupLine, GuaranteeMakeupLine,
		RestRecoveryLine, OvertimePremiumLine, DoubleTimePremiumLine, MealPremiumLine, RestPremiumLine, ReportingTimeLine, SickLine, LeaveLine,
		AdjustmentLine, ReimbursementLine} {
		keys = append(keys, "line."+string(code))
	}
	for _, kind := range timeKinds {
		keys = append(keys, "time."+kind)
	}
	english, spanish := catalogue(t, "en"), catalogue(t, "es")
	for _, key := range keys {
		if english[key] == "" || spanish[key] == "" {
			t.Errorf("%s is not in both catalogues", key)
		}
	}
	for key, text := range english {
		if got, want := placeholders(spanish[key]), placeholders(text); !slices.Equal(got, want) {
			t.Errorf("%s has the terms %v in Spanish, %v in English", key, got, want)
		}
		known := slices.Contains(keys, key) || !strings.HasPrefix(key, "fault.") && !strings.HasPrefix(key, "basis.") && !strings.HasPrefix(key, "note.")
		if !known {
			t.Errorf("%s is said by nobody", key)
		}
	}
}

func catalogue(t *testing.T, lang string) map[string]string {
	t.Helper()
	text, err := os.ReadFile("../handlers/text/catalogue/" + lang + "/payroll.json")
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]string
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	return all
}

// placeholders are the names between braces in a message, in order, each once.
func placeholders(message string) []string {
	var names []string
	for _, piece := range strings.Split(message, "{")[1:] {
		name, _, _ := strings.Cut(piece, "}")
		name, _, _ = strings.Cut(name, ":")
		names = append(names, name)
	}
	slices.Sort(names)
	return slices.Compact(names)
}
