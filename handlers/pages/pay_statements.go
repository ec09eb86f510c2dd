package pages

import (
	"slices"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/models"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

func payStatementPages() []Page {
	return []Page{
		{Method: "GET", Path: "/statements/{id}", Roles: office, handle: showStatement},
	}
}

// sheetPage is a worker's statement as the office sees it, with how its lines came about.
type sheetPage struct {
	statementPage
	Sheet *payrun.Sheet
	Kind  string // of pay, to which the lines are narrowed; "" for all of them
	Why   []documents.Line

	Events  []payrun.PaymentEvent
	Authors map[uuid.UUID]string
	Clerk   bool
	Methods []Option
}

// Stands tells whether the statement is approved and not void, so that it can be paid.
func (p *sheetPage) Stands() bool { return p.Sheet.Run.State != payrun.Draft && !p.Void }

// eventsOf is what happened to a statement's payment, with the names of those who recorded it.
func eventsOf(tx *models.Tx, statement uuid.UUID) ([]payrun.PaymentEvent, map[uuid.UUID]string, error) {
	events, err := payrun.PaymentEvents(tx, statement)
	if err != nil {
		return nil, nil, err
	}
	by := make([]uuid.UUID, len(events))
	for i := range events {
		by[i] = events[i].RecordedBy
	}
	names, err := models.AccountNames(tx, by)
	return events, names, err
}

func showStatement(v *visit) (*answer, error) { return sheetPageWith(v, nil) }

func sheetPageWith(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page sheetPage
	var book *rulebook.Book
	err = v.view(func(tx *models.Tx) (err error) {
		if page.Sheet, err = payrun.ReadStatement(tx, id, nil); err != nil {
			return err
		}
		if page.Events, page.Authors, err = eventsOf(tx, id); err != nil {
			return err
		}
		book, err = localbooks.BookOf(tx, v.Books, page.Sheet.Figures.Rulebook)
		return err
	})
	if err != nil {
		return nil, err
	}
	page.explain(v, book)
	if page.statementPage, err = v.statementOf(page.Sheet, book); err != nil {
		return nil, err
	}
	page.Clerk, page.Methods = v.caller.Role == models.RoleClerk, v.methods()
	if f == nil {
		f = newForm(map[string]string{paidOn: page.Sheet.Run.Payday.String(), paidBy: "check"})
	}
	return show("pay_statement", &page).with(f), nil
}

// explain tells how the lines came about: those of the kind of pay that is asked for, or all.
func (p *sheetPage) explain(v *visit, book *rulebook.Book) {
	if kind := payrun.PayKind(v.gin.Query("kind")); slices.Contains(payrun.PayKinds, kind) {
		p.Kind = string(kind)
	}
	figures := documents.StatementJSON(&p.Sheet.Figures, v.catalogue())
	figures.Cite(book, documents.RulebookPage)
	for _, l := range figures.Lines {
		if p.Kind == "" || string(payrun.PayKindOf(payroll.Code(l.Code))) == p.Kind {
			p.Why = append(p.Why, l)
		}
	}
}
