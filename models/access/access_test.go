package access

import (
	"context"
	"errors"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/testdb"
	"palmero/payroll/dated"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

// cheap makes hashes that cost next to nothing.
var cheap = Cost{Memory: 64, Passes: 1, Threads: 1}

// office is an employer with an account per role, and a clock that the test moves.
type office struct {
	*testing.T
	gate     *Gate
	store    *models.Store
	scope    models.Scope
	accounts map[models.Role]uuid.UUID
	clock    *atomic.Int64
}

// wait lets time pass.
func (o *office) wait(d time.Duration) { o.clock.Add(int64(d)) }

const secret = "ladder in the tall palms"

// each runs a test on both databases.
func each(t *testing.T, test func(o *office)) {
	t.Helper()
	var clock atomic.Int64
	clock.Store(time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC).UnixNano())
	now := func() time.Time { return time.Unix(0, clock.Load()).UTC() }
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		o := &office{T: t, store: store, gate: New(store, Options{Cost: cheap}), accounts: map[models.Role]uuid.UUID{}, clock: &clock}
		o.found()
		test(o)
	})
}

func (o *office) found() {
	o.Helper()
	o.scope.Employer = models.NewID()
	err := o.store.FoundEmployer(o.Context(), o.scope.Employer, "tres-pozos", models.EmployerContent{LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road", Size: 40})
	if err != nil {
		o.Fatal(err)
	}
	o.in(func(tx *models.Tx) error {
		worker, _, err := models.Create(tx, models.NewID(), models.WorkerContent{
			Name: "Ana Rojas", Address: "1 Palm Lane", Language: "es", StartedOn: models.Day(dated.MustDate("2026-02-01")),
		})
		if err != nil {
			return err
		}
		for _, role := range []models.Role{models.RoleWorker, models.RoleCrewLead, models.RoleClerk, models.RoleAdministrator} {
			c := models.AccountContent{SignInName: string(role), Name: "Somebody", Role: role, Language: "en", WorkerID: &worker.ID}
			a, _, err := CreateAccount(tx, models.RoleAdministrator, models.NewID(), c)
			if err != nil {
				return err
			}
			o.accounts[role] = a.ID
		}
		return nil
	})
}

func (o *office) in(fn func(tx *models.Tx) error) {
	o.Helper()
	if err := o.store.In(o.Context(), o.scope, fn); err != nil {
		o.Fatal(err)
	}
}

func name(role models.Role) Name { return Name{Employer: "tres-pozos", Account: string(role)} }

// code issues a code as an administrator.
func (o *office) code(role models.Role) string {
	o.Helper()
	code, err := o.gate.IssueCode(o.Context(), o.scope, models.RoleAdministrator, o.accounts[role])
	if err != nil {
		o.Fatal(err)
	}
	return code.Code
}

// enroll sets an account's secret by a code.
func (o *office) enroll(role models.Role) *Granted {
	o.Helper()
	granted, err := o.gate.FirstSignIn(o.Context(), name(role), o.code(role), secret)
	if err != nil {
		o.Fatal(err)
	}
	return granted
}

func (o *office) refresh(token string) *Granted {
	o.Helper()
	granted, err := o.gate.Refresh(o.Context(), token)
	if err != nil {
		o.Fatal(err)
	}
	return granted
}

func (o *office) standing(g *Granted) (caller *Caller, err error) {
	err = o.store.View(o.Context(), o.scope, func(tx *models.Tx) (err error) {
		b := tx.Batch()
		caller = Standing(b, g.Caller.Account, g.Caller.Session)
		return b.Err()
	})
	return caller, err
}

// audited counts the audit entries of an action.
func (o *office) audited(action string) (n int) {
	o.Helper()
	o.in(func(tx *models.Tx) error {
		entries, err := models.List[models.AuditEntry](tx, models.Page{Limit: 100}, models.Where("action = ?", action))
		n = len(entries)
		return err
	})
	return n
}

// wants checks an error's kind and key.
func (o *office) wants(what string, err error, kind models.Kind, key string) {
	o.Helper()
	var e *models.Error
	if !errors.As(err, &e) || e.Kind != kind || e.Key != key {
		o.Errorf("%s: %v; want %s", what, err, key)
	}
}

func TestFirstSignIn(t *testing.T) {
	each(t, func(o *office) {
		_, err := o.gate.SignIn(o.Context(), name(models.RoleWorker), "")
		o.wants("an account without a secret", err, models.Refused, "problem.sign_in_refused")
		first := o.code(models.RoleWorker)
		second := o.code(models.RoleWorker)
		_, err = o.gate.FirstSignIn(o.Context(), name(models.RoleWorker), first, secret)
		o.wants("a code that a later one voids", err, models.Refused, "problem.code_refused")
		_, err = o.gate.FirstSignIn(o.Context(), name(models.RoleWorker), second, "short")
		o.wants("a short secret", err, models.Invalid, "problem.invalid")
		granted, err := o.gate.FirstSignIn(o.Context(), name(models.RoleWorker), " "+strings.ToLower(second), secret)
		if err != nil || granted.Caller.Role != models.RoleWorker || granted.Caller.Worker == nil {
			o.Fatalf("as typed by hand: %+v, %v", granted, err)
		}
		_, err = o.gate.FirstSignIn(o.Context(), name(models.RoleWorker), second, secret)
		o.wants("a used code", err, models.Refused, "problem.code_refused")
		again, err := o.gate.SignIn(o.Context(), name(models.RoleWorker), secret)
		if err != nil || again.Caller.Session == granted.Caller.Session {
			o.Fatalf("with the secret: %+v, %v", again, err)
		}
		if n := o.audited("issue_code"); n != 2 {
			o.Errorf("%d codes are on record", n)
		}
		o.enroll(models.RoleWorker)
		_, err = o.standing(again)
		o.wants("a session from before a new secret", err, models.Refused, "problem.session_ended")
	})
}

func TestCodesExpire(t *testing.T) {
	each(t, func(o *office) {
		code := o.code(models.RoleClerk)
		o.wait(7 * 24 * time.Hour)
		_, err := o.gate.FirstSignIn(o.Context(), name(models.RoleClerk), code, secret)
		o.wants("a code of last week", err, models.Refused, "problem.code_refused")
	})
}

func TestSecretsByRole(t *testing.T) {
	each(t, func(o *office) {
		const eight = "ocho años"
		if _, err := o.gate.FirstSignIn(o.Context(), name(models.RoleWorker), o.code(models.RoleWorker), eight); err != nil {
			o.Error(err)
		}
		decomposed := strings.Replace(eight, "ñ", "n\u0303", 1)
		if _, err := o.gate.SignIn(o.Context(), name(models.RoleWorker), decomposed); err != nil {
			o.Errorf("the same letters from another keyboard: %v", err)
		}
		code := o.code(models.RoleCrewLead)
		_, err := o.gate.FirstSignIn(o.Context(), name(models.RoleCrewLead), code, eight)
		o.wants("a worker's length for a crew lead", err, models.Invalid, "problem.invalid")
		if _, err := o.gate.FirstSignIn(o.Context(), name(models.RoleCrewLead), code, secret); err != nil {
			o.Errorf("the code is spent by a secret that was refused: %v", err)
		}
		_, err = o.gate.FirstSignIn(o.Context(), name(models.RoleClerk), o.code(models.RoleClerk), strings.Repeat("a", 1025))
		o.wants("a secret without end", err, models.Invalid, "problem.invalid")
	})
}

func TestWhoIssuesCodes(t *testing.T) {
	each(t, func(o *office) {
		for _, c := range []struct {
			by, to models.Role
			may    bool
		}{
			{models.RoleCrewLead, models.RoleWorker, false},
			{models.RoleWorker, models.RoleWorker, false},
			{models.RoleSafetyOfficer, models.RoleWorker, false},
			{models.RoleClerk, models.RoleWorker, true},
			{models.RoleClerk, models.RoleCrewLead, true},
			{models.RoleClerk, models.RoleClerk, false},
			{models.RoleClerk, models.RoleAdministrator, false},
			{models.RoleAdministrator, models.RoleClerk, true},
			{models.RoleAdministrator, models.RoleAdministrator, true},
		} {
			_, err := o.gate.IssueCode(o.Context(), o.scope, c.by, o.accounts[c.to])
			if (err == nil) != c.may || err != nil && models.KindOf(err) != models.Forbidden {
				o.Errorf("a code by %s for %s: %v", c.by, c.to, err)
			}
		}
		_, err := o.gate.IssueCode(o.Context(), o.scope, models.RoleAdministrator, models.NewID())
		if models.KindOf(err) != models.NotFound {
			o.Errorf("a code for nobody: %v", err)
		}
	})
}

func TestAttemptsAreLimited(t *testing.T) {
	each(t, func(o *office) {
		o.enroll(models.RoleClerk)
		const many = 30
		var refusedThere, blocked atomic.Int64
		var all sync.WaitGroup
		for range many {
			all.Go(func() {
				_, err := o.gate.SignIn(context.Background(), name(models.RoleClerk), "a guess in the dark")
				switch models.KindOf(err) {
				case models.Refused:
					refusedThere.Add(1)
				case models.TooMany:
					blocked.Add(1)
				default:
					o.Errorf("a wrong secret: %v", err)
				}
			})
		}
		all.Wait()
		if refusedThere.Load() != maxAttempts || blocked.Load() != many-maxAttempts {
			o.Errorf("of %d guesses at once %d were looked at and %d were not", many, refusedThere.Load(), blocked.Load())
		}
		again := New(o.store, Options{Cost: cheap}) // as after a restart
		_, err := again.SignIn(o.Context(), name(models.RoleClerk), secret)
		o.wants("the right secret while blocked", err, models.TooMany, "problem.too_many_attempts")
		if _, err := again.SignIn(o.Context(), name(models.RoleAdministrator), secret); models.KindOf(err) != models.Refused {
			o.Errorf("another name is blocked too: %v", err)
		}
		o.wait(blockedFor)
		if _, err := o.gate.SignIn(o.Context(), name(models.RoleClerk), secret); err != nil {
			o.Errorf("after the block: %v", err)
		}
	})
}

func TestAttemptsAreForgiven(t *testing.T) {
	each(t, func(o *office) {
		o.enroll(models.RoleClerk)
		fail := func(times int) {
			o.Helper()
			for range times {
				_, err := o.gate.SignIn(o.Context(), name(models.RoleClerk), "a guess in the dark")
				o.wants("a guess", err, models.Refused, "problem.sign_in_refused")
			}
		}
		fail(maxAttempts - 1)
		if _, err := o.gate.SignIn(o.Context(), name(models.RoleClerk), secret); err != nil {
			o.Errorf("the tenth attempt, which is right: %v", err)
		}
		fail(maxAttempts - 1)
		o.wait(attemptWindow)
		fail(maxAttempts)
	})
}

// Names that nobody has are limited as others are, and do not pile up.
func TestUnknownNames(t *testing.T) {
	each(t, func(o *office) {
		nobody := Name{Employer: "tres-pozos", Account: "nobody"}
		for range maxAttempts {
			_, err := o.gate.SignIn(o.Context(), nobody, secret)
			o.wants("nobody", err, models.Refused, "problem.sign_in_refused")
		}
		_, err := o.gate.SignIn(o.Context(), nobody, secret)
		o.wants("nobody once more", err, models.TooMany, "problem.too_many_attempts")
		for _, wrong := range []Name{{"four-wells", "nobody"}, {"", ""}, {"\x00", "nobody"}, {"tres-pozos", "\x00"}, {"tres-pozos", "No Body"}, {"tres-pozos", strings.Repeat("a", 1<<16)}} {
			_, err := o.gate.SignIn(o.Context(), wrong, secret)
			o.wants("a name that cannot be", err, models.Refused, "problem.sign_in_refused")
		}
		o.wait(time.Hour)
		_, _ = o.gate.SignIn(o.Context(), name(models.RoleClerk), "a guess in the dark")
		o.in(func(tx *models.Tx) error {
			var n int64
			err := tx.DB().Model(&attempt{}).Count(&n).Error
			if n != 1 {
				o.Errorf("%d names are counted", n)
			}
			return err
		})
	})
}

func TestRefreshing(t *testing.T) {
	each(t, func(o *office) {
		first := o.enroll(models.RoleWorker).RefreshToken
		lost := o.refresh(first).RefreshToken
		got := o.refresh(first) // the answer was lost on the way: the predecessor still serves
		next := o.refresh(got.RefreshToken)
		if _, err := o.standing(next); err != nil {
			o.Fatal(err)
		}
		_, err := o.gate.Refresh(o.Context(), first)
		o.wants("the first token again, after its successor was used", err, models.Refused, "problem.refresh_reused")
		_, err = o.gate.Refresh(o.Context(), next.RefreshToken)
		o.wants("the last token of the ended session", err, models.Refused, "problem.session_ended")
		_, err = o.standing(next)
		o.wants("an access token of the ended session", err, models.Refused, "problem.session_ended")
		_, err = o.gate.Refresh(o.Context(), lost)
		o.wants("the lost token", err, models.Refused, "problem.session_ended")
		if n := o.audited("end_session"); n != 1 {
			o.Errorf("%d ends of a session are on record", n)
		}
	})
}

// A session that is refreshed every week ends with its season all the same, and signing in again clears its tokens away.
func TestSessionsEnd(t *testing.T) {
	each(t, func(o *office) {
		token := o.enroll(models.RoleWorker).RefreshToken
		const week = 7 * 24 * time.Hour
		for range 25 {
			o.wait(week)
			token = o.refresh(token).RefreshToken
		}
		o.wait(5*24*time.Hour - time.Second) // the last second of 180 days
		last := o.refresh(token)
		if left := last.RefreshExpires.Sub(time.Unix(0, o.clock.Load())); left != time.Second {
			o.Errorf("the last token is good for %v more", left)
		}
		o.wait(time.Second)
		_, err := o.gate.Refresh(o.Context(), last.RefreshToken)
		o.wants("a token of a session that is over", err, models.Refused, "problem.session_ended")

		if _, err := o.gate.SignIn(o.Context(), name(models.RoleWorker), secret); err != nil {
			o.Fatal(err)
		}
		_, err = o.gate.Refresh(o.Context(), last.RefreshToken)
		o.wants("the same token after signing in again", err, models.Refused, "problem.refresh_refused")
		var sessions, tokens int64
		o.in(func(tx *models.Tx) error {
			return errors.Join(tx.DB().Model(&session{}).Count(&sessions).Error, tx.DB().Model(&refreshToken{}).Count(&tokens).Error)
		})
		if sessions != 2 || tokens != 1 {
			o.Errorf("%d sessions and %d tokens are kept, wanted both sessions and the new one's token", sessions, tokens)
		}
	})
}

// A thief who copies a token before its owner has used the successor gets a sibling of it; whichever of the two comes second ends both.
func TestSiblingsOfAUsedToken(t *testing.T) {
	each(t, func(o *office) {
		first := o.enroll(models.RoleWorker).RefreshToken
		owners, thiefs := o.refresh(first), o.refresh(first)
		o.refresh(owners.RefreshToken)
		_, err := o.gate.Refresh(o.Context(), thiefs.RefreshToken)
		o.wants("the thief's token", err, models.Refused, "problem.refresh_reused")
	})
}

func TestRefreshTokensThatAreNone(t *testing.T) {
	each(t, func(o *office) {
		granted := o.enroll(models.RoleWorker)
		for what, token := range map[string]string{
			"nothing": "", "noise": "no token", "another's": newToken(o.scope.Employer), "nobody's": newToken(models.NewID()), "nil": newToken(uuid.Nil),
		} {
			_, err := o.gate.Refresh(o.Context(), token)
			o.wants(what, err, models.Refused, "problem.refresh_refused")
		}
		o.wait(30 * 24 * time.Hour)
		_, err := o.gate.Refresh(o.Context(), granted.RefreshToken)
		o.wants("a token of last month", err, models.Refused, "problem.session_ended")
	})
}

// Two requests with one token at the same moment are a lost answer, whichever comes first.
func TestRefreshingAtOnce(t *testing.T) {
	each(t, func(o *office) {
		token := o.enroll(models.RoleWorker).RefreshToken
		var all sync.WaitGroup
		for range 6 {
			all.Go(func() {
				if _, err := o.gate.Refresh(context.Background(), token); err != nil {
					o.Error(err)
				}
			})
		}
		all.Wait()
	})
}

func TestStanding(t *testing.T) {
	each(t, func(o *office) {
		granted := o.enroll(models.RoleClerk)
		if caller, err := o.standing(granted); err != nil || caller.Role != models.RoleClerk {
			o.Fatalf("%+v, %v", caller, err)
		}
		suspend := func(suspended bool, version int64) {
			o.Helper()
			o.in(func(tx *models.Tx) error {
				_, err := UpdateAccount(tx, models.RoleAdministrator, granted.Caller.Account, version,
					models.AccountContent{SignInName: "payroll_clerk", Name: "Somebody", Role: models.RoleClerk, Language: "en", Suspended: suspended})
				return err
			})
		}
		suspend(true, 1)
		if _, err := o.standing(granted); models.KindOf(err) != models.Refused {
			o.Errorf("a suspended account: %v", err)
		}
		if _, err := o.gate.Refresh(o.Context(), granted.RefreshToken); models.KindOf(err) != models.Refused {
			o.Errorf("a suspended account refreshes: %v", err)
		}
		_, err := o.gate.SignIn(o.Context(), name(models.RoleClerk), secret)
		o.wants("a suspended account signs in", err, models.Forbidden, "problem.suspended")
		suspend(false, 2)
		if _, err := o.standing(granted); models.KindOf(err) != models.Refused {
			o.Errorf("a session from before the suspension: %v", err)
		}
		again, err := o.gate.SignIn(o.Context(), name(models.RoleClerk), secret)
		if err != nil {
			o.Fatalf("the secret is gone: %v", err)
		}
		o.in(func(tx *models.Tx) error { return SignOut(tx, &again.Caller) })
		_, err = o.standing(again)
		o.wants("after signing out", err, models.Refused, "problem.session_ended")
		again.Caller.Account = o.accounts[models.RoleAdministrator]
		_, err = o.standing(again)
		o.wants("a session under another's name", err, models.Refused, "problem.session_ended")
	})
}

func TestWhoKeepsAccounts(t *testing.T) {
	each(t, func(o *office) {
		try := func(by, of models.Role) error {
			return o.store.In(o.Context(), o.scope, func(tx *models.Tx) error {
				c := models.AccountContent{SignInName: "new-" + strings.ReplaceAll(string(by+of), "_", "-"), Name: "New", Role: of, Language: "en"}
				worker, err := models.Get[models.AccountContent](tx, o.accounts[models.RoleWorker])
				if err != nil {
					return err
				}
				c.WorkerID = worker.Content.WorkerID
				_, _, err = CreateAccount(tx, by, models.NewID(), c)
				return err
			})
		}
		for _, of := range []models.Role{models.RoleWorker, models.RoleCrewLead, models.RoleClerk, models.RoleSafetyOfficer, models.RoleAdministrator} {
			for _, by := range []models.Role{models.RoleWorker, models.RoleCrewLead, models.RoleClerk, models.RoleSafetyOfficer, models.RoleAdministrator} {
				may := by == models.RoleAdministrator || by == models.RoleClerk && of == models.RoleWorker
				if err := try(by, of); (err == nil) != may || err != nil && models.KindOf(err) != models.Forbidden {
					o.Errorf("%s opens an account for %s: %v", by, of, err)
				}
			}
		}
		raise := models.AccountContent{SignInName: "worker", Name: "Somebody", Role: models.RoleClerk, Language: "en"}
		err := o.store.In(o.Context(), o.scope, func(tx *models.Tx) error {
			_, err := UpdateAccount(tx, models.RoleClerk, o.accounts[models.RoleWorker], 1, raise)
			return err
		})
		o.wants("a clerk raises a worker", err, models.Forbidden, "problem.account_not_yours")
		self := o.scope
		self.Actor = o.accounts[models.RoleAdministrator]
		err = o.store.In(o.Context(), self, func(tx *models.Tx) error {
			_, err := UpdateAccount(tx, models.RoleAdministrator, self.Actor, 1, raise)
			return err
		})
		o.wants("an administrator steps down alone", err, models.Forbidden, "problem.own_account")
	})
}

// A secret's hash made at another cost is made anew at the next sign-in.
func TestCostMoves(t *testing.T) {
	each(t, func(o *office) {
		o.enroll(models.RoleClerk)
		dearer := New(o.store, Options{Cost: Cost{Memory: 128, Passes: 1, Threads: 1}})
		if _, err := dearer.SignIn(o.Context(), name(models.RoleClerk), secret); err != nil {
			o.Fatal(err)
		}
		o.in(func(tx *models.Tx) error {
			a, err := models.Get[models.AccountContent](tx, o.accounts[models.RoleClerk])
			if err == nil && !strings.Contains(a.Content.SecretHash, "m=128,") {
				o.Errorf("the hash stayed %s", a.Content.SecretHash)
			}
			return err
		})
		if _, err := dearer.SignIn(o.Context(), name(models.RoleClerk), secret); err != nil {
			o.Error(err)
		}
	})
}

func TestNothingSecretIsKeptOrAudited(t *testing.T) {
	each(t, func(o *office) {
		code := o.code(models.RoleClerk)
		granted, err := o.gate.FirstSignIn(o.Context(), name(models.RoleClerk), code, secret)
		if err != nil {
			o.Fatal(err)
		}
		o.in(func(tx *models.Tx) error {
			entries, err := models.List[models.AuditEntry](tx, models.Page{Limit: 100})
			for _, e := range entries {
				for _, hidden := range []string{code, strings.ReplaceAll(code, "-", ""), secret, granted.RefreshToken, "argon2"} {
					if strings.Contains(string(e.BeforeDoc)+string(e.AfterDoc)+e.Reason, hidden) {
						o.Errorf("the entry for %s tells %q", e.Action, hidden)
					}
				}
			}
			return err
		})
	})
}
