package documents

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
	"time"

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

var chainHead = &ChainHead{Seal: 1204, At: time.Date(2026, 2, 27, 13, 55, 4, 123456000, time.FixedZone("", -8*3600)), Hash: strings.Repeat("0f", 32)}

func TestPayListCSV(t *testing.T) {
	for _, lang := range text.Languages() {
		var b bytes.Buffer
		if err := PayListCSV(&b, payList(), chainHead, text.For(lang)); err != nil {
			t.Fatal(err)
		}
		golden(t, "pay_list."+lang+".csv", b.Bytes())
		rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(b.String(), "\ufeff"))).ReadAll()
		if err != nil || len(rows) != 7 {
			t.Errorf("%s: %d rows, %v", lang, len(rows), err)
		}
	}
}

func TestPayListCSVWithoutASeal(t *testing.T) {
	for head, want := range map[*ChainHead]string{nil: "Total", {}: "Audit chain: not sealed yet"} {
		var b bytes.Buffer
		if err := PayListCSV(&b, nil, head, text.For(text.English)); err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(strings.TrimSpace(b.String()), "\r\n")
		if last := lines[len(lines)-1]; !strings.HasPrefix(last, ","+want+",") {
			t.Errorf("the last row is %q; want %q", last, want)
		}
	}
}

func TestPayListCSVTellsOfAWriterThatFails(t *testing.T) {
	for after := range 2 {
		if err := PayListCSV(&shortWriter{after}, payList(), nil, text.For(text.English)); err == nil {
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
