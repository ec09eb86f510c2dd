package documents

import (
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Statement is the public form of a statement: what the command line writes and the API answers with. Amounts and rates are
// decimal strings, times whole minutes; what there is none of is null.
type Statement struct {
	ID        string     `json:"id"`
	WeekStart dated.Date `json:"week_start"`
	Rulebook  string     `json:"rulebook"`
	Engine    string     `json:"engine"`
	Minutes   Minutes    `json:"minutes"`
	Rates     Rates      `json:"rates"`
	Lines     []Line     `json:"lines"`
	Totals    Totals     `json:"totals"`
	Notes     []Note     `json:"notes"`
}

// Minutes are the week's minutes, by kind as entered, and as the rules count them.
type Minutes struct {
	Piece         payroll.Minutes `json:"piece"`
	Hourly        payroll.Minutes `json:"hourly"`
	Nonproductive payroll.Minutes `json:"nonproductive"`
	Rest          payroll.Minutes `json:"rest"`
	Recovery      payroll.Minutes `json:"recovery"`
	Meal          payroll.Minutes `json:"meal"`
	MealOnDuty    payroll.Minutes `json:"meal_on_duty,omitempty"`
	Worked        payroll.Minutes `json:"worked"`
	Overtime      payroll.Minutes `json:"overtime"`
	DoubleTime    payroll.Minutes `json:"double_time"`
}

// Rates are the hourly rates that the lines rest on. The minimum wage stands by ISO date.
type Rates struct {
	MinimumWage   map[string]payroll.Rate `json:"minimum_wage"`
	AverageHourly *payroll.Rate           `json:"average_hourly"`
	Regular       *payroll.Rate           `json:"regular"`
	FlatBonus     *payroll.Rate           `json:"flat_bonus"`
}

// Line is one line. Basis is its arithmetic in words and figures; BasisKey and BasisTerms are what that was made of, for a reader
// who says it in another language. Days holds quantities by ISO date.
type Line struct {
	Code       payroll.Code      `json:"code"`
	Operation  *string           `json:"operation"`
	Quantity   string            `json:"quantity"`
	Unit       string            `json:"unit"`
	Rate       *payroll.Rate     `json:"rate"`
	Amount     payroll.Cents     `json:"amount"`
	Days       map[string]string `json:"days"`
	Basis      string            `json:"basis"`
	BasisKey   string            `json:"basis_key"`
	BasisTerms map[string]any    `json:"basis_terms"`
	Authority  string            `json:"authority"`

	AuthorityLink string `json:"authority_link,omitempty"` // to the text of the provision, by [Statement.Cite]
	RulebookEntry string `json:"rulebook_entry,omitempty"` // to the rulebook's entry on the server
}

// Totals add up the lines.
type Totals struct {
	StraightTime   payroll.Cents `json:"straight_time"`
	Premiums       payroll.Cents `json:"premiums"`
	Other          payroll.Cents `json:"other"`
	Gross          payroll.Cents `json:"gross"`
	Taxes          payroll.Cents `json:"taxes"`
	Deductions     payroll.Cents `json:"deductions"`
	Reimbursements payroll.Cents `json:"reimbursements"`
	Net            payroll.Cents `json:"net"`
}

// Note is one note; its date is null where it is about the week.
type Note struct {
	Code      string      `json:"code"`
	Date      *dated.Date `json:"date"`
	Text      string      `json:"text"`
	Authority string      `json:"authority"`

	AuthorityLink string `json:"authority_link,omitempty"`
	RulebookEntry string `json:"rulebook_entry,omitempty"`
}

// StatementJSON returns the public form of a statement, with the sentences in the catalogue's language. Encoded with encoding/json its
// bytes depend on the statement and the language alone.
func StatementJSON(s *payroll.Statement, c *text.Catalogue) Statement {
	public := Statement{
		ID: s.ID, WeekStart: s.WeekStart, Rulebook: s.Rulebook, Engine: s.Engine,
		Minutes: Minutes(s.Minutes),
		Rates:   publicRates(s.Rates),
		Lines:   make([]Line, len(s.Lines)),
		Totals:  Totals(s.Totals),
		Notes:   make([]Note, len(s.Notes)),
	}
	for i := range s.Lines {
		public.Lines[i] = publicLine(&s.Lines[i], c)
	}
	for i := range s.Notes {
		public.Notes[i] = publicNote(&s.Notes[i], c)
	}
	return public
}

func publicRates(r payroll.Rates) Rates {
	wages := make(map[string]payroll.Rate, len(r.MinimumWage))
	for _, day := range r.MinimumWage {
		wages[day.Date.String()] = day.Rate
	}
	return Rates{MinimumWage: wages, AverageHourly: r.AverageHourly, Regular: r.Regular, FlatBonus: r.FlatBonus}
}

func publicLine(l *payroll.Line, c *text.Catalogue) Line {
	days := make(map[string]string, len(l.Days))
	for _, day := range l.Days {
		days[day.Date.String()] = day.Quantity
	}
	terms := map[string]any(l.Basis.Terms)
	if terms == nil {
		terms = map[string]any{}
	}
	public := Line{
		Code: l.Code, Quantity: l.Quantity, Unit: l.Unit, Rate: l.Rate, Amount: l.Amount, Days: days,
		Basis: c.Say(l.Basis.Key, l.Basis.Terms), BasisKey: l.Basis.Key, BasisTerms: terms, Authority: l.Authority,
	}
	if l.Operation != "" {
		public.Operation = &l.Operation
	}
	return public
}

func publicNote(n *payroll.Note, c *text.Catalogue) Note {
	public := Note{Code: n.Code, Text: c.Say("note."+n.Code, n.Terms), Authority: n.Authority}
	if !n.Date.IsZero() {
		public.Date = &n.Date
	}
	return public
}
