package models_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var deletes = regexp.MustCompile(`(?i)\b(?:DELETE FROM|TRUNCATE(?: TABLE)?) "?([a-z_]+)|\.Delete\(&([A-Za-z]+)`)

// typesDeleted are the tables of the types that gorm deletes.
var typesDeleted = map[string]string{"attempt": "sign_in_attempts", "refreshToken": "refresh_tokens"}

// deletesInSource lists the tables from which the program's own text deletes.
func deletesInSource(t *testing.T) (tables []string) {
	t.Helper()
	err := filepath.WalkDir("..", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for _, match := range deletes.FindAllStringSubmatch(string(text), -1) {
			if match[1] == "" {
				match[1] = typesDeleted[match[2]]
			}
			tables = append(tables, match[1])
		}
		return nil
	})
	if err != nil || len(tables) == 0 {
		t.Fatalf("%v, %v", tables, err)
	}
	return tables
}
