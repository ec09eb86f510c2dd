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
		"GET /equipment/new":              "s",
		"POST /equipment/new":             "s",
		"GET /equipment/{id}/change":      "s",
		"POST /equipment/{id}/change":     "s",
		"POST /equipment/{id}/retirement": "s",
	})
}

// A piece comes into the register with its limits and its manual, is corrected on the state that was looked at, and is retired with a reason.
func TestEquipmentIsKept(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("oscar", "es").speak("en")
		b.get("/equipment/new").says("What is it?", "/equipment/new?kind=lift")
		b.get("/equipment/new?kind=nonsense").says("What is it?")
		p := b.get("/equipment/new?kind=attached_ladder").says("Its limits", "Which palm")
		garden := regexp.MustCompile(`<option value="([0-9a-f-]{36})">Huerta`).FindStringSubmatch(p.body)[1]
		block := regexp.MustCompile(`<option value="([0-9a-f-]{36})">A-4<`).FindStringSubmatch(p.body)[1]
		form := url.Values{"id": {p.hidden("id")}, "kind": {"attached_ladder"}, "code": {"L-99"}, "garden_id": {garden}, "block": {block}, "palm_id": {"4-99"}, "ratings.ladder.sections": {"two"}, "ratings.ladder.rated_load_lb": {"3OO"}}
		b.post("/equipment/new", form).wants(http.StatusUnprocessableEntity).says(`href="#palm_id"`, `href="#ratings.ladder.sections"`, `href="#ratings.ladder.rated_load_lb"`, `value="3OO"`)
		form.Set("palm_id", "4-09")
		form.Set("ratings.ladder.sections", "200")
		form.Set("ratings.ladder.rated_load_lb", "300,5")
		form.Set("inspection_months", "6")
		b.post("/equipment/new", form).wants(http.StatusUnprocessableEntity).says(`href="#description"`, `href="#ratings.ladder.sections"`, `href="#inspection_source"`, `value="200"`)
		form.Set("ratings.ladder.sections", "2")
		form.Set("description", "Steel ladder <new>")
		form.Set("inspection_source", "Manual, page 12")
		for range 2 {
			b.post("/equipment/new", form).leads("/equipment/" + form.Get("id") + "?done=piece_new")
		}
		at := "/equipment/" + form.Get("id")
		b.get(at).says("in service", "Steel ladder &lt;new&gt;")
		p = b.get(at+"/change").says(`value="300.5"`, `value="4-09"`, `value="Manual, page 12"`)
		form.Set("ratings.ladder.wires", "3")
		form.Set("version", "9")
		b.post(at+"/change", form).wants(http.StatusPreconditionFailed).says(`value="3"`)
		form.Set("version", p.hidden("version"))
		b.post(at+"/change", form).leads(at + "?done=piece_changed")
		p = b.get(at)
		b.post(at+"/retirement", url.Values{"id": {p.hidden("id")}, "version": {p.hidden("version")}}).wants(http.StatusUnprocessableEntity).says(`href="#why_retired"`, "<details open>")
		for range 2 {
			b.post(at+"/retirement", url.Values{"id": {p.hidden("id")}, "version": {p.hidden("version")}, "why_retired": {"Bent"}}).leads(at + "?done=piece_retired")
		}
		b.get(at).says("retired", "Bent").hides("Retire it for good")
		lift := b.get("/equipment/new?kind=lift").says("Carries, lb")
		b.post("/equipment/new", url.Values{"id": {lift.hidden("id")}, "kind": {"nonsense"}}).wants(http.StatusUnprocessableEntity).says("What is it?")
	})
}
