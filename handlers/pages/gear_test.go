package pages_test

import (
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"testing"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /gear":                    "sa",
		"GET /gear/held":               "sa",
		"GET /gear/hand":               "s",
		"POST /gear/hand":              "s",
		"GET /gear/issues/{id}":        "sa",
		"POST /gear/issues/{id}":       "s",
		"GET /gear/kinds/new":          "s",
		"POST /gear/kinds/new":         "s",
		"GET /gear/kinds/{id}":         "sa",
		"POST /gear/kinds/{id}":        "s",
		"GET /gear/kinds/{id}/change":  "s",
		"POST /gear/kinds/{id}/change": "s",
	})
}

var (
	issueLink = regexp.MustCompile(`/gear/issues/[0-9a-f-]{36}`)
	whoTick   = regexp.MustCompile(`name="who" value="([0-9a-f-]{36})"`)
	anyOption = regexp.MustCompile(`<option value="([0-9a-f-]{36})"`)
)

// Gear comes in, is handed out until a day, replaced with a reason when that has passed, and given back; whatever is sent twice counts once.
func TestGear(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("oscar", "es").speak("en")
		b.get("/gear").says("Who holds what, by crew", "ANSI/ISEA 105 puncture 4", "fewer than 3")
		kind := b.enterGearKind()
		b.replaceGear(b.handGear(kind))
		b.get("/gear/held?crew=nonsense").wants(http.StatusNotFound)
		b.get("/gear/held").says("in no crew")
		b.get("/").says(`href="/gear/kinds/`)
		lead := s.as("ramiro", "es").speak("en")
		p := lead.get("/day/gear").says("Due back or to be replaced by", "Give another in its place, new")
		m := regexp.MustCompile(`<select id="back"[^>]*>\s*<option value="([0-9a-f-]{36})"`).FindStringSubmatch(p.body)
		form := url.Values{"id": {p.hidden("id")}, "crew": {p.hidden("crew")}, "on": {p.hidden("on")}, "do": {"back"}, "back": {m[1]}, "reason": {"worn"}, "replace": {"yes"}, "replacement.due_on": {"2026-02-31"}}
		lead.post("/day/gear", form).wants(http.StatusUnprocessableEntity).says(`href="#replacement.due_on"`)
		form.Set("replacement.due_on", "2026-06-30")
		for range 2 {
			lead.post("/day/gear", form).leads("/day/gear?done=gear_replaced")
		}
		lead.get("/day/gear").says("Jun 30, 2026")
	})
}

// enterGearKind enters gloves with their levels and takes ten pairs in.
func (b *browser) enterGearKind() (at string) {
	b.Helper()
	p := b.get("/gear/kinds/new")
	form := url.Values{"id": {p.hidden("id")}, "kind": {"gloves"}, "name": {""}, "cut_level": {"A12"}, "puncture_level": {"x"}, "en388": {"4X43D"}}
	b.post("/gear/kinds/new", form).wants(http.StatusUnprocessableEntity).says(`href="#puncture_level"`, `value="A12"`)
	form.Set("puncture_level", "4")
	b.post("/gear/kinds/new", form).wants(http.StatusUnprocessableEntity).says(`href="#name"`, `href="#cut_level"`)
	form.Set("name", "Long <gloves>")
	form.Set("cut_level", "A4")
	at = "/gear/kinds/" + form.Get("id")
	for range 2 {
		b.post("/gear/kinds/new", form).leads(at + "?done=gear_kind")
	}
	p = b.get(at).says("Long &lt;gloves&gt;", "ANSI/ISEA 105 cut A4; ANSI/ISEA 105 puncture 4; EN 388 4X43D")
	stock := url.Values{"id": {p.hidden("id")}, "move": {"received"}, "quantity": {""}}
	b.post(at, stock).wants(http.StatusUnprocessableEntity).says(`href="#quantity"`)
	stock.Set("quantity", "10")
	for range 2 {
		b.post(at, stock).leads(at + "?done=gear_stock")
	}
	b.get(at).says("<b>10</b>", "came in: 10. Then on hand: 10.")
	p = b.get(at + "/change").says(`value="A4"`)
	form.Set("low_at", "20")
	form.Set("version", p.hidden("version"))
	b.post(at+"/change", form).leads(at + "?done=gear_kind")
	b.get("/gear").says("fewer than 20")
	return at
}

// handGear hands the gloves to two people until a day that is past by now.
func (b *browser) handGear(kind string) (crew string) {
	b.Helper()
	p := b.get("/gear/hand")
	form := url.Values{"id": {p.hidden("id")}, "crew": {p.hidden("crew")}, "gear_kind_id": {kind[len("/gear/kinds/"):]}, "quantity": {"1"}, "condition": {"new"}, "due_on": {"2026-03-01"}}
	b.post("/gear/hand", form).wants(http.StatusUnprocessableEntity).says(`href="#who"`)
	for _, m := range whoTick.FindAllStringSubmatch(p.body, 2) {
		form.Add("who", m[1])
	}
	b.post("/gear/hand", form).wants(http.StatusUnprocessableEntity).says(`href="#due_on"`, "checked")
	form.Set("due_on", "2026-03-05")
	for range 2 {
		b.post("/gear/hand", form).leads("/gear/held?crew=" + form.Get("crew") + "&done=gear_hand")
	}
	b.get(kind).says("<b>8</b>")
	return form.Get("crew")
}

func (b *browser) replaceGear(crew string) {
	b.Helper()
	b.get("/gear").says("/gear/held?crew=" + crew)
	at := b.get("/gear/held?crew="+crew).says("no day set", "Mar 5, 2026").first(issueLink)
	p := b.get(at)
	form := url.Values{"id": {p.hidden("id")}, "do": {"back"}, "reason": {"other"}, "replace": {"yes"}, "replacement.gear_kind_id": {anyOption.FindStringSubmatch(p.body)[1]}}
	b.post(at, form).wants(http.StatusUnprocessableEntity).says(`href="#note"`)
	form.Set("note", "Torn <off>")
	for range 2 {
		b.post(at, form).leads(at + "?done=gear_replaced")
	}
	b.get(at).says("replaced", "another reason").hides("Take it back")
	form.Set("id", "")
	b.post(at, form).wants(http.StatusConflict)
	b.get("/gear/issues/nonsense").wants(http.StatusNotFound)
}
