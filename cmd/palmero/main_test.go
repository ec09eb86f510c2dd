package main

import (
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"palmero": main})
}

// TestScripts runs the program itself, by the scripts in testdata.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{Dir: "testdata"})
}

func TestDistance(t *testing.T) {
	tests := []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"serve", "serve", 0}, {"", "demo", 4}, {"serv", "serve", 1}, {"sevre", "serve", 2}, {"rekon", "reckon", 1}, {"abc", "xyz", 3},
	}
	for _, test := range tests {
		if got := distance(test.a, test.b); got != test.want {
			t.Errorf("distance(%q, %q) = %d, want %d", test.a, test.b, got, test.want)
		}
	}
}
