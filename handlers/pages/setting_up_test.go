package pages_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"palmero/models"
	"palmero/models/access"
	"palmero/models/season"
	"palmero/payroll/rulebook"
)

// An empty farm with one administrator, as the command line leaves it, is set up through the pages alone, each step where the first page leads, until a crew lead
// has recorded a day and the clerk has drafted its pay.
func TestAnEmptyFarmIsSetUp(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	clock := &season.Clock{}
	databases.Each(t, clock.Now, func(t *testing.T, store *models.Store) {
		clock.Set(time.Date(2026, 3, 2, 14, 0, 0, 0, time.UTC)) // six in the morning of a Monday, by the garden's clock
		s := newSite(t, store, clock, books)
		owner := s.browser("en")
		owner.comesWith("admin", foundFarm(t, store), "four tall palms in a row")

		owner.next("Begin here", "Set up the first garden", "/gardens")
		owner.fill("/gardens", "/gardens", "name", "Tres Pozos", "rulebook", "us-ca", "time_zone", "America/Los_Angeles")
		garden := owner.next("No block is set up yet", "Add the first block", "/gardens/")
		owner.fill(garden, garden+"/blocks", "code", "P-1", "variety", "Medjool", "palms", "80", "tallest", "30")
		owner.next("No operation is set up yet", "Set up the first operation", "/operations")
		owner.fill("/operations", "/operations", "known", "pollination", "unit", "bunch", "daily_limit", "220")
		owner.next("No crew is set up yet", "Set up the first crew", "/crews")
		owner.fill("/crews", "/crews", "name", "Primera")

		clerk := s.browser("en")
		owner.next("Nobody has an account as payroll clerk", "Open the clerk", "/accounts?role=payroll_clerk")
		owner.opens(clerk, "/accounts?role=payroll_clerk", "Lola Urrea", "lola")
		owner.next("The payroll clerk enters them", "Go to the workers", "/workers")
		clerk.next("No worker is on the books yet", "Go to the workers", "/workers/new")
		clerk.fill("/workers/new", "/workers/new", "name", "Beto Salas", "language", "es", "address", "3 Camino Seco", "started_on", "2026-03-02", "birth_date", "1988-05-05")
		clerk.fill("/workers/new", "/workers/new", "name", "Ema Ruelas", "language", "es", "address", "4 Camino Seco", "started_on", "2026-03-02")
		crew := clerk.next("Nobody is in a crew yet", "Put the first workers into a crew", "/crews/")
		clerk.fill(crew, crew+"/joining", "numbers", "2", "from_date", "2026-03-02")
		clerk.next("Nobody leads a crew yet", "Say who leads", "/crews/")
		clerk.fill(crew, crew+"/joining", "numbers", "1", "from_date", "2026-03-02", "leads", "yes")
		clerk.next("No rate is recorded yet", "Record the first rate", "/rates")
		clerk.fill("/rates", "/rates", "operation_id", optionOf(clerk.get("/rates"), "pollination"), "rate", "1.15", "effective_on", "2026-03-01")
		clerk.get("/").says("Nothing waits for you").hides("Record the first rate")

		lead := s.browser("en")
		to := owner.next("No crew lead has an account yet", "Open the crew lead", "/accounts?role=crew_lead")
		owner.get(to).says(`value="Beto Salas"`)
		owner.opens(lead, to, "Beto Salas", "beto")
		owner.next("Nobody has an account as safety officer", "Open the safety officer", "/accounts?role=safety_officer")
		owner.opens(s.browser("en"), "/accounts?role=safety_officer", "Olga Cota", "olga")
		owner.get("/").says("bunches per palm").hides("Open the safety officer")

		lead.speak("en")
		first := lead.get("/day")
		lead.post("/day", first.dayForm("block", first.choice("P-1"), "operation", first.choice("pollination"))).leads("/day?done=moved")
		roll := lead.get("/day/roll").says("Ema Ruelas")
		ema := roll.choice("Ema Ruelas")
		lead.post("/day/roll", roll.dayForm("here", ema)).leads("/day/time?done=roll")
		lead.post("/day/time", lead.get("/day/time").dayForm("kind", "piece", "do", "start")).leads("/day/time?done=clock_start")
		clock.Set(clock.Now().Add(3 * time.Hour))
		pad := lead.get("/day/counts")
		lead.post("/day/counts", pad.dayForm("block", pad.hidden("block"), "operation", pad.hidden("operation"), "n."+ema, "60", "was."+ema, "0")).leads("/day/counts?done=counted")
		lead.post("/day/time", lead.get("/day/time").dayForm("do", "stop")).leads("/day/time?done=clock_stop")
		lead.post("/day/send", lead.get("/day/send").says("60 bunches").dayForm()).leads("/day/send?done=sent")

		clock.Set(clock.Now().Add(7 * 24 * time.Hour))
		pay := clerk.get("/pay")
		run := clerk.posted("/pay", url.Values{"id": {pay.hidden("id")}, "week_start": {"2026-03-02"}}).wants(http.StatusSeeOther).header.Get("Location")
		clerk.get(run).says("Ema Ruelas", "$69.00")
	})
}

// foundFarm enters an employer with its first administrator, as the command line does, and returns the code for the first sign-in.
func foundFarm(t *testing.T, store *models.Store) string {
	t.Helper()
	scope := models.Scope{Employer: models.NewID()}
	var admin *models.Account
	content := models.EmployerContent{LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road", Size: 40, Payday: time.Friday, SecondApprover: true}
	err := store.FoundEmployer(t.Context(), scope.Employer, "tres-pozos", content, func(tx *models.Tx) (err error) {
		admin, _, err = access.CreateAccount(tx, models.RoleAdministrator, tx.NewID(), models.AccountContent{SignInName: "admin", Name: "Administrator", Role: models.RoleAdministrator, Language: "en"})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	code, err := access.New(store, cheap).IssueCode(t.Context(), scope, models.RoleAdministrator, admin.ID)
	if err != nil {
		t.Fatal(err)
	}
	return code.Code
}

// comesWith signs in for the first time with a code.
func (b *browser) comesWith(account, code, secret string) {
	b.Helper()
	b.post("/first-sign-in", url.Values{"employer": {"tres-pozos"}, "account": {account}, "code": {code}, "secret": {secret}, "again": {secret}}).leads("/")
}

// next wants the first page to say what is lacking and to lead to where it is done, and returns that address.
func (b *browser) next(lacking, verb, begins string) string {
	b.Helper()
	home := b.get("/").says(lacking, verb)
	first, _, _ := strings.Cut(home.main(), "</li>")
	if !strings.Contains(first, lacking) || !strings.Contains(first, `class="mark look"`) {
		b.Errorf("the next thing to do is not %q: %s", lacking, first)
	}
	to := home.led(begins)
	b.get(to).wants(http.StatusOK)
	return to
}

// fill fills in the form of a page and sends it.
func (b *browser) fill(path, to string, pairs ...string) {
	b.Helper()
	form := url.Values{"id": {b.get(path).hidden("id")}}
	for i := 0; i < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	b.post(to, form).wants(http.StatusSeeOther)
}

// opens opens an account on the page of accounts, and its owner signs in with the code that it shows.
func (b *browser) opens(their *browser, path, name, account string) {
	b.Helper()
	p := b.get(path)
	role := "payroll_clerk"
	form := url.Values{"id": {p.hidden("id")}, "name": {name}, "sign_in_name": {account}, "language": {"en"}, "role": {role}}
	for _, r := range []string{"crew_lead", "safety_officer"} {
		if strings.Contains(p.body, `value="`+r+`" selected`) {
			form.Set("role", r)
		}
	}
	if form.Get("role") == "crew_lead" {
		form.Set("worker_id", "1")
	}
	at := "/accounts/" + form.Get("id")
	b.post("/accounts", form).leads(at + "?done=account_opened")
	m := codeShown.FindStringSubmatch(b.post(at+"/code", url.Values{}).wants(http.StatusOK).body)
	if m == nil {
		b.Fatal("no code is shown")
	}
	their.comesWith(account, m[1], "four tall palms in a row")
}
