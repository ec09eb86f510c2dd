package pages

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"palmero/handlers/server"
	"palmero/handlers/tokens"
	"palmero/models"
	"palmero/models/access"
)

// A browser's session is the API's: the access token and the refresh token, in one cookie that no script can read. With the word "keep" before them
// the cookie outlives the browser; without it, it is gone when the browser is closed.

const (
	sessionCookie  = "palmero"
	languageCookie = "palmero-language"
	year           = 365 * 24 * 60 * 60
)

// tokensOf is what a session's cookie holds.
type tokensOf struct {
	keep            bool
	access, refresh string
}

// secure tells whether the browser reaches us over TLS.
func (v *visit) secure() bool { return v.Secure || v.gin.Request.TLS != nil }

// cookieName binds a cookie to this host where there is TLS: browsers take a name with this prefix from the host itself only (RFC 6265bis section 4.1.3.2).
func (v *visit) cookieName(name string) string {
	if v.secure() {
		return "__Host-" + name
	}
	return name
}

func (v *visit) readCookie(name string) string {
	c, err := v.gin.Request.Cookie(v.cookieName(name))
	if err != nil {
		return ""
	}
	return c.Value
}

// setCookie sets a cookie for some seconds; 0: until the browser is closed; less: it is gone.
func (v *visit) setCookie(name, value string, seconds int) {
	http.SetCookie(v.gin.Writer, &http.Cookie{
		Name: v.cookieName(name), Value: value, Path: "/", MaxAge: seconds, HttpOnly: true, Secure: v.secure(), SameSite: http.SameSiteLaxMode,
	})
}

func (v *visit) sessionTokens() (tokensOf, bool) {
	parts := strings.Split(v.readCookie(sessionCookie), "~")
	if len(parts) != 3 {
		return tokensOf{}, false
	}
	return tokensOf{parts[0] == "keep", parts[1], parts[2]}, true
}

// begin takes a session up: what signing in or refreshing granted goes into the cookie.
func (v *visit) begin(granted *access.Granted, keep bool) error {
	token, _, err := v.Issuer.Issue(tokens.Claims{Account: granted.Caller.Account, Employer: granted.Employer, Session: granted.Caller.Session})
	if err != nil {
		return err
	}
	word, seconds := "", 0
	if keep {
		word, seconds = "keep", int(granted.Lifetime.Seconds())
	}
	v.setCookie(sessionCookie, word+"~"+token+"~"+granted.RefreshToken, seconds)
	v.caller, v.scope = &granted.Caller, models.Scope{Employer: granted.Employer, Actor: granted.Caller.Account}
	return nil
}

// authenticate finds out who asks from the session's tokens, and from the records how they stand now. Where the access token no longer serves, the session
// is refreshed on the way.
func (v *visit) authenticate() error {
	held, ok := v.sessionTokens()
	if !ok {
		return &models.Error{Kind: models.Refused, Key: "title.refused"}
	}
	claims, err := v.Issuer.Parse(held.access)
	if err != nil {
		err = v.refresh(held)
	} else {
		v.scope = models.Scope{Employer: claims.Employer, Actor: claims.Account}
		var caller *access.Caller
		err = v.ask(func(b *models.Batch) error {
			caller = access.Standing(b, claims.Account, claims.Session)
			return nil
		})
		if err == nil {
			v.caller = caller
		}
	}
	if err == nil {
		server.SetAccount(v.gin, v.caller.Account)
	}
	return err
}

func (v *visit) refresh(held tokensOf) error {
	granted, err := v.Gate.Refresh(v.ctx(), held.refresh)
	if err != nil {
		return err
	}
	return v.begin(granted, held.keep)
}

// signInFirst sends whoever has no session to sign in, and from there to the page that they asked for.
func (v *visit) signInFirst() *answer {
	query := url.Values{}
	if to := v.here(); to != "/" {
		query.Set("to", to)
	}
	if _, had := v.sessionTokens(); had {
		query.Set("done", "session_ended")
		v.setCookie(sessionCookie, "", -1)
	}
	if len(query) == 0 {
		return seeOther("/sign-in", "")
	}
	return seeOther("/sign-in?"+query.Encode(), "")
}

// here is the address of the page on which the reader is: where a form was sent, that of the nearest page above the form's own address.
func (v *visit) here() string {
	pattern, path := v.page.Path, v.gin.Request.URL.EscapedPath()
	if pattern == "" {
		return "/"
	}
	if v.gin.Request.Method != http.MethodGet {
		for !isPage(pattern) {
			pattern, path = above(pattern), above(path)
		}
		return path
	}
	query := v.gin.Request.URL.Query()
	query.Del("done")
	if len(query) == 0 {
		return path
	}
	return path + "?" + query.Encode()
}

// above is a path without its last step.
func above(path string) string {
	if i := strings.LastIndexByte(path, '/'); i > 0 {
		return path[:i]
	}
	return "/"
}

// isPage tells whether there is something to read at a path of the table.
func isPage(path string) bool {
	return slices.ContainsFunc(table, func(p Page) bool { return p.Path == path && p.Method == http.MethodGet })
}

// within is a path on this site as a form named it, or the first page where it leads elsewhere.
func within(path string) string {
	u, err := url.Parse(path)
	if err != nil || u.IsAbs() || u.Host != "" || u.Opaque != "" || !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.ContainsAny(path, "\\\r\n\t") {
		return "/"
	}
	return path
}
