package text

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// messageKey is what a string in the source looks like if it is the key of a message.
var messageKey = regexp.MustCompile(`^(page|fault|problem|pay_problem|note|basis|line|title|input|reckon)\.[a-z][a-z0-9_.]*[a-z0-9]$`)

// Every message that the source asks for is there, in every language. The pay engine puts some of its keys together; its own tests
// look after them.
func TestEveryKeyInTheSourceHasItsMessage(t *testing.T) {
	found := 0
	err := filepath.WalkDir("../..", func(path string, entry fs.DirEntry, err error) error {
		if err == nil && entry.IsDir() && entry.Name() == "payroll" {
			return fs.SkipDir
		}
		if err != nil || entry.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			literal, ok := n.(*ast.BasicLit)
			if !ok || literal.Kind != token.STRING {
				return true
			}
			key, err := strconv.Unquote(literal.Value)
			if err != nil || !messageKey.MatchString(key) {
				return true
			}
			found++
			for _, lang := range Languages() {
				if !For(lang).Has(key) {
					t.Errorf("%s: %s has no message %s", path, lang, key)
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if found < 80 {
		t.Errorf("only %d keys were found; is this the whole source?", found)
	}
}
