package pages

import (
	"bytes"
	"html/template"
	"strconv"

	"palmero/handlers/documents"
	"palmero/models"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll/rulebook"
)

func ownStatementPages() []Page {
	return []Page{
		{Method: "GET", Path: "/my/statements", Roles: hands, Nav: "page.nav.my_statements", handle: showOwnStatements},
		{Method: "GET", Path: "/my/statements/{id}", Roles: hands, handle: showOwnStatement},
	}
}

// statementsAtOnce is a year's.
const statementsAtOnce = 53

// ownStatements are somebody's statements, the latest first.
type ownStatements struct {
	Statements []payrun.Brief
	Older      int64 // the place in the list before which older ones follow; 0: there are none
}

func showOwnStatements(v *visit) (*answer, error) {
	before, err := strconv.ParseInt(v.gin.DefaultQuery("before", "0"), 10, 64)
	if err != nil {
		before = 0
	}
	var list ownStatements
	err = v.view(func(tx *models.Tx) (err error) {
		list.Statements, err = payrun.LatestStatements(tx, *v.caller.Worker, before, statementsAtOnce+1)
		return err
	})
	if err != nil {
		return nil, err
	}
	if len(list.Statements) > statementsAtOnce {
		list.Statements = list.Statements[:statementsAtOnce]
		list.Older = list.Statements[statementsAtOnce-1].Seq
	}
	return show("my_statements", list), nil
}

// statementPage is a statement as it is printed.
type statementPage struct {
	Heading payrun.Heading
	Week    models.Date
	Void    bool
	Body    template.HTML
}

func showOwnStatement(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var sheet *payrun.Sheet
	var book *rulebook.Book
	err = v.view(func(tx *models.Tx) (err error) {
		if sheet, err = payrun.ReadStatement(tx, id, v.caller.Worker); err == nil {
			book, err = localbooks.BookOf(tx, v.Books, sheet.Figures.Rulebook)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	page, err := v.statementOf(sheet, book)
	return show("statement", page), err
}

// statementOf is a statement to stand within the page, in the reader's language, its provisions by a book.
func (v *visit) statementOf(kept *payrun.Sheet, book *rulebook.Book) (statementPage, error) {
	sheet := documents.SheetOf(kept)
	sheet.Book = book
	var b bytes.Buffer
	err := documents.StatementBody(&b, sheet, v.catalogue())
	return statementPage{kept.Heading, kept.Row.WeekStart, kept.Row.VoidedAt != nil, template.HTML(b.String())}, err
}
