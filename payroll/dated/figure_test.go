package dated

import (
	"encoding/json"
	"strings"
	"testing"
)

func TestFiguresComeOutAsWritten(t *testing.T) {
	tests := []struct{ yaml, text, json string }{
		{`"16.90"`, "16.90", `"16.90"`},
		{`separate`, "separate", `"separate"`},
		{`26`, "26", `26`},
		{`null`, "none", `null`},
		{`{daily: "8", weekly: null, of: 3}`, "daily 8, weekly none, of 3", `{"daily":"8","weekly":null,"of":3}`},
		{`[{hours: "5"}, {hours: "10"}]`, "hours 5; hours 10", `[{"hours":"5"},{"hours":"10"}]`},
		{`["8", "10"]`, "8; 10", `["8","10"]`},
		{`{"a \"quoted\" key": "<b>"}`, `a "quoted" key <b>`, `{"a \"quoted\" key":"\u003cb\u003e"}`},
	}
	for _, test := range tests {
		doc := Open("garden.yaml", []byte("value: "+test.yaml))
		f := doc.Root().Fields([]string{"value"})["value"].Figure()
		if err := doc.Err(); err != nil {
			t.Fatal(err)
		}
		got, err := json.Marshal(f)
		if f.String() != test.text || string(got) != test.json || err != nil {
			t.Errorf("%s is %q and %s, %v; want %q and %s", test.yaml, f.String(), got, err, test.text, test.json)
		}
		if f.IsNull() != (test.yaml == "null") {
			t.Errorf("%s is null: %t", test.yaml, f.IsNull())
		}
	}
	if !(Node{}).Figure().IsNull() {
		t.Error("a value that is missing is a figure")
	}
}

// Keys and words are said in the reader's words, numbers as they are.
func TestFiguresAreSaidInOtherWords(t *testing.T) {
	f := Open("garden.yaml", []byte(`value: {daily: "8", weekly: null, count: 3}`)).Root().Fields([]string{"value"})["value"].Figure()
	if got := f.Write(strings.ToUpper); got != "DAILY 8, WEEKLY NONE, COUNT 3" {
		t.Error(got)
	}
}
