package documents

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/dated"
)

func payList() []PayListRow {
	week := dated.MustDate("2026-02-15")
	return []PayListRow{
		{Number: "14", Name: "Peña Ibáñez, Inés", WeekStart: week, Worked: 2465,
			Totals:  payroll.Totals{StraightTime: 100_050, Premiums: 1_690, Gross: 101_740, Reimbursements: 3_100, Net: 104_840},
			Payment: &Payment{On: dated.MustDate("2026-02-27"), Method: "check", Reference: "1043"}},
		{Number: "15", Name: `=HYPERLINK("http://example.test")`, WeekStart: week, Worked: 455,
			Totals:  payroll.Totals{StraightTime: 18_400, Other: -500, Gross: 17_900, Net: 17_900},
			Payment: &Payment{On: dated.MustDate("2026-02-27"), Method: "+1", Reference: "-7"}},
		{Number: "15", Name: "Ana Rojas", WeekStart: week, Worked: 455, Totals: payroll.Totals{StraightTime: 99_999, Gross: 99_999, Net: 99_999},
			Void: true, VoidReason: "=the name was misspelt"},
		{Number: "16", Name: "Ruiz\tOjeda \"Nacho\"\nJosé", WeekStart: week},
	}
}

func TestPayListCSV(t *testing.T) {
	for _, lang := range text.Languages() {
		var b bytes.Buffer
		if err := PayListCSV(&b, payList(), text.For(lang)); err != nil {
			t.Fatal(err)
		}
		golden(t, "pay_list."+lang+".csv", b.Bytes())
		rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(b.String(), "\ufeff"))).ReadAll()
		if err != nil || len(rows) != 6 {
			t.Errorf("%s: %d rows, %v", lang, len(rows), err)
		}
	}
}

func TestPayListCSVTellsOfAWriterThatFails(t *testing.T) {
	for after := range 2 {
		if err := PayListCSV(&shortWriter{after}, payList(), text.For(text.English)); err == nil {
			t.Errorf("nothing told after %d writes", after)
		}
	}
}

func TestPlainCell(t *testing.T) {
	for in, want := range map[string]string{
		"": "", "Ana": "Ana", "=1": "'=1", "+1": "'+1", "-1": "'-1", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx", "\nx": "'\nx", "1-1": "1-1", "ñ=": "ñ=",
	} {
		if got := plainCell(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}
