package handlers

import (
	"net/http"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/tokens"
	"palmero/models"
	"palmero/models/access"
)

func sessionRoutes() []Route {
	return []Route{
		{Method: "POST", Path: "/api/v1/sign-in", Open: true, Status: http.StatusOK, handle: taking(signIn)},
		{Method: "POST", Path: "/api/v1/first-sign-in", Open: true, Status: http.StatusOK, handle: taking(firstSignIn)},
		{Method: "POST", Path: "/api/v1/refresh", Open: true, Status: http.StatusOK, handle: taking(refresh)},
		{Method: "POST", Path: "/api/v1/sign-out", Roles: everyone, Status: http.StatusNoContent, handle: signOut},
		{Method: "GET", Path: "/api/v1/me", Roles: everyone, Status: http.StatusOK, handle: me},
		{Method: "PUT", Path: "/api/v1/me/language", Roles: everyone, Status: http.StatusNoContent, handle: taking(setLanguage)},
		{Method: "POST", Path: "/api/v1/me/secret", Roles: everyone, Status: http.StatusNoContent, handle: taking(changeSecret)},
	}
}

type credentials struct {
	Employer string `json:"employer"`
	Account  string `json:"account"`
	Secret   string `json:"secret"`
}

type firstCredentials struct {
	Employer string `json:"employer"`
	Account  string `json:"account"`
	Code     string `json:"code"`
	Secret   string `json:"secret"` // the one to have from now on
}

type refreshing struct {
	RefreshToken string `json:"refresh_token"`
}

// signedIn is a session's tokens: the one to send with every request for a while, and the one to get the next pair with.
type signedIn struct {
	AccessToken      string    `json:"access_token"`
	TokenType        string    `json:"token_type"`
	ExpiresAt        time.Time `json:"expires_at"`
	RefreshToken     string    `json:"refresh_token"`
	RefreshExpiresAt time.Time `json:"refresh_expires_at"`
	Account          accountOf `json:"account"`
}

// accountOf is the caller as they see themself.
type accountOf struct {
	ID       uuid.UUID   `json:"id"`
	Name     string      `json:"name"`
	Role     models.Role `json:"role"`
	Language string      `json:"language"`
	WorkerID *uuid.UUID  `json:"worker_id,omitempty"`
}

func ofCaller(c *access.Caller) accountOf {
	return accountOf{ID: c.Account, Name: c.Name, Role: c.Role, Language: c.Language, WorkerID: c.Worker}
}

func signIn(rq *request, in credentials) (*reply, error) {
	granted, err := rq.gate.SignIn(rq.ctx(), access.Name{Employer: in.Employer, Account: in.Account}, in.Secret)
	return rq.signedIn(granted, err)
}

func firstSignIn(rq *request, in firstCredentials) (*reply, error) {
	granted, err := rq.gate.FirstSignIn(rq.ctx(), access.Name{Employer: in.Employer, Account: in.Account}, in.Code, in.Secret)
	return rq.signedIn(granted, err)
}

func refresh(rq *request, in refreshing) (*reply, error) {
	granted, err := rq.gate.Refresh(rq.ctx(), in.RefreshToken)
	return rq.signedIn(granted, err)
}

func (rq *request) signedIn(granted *access.Granted, err error) (*reply, error) {
	if err != nil {
		return nil, err
	}
	token, expires, err := rq.Issuer.Issue(tokens.Claims{
		Account: granted.Caller.Account, Employer: granted.Employer, Session: granted.Caller.Session,
	})
	if err != nil {
		return nil, err
	}
	return plain(signedIn{
		AccessToken: token, TokenType: "Bearer", ExpiresAt: expires.UTC(),
		RefreshToken: granted.RefreshToken, RefreshExpiresAt: granted.RefreshExpires, Account: ofCaller(&granted.Caller),
	}), nil
}

func signOut(rq *request) (*reply, error) {
	err := rq.in(func(tx *models.Tx) error { return access.SignOut(tx, rq.caller) })
	return nothing(), err
}

func me(rq *request) (*reply, error) { return plain(ofCaller(rq.caller)), nil }

type ownLanguage struct {
	Language string `json:"language"`
}

func setLanguage(rq *request, in ownLanguage) (*reply, error) {
	err := rq.in(func(tx *models.Tx) error { return access.SetLanguage(tx, rq.caller, in.Language) })
	return nothing(), err
}

type ownSecret struct {
	Current string `json:"current"` // the one until now
	Secret  string `json:"secret"`  // the one to have from now on
}

func changeSecret(rq *request, in ownSecret) (*reply, error) {
	return nothing(), rq.gate.ChangeSecret(rq.ctx(), rq.scope, rq.caller, in.Current, in.Secret)
}
