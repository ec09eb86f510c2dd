package handlers

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"palmero/migrations"
	"palmero/models"
)

// httptestTarget is a request target with a hostile query, escaped as far as a request line needs.
func httptestTarget(path, query string) string {
	if strings.ContainsFunc(query, func(r rune) bool { return r <= ' ' || r == 0x7f }) {
		query = url.QueryEscape(query)
	}
	target := path + "?" + query
	if _, err := url.ParseRequestURI(target); err != nil {
		return ""
	}
	return target
}

func TestSigningIn(t *testing.T) {
	each(t, func(r *rig) {
		in := object{"employer": "tres-pozos", "account": "payroll_clerk", "secret": secret}
		got := r.do("POST", "/api/v1/sign-in", nil, in).wants(http.StatusOK).object()
		account := got["account"].(object)
		if got["token_type"] != "Bearer" || got["expires_at"] != "2026-03-04T20:10:00Z" || account["role"] != "payroll_clerk" {
			r.Errorf("%v", got)
		}
		p := &person{token: got["access_token"].(string)}
		if me := r.do("GET", "/api/v1/me", p, nil).wants(http.StatusOK).object(); me["id"] != r.clerk().account.String() {
			r.Errorf("%v", me)
		}
		in["secret"] = "a guess in the dark"
		r.do("POST", "/api/v1/sign-in", nil, in).wantsKey(http.StatusUnauthorized, "problem.sign_in_refused")
		in["secret"], in["employer"] = secret, "four-wells"
		if theirs := r.do("POST", "/api/v1/sign-in", nil, in).wants(http.StatusOK).object(); theirs["account"].(object)["id"] == account["id"] {
			r.Error("one account for two employers")
		}
		in["employer"] = "no-wells"
		r.do("POST", "/api/v1/sign-in", nil, in).wantsKey(http.StatusUnauthorized, "problem.sign_in_refused")
		r.do("POST", "/api/v1/sign-in", nil, object{"employer": 1}).wantsFaults(http.StatusUnprocessableEntity, "/employer", "/account", "/secret")
		next := r.do("POST", "/api/v1/refresh", nil, object{"refresh_token": got["refresh_token"]}).wants(http.StatusOK).object()
		r.do("POST", "/api/v1/refresh", nil, object{"refresh_token": next["refresh_token"]}).wants(http.StatusOK)
		r.do("POST", "/api/v1/refresh", nil, object{"refresh_token": got["refresh_token"]}).wantsKey(http.StatusUnauthorized, "problem.refresh_reused")
		r.do("GET", "/api/v1/me", p, nil).wantsKey(http.StatusUnauthorized, "problem.session_ended")
	})
}

func TestSigningOut(t *testing.T) {
	each(t, func(r *rig) {
		p := r.as(models.RoleWorker)
		if out := r.do("POST", "/api/v1/sign-out", p, nil).wants(http.StatusNoContent); len(out.body) != 0 {
			r.Errorf("%s", out.body)
		}
		r.do("GET", "/api/v1/me", p, nil).wantsKey(http.StatusUnauthorized, "problem.session_ended")
		r.do("POST", "/api/v1/refresh", nil, object{"refresh_token": p.refresh}).wantsKey(http.StatusUnauthorized, "problem.session_ended")
	})
}

func TestTooManyAttempts(t *testing.T) {
	each(t, func(r *rig) {
		in := object{"employer": "tres-pozos", "account": "administrator", "secret": "a guess in the dark"}
		for range 10 {
			r.do("POST", "/api/v1/sign-in", nil, in).wants(http.StatusUnauthorized)
		}
		in["secret"] = secret
		blocked := r.do("POST", "/api/v1/sign-in", nil, in).wantsKey(http.StatusTooManyRequests, "problem.too_many_attempts")
		if blocked.header.Get("Retry-After") != "900" || !strings.Contains(blocked.problem().Detail, "15 min") {
			r.Errorf("%v %s", blocked.header, blocked.body)
		}
		r.do("GET", "/api/v1/me", r.admin(), nil).wants(http.StatusOK) // who is signed in stays so
	})
}

func TestFirstSignIn(t *testing.T) {
	each(t, func(r *rig) {
		id := models.NewID().String()
		r.do("POST", "/api/v1/accounts", r.clerk(), object{
			"id": id, "sign_in_name": "ana", "name": "Ana Rojas", "role": "worker", "language": "es", "worker_id": r.ours.worker,
		}).wants(http.StatusCreated)
		codes := "/api/v1/accounts/" + id + "/sign-in-code"
		r.do("POST", codes, r.as(models.RoleCrewLead), nil).wants(http.StatusForbidden)
		code := r.do("POST", codes, r.clerk(), nil).wants(http.StatusCreated).object()
		if code["expires_at"] != "2026-03-11T20:00:00Z" {
			r.Errorf("%v", code)
		}
		first := object{"employer": "tres-pozos", "account": "ana", "code": code["code"], "secret": "corto"}
		r.do("POST", "/api/v1/first-sign-in", nil, first).wantsFaults(http.StatusUnprocessableEntity, "/secret")
		first["secret"] = "sol y sombra"
		r.do("POST", "/api/v1/first-sign-in", nil, first).wants(http.StatusOK)
		r.do("POST", "/api/v1/first-sign-in", nil, first).wantsKey(http.StatusUnauthorized, "problem.code_refused")
		delete(first, "code")
		r.do("POST", "/api/v1/sign-in", nil, first).wants(http.StatusOK)
		r.do("POST", "/api/v1/accounts/"+r.clerk().account.String()+"/sign-in-code", r.clerk(), nil).wantsKey(http.StatusForbidden, "problem.code_not_yours")
		audit := r.do("GET", "/api/v1/audit-entries?subject_id="+id, r.admin(), nil).wants(http.StatusOK)
		if !strings.Contains(string(audit.body), `"issue_code"`) || strings.Contains(string(audit.body), code["code"].(string)) {
			r.Errorf("%s", audit.body)
		}
	})
}

// What an account is allowed is read anew for every request; its token says nothing of it.
func TestStandingIsReadOnEveryRequest(t *testing.T) {
	each(t, func(r *rig) {
		officer := r.as(models.RoleSafetyOfficer)
		path := "/api/v1/accounts/" + officer.account.String()
		account := object{"sign_in_name": "safety_officer", "name": "The officer", "role": "payroll_clerk", "language": "en"}
		r.do("GET", "/api/v1/employer", officer, nil).wants(http.StatusForbidden)
		r.do("PUT", path, r.clerk(), account, "If-Match", `"1"`).wantsKey(http.StatusForbidden, "problem.account_not_yours")
		r.do("PUT", path, r.admin(), account, "If-Match", `"1"`).wants(http.StatusOK)
		r.do("GET", "/api/v1/employer", officer, nil).wants(http.StatusOK)
		account["suspended"] = true
		r.do("PUT", path, r.admin(), account, "If-Match", `"2"`).wants(http.StatusOK)
		r.do("GET", "/api/v1/me", officer, nil).wants(http.StatusUnauthorized)
		own := object{"sign_in_name": "administrator", "name": "Me", "role": "administrator", "language": "en", "suspended": true}
		r.do("PUT", "/api/v1/accounts/"+r.admin().account.String(), r.admin(), own, "If-Match", `"1"`).wantsKey(http.StatusForbidden, "problem.own_account")
	})
}

// A worker whose work has ended still reads what is theirs.
func TestEndedWorkersStaySignedIn(t *testing.T) {
	each(t, func(r *rig) {
		w := object{"name": "Ana Rojas", "address": "1 Palm Lane", "language": "es", "started_on": "2026-02-01", "ended_on": "2026-03-01"}
		r.do("PUT", "/api/v1/workers/"+r.ours.worker.String(), r.clerk(), w, "If-Match", `"1"`).wants(http.StatusOK)
		r.do("GET", "/api/v1/me", r.as(models.RoleWorker), nil).wants(http.StatusOK)
	})
}

func TestTokensThatAreNone(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	token := r.clerk().token
	for _, c := range []struct{ header, key string }{
		{"", "problem.token_missing"}, {"Bearer", "problem.token_missing"}, {"Bearer ", "problem.token_missing"},
		{"Basic " + token, "problem.token_missing"}, {"Bearer x" + token, "problem.token_refused"}, {"Bearer " + token + " ", "problem.token_refused"},
	} {
		r.do("GET", "/api/v1/me", nil, nil, "Authorization", c.header).wantsKey(http.StatusUnauthorized, c.key)
	}
	r.do("GET", "/api/v1/me", nil, nil, "Authorization", "bearer "+token).wants(http.StatusOK)
	r.wait(time.Hour)
	r.do("GET", "/api/v1/me", r.clerk(), nil).wantsKey(http.StatusUnauthorized, "problem.token_expired")
}

func TestOwnLanguageAndSecret(t *testing.T) {
	each(t, func(r *rig) {
		worker := r.as(models.RoleWorker)
		r.do("PUT", "/api/v1/me/language", worker, object{"language": "tlh"}).wantsFaults(http.StatusUnprocessableEntity, "/language")
		for range 2 { // the second changes nothing
			r.do("PUT", "/api/v1/me/language", worker, object{"language": "en"}).wants(http.StatusNoContent)
		}
		if me := r.do("GET", "/api/v1/me", worker, nil).wants(http.StatusOK).object(); me["language"] != "en" {
			r.Errorf("%v", me)
		}
		const next = "under the palms"
		r.do("POST", "/api/v1/me/secret", worker, object{"current": secret, "secret": "short"}).wantsFaults(http.StatusUnprocessableEntity, "/secret")
		r.do("POST", "/api/v1/me/secret", worker, object{"current": "wrong", "secret": next}).wantsFaults(http.StatusUnprocessableEntity, "/current")
		other := r.do("POST", "/api/v1/sign-in", nil, object{"employer": worker.name.Employer, "account": worker.name.Account, "secret": secret}).wants(http.StatusOK).object()
		r.do("POST", "/api/v1/me/secret", worker, object{"current": secret, "secret": next}).wants(http.StatusNoContent)
		r.do("GET", "/api/v1/me", &person{token: other["access_token"].(string)}, nil).wantsKey(http.StatusUnauthorized, "problem.session_ended")
		r.do("GET", "/api/v1/me", worker, nil).wants(http.StatusOK)
		r.do("POST", "/api/v1/sign-in", nil, object{"employer": worker.name.Employer, "account": worker.name.Account, "secret": next}).wants(http.StatusOK)
		for range 10 {
			r.do("POST", "/api/v1/me/secret", worker, object{"current": "wrong", "secret": next})
		}
		r.do("POST", "/api/v1/me/secret", worker, object{"current": next, "secret": next}).wantsKey(http.StatusTooManyRequests, "problem.too_many_attempts")
	})
}
