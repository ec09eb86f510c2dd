// Lint is a "go vet" tool with checks that vet itself lacks: errors that nobody looks at, assignments and writes that
// nobody reads, errors taken apart in ways that wrapping breaks, values that are surely nil.
package main

import (
	"github.com/gordonklaus/ineffassign/pkg/ineffassign"
	"github.com/kisielk/errcheck/errcheck"
	"github.com/polyfloyd/go-errorlint/errorlint"
	"golang.org/x/tools/go/analysis/passes/nilness"
	"golang.org/x/tools/go/analysis/passes/unusedwrite"
	"golang.org/x/tools/go/analysis/unitchecker"
)

func main() {
	unitchecker.Main(errcheck.Analyzer, ineffassign.Analyzer, errorlint.NewAnalyzer(), nilness.Analyzer, unusedwrite.Analyzer)
}
