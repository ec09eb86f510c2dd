package pages

import (
	"errors"
	"log/slog"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"palmero/handlers/tokens"
	"palmero/models"
	"palmero/models/access"
	"palmero/payroll/rulebook"
)

// Config is what the pages are built on. All of it must be there but Secure.
type Config struct {
	Store  *models.Store
	Books  *rulebook.Library
	Gate   *access.Gate
	Issuer *tokens.Issuer
	Log    *slog.Logger
	Secure bool // whether browsers reach us over TLS even where we do not speak it ourselves: a proxy does
}

// Site is the pages.
type Site struct {
	Config
	assets *assets
	render map[string]*renderer // by language
	origin *http.CrossOriginProtection
	longs  longs
}

// New prepares the pages: the templates of every language are read, so that a broken one is found at the start.
func New(c Config) (*Site, error) {
	if c.Store == nil || c.Books == nil || c.Gate == nil || c.Issuer == nil || c.Log == nil {
		return nil, errors.New("the pages need a store, the rulebooks, a gate, an issuer of tokens and a log")
	}
	s := &Site{Config: c, origin: http.NewCrossOriginProtection(), longs: longs{runs: map[longKey]*long{}}}
	var err error
	if s.assets, err = readAssets(); err != nil {
		return nil, err
	}
	s.render, err = readTemplates(s.assets)
	return s, err
}

// ginPath turns a path of the table into gin's form.
var ginPath = strings.NewReplacer("{", ":", "}", "")

// Mount adds the pages and what they are made of to an engine.
func (s *Site) Mount(engine *gin.Engine) {
	for _, p := range table {
		engine.Handle(p.Method, ginPath.Replace(p.Path), s.serve(p))
	}
	engine.GET(assetPath+":name", s.assets.serve)
}

// serve is the one way in which pages are answered.
func (s *Site) serve(p Page) gin.HandlerFunc {
	return func(c *gin.Context) {
		v := s.visit(c, p)
		a, err := v.answer()
		if err != nil {
			v.fail(err)
			return
		}
		v.write(a)
	}
}

// Problem answers with the page of a status, for what is refused before it reaches a page: 404, 405, 413 or 500.
func (s *Site) Problem(c *gin.Context, status int) {
	v := s.visit(c, Page{Open: true})
	v.greet()
	v.problem(status)
}
