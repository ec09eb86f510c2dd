package pages

import (
	"html/template"

	"palmero/handlers/rulebooks"
	"palmero/models"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll/dated"
)

func rulebookPages() []Page {
	return []Page{{Method: "GET", Path: "/rulebooks/{key}", Roles: everyone, handle: showRulebook}}
}

// rulebookPage is a rulebook to read.
type rulebookPage struct {
	Title      string
	On         dated.Date
	Head, Body template.HTML
}

// showRulebook shows a book with its whole history, and with what is in force on the day that the query names, or today. The employer's own books are among them, those too
// that only old statements name.
func showRulebook(v *visit) (*answer, error) {
	var law *localbooks.Library
	on := v.day("on")
	err := v.view(func(tx *models.Tx) (err error) {
		if law, err = localbooks.Of(tx, v.Books); err == nil && on.IsZero() {
			on, err = payrun.Today(tx)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	book, known := law.Book(v.gin.Param("key"))
	if !known {
		return nil, errNotFound
	}
	page := rulebookPage{Title: book.Title(), On: on}
	if page.Head, page.Body, err = rulebooks.PageBody(law.Library, book, on, v.catalogue()); err != nil {
		return nil, err
	}
	return show("rulebook", page), nil
}
