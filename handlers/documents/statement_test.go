package documents

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"html/template"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"palmero/handlers/strictjson"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// reckoned is the statement of the week in testdata/week.json: pieces, a lot shared, hours, rest, an overtime day, a meal not provided,
// a bonus, sick time, an adjustment and tools repaid.
func reckoned(t *testing.T) *payroll.Statement {
	t.Helper()
	data, err := os.ReadFile("testdata/week.json")
	if err != nil {
		t.Fatal(err)
	}
	var week payroll.Week
	if faults := strictjson.Decode(data, &week); len(faults) > 0 {
		t.Fatal(faults)
	}
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	statement, faults := payroll.Reckon(books, &week)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	return statement
}

func encoded(t *testing.T, s Statement) []byte {
	t.Helper()
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(s); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestStatementJSON(t *testing.T) {
	s := reckoned(t)
	for _, lang := range text.Languages() {
		got := encoded(t, StatementJSON(s, text.For(lang)))
		golden(t, "statement."+lang+".json", got)
		for range 20 {
			if again := encoded(t, StatementJSON(s, text.For(lang))); !bytes.Equal(got, again) {
				t.Fatalf("%s: not the same twice", lang)
			}
		}
	}
}

// A statement kept in the records and read back says the same.
func TestStatementJSONOfAStoredStatement(t *testing.T) {
	s := reckoned(t)
	stored, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	var back payroll.Statement
	if err := json.Unmarshal(stored, &back); err != nil {
		t.Fatal(err)
	}
	english := text.For(text.English)
	if a, b := encoded(t, StatementJSON(s, english)), encoded(t, StatementJSON(&back, english)); !bytes.Equal(a, b) {
		t.Errorf("made:\n%s\nread back:\n%s", a, b)
	}
}

func TestStatementJSONOfNothing(t *testing.T) {
	got := string(encoded(t, StatementJSON(&payroll.Statement{Lines: []payroll.Line{{}}}, text.For(text.English))))
	for _, want := range []string{`"lines": [`, `"notes": []`, `"minimum_wage": {}`, `"average_hourly": null`, `"operation": null`, `"rate": null`, `"days": {}`, `"basis_terms": {}`} {
		if !strings.Contains(got, want) {
			t.Errorf("no %s in %s", want, got)
		}
	}
	if strings.Contains(got, "meal_on_duty") {
		t.Error("on-duty meals where there were none")
	}
}

// sheet is the paper of the week in testdata, of an invented date garden.
func sheet(t *testing.T) StatementSheet {
	t.Helper()
	offered := payroll.Minutes(2400)
	return StatementSheet{
		Statement: reckoned(t), ID: "019c6a2e-7b1c-7d40-9a55-3f0c2b6d8e11", Run: "7", State: Paid,
		Payment:  &Payment{On: dated.MustDate("2026-02-27"), Method: "check", Reference: "1043"},
		Employer: Party{Name: "Sombra Larga Date Hands, Inc.", Address: []string{"52-110 Calle Escondida", "Thermal, CA 92274"}, TaxNumber: "00-0000000"},
		EngagedBy: []Party{
			{Name: "Three Wells Dates LLC", Address: []string{"1 Three Wells Road", "Mecca, CA 92254"}},
			{Name: "Media Luna Orchards", Address: []string{"7 Media Luna Lane", "Oasis, CA 92274"}},
		},
		Worker:      Party{Name: "Inés Peña Ibáñez", Number: "14", Address: []string{"PO Box 000", "Coachella, CA 92236"}},
		PeriodFirst: dated.MustDate("2026-02-15"), PeriodLast: dated.MustDate("2026-02-21"), Payday: dated.MustDate("2026-02-27"),
		Gardens: []string{"Three Wells, north", "Three Wells, river"}, RulebookTitle: "California", RulebookDigest: strings.Repeat("9f3c", 16),
		HoursOffered: &offered, Days: detail(),
		SickLeave: &SickLeave{Balance: 1_510, Used: 240, UsedThisYear: 720, Paid: 84_00, UsableFrom: dated.MustDate("2025-05-02")},
	}
}

func detail() []DetailRow {
	var rows []DetailRow
	add := func(day int, r DetailRow) {
		r.Date = dated.NewDate(2026, 2, day)
		rows = append(rows, r)
	}
	time := func(day int, kind payroll.TimeKind, start, stop string, minutes payroll.Minutes, operation, block string) {
		add(day, DetailRow{Kind: kind, Start: start, Stop: stop, Minutes: &minutes, Operation: operation, Block: block})
	}
	count := func(day int, operation, block, unit string, pieces payroll.Pieces, rate payroll.Rate) {
		add(day, DetailRow{Operation: operation, Block: block, Unit: unit, Pieces: &pieces, Rate: &rate})
	}
	time(16, payroll.Nonproductive, "05:40", "06:00", 20, "", "")
	time(16, payroll.Piece, "06:00", "10:00", 240, "pollination", "B-3")
	time(16, payroll.MealPeriod, "10:00", "10:30", 30, "", "")
	time(16, payroll.Piece, "10:30", "14:00", 210, "pollination", "B-4")
	time(16, payroll.Rest, "", "", 20, "", "")
	count(16, "pollination", "B-3", "bunch", 92_000, 11_500)
	count(16, "pollination", "B-4", "bunch", 68_000, 11_500)
	time(17, payroll.Piece, "06:00", "10:00", 240, "de-thorning", "A-1")
	count(17, "de-thorning", "A-1", "palm", 24_000, 60_000)
	return rows
}

func page(t *testing.T, s StatementSheet, lang string) string {
	t.Helper()
	var b bytes.Buffer
	if err := StatementHTML(&b, s, text.For(lang)); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestStatementHTML(t *testing.T) {
	for _, lang := range text.Languages() {
		golden(t, "statement."+lang+".html", []byte(page(t, sheet(t), lang)))
	}
}

// The items that the books' wage statement rules ask for.
func TestStatementHTMLHasEveryItem(t *testing.T) {
	s := sheet(t)
	html := page(t, s, text.English)
	if !strings.Contains(html, `<html lang="en">`) {
		t.Error("the page does not say its language")
	}
	for item, want := range map[string]string{
		"employer's legal name":       s.Employer.Name,
		"employer's address":          s.Employer.Address[0],
		"employer's tax number":       s.Employer.TaxNumber,
		"engaging entity":             s.EngagedBy[0].Name,
		"second engaging entity":      s.EngagedBy[1].Name,
		"its own address":             s.EngagedBy[1].Address[0],
		"engaging entity's address":   s.EngagedBy[0].Address[1],
		"worker":                      s.Worker.Name,
		"worker's number":             "No. 14",
		"worker's permanent address":  s.Worker.Address[0],
		"first day":                   "Sun Feb 15, 2026",
		"last day":                    "Sat Feb 21, 2026",
		"payday":                      "Fri Feb 27, 2026",
		"garden":                      s.Gardens[1],
		"rulebook":                    "California (us-ca)",
		"pieces":                      "160 bunches",
		"piece rate":                  "$1.15",
		"hours offered":               "40:00",
		"daily start and stop":        "06:00–10:00",
		"block":                       "B-4",
		"caution":                     "Local labor and safety codes govern",
		"statement":                   s.ID,
		"run":                         "Pay run 7",
		"state":                       "Paid Feb 27, 2026, check, ref. 1043",
		"text of the rules":           s.RulebookDigest,
		"sick leave":                  "Available after this week: 25:10 h. Used in this week: 4:00 h, paid with $84.00.",
		"signature":                   "Employer’s signature",
		"gross":                       text.For(text.English).Value(s.Statement.Totals.Gross),
		"net":                         text.For(text.English).Value(s.Statement.Totals.Net),
		"total hours":                 text.For(text.English).Value(s.Statement.Minutes.Worked),
		"taxes and deductions, if 0":  "$0.00",
		"first line's reason in full": text.For(text.English).Say(s.Statement.Lines[0].Basis.Key, s.Statement.Lines[0].Basis.Terms),
	} {
		if !strings.Contains(html, template.HTMLEscapeString(want)) {
			t.Errorf("%s: no %q", item, want)
		}
	}
	for _, l := range s.Statement.Lines {
		for what, want := range map[string]string{"amount": text.For(text.English).Value(l.Amount), "authority": l.Authority} {
			if !strings.Contains(html, template.HTMLEscapeString(want)) {
				t.Errorf("%s: no %s %q", l.Code, what, want)
			}
		}
	}
}

// Nothing is shown as the bare key of a message, in either language.
func TestStatementHTMLSaysEverything(t *testing.T) {
	key := regexp.MustCompile(`\b(document|basis|note|line|time|unit|payment|operation)\.[a-z_]+|\{[a-z_]+\}`)
	for _, lang := range text.Languages() {
		visible := regexp.MustCompile(`(?s)<style>.*</style>`).ReplaceAllString(page(t, sheet(t), lang), "")
		if found := key.FindAllString(visible, -1); len(found) > 0 {
			t.Errorf("%s: %q", lang, slices.Compact(found))
		}
	}
}

func TestStatementHTMLStates(t *testing.T) {
	s := sheet(t)
	for _, tc := range []struct {
		state   State
		payment *Payment
		en, es  string
	}{
		{Draft, nil, "Draft: not approved yet", "Borrador: aún sin aprobar"},
		{Approved, nil, "Approved, not paid yet", "Aprobado, aún sin pagar"},
		{Paid, nil, ">Paid<", ">Pagado<"},
		{Void, nil, ">Void, nothing is paid on it: &lt;the name is misspelt&gt;<", ">Anulado, con él no se paga nada: &lt;the name is misspelt&gt;<"},
		{Paid, &Payment{On: dated.MustDate("2026-02-27"), Method: "cash"}, ">Paid Feb 27, 2026, cash<", ">Pagado el 27 feb 2026, efectivo<"},
		{Paid, &Payment{On: dated.MustDate("2026-02-27"), Method: "pay card", Reference: "<9>"}, ">Paid Feb 27, 2026, pay card, ref. &lt;9&gt;<", ">Pagado el 27 feb 2026, pay card, ref. &lt;9&gt;<"},
	} {
		s.State, s.Payment, s.VoidReason = tc.state, tc.payment, "<the name is misspelt>"
		if !strings.Contains(page(t, s, text.English), tc.en) || !strings.Contains(page(t, s, text.Spanish), tc.es) {
			t.Errorf("%s %v is not said", tc.state, tc.payment)
		}
	}
}

// A void statement carries a mark and a word, and its sum is struck out; the one in its place says whose place it takes.
func TestStatementHTMLOfAVoidStatementAndItsReissue(t *testing.T) {
	s := sheet(t)
	if html := page(t, s, text.English); strings.Contains(html, `sheet void`) || strings.Contains(html, "Takes the place") {
		t.Error("void without cause")
	}
	s.State, s.Payment, s.VoidReason = Void, nil, "the name is misspelt"
	html := page(t, s, text.English)
	for _, want := range []string{`<main class="sheet void">`, `<p class="state void">`, `.sheet .state.void::before { content: "✕ "; }`} {
		if !strings.Contains(html, want) {
			t.Errorf("no %q", want)
		}
	}
	s.State, s.Replaces = Approved, "019c6a2e-7b1c-7d40-9a55-3f0c2b6d8e10"
	for lang, want := range map[string]string{text.English: "Takes the place of statement " + s.Replaces, text.Spanish: "Toma el lugar del recibo " + s.Replaces} {
		if !strings.Contains(page(t, s, lang), want) {
			t.Errorf("no %q", want)
		}
	}
}

func TestStatementHTMLLeavesOutWhatThereIsNot(t *testing.T) {
	s := sheet(t)
	s.EngagedBy, s.HoursOffered, s.SickLeave, s.Days, s.RulebookDigest = nil, nil, nil, nil, ""
	s.Statement = &payroll.Statement{Rulebook: "us", Engine: "1"}
	html := page(t, s, text.English)
	for _, not := range []string{"Engaged by", "Hours offered", "Day by day", "sha-256", "Notes", "Premiums", "Expenses repaid", "Average hourly"} {
		if strings.Contains(html, not) {
			t.Errorf("%q without cause", not)
		}
	}
	if !strings.Contains(html, "Ask Sombra Larga Date Hands, Inc.") {
		t.Error("nobody is told whom to ask of sick leave")
	}
	s.SickLeave = &SickLeave{Balance: 62, UsableFrom: s.PeriodLast.AddDays(1)}
	if html := page(t, s, text.English); !strings.Contains(html, "Earned so far: 1:02 h, to be used from Feb 22, 2026.") {
		t.Error("the day from which sick leave may be used is missing")
	}
}

func TestStatementPolicyFitsThePage(t *testing.T) {
	style := regexp.MustCompile(`(?s)<style>(.*)</style>`).FindStringSubmatch(page(t, sheet(t), text.English))
	if style == nil {
		t.Fatal("no style")
	}
	sum := sha256.Sum256([]byte(style[1]))
	if !strings.Contains(StatementPolicy(), base64.StdEncoding.EncodeToString(sum[:])) {
		t.Error("the policy names another style")
	}
}

func BenchmarkStatementHTML(b *testing.B) {
	s := StatementSheet{Statement: &payroll.Statement{Lines: make([]payroll.Line, 8)}, Days: detail()}
	for i := range s.Statement.Lines {
		s.Statement.Lines[i].Code = payroll.HourlyLine
	}
	var out bytes.Buffer
	for b.Loop() {
		out.Reset()
		if err := StatementHTML(&out, s, text.For(text.Spanish)); err != nil {
			b.Fatal(err)
		}
	}
}
