package pages_test

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm/clause"

	"palmero/handlers/text"
	"palmero/migrations"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll/rulebook"
)

// twoServers are two servers on one PostgreSQL.
func twoServers(t *testing.T) (here, there *site) {
	t.Helper()
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	store, clock := inSeason(t, migrations.Postgres, books)
	return newSite(t, store, clock, books), newSite(t, store, clock, books)
}

// at is the same browser, whose requests the proxy sends to another server.
func (b *browser) at(s *site) *browser { return &browser{s, b.language, b.cookies} }

// within begins a transaction of the employer's that somebody else is in the midst of, until it is let go.
func (s *site) within(hold func(tx *models.Tx) error) (letGo func()) {
	s.Helper()
	held, done, ended := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	scope := s.scope()
	go func() {
		ended <- s.store.In(context.Background(), scope, func(tx *models.Tx) error {
			if err := hold(tx); err != nil {
				return err
			}
			close(held)
			<-done
			return nil
		})
	}()
	select {
	case <-held:
	case err := <-ended:
		s.Fatal(err)
	}
	return func() {
		close(done)
		if err := <-ended; err != nil {
			s.Error(err)
		}
	}
}

func (s *site) scope() models.Scope {
	s.Helper()
	employer, err := s.store.FindEmployer(s.Context(), "media-tarde")
	if err != nil {
		s.Fatal(err)
	}
	return models.Scope{Employer: employer.ID}
}

// aStatement keeps statements from being written.
func aStatement(tx *models.Tx) error {
	_, err := tx.Conn().ExecContext(context.Background(), "LOCK TABLE statements IN SHARE MODE")
	return err
}

// aNumber keeps runs from being numbered, and approved.
func aNumber(tx *models.Tx) error {
	_, err := tx.NextNumber("pay_runs")
	return err
}

// A step that one server takes is told of by the other, which does not take it as well.
func TestAnyServerTellsHowFarAStepHasCome(t *testing.T) {
	here, there := twoServers(t)
	hazel := here.as("hazel", text.English)
	p := hazel.get("/pay")
	form := url.Values{"id": {p.hidden("id")}, "week_start": {"2026-02-25"}}
	run := "/pay/" + form.Get("id")
	letGo := here.within(aStatement)
	at := run + "?step=" + form.Get("id")
	hazel.post("/pay", form).leads(at)
	for until := time.Now().Add(10 * time.Second); !strings.Contains(hazel.at(there).get(at).body, " of 2") && time.Now().Before(until); {
		time.Sleep(50 * time.Millisecond)
	}
	for _, server := range []*site{here, there} {
		p := hazel.at(server).get(run).says("The pay run is being reckoned", " of 2", " people</p>", "<progress ", `href="`+at+`"`)
		if to := p.header.Get("Refresh"); to != "2; url="+at {
			t.Errorf("it is read anew as %q", to)
		}
	}
	hazel.at(there).post("/pay", form).leads(run) // the proxy sent it again
	hazel.at(there).get(run).says("The pay run is being reckoned").hides("Nothing has been heard")
	there.as("abril", text.Spanish).get(run).says("La nómina se está calculando")
	letGo()
	hazel.at(there).get(at).awaited().leads(run + "?done=drafted")
	hazel.at(there).get(run+"?done=drafted").says("gross pay. Statements: 21", `role="status"`)
	hazel.at(there).post("/pay", form).leads(run + "?done=drafted")
	there.as("abril", text.English).get(at).leads(run + "?done=drafted")
}

// Why a step failed is told by any server, with the form as it was sent, to whoever sent it.
func TestAnyServerTellsWhyAStepFailed(t *testing.T) {
	here, there := twoServers(t)
	hazel := here.as("hazel", text.English)
	run := hazel.drafted()

	again := url.Values{"id": {hazel.get("/pay").hidden("id")}, "week_start": {"2026-02-26"}}
	letGo := here.within(aNumber)
	at := hazel.post("/pay", again).header.Get("Location")
	letGo()
	for range 2 { // it survives a reload
		hazel.at(there).get(at).awaited().wants(http.StatusConflict).says("is a draft of this week already", `value="2026-02-26"`, "Draft a week")
	}
	there.as("abril", text.English).get(at).wants(http.StatusNotFound)

	abril := here.as("abril", text.English).speak(text.English)
	form := abril.get(run).typed(run + "/approve")
	here.correctTally("hazel", 18, "2026-02-24", 9_000)
	letGo = here.within(aNumber)
	at = abril.post(run+"/approve", form).header.Get("Location")
	letGo()
	abril.at(there).get(at).awaited().wants(http.StatusPreconditionFailed).says("Something was recorded or changed since the draft", `role="alert"`, "/approve")
	abril.at(there).get(run).says("What you last asked for here did not come about.", `href="`+at+`"`)
	hazel.at(there).get(run).hides("did not come about")
	hazel.at(there).get(at).wants(http.StatusOK).hides("did not come about", `role="alert"`)
	there.clock.Set(there.clock.Now().Add(20 * time.Minute))
	abril.at(there).get(run).hides("did not come about")
	hazel.posted(run+"/redraft", hazel.get(run).typed(run+"/redraft")).leads(run + "?done=redrafted")
	form = abril.get(run).typed(run + "/approve")
	for _, server := range []*site{here, there} { // the button was pressed twice
		abril.at(server).posted(run+"/approve", form).leads(run + "?done=approved")
	}
}

// A step whose server was killed goes silent. After two minutes that is told, and it can be taken again.
func TestAStepThatWentSilent(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel := s.as("hazel", text.English)
		run := hazel.drafted()
		form := hazel.get(run).typed(run + "/redraft")
		at := run + "?step=" + form.Get("id")
		s.leaves(payrun.RedraftStep, run, form)
		hazel.get(run).says("The pay run is being reckoned", "12 of 25 people")
		hazel.posted(run+"/redraft", form).leads(run)

		s.clock.Set(s.clock.Now().Add(40 * time.Second))
		if !s.store.OneWriter() {
			hazel.get(run).says("Nothing has been heard of it for 40 seconds. After 2 minutes without word")
		}
		s.clock.Set(s.clock.Now().Add(2 * time.Minute))
		hazel.get(at).wants(http.StatusConflict).says("Nothing has been heard of it for more than 2 minutes", "/redraft")
		hazel.speak(text.Spanish).get(at).wants(http.StatusConflict).says("el servidor que lo hacía se detuvo")
		hazel.speak(text.English).get(run).says("did not come about", `href="`+at+`"`)
		hazel.posted(run+"/redraft", hazel.get(at).typed(run+"/redraft")).leads(run + "?done=redrafted")
		hazel.get(run).hides("did not come about")

		for kind, want := range map[payrun.StepKind][]string{
			payrun.FinalStep:      {`value="2026-02-27"`, `name="number"`, `action="/final-pay"`},
			payrun.CorrectionStep: {"Past weeks", `value="2026-02-15"`},
		} {
			form := url.Values{"id": {models.NewID().String()}, "week": {"2026-02-15"}, "number": {"7"}, "through_date": {"2026-02-27"}, "ending": {"quit"}}
			run := "/pay/" + form.Get("id")
			s.leaves(kind, run, form)
			s.clock.Set(s.clock.Now().Add(3 * time.Minute))
			hazel.get(run + "?step=" + form.Get("id")).wants(http.StatusConflict).says(append(want, "the server that did it was stopped")...)
		}
	})
}

// leaves puts down what a server that was killed in the midst of a step leaves behind.
func (s *site) leaves(kind payrun.StepKind, run string, form url.Values) {
	s.Helper()
	scope := s.scope()
	scope.Actor = s.account("hazel")
	asked, err := json.Marshal(map[string]any{"ID": form.Get("id"), "Version": 1, "Fields": []string{"reason"}, "Values": form})
	if err != nil {
		s.Fatal(err)
	}
	err = s.store.In(s.Context(), scope, func(tx *models.Tx) error {
		left := payrun.Step{EmployerID: tx.Employer, RunID: uuid.MustParse(strings.TrimPrefix(run, "/pay/")), ID: uuid.MustParse(form.Get("id")), Kind: kind, State: payrun.Going, WorkersOf: 25, WorkersDone: 12,
			BegunAt: tx.Now, ToldAt: tx.Now, BegunBy: tx.Actor, Asked: asked, Cause: models.Document("null")}
		return tx.DB().Clauses(clause.OnConflict{UpdateAll: true}).Create(&left).Error
	})
	if err != nil {
		s.Fatal(err)
	}
}

// On SQLite a step keeps all others from writing: its server tells of it all the same, and of a step that waits for another's end.
func TestTheOnlyServerTellsOfItsStep(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	store, clock := inSeason(t, migrations.SQLite, books)
	s := newSite(t, store, clock, books)
	hazel := s.as("hazel", text.English)
	form := url.Values{"id": {hazel.get("/pay").hidden("id")}, "week_start": {"2026-02-25"}}
	letGo := s.within(func(*models.Tx) error { return nil }) // somebody writes
	at := "/pay/" + form.Get("id") + "?step=" + form.Get("id")
	hazel.post("/pay", form).leads(at)
	hazel.post("/pay", form).leads(at)
	hazel.get(at).says("It has begun.")
	letGo()
	hazel.get(at).awaited().leads("/pay/" + form.Get("id") + "?done=drafted")
}

// A step at which the program itself fails is told as such, with the form, and logged once.
func TestAStepAtWhichTheProgramFails(t *testing.T) {
	here, there := twoServers(t)
	hazel := here.as("hazel", text.English)
	form := url.Values{"id": {hazel.get("/pay").hidden("id")}, "week_start": {"2026-02-25"}}
	letGo := here.within(func(tx *models.Tx) error {
		if err := aNumber(tx); err != nil {
			return err
		}
		_, err := tx.Conn().ExecContext(context.Background(), "SELECT set_config('application_name', 'in the way', true)")
		return err
	})
	at := hazel.post("/pay", form).header.Get("Location")
	here.cutOff()
	letGo()
	hazel.at(there).get(at).awaited().wants(http.StatusConflict).says("The program failed at it, and nothing of it was kept.", `value="2026-02-25"`)
	if n := strings.Count(here.log.String(), "a step of a pay run failed"); n != 1 {
		t.Errorf("it was logged %d times: %s", n, here.log.String())
	}
	hazel.posted("/pay", form).leads("/pay/" + form.Get("id") + "?done=drafted")
}

// cutOff ends the connection that waits for the one in the way.
func (s *site) cutOff() {
	s.Helper()
	err := s.store.View(s.Context(), s.scope(), func(tx *models.Tx) error {
		var n int
		err := tx.Conn().QueryRowContext(s.Context(), `SELECT count(pg_terminate_backend(w.pid)) FROM pg_stat_activity w JOIN pg_stat_activity b ON b.application_name = 'in the way'
			WHERE b.pid = ANY(pg_blocking_pids(w.pid))`).Scan(&n)
		if err == nil && n == 0 {
			s.Error("nobody waits")
		}
		return err
	})
	if err != nil {
		s.Fatal(err)
	}
}
