package pages_test

import (
	"maps"
	"net/http"
	"net/url"
	"testing"
)

// What the matrix is to know of crews.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /crews":               "ca",
		"POST /crews":              "a",
		"GET /crews/{id}":          "ca",
		"POST /crews/{id}":         "a",
		"POST /crews/{id}/joining": "ca",
		"POST /crews/{id}/leaving": "ca",
		"GET /crew-members/{id}":   "ca",
		"POST /crew-members/{id}":  "ca",
	})
}

// A crew is set up, many join it at once, some of them from another, and some leave.
func TestCrewsAreSetUp(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("abril", "en").speak("en")
		blank := b.get("/crews").says("Norte", "Eusebio Talamantes", "On Mon Mar 2, 2026")
		form := url.Values{"id": {blank.hidden("id")}, "name": {""}}
		b.post("/crews", form).wants(http.StatusUnprocessableEntity).says(`href="#name"`)
		form.Set("name", "Poniente")
		at := "/crews/" + form.Get("id")
		for range 2 {
			b.post("/crews", form).leads(at + "?done=crew_new")
		}
		b.get(at).says("Nobody leads this crew", "Nobody is in this crew")

		clerk := s.as("hazel", "en").speak("en")
		join := url.Values{"id": {clerk.get(at).hidden("id")}, "numbers": {"2, four"}, "from_date": {""}}
		clerk.post(at+"/joining", join).wants(http.StatusUnprocessableEntity).says(`href="#numbers"`, `href="#from_date"`, `value="2, four"`)
		join.Set("from_date", "2026-03-02")
		join.Set("numbers", "2 700-702")
		clerk.post(at+"/joining", join).wants(http.StatusUnprocessableEntity).says("700, 701, 702")
		join.Set("numbers", "")
		clerk.post(at+"/joining", join).wants(http.StatusUnprocessableEntity).says("Nobody is chosen")
		join.Set("numbers", "2, 4–5 10")
		for range 2 {
			clerk.post(at+"/joining", join).leads(at + "?on=2026-03-02&done=crew_joined")
		}
		join.Set("from_date", "2026-03-03")
		clerk.post(at+"/joining", join).wants(http.StatusConflict).says("sent before with something else")
		join.Set("from_date", "2026-03-02")
		both := clerk.get(at+"?on=2026-03-02").says("Rosalba Quintero", "Dale Hutchings", "Adelina Cota", "Fermín Aguayo", "Norte", "Canal", "Somebody may be in two crews")
		join.Set("id", both.hidden("id"))
		join.Set("numbers", "5 6")
		clerk.post(at+"/joining", join).wants(http.StatusUnprocessableEntity).says("Already in this crew", "Adelina Cota").hides("Adelina Cota, Porfirio")
		join.Set("numbers", "6")
		join.Set("leads", "yes")
		join.Set("moves", "yes")
		clerk.post(at+"/joining", join).leads(at + "?on=2026-03-02&done=crew_joined")
		clerk.get(at).says("Porfirio Ledezma", "leads").hides("Nobody leads this crew")
		norte := clerk.get("/crews").led("/crews/")
		clerk.get("/crews/" + norte[len("/crews/"):]).hides("Porfirio Ledezma")

		leave := url.Values{"leaving": {}, "last_day": {""}}
		clerk.post(at+"/leaving", leave).wants(http.StatusUnprocessableEntity).says(`href="#last_day"`, "<details open>")
		leave.Set("last_day", "2026-03-06")
		clerk.post(at+"/leaving", leave).wants(http.StatusUnprocessableEntity).says(`href="#leaving"`, "Nobody is chosen")
		leave.Set("leaving", valueBefore(clerk.get(at), "4 Dale Hutchings"))
		for range 2 {
			clerk.post(at+"/leaving", leave).leads(at + "?done=crew_left")
		}
		clerk.get(at + "?on=2026-03-06").says("Mar 2, 2026 through Mar 6, 2026")
		clerk.get(at + "?on=2026-03-07").hides("Dale Hutchings</a>")

		one := clerk.get(at).led("/crew-members/")
		member := url.Values{"version": {clerk.get(one).says("Porfirio Ledezma in crew Poniente").hidden("version")}, "from_date": {"2026-03-03"}, "through_date": {"2026-03-02"}, "leads": {"yes"}}
		clerk.post(one, member).wants(http.StatusUnprocessableEntity).says(`href="#through_date"`)
		member.Del("through_date")
		clerk.post(one, member).leads(at + "?done=member_kept")
		clerk.post(one, member).wants(http.StatusPreconditionFailed).says("since Mar 3, 2026")

		name := url.Values{"version": {b.get(at).hidden("version")}, "name": {"Poniente Alto"}}
		b.post(at, name).leads(at + "?done=crew_kept")
		b.post(at, name).wants(http.StatusPreconditionFailed)
		b.get("/crews?on=2026-01-01").says("Poniente Alto", "Crews that nobody is in")
		b.get("/crews?on=never").says("On Mon Mar 2, 2026")
		s.as("hazel", "en").speak("es").get(at).says("Cuadrilla Poniente Alto", "También en")
	})
}
