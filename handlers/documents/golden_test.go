package documents

import (
	"bytes"
	"flag"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "accept the documents as they are now")

// golden holds a document against the one accepted in testdata.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(want, got) {
		t.Errorf("%s: accepted (-), now (+); look at it, then accept it with -update:\n%s", name, cmp.Diff(string(want), string(got)))
	}
}

// shortWriter fails after a number of writes.
type shortWriter struct{ left int }

func (w *shortWriter) Write(b []byte) (int, error) {
	if w.left == 0 {
		return 0, io.ErrShortWrite
	}
	w.left--
	return len(b), nil
}
