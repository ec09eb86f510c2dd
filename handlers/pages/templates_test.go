package pages

import (
	"io/fs"
	"regexp"
	"testing"
)

// No template is defined twice: the later one would take the other's place without a word.
func TestTemplatesHaveNamesOfTheirOwn(t *testing.T) {
	names, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil || len(names) == 0 {
		t.Fatal(names, err)
	}
	defined := regexp.MustCompile(`define "([^"]*)"`)
	of := map[string]string{}
	for _, name := range names {
		file, err := templateFiles.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range defined.FindAllStringSubmatch(string(file), -1) {
			if other := of[m[1]]; other != "" {
				t.Errorf("%q is defined in %s and in %s", m[1], other, name)
			}
			of[m[1]] = name
		}
	}
}
