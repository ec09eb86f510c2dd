package pages

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"palmero/handlers/failures"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/access"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// visit is one request for a page.
type visit struct {
	*Site
	gin    *gin.Context
	page   Page
	caller *access.Caller // nil where nobody has signed in
	scope  models.Scope   // the caller's employer, from the session and from nowhere else
}

func (s *Site) visit(c *gin.Context, p Page) *visit {
	v := &visit{Site: s, gin: c, page: p}
	for name, value := range pageHeaders {
		c.Header(name, value)
	}
	if v.secure() {
		c.Header("Strict-Transport-Security", "max-age=31536000")
	}
	return v
}

// pageHeaders go out with every page. The server's own headers (not framed, not sniffed, not kept by caches) stand beside them. The referrer goes to
// ourselves alone: without it, browsers that do not say where a form comes from would hide that it comes from us.
var pageHeaders = map[string]string{
	"Content-Security-Policy": "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
	"Referrer-Policy":         "same-origin",
}

// answer is what a page answers: a template, or where to go.
type answer struct {
	template string
	data     any
	form     *Form
	status   int // of a template; 200 if zero
	to       string
	file     *file // to be kept or looked at by itself; nil: a page
}

// file is an answer that is no page.
type file struct {
	name, media string
	bytes       []byte
	inline      bool // looked at in the browser rather than kept
}

// show answers with a template.
func show(template string, data any) *answer { return &answer{template: template, data: data} }

// with puts a form on the page.
func (a *answer) with(f *Form) *answer {
	a.form = f
	return a
}

// seeOther answers a form that was done with the page to read next. done, if it is not "", is a word for what was done: the page begins with the
// message page.done.WORD.
func seeOther(path, done string) *answer {
	if done != "" {
		mark := "?"
		if strings.Contains(path, "?") {
			mark = "&"
		}
		path += mark + "done=" + url.QueryEscape(done)
	}
	return &answer{to: path}
}

// answer finds out who asks, refuses who and what the page does not name, and does what the page does.
func (v *visit) answer() (*answer, error) {
	if err := v.origin.Check(v.gin.Request); err != nil {
		return nil, &models.Error{Kind: models.Forbidden, Key: "page.problem.other_origin", Cause: err}
	}
	if v.page.Open {
		v.greet()
		return v.page.handle(v)
	}
	switch err := v.authenticate(); {
	case models.KindOf(err) == models.Refused:
		return v.signInFirst(), nil
	case err != nil:
		return nil, err
	case !slices.Contains(v.page.Roles, v.caller.Role):
		return nil, &models.Error{Kind: models.Forbidden, Key: "page.problem.role", Terms: payroll.Terms{"roles": v.roles(v.page.Roles)}}
	}
	return v.page.handle(v)
}

// greet finds out who asks on a page that anybody may see.
func (v *visit) greet() {
	if err := v.authenticate(); err != nil {
		v.caller, v.scope = nil, models.Scope{}
	}
}

// roles says roles in the reader's words.
func (v *visit) roles(roles []models.Role) []string {
	words := make([]string, len(roles))
	for i, r := range roles {
		words[i] = v.say("page.role."+string(r), nil)
	}
	return words
}

// ctx ends when the client goes away.
func (v *visit) ctx() context.Context { return v.gin.Request.Context() }

// in runs fn in a transaction that may write. fn may run more than once.
func (v *visit) in(fn func(tx *models.Tx) error) error { return v.Store.In(v.ctx(), v.scope, fn) }

// ask runs fn in a transaction that only reads, in one round trip to the database.
func (v *visit) ask(fn func(b *models.Batch) error) error { return v.Store.Ask(v.ctx(), v.scope, fn) }

// view runs fn in a transaction that only reads.
func (v *visit) view(fn func(tx *models.Tx) error) error { return v.Store.View(v.ctx(), v.scope, fn) }

// errNotFound is the answer to an address that names nothing.
var errNotFound = &models.Error{Kind: models.NotFound, Key: "problem.not_found"}

// id is the identifier in the path. What is no identifier names nothing.
func (v *visit) id() (uuid.UUID, error) {
	s := v.gin.Param("id")
	id, err := uuid.Parse(s)
	if err != nil || len(s) != len(uuid.Nil.String()) {
		return uuid.Nil, errNotFound
	}
	return id, nil
}

// day is a day in the query, and zero where there is none or what is there is no day.
func (v *visit) day(name string) dated.Date {
	day, err := dated.ParseDate(v.gin.Query(name))
	if err != nil {
		return dated.Date{}
	}
	return day
}

// language is the one to speak: what was chosen on this device, else the account's, else the browser's.
func (v *visit) language() string {
	account := ""
	if v.caller != nil {
		account = v.caller.Language
	}
	return text.Match(v.gin.GetHeader("Accept-Language"), v.chosenLanguage(), account)
}

func (v *visit) catalogue() *text.Catalogue { return text.ForPages(v.language()) }

// say says a message in the reader's language.
func (v *visit) say(key string, terms payroll.Terms) string { return v.catalogue().Say(key, terms) }

// write sends an answer.
func (v *visit) write(a *answer) {
	if a.to != "" {
		v.gin.Redirect(http.StatusSeeOther, a.to)
		return
	}
	if a.file != nil {
		v.writeFile(a.file)
		return
	}
	body, err := v.render[v.language()].page(a.template, v.frame(a))
	if err != nil {
		v.fail(err)
		return
	}
	status := a.status
	if status == 0 {
		status = http.StatusOK
	}
	v.gin.Header("Content-Language", v.language())
	v.gin.Header("Vary", "Cookie, Accept-Language, Accept-Encoding, Sec-Fetch-Site, Referer")
	body, encoding := v.shortened(body)
	if encoding != "" {
		v.gin.Header("Content-Encoding", encoding)
	}
	v.gin.Data(status, "text/html; charset=utf-8", body)
}

// writeFile sends a file. The policy keeps a browser from making anything of it but what it is said to be.
func (v *visit) writeFile(f *file) {
	how := "attachment"
	if f.inline {
		how = "inline"
	}
	v.gin.Header("Content-Security-Policy", "default-src 'none'; form-action 'self'; frame-ancestors 'none'; sandbox")
	v.gin.Header("Content-Disposition", how+`; filename="`+f.name+`"`)
	v.gin.Data(http.StatusOK, f.media, f.bytes)
}

// problem answers with the page of a status.
func (v *visit) problem(status int) { v.writeFailure(failures.Of(status)) }
