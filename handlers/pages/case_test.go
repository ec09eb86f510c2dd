package pages_test

import (
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"palmero/models"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /incidents/{id}":             "sa",
		"GET /incidents/{id}/correction":  "sa",
		"POST /incidents/{id}/correction": "sa",
		"GET /incidents/{id}/facts":       "sa",
		"POST /incidents/{id}/facts":      "sa",
		"GET /incidents/{id}/work":        "sa",
		"POST /incidents/{id}/work":       "sa",
		"GET /incidents/{id}/agency":      "sa",
		"POST /incidents/{id}/agency":     "sa",
		"GET /incidents/{id}/decision":    "sa",
		"POST /incidents/{id}/decision":   "sa",
		"GET /incidents/{id}/note":        "sa",
		"POST /incidents/{id}/note":       "sa",
		"GET /photos/add":                 "ls",
		"POST /photos/add":                "ls",
		"GET /photos/{id}":                "lsa",
		"GET /photos/{id}/small":          "lsa",
		"POST /my/training/{id}":          "wl",
		"POST /my/stops/{id}":             "wl",
		"GET /injury-log.csv":             "sa",
		"GET /injury-log/private":         "sa",
		"GET /injury-summary":             "sa",
		"GET /injury-summary.csv":         "sa",
		"POST /injury-summary":            "sa",
	})
}

var workerChoice = regexp.MustCompile(`<option value="([0-9a-f-]{36})">Inés Barraza</option>`)

// cut reports a cut of Inés's and returns the address of its case.
func (b *browser) cut(more url.Values) string {
	b.Helper()
	p := b.get("/incidents/new")
	worker := workerChoice.FindStringSubmatch(p.body)
	garden := regexp.MustCompile(`<option value="([0-9a-f-]{36})"`).FindStringSubmatch(p.body)
	form := url.Values{"id": {p.hidden("id")}, "kind": {"knife_cut"}, "day": {"2026-02-27"}, "happened_at": {"09:15"}, "garden_id": {garden[1]}, "worker_id": {worker[1]},
		"description": {"The knife <slipped>"}, "body_part": {"left thumb"}}
	maps.Copy(form, more)
	at := "/incidents/" + form.Get("id")
	b.post("/incidents/new", form).leads(at + "?done=incident")
	return at
}

func TestCase(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("oscar", "es").speak("en")
		at := b.cut(nil)
		b.get(at).says("Inés Barraza", "The knife &lt;slipped&gt;", "cannot be told yet", "It is not known: the treatment", "nobody has said yet", `href="`+at+`/decision"`)
		learn(b, at)
		countOut(b, at)
		tellAgency(b, at)
		decideCase(b, at)
		correctReport(b, at)
		b.get("/incidents/" + models.NewID().String()).wants(http.StatusNotFound)
		b.get("/incidents/nonsense").wants(http.StatusNotFound)
	})
}

// learn adds facts: what is left as it stands says nothing, and what is sent twice is there once.
func learn(b *browser, at string) {
	b.Helper()
	p := b.get(at+"/facts").says("as it stands: not known", "thorn or splinter")
	form := url.Values{"id": {p.hidden("id")}, "day": {"2026-02-27"}, "happened_at": {"10:00"}}
	b.post(at+"/facts", form).wants(http.StatusUnprocessableEntity).says(`href="#treatment"`, "at least one fact")
	form.Set("treatment", "prayer")
	b.post(at+"/facts", form).wants(http.StatusUnprocessableEntity).says(`href="#treatment"`)
	form.Set("treatment", "medical")
	form.Set("day", "2026-09-01")
	b.post(at+"/facts", form).wants(http.StatusUnprocessableEntity).says(`href="#happened_at"`)
	form.Set("day", "2026-02-26")
	b.post(at+"/facts", form).wants(http.StatusUnprocessableEntity).says("before it happened, on Feb 27, 2026")
	form.Set("day", "2026-02-27")
	form.Set("note", "Six stitches")
	for range 2 {
		b.post(at+"/facts", form).leads(at + "?done=case_facts")
	}
	p = b.get(at).says("more than first aid", "belongs in the log by the rules", "29 CFR 1904.7", "Six stitches")
	if n := strings.Count(p.body, "Six stitches"); n != 1 {
		b.Errorf("what was sent twice is there %d times", n)
	}
	b.get(at + "/facts").says("as it stands: more than first aid")
}

// countOut counts days away up to the limit of a case.
func countOut(b *browser, at string) {
	b.Helper()
	form := url.Values{"id": {b.get(at + "/work").hidden("id")}, "work_status": {"away"}}
	b.post(at+"/work", form).wants(http.StatusUnprocessableEntity).says(`href="#from_date"`, `checked`)
	form.Set("from_date", "2026-02-27")
	b.post(at+"/work", form).leads(at + "?done=case_work")
	b.get(at).says("3 days away, 0 restricted", "away from work", "29 CFR 1904.7")
	ahead := url.Values{"id": {models.NewID().String()}, "work_status": {"restricted"}, "from_date": {"2026-03-02"}}
	b.post(at+"/work", ahead).leads(at + "?done=case_work")
	b.get(at).says("2 days away, 1 restricted")
	b.clock.Start(b.clock.Now().AddDate(0, 0, 300))
	b.signIn("oscar", "palm by palm")
	b.get(at).says("2 days away, 178 restricted", "the log stops at its limit")
	b.clock.Start(b.clock.Now().AddDate(0, 0, -300))
	b.signIn("oscar", "palm by palm")
}

// tellAgency is due from when it was known, until it is on record.
func tellAgency(b *browser, at string) {
	b.Helper()
	b.post(at+"/facts", url.Values{"id": {models.NewID().String()}, "inpatient": {"yes"}, "day": {"2026-03-01"}, "happened_at": {"18:00"}}).leads(at + "?done=case_facts")
	b.get(at).says("report the admission to hospital", `href="`+at+`/agency"`)
	p := b.get(at+"/agency").says("report the admission to hospital", "reports nothing by itself")
	form := url.Values{"id": {p.hidden("id")}, "day": {"2026-03-02"}, "happened_at": {"06:00"}, "note": {"Number 4711"}}
	b.post(at+"/agency", form).wants(http.StatusUnprocessableEntity).says(`href="#reported_to"`, "Number 4711")
	form.Set("reported_to", "The agency's office in Calexico")
	form.Set("agency_reference", "318-<99>")
	for range 2 {
		b.post(at+"/agency", form).leads(at + "?done=case_agency")
	}
	b.get(at).says("The agency&#39;s office in Calexico", "Number 4711", ", number 318-&lt;99&gt;: <q>", "; number 318-&lt;99&gt;.").hides("report the admission to hospital")
}

// decideCase puts the officer's word before that of the rules, with its reason.
func decideCase(b *browser, at string) {
	b.Helper()
	p := b.get(at + "/decision").says("The treatment was more than first aid.")
	form := url.Values{"id": {p.hidden("id")}, "recordable": {"no"}, "day": {p.hidden("day")}, "happened_at": {p.hidden("happened_at")}}
	b.post(at+"/decision", form).wants(http.StatusUnprocessableEntity).says(`href="#note"`)
	form.Set("note", "It happened at home")
	for range 2 {
		b.post(at+"/decision", form).leads(at + "?done=case_decision")
	}
	b.get(at).says("not in the log, by the officer&#39;s decision", "It happened at home")
	b.get("/injury-log?year=2026").hides("slipped")
	b.post(at+"/decision", url.Values{"recordable": {"yes"}, "note": {"It did not"}}).leads(at + "?done=case_decision")
	b.get("/injury-log?year=2026").says("slipped", "Inés Barraza")
}

// correctReport makes it a privacy case: the name leaves every list, and the report that stood is still told of.
func correctReport(b *browser, at string) {
	b.Helper()
	p := b.get(at+"/correction").says("The knife &lt;slipped&gt;", "left thumb", `value="09:15"`)
	form := url.Values{"id": {p.hidden("id")}, "stands": {p.hidden("stands")}}
	for _, name := range []string{"kind", "garden_id", "worker_id"} {
		form.Set(name, regexp.MustCompile(`(?s)<select id="` + name + `".*?value="([^"]+)" selected`).FindStringSubmatch(p.body)[1])
	}
	maps.Copy(form, url.Values{"day": {"2026-02-27"}, "happened_at": {"09:20"}, "description": {"The knife slipped off the thorn"}, "privacy": {"asked"}, "equipment": {"X-99"}, "height_ft": {"many"}})
	b.post(at+"/correction", form).wants(http.StatusUnprocessableEntity).says(`href="#equipment"`, "No piece of equipment is called X-99.", `href="#height_ft"`)
	form.Set("equipment", "g-1")
	form.Set("height_ft", "12.5")
	b.post(at+"/correction", form).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
	form.Set("reason", "She asked for her name to be kept off")
	for range 2 {
		b.post(at+"/correction", form).leads(at + "?done=case_corrected")
	}
	b.get(at).says("privacy case", "slipped off the thorn", "G-1", "12.5", "She asked for her name to be kept off", "Inés Barraza")
	b.get("/injury-log?year=2026").says("privacy case", "slipped off the thorn").hides("Inés Barraza")
	b.get("/incidents").says("privacy case").hides("Inés Barraza")
	form.Set("id", models.NewID().String())
	b.post(at+"/correction", form).wants(http.StatusConflict)
}

// A year's summary is certified by name and title when the year is over, again with a reason, and kept as a file; the names of privacy cases are on their own list alone.
func TestSummaryOfAYear(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("oscar", "es").speak("en")
		at := b.cut(url.Values{"day": {"2025-11-03"}, "privacy": {"asked"}})
		b.post(at+"/facts", url.Values{"treatment": {"medical"}}).leads(at + "?done=case_facts")
		b.get("/injury-log/private?year=2025").says("Inés Barraza", "the worker asked for it")
		log := b.get("/injury-log.csv?year=2025").wants(http.StatusOK).hides("Inés Barraza")
		log.says("slipped")
		p := b.get("/injury-summary").says("Summary of injuries and illnesses, 2025", "not certified yet", "Feb 1, 2026", "Apr 30, 2026", "has to hang today", "29 CFR 1904.32").hides("Inés Barraza")
		form := url.Values{"id": {p.hidden("id")}, "year": {p.hidden("year")}, "average_employees": {"none"}}
		b.post("/injury-summary", form).wants(http.StatusUnprocessableEntity).says(`href="#average_employees"`)
		form.Set("average_employees", "22")
		b.post("/injury-summary", form).wants(http.StatusUnprocessableEntity).says(`href="#certified_by"`, `href="#certified_title"`, `href="#certified_on"`)
		maps.Copy(form, url.Values{"certified_by": {"Abril Medina"}, "certified_title": {"Owner"}, "certified_on": {"2026-02-02"}})
		for range 2 {
			b.post("/injury-summary", form).leads("/injury-summary?year=2025&done=summary_certified")
		}
		p = b.get("/injury-summary?year=2025").says("Abril Medina", "Owner", "not posted yet", "true, correct and complete")
		again := url.Values{"id": {p.hidden("id")}, "year": {"2025"}, "stands": {p.hidden("stands")}, "posted_on": {"2026-02-03"}}
		for _, name := range []string{"average_employees", "certified_by", "certified_title", "certified_on"} {
			again.Set(name, form.Get(name))
		}
		b.post("/injury-summary", again).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		again.Set("reason", "posted")
		b.post("/injury-summary", again).leads("/injury-summary?year=2025&done=summary_certified")
		b.get("/injury-summary?year=2025").hides("not posted yet")
		b.get("/injury-summary.csv?year=2025").says("Abril Medina")
		b.get("/injury-summary?year=2026").says("the year is not over").hides("<form method=\"post\" action=\"/injury-summary\"")
		form.Set("year", "2026")
		form.Set("id", models.NewID().String())
		b.post("/injury-summary", form).wants(http.StatusConflict).says("The year 2026 is not over.")
		b.get("/injury-summary?year=1066").says("2025")
	})
}

// The season has a case of its own: the log leads to it, its days and the gear that had a part in it stand there, and the worker's lead reads nothing of it.
func TestTheSeasonsCase(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("oscar", "es").speak("en")
		at := b.get("/injury-log").says("Shelby Amundson", "Mano izquierda; Espina de palma").hides(".;").linkOf("1")
		b.get(at).says("belongs in the log, by the officer&#39;s decision", "Guantes de espina G", "Tue Feb 10, 2026", "Thu Feb 12, 2026", "There were days away from work")
		b.get("/injury-summary?year=2026").says(`<th scope="row">Days away from work</th><td class="n">3</td>`)
		s.as("ramiro", "es").get(at).wants(http.StatusForbidden)
	})
}
