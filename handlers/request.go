package handlers

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"palmero/handlers/server"
	"palmero/handlers/text"
	"palmero/handlers/tokens"
	"palmero/models"
	"palmero/models/access"
	"palmero/payroll"
)

// request is one call of the API.
type request struct {
	*api
	gin    *gin.Context
	caller *access.Caller // nil on open routes
	scope  models.Scope   // the caller's employer, from the session and from nowhere else
}

// answer authenticates, refuses who and what the route does not name, and does what the route does.
func (rq *request) answer(route Route) (*reply, error) {
	if !route.Open {
		if err := rq.authenticate(); err != nil {
			return nil, err
		}
		if !slices.Contains(route.Roles, rq.caller.Role) {
			return nil, &models.Error{Kind: models.Forbidden, Key: "problem.forbidden"}
		}
	}
	if err := rq.checkQuery(route.Query); err != nil {
		return nil, err
	}
	if route.Most > 0 {
		if err := rq.limit(route.Most); err != nil {
			return nil, err
		}
	}
	return route.handle(rq)
}

// authenticate finds out who asks from the access token, and from the records how they stand now.
func (rq *request) authenticate() error {
	scheme, token, _ := strings.Cut(rq.gin.GetHeader("Authorization"), " ")
	if token == "" || !strings.EqualFold(scheme, "Bearer") {
		return &models.Error{Kind: models.Refused, Key: "problem.token_missing"}
	}
	claims, err := rq.Issuer.Parse(token)
	switch {
	case errors.Is(err, tokens.ErrExpired):
		return &models.Error{Kind: models.Refused, Key: "problem.token_expired", Cause: err}
	case err != nil:
		return &models.Error{Kind: models.Refused, Key: "problem.token_refused", Cause: err}
	}
	rq.scope = models.Scope{Employer: claims.Employer, Actor: claims.Account}
	var caller *access.Caller
	err = rq.ask(func(b *models.Batch) error {
		caller = access.Standing(b, claims.Account, claims.Session)
		return nil
	})
	if err == nil {
		rq.caller = caller
		server.SetAccount(rq.gin, claims.Account)
	}
	return err
}

// ctx ends when the client goes away.
func (rq *request) ctx() context.Context { return rq.gin.Request.Context() }

// in runs fn in a transaction that may write. fn may run more than once.
func (rq *request) in(fn func(tx *models.Tx) error) error {
	return rq.Store.In(rq.ctx(), rq.scope, fn)
}

// ask runs fn in a transaction that only reads, in one round trip to the database.
func (rq *request) ask(fn func(b *models.Batch) error) error {
	return rq.Store.Ask(rq.ctx(), rq.scope, fn)
}

// view runs fn in a transaction that only reads.
func (rq *request) view(fn func(tx *models.Tx) error) error {
	return rq.Store.View(rq.ctx(), rq.scope, fn)
}

// id is the identifier in the path. What is no identifier names nothing.
func (rq *request) id() (uuid.UUID, error) {
	s := rq.gin.Param("id")
	id, err := uuid.Parse(s)
	if err != nil || len(s) != uuidLength {
		return uuid.Nil, errNotFound
	}
	return id, nil
}

// uuidLength is that of the canonical form, the only one that is taken.
const uuidLength = 36

var errNotFound = &models.Error{Kind: models.NotFound, Key: "problem.not_found"}

// ifMatch is the version that an update was made from, by the If-Match header.
func (rq *request) ifMatch() (int64, error) {
	header := rq.gin.GetHeader("If-Match")
	if header == "" {
		return 0, failureOf(http.StatusPreconditionRequired)
	}
	version, err := strconv.ParseInt(strings.Trim(header, `"`), 10, 64)
	if err != nil || header != etag(version) {
		return 0, &models.Error{Kind: models.Stale, Key: "problem.stale_version"}
	}
	return version, nil
}

func etag(version int64) string { return `"` + strconv.FormatInt(version, 10) + `"` }

// language is the one to speak: what the request asks for, else the account's.
func (rq *request) language() string {
	asked := rq.gin.GetHeader("Accept-Language")
	if rq.caller == nil {
		return text.Match(asked)
	}
	return text.Match(rq.caller.Language, asked)
}

// say says a message in the request's language.
func (rq *request) say(key string, terms payroll.Terms) string {
	return text.For(rq.language()).Say(key, terms)
}

// operation says an operation of the trade in the request's language.
func (rq *request) operation(code string) string { return text.For(rq.language()).Operation(code) }
