package main

import (
	"bytes"
	"strings"
	"testing"

	"palmero/safety"
)

const aHotDay = `{"rulebook":"us-ca","on":"2026-07-14","temperature_c":40,"relative_humidity":12,"direct_sun":true}`

func TestFigure(t *testing.T) {
	for _, tc := range []struct {
		name, in string
		args     []string
		status   int
		lines    int
		want     []string
	}{
		{"answered", aHotDay + "\n" + aHotDay, []string{"heat-index"}, done, 2, []string{`"heat_index_f":99.07`, `"band":"high"`, "Shade that is up"}},
		{"in Spanish", aHotDay, []string{"heat-index", "--language=es"}, done, 1, []string{"Sombra puesta", "Decide una persona competente"}},
		{"flags first", aHotDay, []string{"--language=es", "heat-index"}, done, 1, []string{"Sombra puesta"}},
		{"one refused", aHotDay + "\n{}\n" + aHotDay, []string{"heat-index"}, failed, 3, []string{"This cannot be computed.", `"pointer":"/temperature_f"`, `"pointer":"/rulebook"`}},
		{"refused by the engine", strings.Replace(aHotDay, "40", "90", 1), []string{"heat-index"}, failed, 1, []string{`"pointer":"/temperature_c","detail":"90 cannot be. It lies between -51.111 and 65.556."`}},
		{"both units", strings.Replace(aHotDay, `"temp`, `"temperature_f":104,"temp`, 1), []string{"heat-index"}, failed, 1, []string{`"pointer":"/temperature_c"`, "say the same in two ways"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var out, errOut bytes.Buffer
			status := runFigure(tc.args, strings.NewReader(tc.in), &out, &errOut)
			if status != tc.status || errOut.Len() > 0 || strings.Count(out.String(), "\n") != tc.lines {
				t.Errorf("status %d, stderr %q, output %s", status, &errOut, &out)
			}
			for _, want := range tc.want {
				if !strings.Contains(out.String(), want) {
					t.Errorf("no %q in %s", want, &out)
				}
			}
		})
	}
}

func TestFigureRefusesItsUse(t *testing.T) {
	for _, tc := range []struct {
		name, in, want string
		args           []string
		status         int
	}{
		{"no name", "", "the name of a figure is missing", nil, misuse},
		{"unknown name", "", `there is no figure "heat"; use one of clearance, fall-clearance,`, []string{"heat"}, misuse},
		{"unknown flag", "", "flag provided but not defined: -fast", []string{"heat-index", "--fast"}, misuse},
		{"argument", "", `"day.json" is not expected`, []string{"heat-index", "day.json"}, misuse},
		{"language", "", `--language "fr" is not one of en, es`, []string{"heat-index", "--language", "fr"}, misuse},
		{"indent of several", aHotDay + "\n" + aHotDay, "--indent is for one document", []string{"heat-index", "--indent"}, misuse},
		{"nothing", " \n\n", "nothing came on standard input", []string{"heat-index"}, failed},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var out, errOut bytes.Buffer
			status := runFigure(tc.args, strings.NewReader(tc.in), &out, &errOut)
			if status != tc.status || !strings.Contains(errOut.String(), tc.want) || out.Len() > 0 {
				t.Errorf("status %d, stdout %q, stderr %q", status, &out, &errOut)
			}
		})
	}
}

func TestFigureHelp(t *testing.T) {
	for _, args := range [][]string{{"--help"}, {"heat-index", "--help"}} {
		var out, errOut bytes.Buffer
		if status := runFigure(args, nil, &out, &errOut); status != done || out.String() != figureHelp || errOut.Len() > 0 {
			t.Errorf("status %d, stdout %q, stderr %q", status, &out, &errOut)
		}
	}
	for _, f := range safety.Figures() {
		if !strings.Contains(figureHelp, "\n  "+f.Name+" ") {
			t.Errorf("the help does not tell of %s", f.Name)
		}
	}
	_, example, _ := strings.Cut(figureHelp, "echo '")
	example, _, _ = strings.Cut(example, "'")
	var out, errOut bytes.Buffer
	if status := runFigure([]string{"heat-index", "--indent"}, strings.NewReader(example), &out, &errOut); status != done || strings.Count(out.String(), "\n") < 10 {
		t.Errorf("the example of the help gives %d, %s%s", status, &out, &errOut)
	}
}
