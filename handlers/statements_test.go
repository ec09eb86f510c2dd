package handlers

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"

	"palmero/models"
)

const html = "text/html"

// wantsPage reads one of the worker's statements as a page.
func (r *rig) wantsPage(id uuid.UUID, language string, want ...string) {
	r.Helper()
	page := string(r.do("GET", fmt.Sprint("/api/v1/my/statements/", id, "?language=", language), r.worker(), nil, "Accept", html).wants(http.StatusOK).body)
	for _, s := range want {
		if !strings.Contains(page, s) {
			r.Errorf("%s: the page lacks %q", language, s)
		}
	}
}

func TestAStatementIsVoidedAndReissued(t *testing.T) {
	each(t, func(r *rig) {
		_, v := r.drafted()
		ana := r.briefs(v)[0].ID
		void := func(reason string) *answer {
			return r.do("POST", fmt.Sprint("/api/v1/statements/", ana, "/void"), r.clerk(), object{"reason": reason})
		}
		void("too early").wantsKey(http.StatusConflict, "problem.run_state")
		v = r.approved(v)
		void(" ").wantsFaults(http.StatusUnprocessableEntity, "/reason")
		first := void("the name is misspelt").wants(http.StatusOK)
		if again := void("the name is misspelt").wants(http.StatusOK); string(again.body) != string(first.body) {
			r.Errorf("first %s\nagain %s", first.body, again.body)
		}
		void("another reason").wantsKey(http.StatusConflict, "problem.statement_void")
		r.do("POST", v.path("/payments"), r.clerk(), object{"payments": []object{{"statement_id": ana, "paid_on": "2026-03-06", "method": "cash"}}}).
			wantsFaults(http.StatusUnprocessableEntity, "/payments/0/statement_id")
		if s := r.do("GET", v.path(""), r.admin(), nil).object(); s["statements"] != 1.0 || s["gross"] != "152.13" {
			r.Errorf("the run without it: %v", s)
		}
		list := r.do("GET", v.path("/pay-list.csv?language=en"), r.admin(), nil).wants(http.StatusOK)
		rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(list.body), "\ufeff"))).ReadAll()
		if err != nil || len(rows) != 5 || strings.Join(rows[1][3:], ",") != ",,,,,,,,,void,,the name is misspelt" || rows[3][7] != "152.13" {
			r.Errorf("%v %q", err, rows)
		}

		second := r.approved(r.do("POST", runsPath, r.clerk(), draftRequest()).wants(http.StatusCreated).run())
		reissued := r.briefs(second)
		if len(reissued) != 1 || reissued[0].ReissueOf == nil || *reissued[0].ReissueOf != ana || reissued[0].Totals.Gross != 240_61 {
			r.Fatalf("%+v", reissued)
		}
		r.wantsPage(ana, "en", `<main class="sheet void">`, "Void, nothing is paid on it: the name is misspelt")
		r.wantsPage(ana, "es", "Anulado, con él no se paga nada: the name is misspelt", ">Cuadro<")
		r.wantsPage(reissued[0].ID, "es", "Toma el lugar del recibo "+ana.String())
		var own struct{ Items []briefStatement }
		r.do("GET", "/api/v1/my/statements", r.worker(), nil).wants(http.StatusOK).into(&own)
		if len(own.Items) != 2 || own.Items[0].Void == nil || own.Items[0].Void.Reason != "the name is misspelt" || own.Items[1].Void != nil {
			r.Errorf("both are kept: %+v", own.Items)
		}
		if r.paid(v).State != "paid" || r.paid(second).State != "paid" {
			r.Error("what stands is not paid")
		}
		r.do("POST", fmt.Sprint("/api/v1/statements/", reissued[0].ID, "/void"), r.admin(), object{"reason": "too late"}).wantsKey(http.StatusConflict, "problem.statement_paid")
	})
}

func TestAPaymentThatFailed(t *testing.T) {
	each(t, func(r *rig) {
		_, v := r.drafted()
		v = r.approved(v)
		ana := r.briefs(v)[0].ID
		path := fmt.Sprint("/api/v1/statements/", ana, "/payment-events")
		event := object{"id": models.NewID(), "outcome": "failed", "happened_on": "2026-03-05", "reason": "account closed"}
		r.do("POST", path, r.clerk(), event).wantsKey(http.StatusConflict, "problem.statement_unpaid")
		r.paid(v)
		r.do("POST", path, r.clerk(), object{"id": uuid.Nil, "outcome": "paid", "happened_on": "2036-03-05", "reason": ""}).
			wantsFaults(http.StatusUnprocessableEntity, "/id", "/outcome", "/reason", "/happened_on")
		first := r.do("POST", path, r.clerk(), event).wants(http.StatusCreated)
		if o := first.object(); o["method"] != "check" || o["reference"] != "1001" || o["author"] != "The payroll_clerk" {
			r.Errorf("%s", first.body)
		}
		if s := r.do("GET", v.path(""), r.admin(), nil).object(); s["state"] != "approved" || s["unpaid"] != 1.0 {
			r.Errorf("after the failure: %v", s)
		}
		if got := r.briefs(v)[0].Payment; got != nil {
			r.Errorf("still paid: %+v", got)
		}
		if r.paid(v).State != "paid" {
			r.Error("paid again, and the run is not")
		}
		again := r.do("POST", path, r.clerk(), event).wants(http.StatusOK)
		if again.header.Get("Repeated") != "true" || again.object()["id"] != first.object()["id"] {
			r.Errorf("the event again: %s", again.body)
		}
		if r.do("GET", v.path(""), r.admin(), nil).object()["state"] != "paid" {
			r.Error("a repeat takes the new payment back")
		}
		event["outcome"] = "unclaimed"
		r.do("POST", path, r.clerk(), event).wantsKey(http.StatusConflict, "problem.id_reused")
		for path, p := range map[string]*person{path: r.admin(), fmt.Sprint("/api/v1/my/statements/", ana, "/payment-events"): r.worker()} {
			var events struct{ Items []paymentEvent }
			r.do("GET", path, p, nil).wants(http.StatusOK).into(&events)
			if e := events.Items; len(e) != 3 || e[0].Outcome != "paid" || e[1].Outcome != "failed" || e[1].Reason != "account closed" || e[2].Outcome != "paid" {
				r.Errorf("%s: %+v", path, e)
			}
		}
		r.do("GET", fmt.Sprint("/api/v1/my/statements/", ana, "/payment-events"), r.lead(), nil).wants(http.StatusNotFound)
	})
}

func TestAFinalRunIsDueByTheRulebook(t *testing.T) {
	each(t, func(r *rig) {
		r.do("POST", sheetsPath, r.lead(), r.ours.sheet()).wants(http.StatusCreated)
		r.do("POST", runsPath, r.clerk(), object{"id": models.NewID(), "kind": "final", "week_start": payWeek}).
			wantsFaults(http.StatusUnprocessableEntity, "/workers", "/ending", "/through_date")
		r.do("POST", runsPath, r.clerk(), object{"id": models.NewID(), "kind": "regular", "week_start": payWeek, "workers": []uuid.UUID{r.ours.lead}, "through_date": workday, "ending": "quit"}).
			wantsFaults(http.StatusUnprocessableEntity, "/workers", "/through_date", "/ending")
		final := object{"id": models.NewID(), "kind": "final", "week_start": payWeek, "workers": []uuid.UUID{r.ours.lead}, "through_date": workday, "ending": "quit"}
		// Cal. Lab. Code 202(a): within 72 hours after quitting without notice; 201(a): at once after discharge.
		quit := r.do("POST", runsPath, r.clerk(), final).wants(http.StatusCreated)
		if o := quit.object(); o["payday"] != "2026-02-26" || o["ending"] != "quit" || o["through_date"] != workday || o["kind"] != "final" {
			r.Errorf("%s", quit.body)
		}
		final["id"], final["workers"], final["ending"] = models.NewID(), []uuid.UUID{r.ours.worker}, "discharge"
		discharge := r.do("POST", runsPath, r.clerk(), final).wants(http.StatusCreated)
		if discharge.object()["payday"] != workday {
			r.Errorf("%s", discharge.body)
		}
		if again := r.do("POST", runsPath, r.clerk(), final).wants(http.StatusOK); again.header.Get("Repeated") != "true" {
			r.Errorf("%v", again.header)
		}
		r.paid(r.approved(discharge.run()))
		rest := r.do("POST", runsPath, r.clerk(), draftRequest()).wants(http.StatusCreated).run()
		if got := r.briefs(rest); len(got) != 1 || got[0].Worker.ID != r.ours.lead {
			r.Errorf("the rest of the week: %+v", got)
		}
	})
}

// elsewhere is a second garden, under a rulebook, engaged by its grower, and three hours of a worker there on Tuesday.
func (r *rig) elsewhere(rulebook string, worker uuid.UUID) {
	r.Helper()
	garden := object{"id": models.NewID(), "name": "Garden by the river", "time_zone": "America/Phoenix", "rulebook": rulebook,
		"engaging_entity": "Media Luna Orchards", "engaging_entity_address": "7 Media Luna Lane\nOasis"}
	r.do("POST", "/api/v1/gardens", r.admin(), garden).wants(http.StatusCreated)
	hours := entry(worker, "2026-02-24", "hourly", "06:00", "09:00")
	hours["workday"], hours["garden_id"], hours["recorded_at"] = "2026-02-24", garden["id"], "2026-02-24T15:00:00-08:00"
	r.do("POST", "/api/v1/time-entries", r.clerk(), hours).wants(http.StatusCreated)
}

func TestTwoRulebooksAreConfirmed(t *testing.T) {
	each(t, func(r *rig) {
		r.elsewhere("us", r.ours.worker)
		_, v := r.drafted()
		p, found := r.problemOf(v, "pay_problem.two_rulebooks", "es")
		if !found || p.Kind != "holds" || !strings.Contains(p.Text, "California $") || !strings.Contains(p.Text, "Se propone la más alta, California") {
			r.Fatalf("%+v", p)
		}
		r.do("POST", v.path(fmt.Sprintf("/problems/%d/decision", p.No)), r.clerk(), object{"decision": "California, as proposed"}).wants(http.StatusOK)
		if v = r.redraft(v); len(r.briefs(v)) != 2 {
			r.Error("confirmed, and still held")
		}
		if p, _ = r.problemOf(v, "pay_problem.two_rulebooks", "en"); p.Kind != "note" || p.Decision == nil {
			r.Errorf("%+v", p)
		}
	})
}

func TestARulebookWithoutFinalPay(t *testing.T) {
	each(t, func(r *rig) {
		r.elsewhere("us", r.ours.worker)
		v := r.do("POST", runsPath, r.clerk(), object{"id": models.NewID(), "kind": "final", "week_start": payWeek, "workers": []uuid.UUID{r.ours.worker},
			"through_date": "2026-02-24", "ending": "discharge"}).wants(http.StatusCreated)
		if v.object()["payday"] != "2026-03-06" {
			r.Errorf("%s", v.body)
		}
		if p, _ := r.problemOf(v.run(), "pay_problem.no_final_pay_rule", "en"); p.Kind != "note" || !strings.Contains(p.Text, "does not say by when final pay is due") {
			r.Errorf("%+v", p)
		}
	})
}

func TestEveryGrowerStandsOnTheStatement(t *testing.T) {
	each(t, func(r *rig) {
		home := object{"name": "Home garden", "time_zone": "America/Los_Angeles", "rulebook": "us-ca", "engaging_entity": "Three Wells Dates", "engaging_entity_address": "1 Three Wells Road\nMecca"}
		r.do("PUT", "/api/v1/gardens/"+r.ours.garden.String(), r.admin(), home, "If-Match", `"1"`).wants(http.StatusOK)
		r.elsewhere("us-ca", r.ours.worker)
		_, v := r.drafted()
		r.approved(v)
		r.wantsPage(r.briefs(v)[0].ID, "en", "<b>Three Wells Dates</b>", "<dd>1 Three Wells Road</dd>", "<dd>Mecca</dd>", "<b>Media Luna Orchards</b>", "<dd>7 Media Luna Lane</dd>", "<dd>Oasis</dd>")
	})
}
