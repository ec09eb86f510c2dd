package handlers

import (
	"encoding/csv"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
)

// What the matrix is to know of work and pay.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /api/v1/crew-sheets":                           "lcsa",
		"POST /api/v1/crew-sheets":                          "lc",
		"GET /api/v1/crew-sheets/{id}":                      "lcsa",
		"GET /api/v1/time-entries":                          "csa",
		"POST /api/v1/time-entries":                         "c",
		"GET /api/v1/time-entries/{id}":                     "csa",
		"GET /api/v1/tallies":                               "csa",
		"POST /api/v1/tallies":                              "c",
		"GET /api/v1/tallies/{id}":                          "csa",
		"GET /api/v1/pay-runs":                              "ca",
		"POST /api/v1/pay-runs":                             "c",
		"GET /api/v1/pay-runs/{id}":                         "ca",
		"POST /api/v1/pay-runs/{id}/redraft":                "c",
		"POST /api/v1/pay-runs/{id}/approve":                "ca",
		"POST /api/v1/pay-runs/{id}/withdraw":               "ca",
		"POST /api/v1/pay-runs/{id}/payments":               "c",
		"GET /api/v1/pay-runs/{id}/problems":                "ca",
		"POST /api/v1/pay-runs/{id}/problems/{no}/decision": "c",
		"GET /api/v1/pay-runs/{id}/statements":              "ca",
		"GET /api/v1/pay-runs/{id}/pay-list.csv":            "ca",
		"GET /api/v1/statements/{id}":                       "ca",
		"POST /api/v1/statements/{id}/void":                 "ca",
		"GET /api/v1/statements/{id}/payment-events":        "ca",
		"POST /api/v1/statements/{id}/payment-events":       "c",
		"GET /api/v1/adjustments":                           "ca",
		"POST /api/v1/adjustments/reviews":                  "c",
		"GET /api/v1/adjustments/{id}":                      "ca",
		"POST /api/v1/adjustments/{id}/decision":            "c",
		"GET /api/v1/time-entries/{id}/chain":               "csa",
		"GET /api/v1/tallies/{id}/chain":                    "csa",
		"GET /api/v1/tallies/{id}/answers":                  "csa",
		"GET /api/v1/lots/{id}/chain":                       "csa",
		"GET /api/v1/my/tallies":                            "wl",
		"POST /api/v1/my/tallies/{id}/answers":              "wl",
		"GET /api/v1/my/tallies/{id}/chain":                 "wl",
		"GET /api/v1/my/statements/{id}/payment-events":     "wl",
		"GET /api/v1/my/week":                               "wl",
		"GET /api/v1/my/statements":                         "wl",
		"GET /api/v1/my/statements/{id}":                    "wl",
		"GET /api/v1/openapi.yaml":                          "-",
		"GET /api/v1/openapi.json":                          "-",
		"GET /api/v1/docs":                                  "-",
		"GET /api/v1/schemas/{name}":                        "-",
	})
	maps.Copy(content, map[string]func(e *estate, n int) object{
		"/api/v1/crew-sheets": func(e *estate, _ int) object {
			return object{"crew_id": e.crew, "workday": workday, "garden_id": e.garden, "recorded_at": workday + "T15:00:00-08:00", "tallies": []object{e.tally(e.worker, 1)}}
		},
		"/api/v1/time-entries": func(e *estate, n int) object {
			return object{"worker_id": e.worker, "kind": "hourly", "minutes": n%900 + 1, "workday": workday, "garden_id": e.garden, "recorded_at": workday + "T15:00:00-08:00"}
		},
		"/api/v1/tallies": func(e *estate, n int) object {
			return object{"worker_id": e.worker, "block_id": e.block, "operation_id": e.operation, "pieces": n, "workday": workday, "recorded_at": workday + "T15:00:00-08:00"}
		},
	})
}

// steps are good bodies for what is done with a record.
var steps = map[string]object{
	"/api/v1/pay-runs/{id}/withdraw":               {"reason": "one more look"},
	"/api/v1/pay-runs/{id}/payments":               {"payments": []object{{"statement_id": models.NewID(), "paid_on": "2026-03-04", "method": "cash"}}},
	"/api/v1/pay-runs/{id}/problems/{no}/decision": {"decision": "as recorded"},
	"/api/v1/statements/{id}/void":                 {"reason": "the name is misspelt"},
	"/api/v1/statements/{id}/payment-events":       {"id": models.NewID(), "outcome": "failed", "happened_on": "2026-03-04", "reason": "account closed"},
	"/api/v1/adjustments/reviews":                  {"week_start": payWeek},
	"/api/v1/adjustments/{id}/decision":            {"state": "carried", "reason": "one more look"},
	"/api/v1/my/tallies/{id}/answers":              {"id": models.NewID(), "answer": "confirmed"},
}

// run is a pay run as its answers tell it.
type run struct {
	ID      uuid.UUID
	Version int
	Number  int
	State   string
}

func (v run) path(step string) string { return fmt.Sprint(runsPath, "/", v.ID, step) }
func (v run) match() string           { return fmt.Sprintf(`"%d"`, v.Version) }

func (a *answer) run() (v run) {
	a.Helper()
	a.into(&v)
	if a.header.Get("ETag") != v.match() {
		a.Errorf("%s: ETag %q of %s", a.what, a.header.Get("ETag"), a.body)
	}
	return v
}

func draftRequest() object {
	return object{"id": models.NewID(), "kind": "regular", "week_start": payWeek}
}

// drafted takes in the crew's Monday and drafts its week.
func (r *rig) drafted() (sheet object, v run) {
	r.Helper()
	sheet = r.ours.sheet()
	r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusCreated)
	return sheet, r.do("POST", runsPath, r.clerk(), draftRequest()).wants(http.StatusCreated).run()
}

// briefs are a run's statements.
func (r *rig) briefs(v run) []briefStatement {
	r.Helper()
	var page struct{ Items []briefStatement }
	a := r.do("GET", v.path("/statements"), r.clerk(), nil).wants(http.StatusOK)
	if a.into(&page); len(page.Items) == 0 {
		r.Fatalf("%s: %s", a.what, a.body)
	}
	return page.Items
}

func TestAWeekFromSheetToPaidStatement(t *testing.T) {
	each(t, func(r *rig) {
		sheet, v := r.drafted()
		briefs := r.briefs(v)
		if len(briefs) != 2 || briefs[0].Worker.Name != "Ana Rojas" || briefs[0].Payment != nil {
			r.Fatalf("%+v", briefs)
		}
		// By hand, from reckoning rules that Cal. Lab. Code 226.2 and 226.7 set. Ana: 160 × 1.15 = 184.00; half of 81 × 1.15 = 46.58 (46.575); 20 rest
		// minutes at 230.58 / 460 min = 10.03 (10.025). Berta: 46.58; to the minimum wage of 16.90 for 460 min = 129.567: 83.00 (82.992); 20 rest
		// minutes at 129.58 / 460 min = 5.64 (5.634); an hour for the rest period not provided at 135.22 / 480 min = 16.91 (16.9025).
		if briefs[0].Totals.Gross != 184_00+46_58+10_03 {
			r.Errorf("Ana: %+v", briefs[0].Totals)
		}
		if got := briefs[1].Totals; got.Gross != 46_58+83_00+5_64+16_91 || got.Premiums != 16_91 {
			r.Errorf("Berta: %+v", got)
		}
		if got := r.do("GET", "/api/v1/my/statements", r.worker(), nil).items(); len(got) != 0 {
			r.Errorf("a draft is shown to its worker: %v", got)
		}
		r.do("GET", fmt.Sprint("/api/v1/my/statements/", briefs[0].ID), r.worker(), nil).wants(http.StatusNotFound)

		r.do("POST", v.path("/approve"), r.admin(), nil).wants(http.StatusPreconditionRequired)
		r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", `"99"`).wants(http.StatusPreconditionFailed)
		r.do("POST", v.path("/approve"), r.clerk(), nil, "If-Match", v.match()).wantsKey(http.StatusForbidden, "problem.same_person")
		approved := r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
		if approved.State != "approved" {
			r.Errorf("%+v", approved)
		}
		r.do("POST", v.path("/redraft"), r.clerk(), nil, "If-Match", approved.match()).wantsKey(http.StatusConflict, "problem.run_state")
		if again := r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusOK); again.header.Get("Repeated") != "true" {
			r.Errorf("the sheet again after the approval: %s", again.body)
		}

		payments := []object{}
		for _, b := range briefs {
			payments = append(payments, object{"statement_id": b.ID, "paid_on": "2026-03-06", "method": "check", "reference": "1001"})
		}
		if got := r.do("POST", v.path("/payments"), r.clerk(), object{"payments": payments[:1]}).wants(http.StatusOK).run(); got.State != "approved" {
			r.Errorf("one of two is paid: %+v", got)
		}
		paid := r.do("POST", v.path("/payments"), r.clerk(), object{"payments": payments}).wants(http.StatusOK).run()
		if again := r.do("POST", v.path("/payments"), r.clerk(), object{"payments": payments}).wants(http.StatusOK).run(); paid.State != "paid" || again != paid {
			r.Errorf("paid %+v, again %+v", paid, again)
		}
		r.do("POST", v.path("/withdraw"), r.admin(), object{"reason": "too late"}, "If-Match", paid.match()).wantsKey(http.StatusConflict, "problem.run_state")
		if s := r.do("GET", v.path(""), r.admin(), nil).wants(http.StatusOK).object(); s["statements"] != 2.0 || s["unpaid"] != 0.0 || s["gross"] != "392.74" {
			r.Errorf("%v", s)
		}
		r.statementsIn("$240.61", briefs[0].ID)
	})
}

// statementsIn reads the worker's paid statement as JSON and as a page, in both languages.
func (r *rig) statementsIn(gross string, id uuid.UUID) {
	r.Helper()
	path := fmt.Sprint("/api/v1/my/statements/", id)
	for lang, want := range map[string][]string{
		"en": {"Itemized wage statement", "Paid Mar 6, 2026, check, ref. 1001", "Local labor and safety codes govern", "pollination", "× 1/2", gross},
		"es": {"Recibo de pago detallado", "Pagado el 6 mar 2026, cheque, ref. 1001", "Rigen las leyes locales", "polinización", "× 1/2", gross},
	} {
		page := r.do("GET", path, r.worker(), nil, "Accept", "text/html,application/xhtml+xml,*/*;q=0.8", "Accept-Language", lang).wants(http.StatusOK)
		for _, s := range want {
			if !strings.Contains(string(page.body), s) {
				r.Errorf("%s: the page lacks %q", lang, s)
			}
		}
		if page.header.Get("Content-Type") != "text/html; charset=utf-8" || page.header.Get("Content-Language") != lang ||
			!strings.Contains(page.header.Get("Content-Security-Policy"), "style-src 'sha256-") {
			r.Errorf("%s: %v", lang, page.header)
		}
		asked := r.do("GET", path+"?language="+lang, r.worker(), nil, "Accept", "text/html")
		if string(asked.body) != string(page.body) {
			r.Errorf("%s: asked for in the query, it is another page", lang)
		}
	}
	var whole wholeStatement
	r.do("GET", path, r.worker(), nil).wants(http.StatusOK).into(&whole)
	if whole.Heading.Worker.Name != "Ana Rojas" || whole.Run.State != "paid" || whole.Payment == nil || whole.Payment.Reference != "1001" || len(whole.Detail) != 9 {
		r.Errorf("%+v", whole)
	}
	if basis := whole.Statement.Lines[0].Basis; basis != "160 racimos × $1.15" {
		r.Errorf("in the account's own language: %q", basis)
	}
	if got := r.do("GET", "/api/v1/my/statements", r.worker(), nil).items(); len(got) != 1 {
		r.Errorf("%v", got)
	}
	r.do("GET", path, r.lead(), nil, "Accept", "text/html").wants(http.StatusNotFound)
	r.do("GET", fmt.Sprint("/api/v1/statements/", id), r.admin(), nil, "Accept", "text/html").wants(http.StatusOK)
	r.do("GET", path+"?language=fr", r.worker(), nil).wantsFaults(http.StatusBadRequest, "language")
}

func TestWhatMovesAfterADraft(t *testing.T) {
	each(t, func(r *rig) {
		_, v := r.drafted()
		late := r.ours.tally(r.ours.lead, 90)
		late["workday"], late["recorded_at"] = workday, workday+"T17:00:00-08:00"
		r.do("POST", "/api/v1/tallies", r.clerk(), late).wants(http.StatusCreated)
		r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wantsKey(http.StatusPreconditionFailed, "problem.inputs_moved")
		v = r.do("POST", v.path("/redraft"), r.clerk(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
		v = r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
		r.do("POST", v.path("/withdraw"), r.admin(), object{"reason": " "}, "If-Match", v.match()).wantsFaults(http.StatusUnprocessableEntity, "/reason")
		r.do("POST", v.path("/withdraw"), r.admin(), object{"reason": "a count is missing"}).wants(http.StatusPreconditionRequired)
		v = r.do("POST", v.path("/withdraw"), r.admin(), object{"reason": "a count is missing"}, "If-Match", v.match()).wants(http.StatusOK).run()
		if v.State != "draft" {
			r.Errorf("%+v", v)
		}
		v = r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
		b := r.briefs(v)[0]
		r.do("POST", v.path("/payments"), r.clerk(), object{"payments": []object{{"statement_id": b.ID, "paid_on": "2026-03-06", "method": "cash"}}}).wants(http.StatusOK)
		v = r.do("GET", v.path(""), r.clerk(), nil).run()
		r.do("POST", v.path("/withdraw"), r.admin(), object{"reason": "too late"}, "If-Match", v.match()).wantsKey(http.StatusConflict, "problem.paid_already")
	})
}

func TestDraftsAreMadeOnce(t *testing.T) {
	each(t, func(r *rig) {
		r.do("POST", runsPath, r.clerk(), object{"id": uuid.Nil, "kind": "monthly", "week_start": "2026-02-23"}).
			wantsFaults(http.StatusUnprocessableEntity, "/id", "/kind", "/week_start")
		request := draftRequest()
		v := r.do("POST", runsPath, r.clerk(), request).wants(http.StatusCreated).run()
		again := r.do("POST", runsPath, r.clerk(), request).wants(http.StatusOK)
		if again.run() != v || again.header.Get("Repeated") != "true" || again.header.Get("Location") != v.path("") {
			r.Errorf("%v %s", again.header, again.body)
		}
		r.do("POST", runsPath, r.clerk(), draftRequest()).wantsKey(http.StatusConflict, "problem.draft_exists")
		request["week_start"] = "2026-02-15"
		r.do("POST", runsPath, r.clerk(), request).wantsKey(http.StatusConflict, "problem.id_reused")
		r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wantsKey(http.StatusConflict, "problem.nothing_to_approve")
		for query, want := range map[string]int{"": 1, "?state=draft": 1, "?state=paid": 0, "?week_start=" + payWeek: 1, "?week_start=2026-02-15": 0} {
			if got := r.do("GET", runsPath+query, r.admin(), nil).items(); len(got) != want {
				r.Errorf("%s: %v", query, got)
			}
		}
		r.do("GET", runsPath+"?state=lost", r.admin(), nil).wantsFaults(http.StatusBadRequest, "state")
	})
}

func TestBadPayments(t *testing.T) {
	each(t, func(r *rig) {
		_, v := r.drafted()
		b := r.briefs(v)
		pay := func(p ...object) *answer { return r.do("POST", v.path("/payments"), r.clerk(), object{"payments": p}) }
		good := object{"statement_id": b[0].ID, "paid_on": "2026-03-06", "method": "check", "reference": "7"}
		pay(good).wantsKey(http.StatusConflict, "problem.run_state")
		v = r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
		pay().wantsFaults(http.StatusUnprocessableEntity, "/payments")
		pay(good, good, object{"statement_id": models.NewID(), "paid_on": "2026-02-01", "method": " "}).wantsFaults(http.StatusUnprocessableEntity,
			"/payments/1/statement_id", "/payments/2/method", "/payments/2/paid_on", "/payments/2/statement_id")
		if got := r.briefs(v)[0].Payment; got != nil {
			r.Errorf("half of it was kept: %+v", got)
		}
		pay(good).wants(http.StatusOK)
		pay(object{"statement_id": b[0].ID, "paid_on": "2026-03-06", "method": "cash"}).wantsFaults(http.StatusUnprocessableEntity, "/payments/0/statement_id")
	})
}

func TestProblemsAreToldAndDecided(t *testing.T) {
	each(t, func(r *rig) {
		sheet := r.ours.sheet()
		hand := models.NewID()
		sheet["new_workers"] = []object{{"id": hand, "name": "Chava"}}
		open := entry(hand, workday, "piece", "06:00", "07:00")
		delete(open, "end")
		noMeal := entry(r.ours.worker, "2026-02-24", "piece", "06:00", "12:00")
		r.do("POST", sheetsPath, r.lead(), object{
			"id": models.NewID(), "crew_id": r.ours.crew, "workday": "2026-02-24", "garden_id": r.ours.garden, "recorded_at": "2026-02-24T15:00:00-08:00",
			"roll": []uuid.UUID{r.ours.lead}, "time": []object{noMeal}, "tallies": []object{r.ours.tally(r.ours.worker, 200)},
		}).wants(http.StatusCreated)
		sheet["time"] = append(sheet["time"].([]object), open)
		r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusCreated)
		v := r.do("POST", runsPath, r.clerk(), draftRequest()).wants(http.StatusCreated).run()

		var page struct {
			Items []runProblem
			Next  string
		}
		r.do("GET", v.path("/problems?limit=200"), r.admin(), nil, "Accept-Language", "es").wants(http.StatusOK).into(&page)
		found := map[string]runProblem{}
		for _, p := range page.Items {
			found[p.Code] = p
		}
		if p := found["pay_problem.worker_provisional"]; p.Kind != "holds" || p.Worker == nil || p.Worker.Name != "Chava" || !strings.HasPrefix(p.Text, "De esta persona") || p.Date != nil {
			r.Errorf("%+v", p)
		}
		if p := found["pay_problem.time_open"]; p.Kind != "holds" || p.Date == nil || p.Date.String() != workday {
			r.Errorf("%+v", p)
		}
		called := found["pay_problem.on_roll_without_time"]
		if called.Kind != "decide" || called.Decision != nil {
			r.Fatalf("%+v in %+v", called, page.Items)
		}
		breaks := v.path(fmt.Sprintf("/problems/%d/decision", found["break.meal_due"].No))
		r.do("POST", breaks, r.clerk(), object{"decision": "she ate"}).wantsKey(http.StatusConflict, "problem.answer_the_question")
		r.do("GET", v.path("/problems?limit=1"), r.admin(), nil).into(&page)
		if page.Next == "" || len(page.Items) != 1 {
			r.Errorf("%+v", page)
		}
		decision := v.path(fmt.Sprintf("/problems/%d/decision", called.No))
		r.do("POST", decision, r.clerk(), object{"decision": ""}).wantsFaults(http.StatusUnprocessableEntity, "/decision")
		var decided runProblem
		r.do("POST", decision, r.clerk(), object{"decision": "he was ill that day, the lead forgot it"}).wants(http.StatusOK).into(&decided)
		if decided.Decision == nil || decided.Decision.DecidedBy != r.clerk().account {
			r.Errorf("%+v", decided)
		}
		r.do("POST", decision, r.clerk(), object{"decision": "he was ill that day, the lead forgot it"}).wants(http.StatusOK)
		r.do("POST", decision, r.clerk(), object{"decision": "something else"}).wantsKey(http.StatusConflict, "problem.decided_already")
		held := v.path(fmt.Sprintf("/problems/%d/decision", found["pay_problem.time_open"].No))
		r.do("POST", held, r.clerk(), object{"decision": "pay it"}).wantsKey(http.StatusConflict, "problem.not_to_decide")
		for _, no := range []string{"0", "99", "-1", "one", "99999999999"} {
			r.do("POST", v.path("/problems/"+no+"/decision"), r.clerk(), object{"decision": "x"}).wants(http.StatusNotFound)
		}
		s := r.do("GET", v.path(""), r.admin(), nil).object()
		if s["holds"] != 2.0 || s["statements"] != 2.0 {
			r.Errorf("%v", s)
		}
	})
}

func TestPayListIsNoProgram(t *testing.T) {
	each(t, func(r *rig) {
		name := `=HYPERLINK("http://example.test")`
		tricky := worker(name)
		var id uuid.UUID
		r.in(r.ours.Scope, func(tx *models.Tx) error { id = keep(r, tx, models.Create[models.WorkerContent], tricky); return nil })
		sheet := r.ours.sheet()
		sheet["time"] = append(sheet["time"].([]object), fullDay(id, workday)...)
		r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusCreated)
		v := r.do("POST", runsPath, r.clerk(), draftRequest()).wants(http.StatusCreated).run()
		list := r.do("GET", v.path("/pay-list.csv?language=es"), r.admin(), nil).wants(http.StatusOK)
		if got := list.header.Get("Content-Disposition"); got != `attachment; filename="pay-list-1-2026-02-22.csv"` || list.header.Get("Content-Type") != "text/csv; charset=utf-8" {
			r.Errorf("%v", list.header)
		}
		rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(list.body), "\ufeff"))).ReadAll()
		if err != nil || len(rows) != 5 || rows[0][1] != "Trabajador" || rows[3][1] != "'"+name || rows[4][1] != "Total" {
			r.Errorf("%v %q", err, rows)
		}
		r.do("GET", v.path("/pay-list.csv?language=xx"), r.admin(), nil).wantsFaults(http.StatusBadRequest, "language")
	})
}

// What is another employer's, or nobody's, is not there; what is another worker's neither.
func TestPayIsTheEmployersOwn(t *testing.T) {
	each(t, func(r *rig) {
		sheet, v := r.drafted()
		v = r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
		statement := r.briefs(v)[0].ID
		match := []string{"If-Match", v.match()}
		adjustment := r.lateTally(20).AdjustmentID
		for _, route := range slices.Concat(sheetRoutes(), workRoutes(), payRunRoutes(), breakRoutes(), statementRoutes(), adjustmentRoutes(), myRoutes()) {
			if !strings.Contains(route.Path, "{") {
				continue
			}
			id := v.ID.String()
			switch {
			case strings.Contains(route.Path, "statements/{id}"):
				id = statement.String()
			case strings.Contains(route.Path, "adjustments"):
				id = adjustment.String()
			case strings.Contains(route.Path, "lots"):
				id = fmt.Sprint(sheet["lots"].([]object)[0]["id"])
			case strings.Contains(route.Path, "crew-sheets"):
				id = fmt.Sprint(sheet["id"])
			case strings.Contains(route.Path, "tallies"):
				id = fmt.Sprint(sheet["tallies"].([]object)[0]["id"])
			case strings.Contains(route.Path, "time-entries"):
				id = fmt.Sprint(sheet["time"].([]object)[0]["id"])
			}
			path := strings.NewReplacer("{id}", id, "{no}", "1").Replace(route.Path)
			var body any
			if b, ok := steps[route.Path]; ok {
				body = b
			}
			for _, role := range route.Roles {
				r.do(route.Method, path, r.theirs.people[role], body, match...).wants(http.StatusNotFound)
			}
		}
		r.do("GET", fmt.Sprint("/api/v1/my/statements/", statement), r.worker(), nil).wants(http.StatusOK)
		r.do("GET", fmt.Sprint("/api/v1/my/statements/", statement), r.lead(), nil).wants(http.StatusNotFound)
		r.do("GET", fmt.Sprint("/api/v1/statements/", statement), r.worker(), nil).wants(http.StatusForbidden)
	})
}

func TestPrefersHTML(t *testing.T) {
	got := map[string]bool{}
	want := map[string]bool{
		"": false, "*/*": false, "application/json": false, "text/html": true, "text/html, application/json": false, "text/html, application/json;q=0.9": true,
		"text/html;q=0.5, application/json": false, "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8": true, "text/html;q=0": false, ";;": false,
		"text/html;q=NaN": false,
	}
	for accept := range want {
		got[accept] = prefersHTML(accept)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}
