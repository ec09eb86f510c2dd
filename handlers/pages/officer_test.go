package pages_test

import (
	"html"
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
		"GET /clearance":                  "sa",
		"GET /clearance/{id}":             "sa",
		"GET /uncleared-work":             "sa",
		"GET /uncleared-work/{id}":        "sa",
		"POST /uncleared-work/{id}":       "s",
		"GET /checklists":                 "sa",
		"GET /checklists/{id}":            "sa",
		"POST /checklists/{id}":           "s",
		"GET /stops":                      "sa",
		"GET /stops/new":                  "s",
		"POST /stops/new":                 "s",
		"GET /stops/{id}":                 "sa",
		"POST /stops/{id}":                "s",
		"GET /equipment":                  "sa",
		"GET /equipment/{id}":             "sa",
		"POST /equipment/{id}":            "s",
		"GET /equipment/{id}/inspection":  "s",
		"POST /equipment/{id}/inspection": "s",
		"POST /equipment/{id}/mending":    "s",
		"GET /palms-to-avoid":             "sa",
		"POST /palms-to-avoid":            "s",
		"GET /palms-to-avoid/{id}":        "sa",
		"POST /palms-to-avoid/{id}":       "s",
		"GET /training":                   "sa",
		"GET /training/meeting":           "s",
		"POST /training/meeting":          "s",
		"GET /training/workers/{id}":      "sa",
		"GET /incidents":                  "sa",
		"GET /incidents/new":              "sa",
		"POST /incidents/new":             "sa",
		"GET /injury-log":                 "sa",
		"GET /my/safety":                  "wl",
		"POST /my/gear/{id}":              "wl",
		"GET /my/training":                "wl",
	})
}

var (
	checklistLink = regexp.MustCompile(`/checklists/[0-9a-f-]{36}`)
	pieceLink     = regexp.MustCompile(`/equipment/[0-9a-f-]{36}`)
	palmLink      = regexp.MustCompile(`/palms-to-avoid/[0-9a-f-]{36}`)
	memberBox     = regexp.MustCompile(`name="attendees" value="([0-9a-f-]{36})"`)
	unclearedLink = regexp.MustCompile(`/uncleared-work/[0-9a-f-]{36}\?on=[0-9-]{10}`)
)

// first is the first address on the page that is of a kind.
func (p *page) first(kind *regexp.Regexp) string {
	p.Helper()
	found := kind.FindString(html.UnescapeString(p.body))
	if found == "" {
		p.Fatalf("%s has no link of %s: %s", p.what, kind, p.main())
	}
	return found
}

func TestOfficerDecides(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("oscar", "es").speak("en")
		reviewAndStop(b)
		takeOutAndBack(b)
		avoidAndRelease(b)
		signOffTwice(b)
		settleOne(b)
		reportOne(b)
	})
}

// A list is reviewed with a stop: the reason is wanted, a form sent twice stops once, and the stop is there to be lifted.
func reviewAndStop(b *browser) {
	b.Helper()
	path := b.get("/checklists").first(checklistLink)
	form := url.Values{"id": {b.get(path).says("Stop the climb").hidden("id")}, "decision": {"stopped"}}
	b.post(path, form).wants(http.StatusUnprocessableEntity).says(`href="#reason"`, `id="reason-fault"`)
	form.Set("reason", "The <b>rope</b> is frayed")
	for range 2 {
		b.post(path, form).leads("/stops?done=stopped")
	}
	form.Set("id", "")
	b.post(path, form).wants(http.StatusConflict)
	b.get(path).says("climb stopped", "The &lt;b&gt;rope&lt;/b&gt; is frayed")
	s := b.get("/stops/new").says("Stop a crew")
	crew := regexp.MustCompile(`<option value="([0-9a-f-]{36})"`).FindStringSubmatch(s.body)[1]
	b.post("/stops/new", url.Values{"id": {s.hidden("id")}, "crew_id": {crew}, "workday": {"nonsense"}}).wants(http.StatusUnprocessableEntity).says(`href="#workday"`)
	b.post("/stops/new", url.Values{"id": {s.hidden("id")}, "crew_id": {crew}, "workday": {"2026-03-02"}, "reason": {"Wind"}}).leads("/stops?done=stopped")
	stop := b.get("/stops?done=stopped").says("The climb is stopped.", "Wind").first(regexp.MustCompile(`/stops/[0-9a-f-]{36}`))
	lift := b.get(stop)
	b.get("/clearance/" + crew).says("Wind")
	b.post(stop, url.Values{"id": {lift.hidden("id")}, "reason": {"Calm"}}).wants(http.StatusUnprocessableEntity).says(`href="#competent_person"`, "Calm")
	b.post(stop, url.Values{"id": {lift.hidden("id")}, "reason": {"Calm"}, "competent_person": {"Óscar Peralta"}}).leads("/stops?done=lifted")
}

// A piece goes out of service, and back on the state that was looked at, by a competent person's name.
func takeOutAndBack(b *browser) {
	b.Helper()
	var path string
	for _, link := range pieceLink.FindAllString(b.get("/equipment").says("The register").body, -1) {
		if strings.Contains(b.get(link).body, `value="out"`) {
			path = link
			break
		}
	}
	p := b.get(path)
	b.post(path, url.Values{"id": {p.hidden("id")}, "do": {"out"}}).wants(http.StatusUnprocessableEntity).says(`href="#note"`)
	b.post(path, url.Values{"id": {p.hidden("id")}, "do": {"out"}, "note": {"A rung is loose"}}).leads(path + "?done=piece_out")
	p = b.get(path).says("out of service", "A rung is loose")
	back := url.Values{"id": {p.hidden("id")}, "do": {"back"}, "version": {"1"}, "competent_person": {"Óscar Peralta"}, "note": {"New rung"}}
	b.post(path, back).wants(http.StatusPreconditionFailed).says("New rung", "Óscar Peralta")
	back.Set("version", p.hidden("version"))
	for range 2 {
		b.post(path, back).leads(path + "?done=piece_back")
	}
	look := b.get(path + "/inspection")
	look.post(path+"/inspection", url.Values{"id": {look.hidden("id")}, "findings.0.severity": {"to_mend"}, "person": {"Óscar Peralta"}}).
		wants(http.StatusUnprocessableEntity).says(`href="#findings.0.note"`)
	for range 2 {
		b.post(path+"/inspection", url.Values{"id": {look.hidden("id")}, "findings.0.severity": {"to_mend"}, "findings.0.note": {"Paint"}, "person": {"Óscar Peralta"}}).leads(path + "?done=inspected")
	}
	p = b.get(path).says("to be mended", "Paint")
	finding := regexp.MustCompile(`<option value="([0-9a-f-]{36})"`).FindStringSubmatch(p.body)[1]
	b.post(path+"/mending", url.Values{"id": {models.NewID().String()}, "finding": {finding}}).wants(http.StatusUnprocessableEntity).says(`href="#person"`)
	b.post(path+"/mending", url.Values{"id": {models.NewID().String()}, "finding": {finding}, "person": {"Celso"}}).leads(path + "?done=mended")
}

func avoidAndRelease(b *browser) {
	b.Helper()
	path := b.get("/palms-to-avoid").first(palmLink)
	p := b.get(path)
	b.post(path, url.Values{"id": {p.hidden("id")}, "version": {p.hidden("version")}, "note": {"Bees moved"}}).wants(http.StatusUnprocessableEntity).says(`href="#competent_person"`)
	b.post(path, url.Values{"id": {p.hidden("id")}, "version": {p.hidden("version")}, "competent_person": {"Óscar Peralta"}, "note": {"Looked"}}).leads("/palms-to-avoid?done=palm_back")
	list := b.get("/palms-to-avoid")
	block := regexp.MustCompile(`<option value="([0-9a-f-]{36})"`).FindStringSubmatch(list.body)[1]
	b.post("/palms-to-avoid", url.Values{"id": {list.hidden("id")}, "block_id": {block}, "reason": {"other"}}).wants(http.StatusUnprocessableEntity).says("<h1>Palms to avoid")
}

// Everybody who was there is signed off at once, and once only.
func signOffTwice(b *browser) {
	b.Helper()
	p := b.get("/training/meeting").says("Who was there")
	form := url.Values{"id": {p.hidden("id")}, "crew": {p.hidden("crew")}, "topic": {"hand_tools"}, "held_on": {"2026-03-02"}, "trainer": {"Óscar Peralta"},
		"qualification": {"Twenty years at the work"}, "language": {"es"}}
	for _, m := range memberBox.FindAllStringSubmatch(p.body, 3) {
		form.Add("attendees", m[1])
	}
	b.post("/training/meeting", form).wants(http.StatusUnprocessableEntity).says(`href="#understanding"`, `checked`)
	form.Set("understanding", "Everybody showed it")
	for range 2 {
		b.post("/training/meeting", form).leads("/training?done=meeting")
	}
	b.get("/training").says("within 30 days", "Days of notice: good practice.")
	record := b.get("/training/workers/"+form.Get("attendees")).says("Record of training", "Twenty years at the work")
	if n := strings.Count(record.body, "Twenty years at the work"); n != 1 {
		b.Errorf("what was sent twice is there %d times", n)
	}
}

func settleOne(b *browser) {
	b.Helper()
	path := b.get("/uncleared-work").first(unclearedLink)
	p := b.get(path)
	form := url.Values{"id": {p.hidden("id")}, "on": {p.hidden("on")}, "reason": {"Asked the lead"}}
	bare, _, _ := strings.Cut(path, "?")
	b.post(bare, form).wants(http.StatusUnprocessableEntity).says(`href="#finding"`, "Asked the lead")
	form.Set("finding", "did_not_climb")
	for range 2 {
		b.post(bare, form).leads("/uncleared-work?done=uncleared_settled")
	}
	b.get(path).says("Asked the lead", "the work was done from the ground")
	b.get(bare).wants(http.StatusNotFound)
}

func reportOne(b *browser) {
	b.Helper()
	p := b.get("/incidents/new")
	garden := regexp.MustCompile(`<option value="([0-9a-f-]{36})"`).FindStringSubmatch(p.body)[1]
	form := url.Values{"id": {p.hidden("id")}, "kind": {"near_miss"}, "day": {"2026-03-02"}, "happened_at": {"25:00"}, "garden_id": {garden}, "description": {"A frond fell beside <them>"}}
	b.post("/incidents/new", form).wants(http.StatusUnprocessableEntity).says(`href="#happened_at"`, "A frond fell beside &lt;them&gt;")
	form.Set("happened_at", "09:15")
	form.Set("kind", "knife_cut")
	b.post("/incidents/new", form).wants(http.StatusUnprocessableEntity).says(`href="#worker_id"`)
	form.Set("kind", "near_miss")
	for range 2 {
		b.post("/incidents/new", form).leads("/incidents/" + form.Get("id") + "?done=incident")
	}
	if p := b.get("/incidents").says("A frond fell beside &lt;them&gt;"); strings.Count(p.body, "A frond fell") != 1 {
		b.Error("what was sent twice is there twice")
	}
	b.get("/injury-log?year=2025").says("2025")
}

func TestOwnSafety(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("ines", "es")
		b.get("/my/training").says("Constancia de capacitación", "Inés Barraza")
		p := b.get("/my/safety").says("<h1>Mi seguridad")
		if m := regexp.MustCompile(`/my/gear/[0-9a-f-]{36}`).FindString(p.body); m != "" {
			id := models.NewID().String()
			for range 2 {
				b.post(m, url.Values{"id": {id}}).leads("/my/safety?done=gear")
			}
			s.as("ramiro", "es").post(m, url.Values{}).wants(http.StatusNotFound)
		}
	})
}
