package pages

import (
	"bytes"
	"html/template"

	"palmero/handlers/rulebooks"
	"palmero/models"
	"palmero/models/localbooks"
)

func rulebookPages() []Page {
	return []Page{{Method: "GET", Path: "/rulebooks/{key}", Roles: everyone, handle: showRulebook}}
}

// rulebookPage is a rulebook to read.
type rulebookPage struct {
	Title string
	Body  template.HTML
}

// showRulebook shows a book with its whole history, and with what is in force on the day that the query names. The employer's own books are among them, those too
// that only old statements name.
func showRulebook(v *visit) (*answer, error) {
	var law *localbooks.Library
	err := v.view(func(tx *models.Tx) (err error) {
		law, err = localbooks.Of(tx, v.Books)
		return err
	})
	if err != nil {
		return nil, err
	}
	book, known := law.Book(v.gin.Param("key"))
	if !known {
		return nil, errNotFound
	}
	var b bytes.Buffer
	if err := rulebooks.PageBody(&b, law.Library, book, v.day("on"), v.catalogue()); err != nil {
		return nil, err
	}
	return show("rulebook", rulebookPage{book.Title(), template.HTML(b.String())}), nil
}
