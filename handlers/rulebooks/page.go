package rulebooks

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"html/template"
	"io"

	"palmero/handlers/look"
	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

//go:embed page.css
var ownStyle string

var style = look.Palette + ownStyle

//go:embed page.html
var source string

var pageTemplate = template.Must(template.New("rulebook").Parse(source))

// Style is a style sheet for what PageBody writes, within an element of the class "book"; the colours are those of package look.
func Style() string { return ownStyle }

// Policy is a Content-Security-Policy under which the page shows as it should: its own style and nothing else.
func Policy() string {
	sum := sha256.Sum256([]byte(style))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
}

// page is what the template sees.
type page struct {
	speaker
	Books  *rulebook.Library
	Book   *rulebook.Book
	Parent string
	On     dated.Date
	Style  template.CSS
}

// Page writes a book of a library as one self-contained page: what is in force on a day (none where it is zero), the whole history with
// its sources, the coverage register and what is not modelled.
func Page(w io.Writer, books *rulebook.Library, b *rulebook.Book, on dated.Date, c *text.Catalogue) error {
	return pageTemplate.Execute(w, page{speaker{c}, books, b, b.ParentKey(), on, template.CSS(style)})
}

// PageBody returns what Page has in its body, to stand on a page with others of its kind: the heading with the caution, and the rest.
func PageBody(books *rulebook.Library, b *rulebook.Book, on dated.Date, c *text.Catalogue) (head, rest template.HTML, err error) {
	all := page{Books: books, Book: b, Parent: b.ParentKey(), On: on, speaker: speaker{c}}
	var parts [2]bytes.Buffer
	for i, name := range []string{"head", "body"} {
		if err := pageTemplate.ExecuteTemplate(&parts[i], name, all); err != nil {
			return "", "", err
		}
	}
	return template.HTML(parts[0].String()), template.HTML(parts[1].String()), nil
}

// T says one of the page's own labels.
func (p page) T(name string) string { return p.Say("rulebook."+name, nil) }

// Told says one of the page's own sentences with one term.
func (p page) Told(name, term string, value any) string {
	return p.Say("rulebook."+name, payroll.Terms{term: value})
}

// InForce is what the chain says on the page's day.
func (p page) InForce() []rulebook.Held { return governing(p.Books, p.Book).InForce(p.On) }

// Local are the local books that add to the page's book.
func (p page) Local() []*rulebook.Book { return localTo(p.Books, p.Book) }

// LeftOut is what is knowingly not modelled in the book.
func (p page) LeftOut() []rulebook.Unmodelled { return rulebook.UnmodelledIn(p.Book.Key()) }

// Examples lists the published examples of a row.
func (p page) Examples(all []rulebook.Example) string { return p.examples(all) }
