package pages_test

import (
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"testing"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /rules-set-aside":       "sa",
		"GET /rules-set-aside/new":   "s",
		"POST /rules-set-aside/new":  "s",
		"GET /rules-set-aside/{id}":  "sa",
		"POST /rules-set-aside/{id}": "s",
	})
}

var (
	asideLink = regexp.MustCompile(`/rules-set-aside/new\?[^"]+`)
	asideOne  = regexp.MustCompile(`/rules-set-aside/[0-9a-f-]{36}`)
	crewLink  = regexp.MustCompile(`/clearance/[0-9a-f-]{36}\?on=[0-9-]+`)
)

// findAside is the first reason of any crew that may be set aside.
func (b *browser) findAside(on string) (crew, path string) {
	b.Helper()
	list := b.get("/clearance?on=" + on)
	for _, crew := range slices.Compact(crewLink.FindAllString(list.body, -1)) {
		if p := b.get(crew); asideLink.MatchString(p.body) {
			return crew, p.first(asideLink)
		}
	}
	b.Fatalf("nothing may be set aside: %s", list.main())
	return "", ""
}

// A rule of the house is set aside by a named person with a reason, for the day, and holds again when that is taken back; the law's never is.
func TestHouseRuleSetAside(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("oscar", "es").speak("en")
		for _, list := range slices.Compact(checklistLink.FindAllString(b.get("/checklists").body, -1)) { // a list sent back counts as not filled, which is a rule of the house
			b.post(list, url.Values{"decision": {"sent_back"}, "reason": {"Look at the ropes again"}})
		}
		crew, at := b.findAside("2026-03-02")
		b.get(crew).says("a rule of the house")
		p := b.get(at).says("Set a rule of the house aside")
		form := url.Values{"id": {p.hidden("id")}}
		for _, name := range []string{"crew", "on", "way", "block", "worker", "code"} {
			form.Set(name, p.hidden(name))
		}
		b.post("/rules-set-aside/new", form).wants(http.StatusUnprocessableEntity).says(`href="#competent_person"`, `href="#grounds"`)
		form.Set("competent_person", "Lourdes Ibarra")
		form.Set("grounds", "Looked <myself>")
		for range 2 {
			b.post("/rules-set-aside/new", form).leads(crew + "&done=set_aside")
		}
		b.get(crew).says("set aside on the word of Lourdes Ibarra", "Looked &lt;myself&gt;")
		b.get(at).says("stands against nobody here any more")
		one := b.get("/rules-set-aside").says("Lourdes Ibarra", "Looked &lt;myself&gt;").first(asideOne)
		p = b.get(one).says("set aside")
		b.post(one, url.Values{"id": {p.hidden("id")}}).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		for range 2 {
			b.post(one, url.Values{"id": {p.hidden("id")}, "reason": {"It rains"}}).leads("/rules-set-aside?done=aside_withdrawn")
		}
		b.get(one).says("taken back or replaced").hides("Let the rule hold again")
		b.get(crew).hides("Looked &lt;myself&gt;")
		form.Set("code", "gloves_missing") // the law's in California
		form.Set("id", "")
		b.post("/rules-set-aside/new", form).wants(http.StatusUnprocessableEntity)
		b.get("/rules-set-aside/new?on=2026-03-02&crew=x").wants(http.StatusNotFound)
		b.get("/rules-set-aside/nonsense").wants(http.StatusNotFound)
	})
}
