package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const announcedWage = `
book: us-ca-2027
title: Wage announced for 2027
parent: us-ca
local: KIND
sources:
  notice: {title: Announcement of the agency, section: Notice 2027, link: "https://law.example/2027"}
parameters:
  minimum_wage:
    about: What was announced
    way: higher
    values: [{from: 2027-01-01, through: 2027-12-31, value: "WAGE", source: notice, read: 2026-12-01, standing: read}]
authorities: {}
`

// A local book goes into the records in the name of an account, once under its identifier, and is refused with the reason.
func TestEnteringALocalBook(t *testing.T) {
	url, file := farmFile(t), filepath.Join(t.TempDir(), "us-ca-2027.yaml")
	enter := func(status int, kind, wage string, args ...string) string {
		t.Helper()
		if err := os.WriteFile(file, []byte(strings.NewReplacer("KIND", kind, "WAGE", wage).Replace(announcedWage)), 0o600); err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		args = append([]string{"rulebook", "--enter", file, "--employer", "tres-pozos", "--database", url}, args...)
		if got := run(t.Context(), args, nil, &out, &out, nil); got != status {
			t.Fatalf("%v: %d\n%s", args, got, out.String())
		}
		return out.String()
	}
	const id = "019c9fc8-7000-7000-8000-0000000000aa"
	for _, test := range []struct {
		status           int
		kind, wage, want string
		args             []string
	}{
		{misuse, "announcement", "17.30", "--account is missing", nil},
		{failed, "announcement", "16.00", "protege menos que 16.90", []string{"--account", "clerk", "--language", "es"}},
		{failed, "ordinance", "17.30", "Ask the administrator", []string{"--account", "clerk"}},
		{done, "announcement", "17.30", id + " us-ca-2027", []string{"--account", "clerk", "--id", id}},
		{done, "announcement", "17.30", id + " us-ca-2027", []string{"--account", "clerk", "--id", id}},
		{failed, "announcement", "17.40", "is in use", []string{"--account", "clerk"}},
		{done, "announcement", "17.40", "us-ca-2027", []string{"--account", "admin", "--supersedes", id, "--reason", "a slip of the finger"}},
	} {
		if got := enter(test.status, test.kind, test.wage, test.args...); !strings.Contains(got, test.want) {
			t.Errorf("%s %s %v: %s", test.kind, test.wage, test.args, got)
		}
	}
}
