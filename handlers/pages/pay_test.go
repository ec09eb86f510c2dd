package pages_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
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
	at := b.post("/pay", form).wants(http.StatusSeeOther).header.Get("Location")
	b.post("/pay", form).leads(at) // the button was pressed twice
	return strings.TrimSuffix(at, "?done=drafted")
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

		_, rate := hazel.problem(run, "no piece rate")
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

		_, count := hazel.problem(run, "over the limit of 36")
		tally := regexp.MustCompile(`name="tally" value="([^"]+)"`)
		p, _ := hazel.problem(run, "over the limit of 36")
		id := tally.FindStringSubmatch(p.body)
		if id == nil {
			t.Fatal(p.main())
		}
		hazel.post(problems, with(count, "fix", "count", "tally", id[1], "pieces", "17", "reason", "The lead meant 17")).leads(problems + "?done=count_corrected")

		p = hazel.get(run)
		hazel.post(run+"/redraft", url.Values{"version": {p.hidden("version")}}).leads(run + "?done=redrafted")
		hazel.post(run+"/redraft", url.Values{"version": {p.hidden("version")}}).wants(http.StatusPreconditionFailed)
		p = hazel.get(run)
		if strings.Contains(p.body, "Noel Castañeda: ") {
			t.Errorf("a corrected count is still far from usual: %s", p.main())
		}
		hazel.post(run+"/approve", url.Values{"version": {p.hidden("version")}}).wants(http.StatusForbidden)

		abril := s.as("abril", "es")
		abril.get("/pay").says("espera que lo apruebe una segunda persona")
		p = abril.get(run)
		abril.post(run+"/approve", url.Values{"version": {p.hidden("version")}}).leads(run + "?done=approved")
		abril.get(run).says("aprobada, por pagar")
		abril.post(run+"/withdraw", url.Values{"version": {abril.get(run).hidden("version")}}).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		abril.post(run+"/withdraw", url.Values{"version": {abril.get(run).hidden("version")}, "reason": {"Too early"}}).leads(run + "?done=withdrawn")
	})
}
