package imports

import (
	"strconv"
	"testing"

	"palmero/models/intake/spreadsheet"
	"palmero/payroll"
)

// cell is a row with one cell.
func cell(text, order, mark string, typed bool) *row {
	j := &job{
		mapping: Mapping{DateOrder: order, DecimalMark: mark}, table: &spreadsheet.Table{Typed: typed}, report: &Report{}, bad: map[int]bool{},
		columns: map[string]int{"x": 0, "hours": 0}, heading: []string{"x"},
	}
	return &row{j, 2, spreadsheet.Row{Line: 2, Cells: []string{text}}}
}

func (r *row) outcome(value string, ok bool) string {
	switch {
	case ok:
		return value
	case len(r.report.Problems) != 1:
		return "no single problem"
	case r.report.Problems[0].Question:
		return "?"
	}
	return "!"
}

func TestDates(t *testing.T) {
	for _, c := range []struct{ text, order, want string }{
		{"2026-02-16", "", "2026-02-16"}, {"2026-02-16", "dmy", "2026-02-16"}, {"2026/2/6", "", "2026-02-06"}, {"2026-02-16T00:00:00", "", "2026-02-16"},
		{"2/16/2026", "", "2026-02-16"}, {"16/2/2026", "", "2026-02-16"}, {"16.02.2026", "", "2026-02-16"}, {"2/2/2026", "", "2026-02-02"},
		{"2/3/2026", "", "?"}, {"2/3/2026", "mdy", "2026-02-03"}, {"2/3/2026", "dmy", "2026-03-02"}, {"2/16/26", "", "2026-02-16"},
		{"16/02/26", "", "?"}, {"16/02/26", "dmy", "2026-02-16"}, {"26/02/16", "ymd", "2026-02-16"}, {"16/2/2026", "mdy", "!"}, {"2/16/2026", "ymd", "2026-02-16"},
		{"Feb 16, 2026", "", "2026-02-16"}, {"16 feb 2026", "", "2026-02-16"}, {"lunes, 16 de febrero de 2026", "", "2026-02-16"}, {"Mon 16-Feb-26", "", "2026-02-16"},
		{"30/02/2026", "", "!"}, {"Feb 30 2026", "", "!"}, {"yesterday", "", "!"}, {"16", "", "!"}, {"46069", "", "!"}, {"2/16", "", "!"}, {"1/1/1", "", "!"},
		{"mar 3 2026", "", "2026-03-03"}, {"martes 3 mar 2026", "", "2026-03-03"},
	} {
		r := cell(c.text, c.order, "", false)
		d, ok := r.date("x")
		if got := r.outcome(d.String(), ok); got != c.want {
			t.Errorf("%q by %q: %s, want %s", c.text, c.order, got, c.want)
		}
	}
	r := cell("46069", "", "", true)
	if d, ok := r.date("x"); !ok || d.String() != "2026-02-16" {
		t.Errorf("a workbook's date: %v", d)
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		text, mark string
		typed      bool
		want       string
	}{
		{"160", "", false, "160"}, {"12.5", "", false, "12.5"}, {"12,5", "", false, "12.5"}, {"1,250.5", "", false, "1250.5"}, {"1.250,50", "", false, "1250.5"},
		{"1,250", "", false, "?"}, {"1.250", "", false, "?"}, {"1,250", ".", false, "1250"}, {"1,250", ",", false, "1.25"}, {"1.250", ",", false, "1250"},
		{"0.125", "", false, "0.125"}, {"1.250.000", "", false, "1250000"}, {"1 250", "", false, "1250"}, {"007", "", false, "7"}, {"$16.90", "", false, "16.9"},
		{"-3", "", false, "-3"}, {"12,50", ".", false, "!"}, {"1,2,3", "", false, "!"}, {"twelve", "", false, "!"}, {"1e3", "", false, "!"}, {".5", "", false, "!"},
		{"16.899999999999999", "", true, "16.9"}, {"1E3", "", true, "1000"}, {"1.125", "", true, "1.125"}, {"#N/A", "", true, "!"}, {"NaN", "", true, "!"},
	} {
		r := cell(c.text, "", c.mark, c.typed)
		n, ok := r.number("x")
		if got := r.outcome(n, ok); got != c.want {
			t.Errorf("%q with %q: %s, want %s", c.text, c.mark, got, c.want)
		}
	}
}

func TestClock(t *testing.T) {
	for _, c := range []struct {
		text  string
		typed bool
		want  string
	}{
		{"6:00", false, "360"}, {"06:00:00", false, "360"}, {"14.30", false, "870"}, {"14h30", false, "870"}, {"2:30 pm", false, "870"}, {"2:30 p. m.", false, "870"},
		{"12:00 AM", false, "0"}, {"12 pm", false, "720"}, {"6am", false, "360"}, {"0600", false, "360"}, {"6", false, "!"}, {"25:00", false, "!"}, {"13 pm", false, "!"},
		{"6:60", false, "!"}, {"noon", false, "!"}, {"0.25", true, "360"}, {"46069.25", true, "360"}, {"0.416666666666666", true, "600"}, {"0", true, "0"}, {"6", true, "!"},
	} {
		r := cell(c.text, "", "", c.typed)
		n, ok := r.clock("x")
		if got := r.outcome(strconv.Itoa(n), ok); got != c.want {
			t.Errorf("%q: %s, want %s", c.text, got, c.want)
		}
	}
}

func TestLengths(t *testing.T) {
	for _, c := range []struct{ field, text, want string }{
		{"x", "30", "30"}, {"x", "0:30", "30"}, {"x", "7:5", "!"}, {"x", "-1", "!"}, {"x", "1441", "!"}, {"x", "7.5", "!"},
		{"hours", "7.5", "450"}, {"hours", "7,75", "465"}, {"hours", "7:20", "440"}, {"hours", "7.33", "!"}, {"hours", "25", "!"},
	} {
		r := cell(c.text, "", "", false)
		n, ok := r.minutes(c.field)
		if got := r.outcome(strconv.Itoa(int(n)), ok); got != c.want {
			t.Errorf("%s %q: %s, want %s", c.field, c.text, got, c.want)
		}
	}
}

// Nothing that a cell may hold makes a reader stumble, and what is refused is told.
func FuzzCell(f *testing.F) {
	for _, s := range []string{"2/3/2026", "16 de febrero de 2026", "1.250,5", "2:30 p. m.", "7:30", "", "'", "-", "1e400", "46069.25"} {
		f.Add(s, true)
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, s string, typed bool) {
		for what, read := range map[string]func(*row) bool{
			"date":    func(r *row) bool { _, ok := r.date("x"); return ok },
			"clock":   func(r *row) bool { _, ok := r.clock("x"); return ok },
			"minutes": func(r *row) bool { _, ok := r.minutes("hours"); return ok },
			"pieces":  func(r *row) bool { _, ok := read(r, "x", payroll.ParsePieces); return ok },
		} {
			r := cell(s, "", "", typed)
			if ok := read(r); ok != (len(r.report.Problems) == 0) {
				t.Errorf("%s of %q: %v with %v", what, s, ok, r.report.Problems)
			}
		}
	})
}
