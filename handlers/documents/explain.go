package documents

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"palmero/handlers/rulebooks"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// Explain writes a whole week as text: each line with how it came about, the same as arithmetic to redo with a pocket
// calculator from figures on the statement, and the provision it rests on with where to read it. The book is the one that
// the week names.
func Explain(w io.Writer, week *payroll.Week, s *payroll.Statement, book *rulebook.Book, c *text.Catalogue) error {
	b := bufio.NewWriter(w)
	e := explanation{Catalogue: c, w: b, week: week, statement: s, book: book}
	e.head()
	for i := range s.Lines {
		e.line(i+1, &s.Lines[i])
	}
	e.totals()
	e.notes()
	return b.Flush()
}

type explanation struct {
	*text.Catalogue
	w         *bufio.Writer
	week      *payroll.Week
	statement *payroll.Statement
	book      *rulebook.Book
}

func (e *explanation) print(indent int, parts ...string) {
	fmt.Fprintln(e.w, strings.Repeat(" ", indent)+strings.Join(parts, ""))
}

// of says one of the explanation's own sentences.
func (e *explanation) of(name string, terms payroll.Terms) string {
	return e.Say("explain."+name, terms)
}

func (e *explanation) head() {
	s := e.statement
	e.print(0, e.of("week", payroll.Terms{"date": s.WeekStart, "book": e.book.Title(), "key": e.book.Key()}))
	if s.ID != "" {
		e.print(0, s.ID)
	}
	m := s.Minutes
	e.print(0, e.of("hours", payroll.Terms{"worked": m.Worked, "overtime": m.Overtime, "double_time": m.DoubleTime}))
	for _, day := range s.Rates.MinimumWage {
		e.print(2, e.of("minimum_wage", payroll.Terms{"date": day.Date, "rate": day.Rate}))
	}
}

// line explains one line.
func (e *explanation) line(number int, l *payroll.Line) {
	e.print(0)
	what := e.Say("line."+string(l.Code), nil)
	if l.Operation != "" {
		what += ", " + e.Operation(l.Operation)
	}
	e.print(0, fmt.Sprint(number), ". ", what, ": ", e.Value(l.Amount))
	e.print(3, e.Say(l.Basis.Key, l.Basis.Terms))
	if a, ok := arithmetic(e.statement, l); ok {
		e.print(3, a.text, " = ", e.outcome(a, l))
	}
	e.authority(string(l.Code), l.Authority)
}

// outcome says what a line's arithmetic comes to, and how that was rounded.
func (e *explanation) outcome(a sum, l *payroll.Line) string {
	exactly, _ := a.outcome()
	if exactly == l.Amount.String() {
		return exactly
	}
	key := "rounded_up"
	if l.Code == payroll.PieceLine || l.Code == payroll.SharedPieceLine {
		key = "rounded_nearest"
	}
	return e.of(key, payroll.Terms{"exactly": exactly, "amount": l.Amount.String()})
}

// ruleOf names the parameter that the lines and notes of a code come from, for looking it up.
var ruleOf = map[string]string{
	string(payroll.HourlyLine): "minimum_wage", string(payroll.NonproductiveLine): "nonproductive", string(payroll.BonusLine): "flat_bonus",
	string(payroll.MinimumMakeupLine): "makeup", string(payroll.RestRecoveryLine): "rest",
	string(payroll.OvertimePremiumLine): "overtime", string(payroll.DoubleTimePremiumLine): "overtime",
	string(payroll.MealPremiumLine): "missed_periods", string(payroll.RestPremiumLine): "missed_periods",
	string(payroll.ReportingTimeLine): "reporting_time", string(payroll.SickLine): "sick_leave",
	"below_minimum": "minimum_wage", "makeup_due": "makeup", "rest_short": "rest_periods", "meal_due": "meals", "second_meal_due": "meals",
	"meal_short": "meals", "meal_late": "meals", "day_of_rest": "seventh_day",
}

// authority says which provision something rests on, with its source and how to look the rule up. A provision that the
// week itself gave stands alone.
func (e *explanation) authority(code, section string) {
	if section == "" {
		return
	}
	coverage := string(e.week.Coverage)
	if coverage == "" {
		coverage = string(payroll.Agriculture)
	}
	key, basis := e.book.AuthorityBasis(code, coverage)
	if key == "" || basis.Source.Section != section {
		e.print(3, section)
		return
	}
	e.print(3, section, " (", basis.Source.Title, ")")
	e.print(3, basis.Source.Link)
	if rule, ok := ruleOf[code]; ok && rulebooks.Says(e.book, rule) {
		e.print(3, e.of("look_up", payroll.Terms{"command": "palmero rulebook " + e.book.Key() + " " + rule}))
	}
}

func (e *explanation) totals() {
	t := e.statement.Totals
	e.print(0)
	e.print(0, e.of("gross", payroll.Terms{"straight_time": t.StraightTime, "premiums": t.Premiums, "other": t.Other, "gross": t.Gross}))
	e.print(0, e.of("net", payroll.Terms{"gross": t.Gross, "reimbursements": t.Reimbursements, "net": t.Net}))
}

func (e *explanation) notes() {
	if len(e.statement.Notes) == 0 {
		return
	}
	e.print(0)
	e.print(0, e.of("notes", nil))
	for _, n := range e.statement.Notes {
		when := ""
		if !n.Date.IsZero() {
			when = e.Value(n.Date) + ": "
		}
		e.print(0, "- ", when, e.Say("note."+n.Code, n.Terms))
		e.authority(n.Code, n.Authority)
	}
}
