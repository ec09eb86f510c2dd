package documents

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"html/template"
	"io"
	"slices"

	"palmero/handlers/look"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// StatementSheet is a statement with everything that belongs on the paper: who pays, who is paid, where, when, and the days in detail.
type StatementSheet struct {
	Statement *payroll.Statement
	ID        string   // of the statement, as the records have it
	Run       string   // the pay run's number
	State     State    // how far the pay has come
	Payment   *Payment // where State is Paid

	VoidReason string // where State is Void
	Replaces   string // the ID of the void statement in whose place this one stands; "" where there is none

	Employer  Party
	EngagedBy []Party // whoever engaged the employer, where the employer is a labor contractor
	Worker    Party   // Number is the worker's; never a social security number

	PeriodFirst, PeriodLast, Payday dated.Date
	Gardens                         []string
	RulebookTitle                   string           // such as "California"
	RulebookDigest                  string           // hex sha-256 of the rulebook's text
	HoursOffered                    *payroll.Minutes // under an H-2A contract, else nil
	SickLeave                       *SickLeave       // nil where no balance is kept

	Days []DetailRow

	Book *rulebook.Book // by which its provisions can be looked up; nil: they are named only

	Among bool // whether it stands among others on a page, whose first heading is none of theirs
}

// SickLeave is what the paper tells of sick leave after the week.
type SickLeave struct {
	Balance, Used, UsedThisYear payroll.Minutes
	Paid                        payroll.Cents
	UsableFrom                  dated.Date // zero while the worker is not employed
}

// State is how far the pay of a statement has come.
type State string

// The states of a statement.
const (
	Draft    State = "draft"
	Approved State = "approved"
	Paid     State = "paid"
	Void     State = "void" // taken back before it was paid
)

// Party is an employer, an engaging entity or a worker.
type Party struct {
	Name      string
	Number    string   // a worker's short number
	Address   []string // line by line
	TaxNumber string   // an employer's
}

// DetailRow is one time entry or tally of a day. What a row does not have is left zero: a tally has no clock times,
// a time entry no pieces.
type DetailRow struct {
	Date        dated.Date
	Start, Stop string // clock times such as "06:00" in the garden's zone
	Kind        payroll.TimeKind
	Minutes     *payroll.Minutes
	Operation   string
	Block       string
	Pieces      *payroll.Pieces // of the whole lot, where there is a Part
	Part        string          // the worker's part of a lot, as a fraction: "240/600", "0.6", "1/3"
	Unit        string
	Rate        *payroll.Rate
}

//go:embed statement.css
var statementStyle string

//go:embed statement.html
var statementSource string

var statementTemplate = template.Must(template.New("statement").Parse(statementSource))

// pageStyle is that of the page by itself: the colours and the sheet.
var pageStyle = look.Palette + statementStyle

// StatementStyle is a style sheet for the fragments that StatementBody and LinesHTML write, within an element of the class "sheet"; the colours are
// those of package look.
func StatementStyle() string { return statementStyle }

// StatementPolicy is a Content-Security-Policy under which the page of StatementHTML shows as it should: its own style and nothing else.
func StatementPolicy() string {
	sum := sha256.Sum256([]byte(pageStyle))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
}

// StatementHTML writes an itemized wage statement as one self-contained page to read on a phone or to print. It has every item that the
// books' wage statement rules ask for (California Labor Code 226(a) and 226.2(a)(2), 29 CFR 500.80, 20 CFR 655.122(k)); where
// no balance of sick leave is kept, it says whom to ask.
func StatementHTML(w io.Writer, sheet StatementSheet, c *text.Catalogue) error {
	return statementTemplate.Execute(w, statementPage{Catalogue: c, StatementSheet: sheet, Style: template.CSS(pageStyle)})
}

// StatementBody writes what StatementHTML has between its main tags, to stand on a page with others of its kind.
func StatementBody(w io.Writer, sheet StatementSheet, c *text.Catalogue) error {
	return statementTemplate.ExecuteTemplate(w, "body", statementPage{Catalogue: c, StatementSheet: sheet})
}

// LinesHTML writes a statement's lines and totals alone, as a table: each line with how it came about and the provision that it rests on, with where to
// read it by the book, or its name alone where that is nil.
func LinesHTML(w io.Writer, s *payroll.Statement, book *rulebook.Book, c *text.Catalogue) error {
	return statementTemplate.ExecuteTemplate(w, "lines", statementPage{Catalogue: c, StatementSheet: StatementSheet{Statement: s, Book: book}})
}

// statementPage is what the template sees.
type statementPage struct {
	*text.Catalogue
	StatementSheet
	Style template.CSS
}

// T says one of the page's own labels.
func (p statementPage) T(name string) string { return p.Say("document."+name, nil) }

// Told says one of the page's own sentences with one term.
func (p statementPage) Told(name, term string, value any) string {
	return p.Say("document."+name, payroll.Terms{term: value})
}

// group is the lines that one total adds up.
type group struct {
	Name  string
	Lines []payroll.Line
	Total payroll.Cents
}

// groups are the lines as the totals take them together.
var groups = map[string][]payroll.Code{
	"straight_time": {payroll.PieceLine, payroll.SharedPieceLine, payroll.HourlyLine, payroll.NonproductiveLine, payroll.BonusLine,
		payroll.MinimumMakeupLine, payroll.GuaranteeMakeupLine, payroll.RestRecoveryLine},
	"premiums": {payroll.OvertimePremiumLine, payroll.DoubleTimePremiumLine, payroll.MealPremiumLine, payroll.RestPremiumLine,
		payroll.ReportingTimeLine},
	"other":          {payroll.SickLine, payroll.LeaveLine, payroll.AdjustmentLine},
	"reimbursements": {payroll.ReimbursementLine},
}

// Earnings are the groups that make up the gross, those without a line left out.
func (p statementPage) Earnings() []group {
	t := p.Statement.Totals
	return p.group(group{Name: "straight_time", Total: t.StraightTime}, group{Name: "premiums", Total: t.Premiums}, group{Name: "other", Total: t.Other})
}

// Repaid is the group of reimbursements, if there are any.
func (p statementPage) Repaid() []group {
	return p.group(group{Name: "reimbursements", Total: p.Statement.Totals.Reimbursements})
}

func (p statementPage) group(all ...group) []group {
	var filled []group
	for _, g := range all {
		for _, l := range p.Statement.Lines {
			if slices.Contains(groups[g.Name], l.Code) {
				g.Lines = append(g.Lines, l)
			}
		}
		if len(g.Lines) > 0 {
			filled = append(filled, g)
		}
	}
	return filled
}

// SickLeaveText tells the balance, and what the week used of it.
func (p statementPage) SickLeaveText() string {
	s := p.SickLeave
	key := "document.sick_leave_balance"
	if s.UsableFrom.IsZero() || !s.UsableFrom.After(p.PeriodLast) {
		key = "document.sick_leave_usable"
	}
	return p.Say(key, payroll.Terms{"balance": s.Balance, "used": s.Used, "paid": s.Paid, "year": s.UsedThisYear, "from": s.UsableFrom})
}

// Title names a line: what it pays, and for which operation.
func (p statementPage) Title(l payroll.Line) string {
	title := p.Say("line."+string(l.Code), nil)
	if l.Operation != "" {
		title += ": " + p.Operation(l.Operation)
	}
	return title
}

// LineProvision says where to read about a line's provision.
func (p statementPage) LineProvision(l payroll.Line) Provision {
	return provisionOf(p.Book, string(l.Code), l.Authority)
}

// NoteProvision says where to read about a note's provision.
func (p statementPage) NoteProvision(n payroll.Note) Provision {
	return provisionOf(p.Book, n.Code, n.Authority)
}

// Reason says how a line came to its amount.
func (p statementPage) Reason(l payroll.Line) string { return p.Say(l.Basis.Key, l.Basis.Terms) }

// Spell is one kind of time and how much of it there was.
type spell struct {
	Name    string
	Minutes payroll.Minutes
}

// Spells are the kinds of time that the week holds.
func (p statementPage) Spells() []spell {
	m := p.Statement.Minutes
	all := []spell{{"piece", m.Piece}, {"hourly", m.Hourly}, {"nonproductive", m.Nonproductive}, {"rest", m.Rest}, {"recovery", m.Recovery},
		{"meal", m.Meal}, {"meal_on_duty", m.MealOnDuty}}
	return slices.DeleteFunc(all, func(s spell) bool { return s.Minutes == 0 })
}

// wage is a minimum wage and the first and last day of the week's records that it held on.
type wage struct {
	First, Last dated.Date
	Rate        payroll.Rate
}

// Wages are the minimum wages of the week, days of one wage taken together.
func (p statementPage) Wages() []wage {
	var all []wage
	for _, day := range p.Statement.Rates.MinimumWage {
		if n := len(all); n > 0 && all[n-1].Rate == day.Rate {
			all[n-1].Last = day.Date
			continue
		}
		all = append(all, wage{day.Date, day.Date, day.Rate})
	}
	return all
}

// StateText says how far the pay has come.
func (p statementPage) StateText() string {
	if p.State == Void {
		return p.Told("state_void", "reason", p.VoidReason)
	}
	if p.State != Paid || p.Payment == nil {
		return p.T("state_" + string(p.State))
	}
	key := "document.state_paid_how"
	if p.Payment.Reference == "" {
		key = "document.state_paid_plain"
	}
	return p.Say(key, payroll.Terms{"date": p.Payment.On, "method": p.Word("payment", p.Payment.Method), "reference": p.Payment.Reference})
}

// NoteText says a note.
func (p statementPage) NoteText(n payroll.Note) string { return p.Say("note."+n.Code, n.Terms) }

// KindText says what a row of the days is: its kind of time, or that it counts pieces.
func (p statementPage) KindText(r DetailRow) string {
	if r.Kind == "" {
		return p.T("count")
	}
	return p.Say("time."+string(r.Kind), nil)
}

// DetailDays are the detail rows day by day, in the order given.
func (p statementPage) DetailDays() [][]DetailRow {
	var days [][]DetailRow
	for i, row := range p.Days {
		if i == 0 || row.Date != p.Days[i-1].Date {
			days = append(days, nil)
		}
		days[len(days)-1] = append(days[len(days)-1], row)
	}
	return days
}

// In is a group with the page around it, for the template that writes groups.
func (p statementPage) In(g group) any {
	return struct {
		Page  statementPage
		Group group
	}{p, g}
}

// Law is a provision with the words for it, for the template that writes provisions.
func (p statementPage) Law(section string, where Provision) any {
	return struct {
		Section, Rule string
		Provision
	}{section, p.T("rulebook_entry"), where}
}
