package rulebook

import "testing"

func TestTheBooksLoad(t *testing.T) {
	l, err := Load()
	if err != nil {
		t.Fatal(err)
	}
	t.Log(l.Keys())
}
