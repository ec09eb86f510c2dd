package rulebooks

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"palmero/handlers/text"
	"palmero/models/localbooks"
)

// Whatever the readers of books find wrong with a file is said in every language: their messages are found in their source.
func TestEveryFaultOfABookIsSaid(t *testing.T) {
	found := 0
	for _, folder := range []string{"dated", "rulebook"} {
		files, err := filepath.Glob(filepath.Join("..", "..", "payroll", folder, "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range files {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(file, func(n ast.Node) bool {
				form, ok := reported(n)
				if !ok {
					return true
				}
				found++
				for _, language := range text.Languages() {
					if key := localbooks.ProblemKey(form); !text.For(language).Has(key) {
						t.Errorf("%s has no message %s", language, key)
					}
				}
				return true
			})
		}
	}
	if found < 40 {
		t.Errorf("only %d messages were found", found)
	}
}

// reported is the message of a call that reports a problem.
func reported(n ast.Node) (string, bool) {
	call, ok := n.(*ast.CallExpr)
	if !ok {
		return "", false
	}
	called, ok := call.Fun.(*ast.SelectorExpr)
	if !ok || !strings.EqualFold(called.Sel.Name, "report") {
		return "", false
	}
	for _, a := range call.Args {
		if literal, ok := a.(*ast.BasicLit); ok && literal.Kind == token.STRING && literal.Value != `""` {
			form, err := strconv.Unquote(literal.Value)
			return form, err == nil
		}
	}
	return "", false
}
