package pages

import (
	"bytes"
	"html/template"
	"strconv"

	"palmero/handlers/documents"
	"palmero/models"
	"palmero/models/payrun"
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
	err = v.view(func(tx *models.Tx) (err error) {
		sheet, err = payrun.ReadStatement(tx, id, v.caller.Worker)
		return err
	})
	if err != nil {
		return nil, err
	}
	return v.showStatement(sheet)
}

// showStatement shows a statement within the page, in the reader's language.
func (v *visit) showStatement(sheet *payrun.Sheet) (*answer, error) {
	var b bytes.Buffer
	if err := documents.StatementBody(&b, documents.SheetOf(sheet), v.catalogue()); err != nil {
		return nil, err
	}
	return show("statement", statementPage{sheet.Heading, sheet.Row.WeekStart, sheet.Row.VoidedAt != nil, template.HTML(b.String())}), nil
}
