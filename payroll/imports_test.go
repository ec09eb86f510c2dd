package payroll

import (
	"bytes"
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// listed is what `go list` tells of a package.
type listed struct {
	ImportPath, Dir string
	GoFiles         []string
	Deps            []string
}

func list(t *testing.T) []listed {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Dir,GoFiles,Deps", "palmero/payroll/...", "palmero/safety/...")
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v\n%s", err, stderr.String())
	}
	var packages []listed
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return packages
		} else if err != nil {
			t.Fatal(err)
		}
		packages = append(packages, p)
	}
}

// The engines are plain arithmetic: no web, no database, no other room of the house.
func TestTheEnginesImportNothingOfTheHouse(t *testing.T) {
	packages := list(t)
	if len(packages) < 3 {
		t.Fatalf("found only %d packages", len(packages))
	}
	for _, p := range packages {
		for _, dep := range p.Deps {
			if why := forbidden(p.ImportPath, dep); why != "" {
				t.Errorf("%s depends on %s: %s", p.ImportPath, dep, why)
			}
		}
	}
}

func forbidden(from, dep string) string {
	switch {
	case dep == "net/http" || dep == "database/sql" || strings.Contains(dep, "gorm") || strings.Contains(dep, "gin-gonic"):
		return "the engines know no web and no database"
	case !under(dep, "palmero"):
		return ""
	case under(from, "palmero/payroll") && !under(dep, "palmero/payroll"):
		return "payroll imports nothing of the house but itself"
	case under(from, "palmero/payroll/rulebook") && dep != "palmero/payroll/dated" && !under(dep, "palmero/payroll/rulebook"):
		return "a rulebook imports payroll/dated only"
	case under(from, "palmero/payroll/dated") && !under(dep, "palmero/payroll/dated"):
		return "dated values know nothing of pay"
	case under(from, "palmero/safety") && !under(dep, "palmero/safety") && dep != "palmero/payroll/dated":
		return "safety imports payroll/dated only"
	}
	return ""
}

func under(path, root string) bool { return path == root || strings.HasPrefix(path, root+"/") }

func TestForbiddenArrows(t *testing.T) {
	for _, arrow := range [][2]string{
		{"palmero/payroll", "net/http"}, {"palmero/payroll", "gorm.io/gorm"}, {"palmero/payroll/dated", "palmero/payroll"}, {"palmero/payroll/rulebook", "palmero/payroll"},
		{"palmero/payroll", "palmero/models"}, {"palmero/safety", "palmero/payroll"}, {"palmero/safety", "palmero/payroll/rulebook"}, {"palmero/safety", "github.com/gin-gonic/gin"},
	} {
		if forbidden(arrow[0], arrow[1]) == "" {
			t.Errorf("%s may depend on %s", arrow[0], arrow[1])
		}
	}
	for _, arrow := range [][2]string{{"palmero/payroll", "palmero/payroll/rulebook"}, {"palmero/safety", "palmero/payroll/dated"}, {"palmero/payroll/rulebook", "palmero/payroll/dated"}} {
		if why := forbidden(arrow[0], arrow[1]); why != "" {
			t.Errorf("%s may not depend on %s: %s", arrow[0], arrow[1], why)
		}
	}
}

// The engines have no clock, and pay has no binary fractions.
func TestTheEnginesHaveNoClockAndPayHasNoFloats(t *testing.T) {
	for _, p := range list(t) {
		for _, name := range p.GoFiles {
			files := token.NewFileSet()
			file, err := parser.ParseFile(files, filepath.Join(p.Dir, name), nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(file, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.SelectorExpr:
					if x, ok := n.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains([]string{"Now", "Since", "Until", "Sleep", "After", "Tick"}, n.Sel.Name) {
						t.Errorf("%s reads the clock: time.%s", files.Position(n.Pos()), n.Sel.Name)
					}
				case *ast.Ident:
					if under(p.ImportPath, "palmero/payroll") && (n.Name == "float32" || n.Name == "float64") {
						t.Errorf("%s uses %s", files.Position(n.Pos()), n.Name)
					}
				}
				return true
			})
		}
	}
}
