package main

import (
	"bytes"
	"strings"
	"testing"
)

// aWeek is a worker-week of one day.
const aWeek = `{"id":"a","rulebook":"us-ca","week_start":"2026-02-15","days":[{"date":"2026-02-16","time":[{"kind":"piece","minutes":420}],` +
	`"tallies":[{"operation":"pollination","unit":"bunch","pieces":156,"rate":"1.1500"}]}]}`

func TestReckonStatus(t *testing.T) {
	for _, tc := range []struct {
		name, in string
		status   int
	}{
		{"all reckoned", aWeek + "\n" + aWeek, done},
		{"one refused", aWeek + "\n{}", failed},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var out, errOut bytes.Buffer
			if status := runReckon(nil, strings.NewReader(tc.in), &out, &errOut); status != tc.status || errOut.Len() > 0 || strings.Count(out.String(), "\n") != 2 {
				t.Errorf("status %d, stderr %q, output %s", status, &errOut, &out)
			}
		})
	}
}

func TestReckonRefusesItsUse(t *testing.T) {
	two := aWeek + "\n" + aWeek
	for _, tc := range []struct {
		name, in, want string
		args           []string
		status         int
	}{
		{"unknown flag", "", "flag provided but not defined: -fast", []string{"--fast"}, misuse},
		{"argument", "", `"week.json" is not expected`, []string{"week.json"}, misuse},
		{"language", "", `--language "fr" is not one of en, es`, []string{"--language", "fr"}, misuse},
		{"indent of several", two, "--indent is for one document", []string{"--indent"}, misuse},
		{"nothing", " \n\n", "nothing came on standard input", nil, failed},
		{"nothing to indent", "", "nothing came on standard input", []string{"--indent"}, failed},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var out, errOut bytes.Buffer
			status := runReckon(tc.args, strings.NewReader(tc.in), &out, &errOut)
			if status != tc.status || !strings.Contains(errOut.String(), tc.want) || out.Len() > 0 {
				t.Errorf("status %d, stdout %q, stderr %q", status, &out, &errOut)
			}
		})
	}
}

func TestReckonHelp(t *testing.T) {
	var out, errOut bytes.Buffer
	if status := runReckon([]string{"--help"}, nil, &out, &errOut); status != done || out.String() != reckonHelp || errOut.Len() > 0 {
		t.Errorf("status %d, stdout %q, stderr %q", status, &out, &errOut)
	}
	_, example, _ := strings.Cut(reckonHelp, "echo '")
	example, _, _ = strings.Cut(example, "'")
	out.Reset()
	if status := runReckon([]string{"--indent"}, strings.NewReader(example), &out, &errOut); status != done || strings.Count(out.String(), "\n") < 10 {
		t.Errorf("the example of the help gives %d, %s%s", status, &out, &errOut)
	}
}

func TestReckonSpeaksTheLanguageAskedFor(t *testing.T) {
	var out, errOut bytes.Buffer
	runReckon([]string{"--language=es"}, strings.NewReader(`{"week_start":5}`+"\n"+aWeek), &out, &errOut)
	for _, want := range []string{"Esta semana no se puede calcular.", "Falta «rulebook»", `"basis":"156 racimos × $1.15"`} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in %s", want, &out)
		}
	}
}
