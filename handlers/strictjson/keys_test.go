package strictjson

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"palmero/handlers/text"
)

// Every key that the package's source names has its message.
func TestFaultsAreSaid(t *testing.T) {
	sources, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	keys := regexp.MustCompile(`"(input\.[a-z_0-9]+)"`)
	found := 0
	for _, s := range sources {
		if !strings.HasSuffix(s.Name(), ".go") {
			continue
		}
		source, err := os.ReadFile(s.Name())
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range keys.FindAllSubmatch(source, -1) {
			found++
			if !text.For(text.English).Has(string(m[1])) {
				t.Errorf("%s: %s has no message", s.Name(), m[1])
			}
		}
	}
	if found == 0 {
		t.Error("no keys found")
	}
}
