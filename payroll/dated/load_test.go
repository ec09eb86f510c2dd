package dated

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// toll reads a file of one parameter, the way a rulebook reads its many.
func toll(file string, text []byte) (*Series[int64], error) {
	doc := Open(file, text)
	f := doc.Root().Fields([]string{"book", "sources", "toll"}, "kind", "count")
	sources := ReadSources(f["sources"])
	s := ReadSeries(f["toll"], f["book"].Text(), "toll", sources, func(n Node) int64 { return n.Decimal(2) })
	if f.Has("kind") {
		f["kind"].Word("bridge", "road")
	}
	if f.Has("count") {
		f["count"].Int(1)
	}
	sources.CheckUsed()
	return s, doc.Err()
}

func TestAGoodFile(t *testing.T) {
	text, err := os.ReadFile("testdata/good.yaml")
	if err != nil {
		t.Fatal(err)
	}
	s, err := toll("good.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	source := Source{Title: "Act on Tolls", Section: "Tolls 1", Link: "https://law.example/tolls/1"}
	read := MustDate("2026-11-25")
	want := &Series[int64]{Book: "garden", Name: "toll", About: "What the bridge costs", Way: Lower, Values: []Value[int64]{
		{Through: MustDate("2025-12-31"), Value: 250, Given: Figure{Text: "2.50"}, Source: source, ReadOn: read, Standing: Read},
		{From: MustDate("2026-01-01"), Value: 300, Given: Figure{Text: "3"}, Source: source, ReadOn: read, Standing: Secondary},
	}}
	if diff := cmp.Diff(want, s, cmp.AllowUnexported(Date{})); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if from, through := s.Range(); !from.IsZero() || !through.IsZero() {
		t.Errorf("range %s to %s, want open ends", from, through)
	}
}

// Each file in testdata/broken is wrong in one way, and says in its first lines what is to be said of it.
func TestBrokenFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/broken/*.yaml")
	if err != nil || len(files) < 40 {
		t.Fatalf("found %d broken files, %v", len(files), err)
	}
	for _, file := range files {
		name := filepath.Base(file)
		t.Run(name, func(t *testing.T) {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			var want []string
			for line := range strings.Lines(string(text)) {
				if message, ok := strings.CutPrefix(line, "# want "); ok {
					want = append(want, name+":"+strings.TrimSpace(message))
				}
			}
			_, err = toll(name, text)
			if err == nil {
				t.Fatal("nothing was found wrong")
			}
			if diff := cmp.Diff(want, strings.Split(err.Error(), "\n")); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			var problem *Problem
			if !errors.As(err, &problem) || problem.Line == 0 {
				t.Error("the problem does not say its line")
			}
		})
	}
}
