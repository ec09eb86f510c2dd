package pages_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
	"palmero/payroll/dated"
)

func init() {
	for name, who := range map[string]string{
		"GET /pay":                "ca",
		"POST /pay":               "c",
		"GET /pay/{id}":           "ca",
		"POST /pay/{id}/redraft":  "c",
		"POST /pay/{id}/approve":  "ca",
		"POST /pay/{id}/withdraw": "ca",
		"GET /pay/{id}/problems":  "ca",
		"POST /pay/{id}/problems": "c",
		"GET /statements/{id}":    "ca",

		"GET /pay/{id}/payments":        "ca",
		"POST /pay/{id}/payments":       "c",
		"GET /pay/{id}/list":            "ca",
		"GET /pay/{id}/print":           "ca",
		"POST /statements/{id}/payment": "c",
		"POST /statements/{id}/unpaid":  "c",
		"POST /statements/{id}/void":    "ca",
		"GET /corrections":              "ca",
		"POST /corrections":             "c",
		"POST /corrections/decisions":   "c",
		"POST /corrections/runs":        "c",
		"GET /final-pay":                "c",
		"POST /final-pay":               "c",
	} {
		allowed[name] = who
	}
}

var problemLink = regexp.MustCompile(`href="(/pay/[0-9a-f-]{36}/problems\?[^"#]*open=[^"#]*)#open"`)

// drafted drafts the season's open week by the clerk's page, and returns the address of the run.
func (b *browser) drafted() string {
	b.Helper()
	p := b.get("/pay").says("2026-02-22")
	form := url.Values{"id": {p.hidden("id")}, "week_start": {"2026-02-25"}}
	at := b.posted("/pay", form).wants(http.StatusSeeOther).header.Get("Location")
	b.posted("/pay", form).leads(at) // the button was pressed twice
	return strings.TrimSuffix(at, "?done=drafted")
}

// posted sends a form, and waits until the step that it began has ended.
func (b *browser) posted(path string, form url.Values) *page {
	b.Helper()
	p := b.post(path, form)
	if to := p.header.Get("Location"); strings.Contains(to, "?step=") {
		return b.get(to).awaited()
	}
	return p
}

// awaited reads a page that tells how far a step has come until it tells something else.
func (p *page) awaited() *page {
	p.Helper()
	for path := strings.TrimPrefix(p.what, "GET "); p.header.Get("Refresh") != ""; p = p.get(path) {
		time.Sleep(20 * time.Millisecond)
	}
	return p
}

// problem opens the problem of a run that says some text, and returns its page and the form that settles it.
func (b *browser) problem(run, text string) (*page, url.Values) {
	b.Helper()
	list := b.get(run + "/problems")
	for _, part := range strings.Split(list.main(), "<li")[1:] {
		if m := problemLink.FindStringSubmatch(part); m != nil && strings.Contains(part, text) {
			p := b.get(strings.ReplaceAll(m[1], "&amp;", "&")).says(`id="open"`)
			form := url.Values{"id": {p.hidden("id")}, "problem": {p.hidden("problem")}, "from": {p.hidden("from")}}
			if strings.Contains(p.body, `name="version"`) {
				form.Set("version", p.hidden("version"))
			}
			return p, form
		}
	}
	b.Fatalf("no problem of %s says %q and can be settled: %s", run, text, list.main())
	return nil, nil
}

func with(form url.Values, pairs ...string) url.Values {
	for i := 0; i < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	return form
}

// A clerk settles what the season left open and drafts anew; the owner approves, which the clerk may not.
func TestFromProblemsToApproval(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel := s.as("hazel", "en")
		hazel.get("/pay").says("The week from Feb 22, 2026 is over and not drafted yet.", `href="/pay#draft"`)
		hazel.post("/pay", url.Values{"week_start": {"soon"}}).wants(http.StatusUnprocessableEntity).says(`href="#week_start"`, `value="soon"`)
		run := hazel.drafted()
		hazel.get(run).says("Problems that hold somebody&#39;s pay: 4.", "gross pay. Statements: 21", "Eusebio Talamantes", "You drafted this pay run").hides("Approve 21")
		problems := run + "/problems"

		_, end := hazel.problem(run, "has no end")
		hazel.post(problems, with(end, "end", "three", "reason", "x")).wants(http.StatusUnprocessableEntity).says(`href="#end"`, `id="end-fault"`, `value="three"`)
		hazel.post(problems, with(end, "end", "15:00", "reason", " ")).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		for range 2 {
			hazel.post(problems, with(end, "end", "15:00", "reason", "He went home with the others at three")).leads(problems + "?done=time_ended")
		}
		hazel.get(problems).says("settled since the draft", "Settled since the draft: 1.")

		_, rate := hazel.problem(run, "Nobody has set what bagging pays")
		hazel.post(problems, with(rate, "rate", "-1", "where", "block", "effective_on", "2026-02-01")).wants(http.StatusUnprocessableEntity).says(`href="#rate"`)
		hazel.post(problems, with(rate, "rate", "0.46")).leads(problems + "?done=rate_given")

		_, hand := hazel.problem(run, "known by name only")
		hazel.post(problems, hand).wants(http.StatusUnprocessableEntity).says(`href="#is"`)
		hazel.post(problems, with(hand, "is", "known", "number", "999")).wants(http.StatusUnprocessableEntity).says("Nobody here has the number 999.")
		hazel.post(problems, with(hand, "is", "new", "name", "Jesús Lomelí", "address", "", "language", "es", "started_on", "2026-02-23")).wants(http.StatusUnprocessableEntity).says(`href="#address"`)
		hazel.post(problems, with(hand, "address", "7 Siphon Road")).leads(problems + "?done=hand_settled")

		_, meal := hazel.problem(run, "No meal period")
		hazel.post(problems, meal).wants(http.StatusUnprocessableEntity).says(`href="#answer"`)
		hazel.post(problems, with(meal, "answer", "provided")).wants(http.StatusUnprocessableEntity).says(`href="#note"`)
		hazel.post(problems, with(meal, "answer", "owed", "note", "Not relieved all day")).leads(problems + "?done=answered")

		_, count := hazel.problem(run, "more than the 36 that one worker")
		tally := regexp.MustCompile(`name="tally" value="([^"]+)"`)
		p, _ := hazel.problem(run, "more than the 36 that one worker")
		id := tally.FindStringSubmatch(p.body)
		if id == nil {
			t.Fatal(p.main())
		}
		hazel.post(problems, with(count, "fix", "count", "tally", id[1], "pieces", "17", "reason", "The lead meant 17")).leads(problems + "?done=count_corrected")

		p = hazel.get(run)
		hazel.posted(run+"/redraft", url.Values{"version": {p.hidden("version")}}).leads(run + "?done=redrafted")
		hazel.post(run+"/redraft", url.Values{"version": {p.hidden("version")}}).wants(http.StatusPreconditionFailed)
		p = hazel.get(run)
		if strings.Contains(p.body, "Noel Castañeda: ") {
			t.Errorf("a corrected count is still far from usual: %s", p.main())
		}
		hazel.post(run+"/approve", url.Values{"version": {p.hidden("version")}}).wants(http.StatusForbidden)

		abril := s.as("abril", "es")
		abril.get("/pay").says("espera que lo apruebe una segunda persona")
		p = abril.get(run)
		abril.posted(run+"/approve", url.Values{"version": {p.hidden("version")}}).leads(run + "?done=approved")
		abril.get(run).says("aprobada, por pagar")
		abril.post(run+"/withdraw", url.Values{"version": {abril.get(run).hidden("version")}}).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		abril.post(run+"/withdraw", url.Values{"version": {abril.get(run).hidden("version")}, "reason": {"Too early"}}).leads(run + "?done=withdrawn")
	})
}

var (
	statementLink = regexp.MustCompile(`href="(/statements/[0-9a-f-]{36})"`)
	openLink      = regexp.MustCompile(`href="(/corrections\?week=[0-9-]+&amp;open=[0-9a-f-]{36})#open"`)
)

// What is approved is paid, on paper and one by one; a payment that fails is taken back, and paid again.
func TestPayAndPaper(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel, abril := s.as("hazel", "en"), s.as("abril", "en")
		run := hazel.drafted()
		hazel.get(run + "/payments").says("This pay run is a draft.")
		abril.posted(run+"/approve", url.Values{"version": {abril.get(run).hidden("version")}}).leads(run + "?done=approved")
		hazel.get("/").says("Statements to pay: 21", `href="`+run+`/payments"`)
		hazel.get(run+"/list").says("Received (signature)", "Eusebio Talamantes", "The crew together", "not sealed yet")
		print := hazel.get(run+"/print").says("Eusebio Talamantes", "The next statements")
		if n := strings.Count(print.body, `class="sheet page"`); n != 5 {
			t.Errorf("%d statements on a page", n)
		}
		_, table, _ := strings.Cut(hazel.get(run).body, "<tbody>")
		ids := statementLink.FindAllStringSubmatch(table, -1)
		first, second := ids[0][1], ids[1][1]
		hazel.get(first+"?kind=hours").says("By the hour: why it is so much", "Provision: Cal. Lab. Code", "/rulebooks/us-ca#")

		hazel.post(second+"/void", url.Values{"reason": {""}}).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		hazel.post(second+"/void", url.Values{"reason": {"Another address"}}).leads(second + "?done=void")
		hazel.post(second+"/payment", url.Values{"payments.0.paid_on": {"2026-03-06"}, "payments.0.method": {"check"}}).wants(http.StatusUnprocessableEntity)

		payments := url.Values{"payments.0.paid_on": {"2026-03-06"}, "payments.0.method": {"check"}, "payments.0.reference": {"0998"}, "who": {"chosen"}}
		hazel.post(run+"/payments", payments).wants(http.StatusUnprocessableEntity).says(`href="#who"`, `value="0998"`)
		hazel.post(run+"/payments", with(payments, "who", "all", "payments.0.paid_on", "2026-01-06")).wants(http.StatusUnprocessableEntity).says(`href="#payments.0.paid_on"`)
		for range 2 {
			hazel.post(run+"/payments", with(payments, "payments.0.paid_on", "2026-03-06")).leads(run + "?done=paid")
		}
		hazel.get(first).says("paid Mar 6, 2026", "check 0998")
		hazel.get(run + "/payments").says("Everybody in this pay run is recorded as paid.")
		hazel.get(run + "/list").says("check 1000")

		failed := url.Values{"id": {hazel.get(first).hidden("id")}, "outcome": {"failed"}, "happened_on": {"2026-03-09"}, "reason": {" "}}
		hazel.post(first+"/unpaid", failed).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		s.clock.Set(time.Date(2026, 3, 10, 18, 0, 0, 0, time.UTC))
		hazel = s.as("hazel", "en")
		for range 2 {
			hazel.post(first+"/unpaid", with(failed, "reason", "The bank sent it back")).leads(first + "?done=unpaid")
		}
		hazel.get(first).says("The bank sent it back", "failed, check 0998")
		hazel.post(first+"/payment", url.Values{"payments.0.paid_on": {"2026-03-10"}, "payments.0.method": {"cash"}}).leads(first + "?done=one_paid")
	})
}

// A count that is corrected after its week was paid becomes a difference, which the clerk accepts and pays at once; somebody who leaves is settled.
func TestCorrectionsAndFinalPay(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel := s.as("hazel", "en")
		hazel.get("/corrections").says("Past weeks")
		hazel.post("/corrections", url.Values{"week": {"last"}}).wants(http.StatusUnprocessableEntity).says(`href="#week"`)
		hazel.post("/corrections", url.Values{"week": {"2026-02-17"}}).says("The week from Feb 15, 2026, looked at again", "No difference is kept for this week.")
		s.correctTally("hazel", 18, "2026-02-17", 9_000)
		p := hazel.post("/corrections", url.Values{"week": {"2026-02-17"}}).says("Inés Barraza", "waits for your decision", "Piece work, pollination")
		open := openLink.FindStringSubmatch(p.body)
		if open == nil {
			t.Fatal(p.main())
		}
		p = hazel.get(strings.ReplaceAll(open[1], "&amp;", "&"))
		form := url.Values{"id": {p.hidden("id")}, "version": {p.hidden("version")}, "week": {p.hidden("week")}, "open": {p.hidden("open")}, "state": {"accepted"}, "records": {"yes"}}
		hazel.post("/corrections/decisions", form).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		hazel.post("/corrections/decisions", with(form, "reason", "The lead found nine more")).leads("/corrections?week=2026-02-15&done=correction_accepted")
		hazel.post("/corrections/decisions", form).wants(http.StatusPreconditionFailed)
		p = hazel.get("/corrections?week=2026-02-15").says("accepted, $", "Draft a correction")
		run := hazel.posted("/corrections/runs", url.Values{"id": {p.hidden("id")}, "week": {"2026-02-15"}}).wants(http.StatusSeeOther).header.Get("Location")
		hazel.get(run).says("a correction", "Inés Barraza").hides("Eusebio")

		hazel.post("/final-pay", url.Values{}).wants(http.StatusUnprocessableEntity).says(`href="#number"`, `href="#through_date"`, `href="#ending"`)
		final := url.Values{"id": {hazel.get("/final-pay").hidden("id")}, "number": {"777"}, "through_date": {"2026-02-27"}, "ending": {"discharge"}}
		hazel.post("/final-pay", final).wants(http.StatusUnprocessableEntity).says("Nobody here has the number 777.")
		run = hazel.posted("/final-pay", with(final, "number", "7")).wants(http.StatusSeeOther).header.Get("Location")
		hazel.get(run).says("a final run", "Yadira Montaño").hides("Eusebio")
	})
}

// correctTally puts another count in the place of a worker's first of a day.
func (s *site) correctTally(account string, number int64, day string, more payroll.Pieces) {
	s.Helper()
	employer, err := s.store.FindEmployer(s.Context(), "media-tarde")
	if err != nil {
		s.Fatal(err)
	}
	err = s.store.In(s.Context(), models.Scope{Employer: employer.ID, Actor: s.account(account)}, func(tx *models.Tx) error {
		workers, err := models.List[models.Worker](tx, models.Page{Limit: 1}, models.Equal("number", number))
		if err != nil {
			return err
		}
		on := models.Day(dated.MustDate(day))
		tallies, err := models.List[models.Tally](tx, models.Page{Limit: 1}, models.Equal("worker_id", workers[0].ID), models.WorkedFrom(on.Date), models.WorkedThrough(on.Date), models.Where("pieces IS NOT NULL"))
		if err != nil {
			return err
		}
		old := tallies[0]
		_, _, err = intake.RecordTally(tx, intake.SingleTally{Workday: on, RecordedAt: tx.Now, TallyLine: intake.TallyLine{ID: models.NewID(), WorkerID: old.Content.WorkerID,
			BlockID: old.Content.BlockID, OperationID: old.Content.OperationID, Pieces: *old.Content.Pieces + more, Correction: intake.Correction{Supersedes: &old.ID, Reason: "Found"}}})
		return err
	})
	if err != nil {
		s.Fatal(err)
	}
}

// account is the identifier of somebody's account.
func (s *site) account(signInName string) (id uuid.UUID) {
	s.Helper()
	employer, err := s.store.FindEmployer(s.Context(), "media-tarde")
	if err != nil {
		s.Fatal(err)
	}
	err = s.store.View(s.Context(), models.Scope{Employer: employer.ID}, func(tx *models.Tx) error {
		accounts, err := models.List[models.Account](tx, models.Page{Limit: 1}, models.Equal("sign_in_name", signInName))
		if err == nil {
			id = accounts[0].ID
		}
		return err
	})
	if err != nil {
		s.Fatal(err)
	}
	return id
}
