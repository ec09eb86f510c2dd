package handlers

import (
	"errors"
	"log/slog"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"

	"palmero/handlers/pages"
	"palmero/handlers/server"
	"palmero/handlers/tokens"
	"palmero/models"
	"palmero/models/access"
	"palmero/payroll/rulebook"
)

// Config is what the API is built on. Store, Books, Issuer and Log must be there.
type Config struct {
	Store          *models.Store
	Books          *rulebook.Library
	Issuer         *tokens.Issuer
	Log            *slog.Logger
	Access         access.Options
	TrustedProxies []string // networks whose X-Forwarded-For is believed; none if empty
	BodyLimit      int64    // bytes of a request's body; 2 MiB if zero
	Metrics        bool     // whether /metrics answers
}

const defaultBodyLimit = 2 << 20

// api is what all requests share.
type api struct {
	Config
	gate *access.Gate
	site *pages.Site
}

// New returns the API with every route of [Routes], the web pages, and the server's own /healthz, /readyz and /metrics.
func New(c Config) (http.Handler, error) {
	if c.Store == nil || c.Books == nil || c.Issuer == nil || c.Log == nil {
		return nil, errors.New("the API needs a store, the rulebooks, an issuer of tokens and a log")
	}
	if c.BodyLimit == 0 {
		c.BodyLimit = defaultBodyLimit
	}
	a := &api{Config: c, gate: access.New(c.Store, c.Access)}
	engine, err := server.NewEngine(server.Options{
		Log: c.Log, Problem: a.problem, Ready: c.Store.Ping,
		TrustedProxies: c.TrustedProxies, BodyLimit: c.BodyLimit, More: mostOfRoutes(), Metrics: c.Metrics,
		Collectors: []prometheus.Collector{&storeMetrics{c.Store}},
	})
	if err != nil {
		return nil, err
	}
	a.site, err = pages.New(pages.Config{Store: c.Store, Books: c.Books, Gate: a.gate, Issuer: c.Issuer, Log: c.Log, Secure: len(c.TrustedProxies) > 0})
	if err != nil {
		return nil, err
	}
	a.site.Mount(engine)
	for _, route := range Routes() {
		engine.Handle(route.Method, ginPath.Replace(route.Path), a.serve(route))
	}
	return engine, nil
}

// mostOfRoutes are the bytes that routes and pages take which name them, by method and path as gin has it.
func mostOfRoutes() map[string]int64 {
	most := map[string]int64{}
	for _, r := range Routes() {
		most[r.Method+" "+ginPath.Replace(r.Path)] = r.Most
	}
	for _, p := range pages.Pages() {
		most[p.Method+" "+ginPath.Replace(p.Path)] = p.Most
	}
	return most
}

// serve is the one way in which requests are answered.
func (a *api) serve(route Route) gin.HandlerFunc {
	return func(c *gin.Context) {
		rq := &request{api: a, gin: c}
		answer, err := rq.answer(route)
		if err != nil {
			rq.fail(err)
			return
		}
		rq.render(route, answer)
	}
}

// problem answers for what is refused before it reaches a route: with a page to whoever looks for one, else with a problem document.
func (a *api) problem(c *gin.Context, status int) {
	if !strings.HasPrefix(c.Request.URL.Path, "/api/") && prefersHTML(c.GetHeader("Accept")) {
		a.site.Problem(c, status)
		return
	}
	rq := &request{api: a, gin: c}
	rq.renderProblem(failureOf(status))
}
