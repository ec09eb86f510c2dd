package pages_test

import (
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// What the matrix is to know of the pages of contracts, bonuses and sick leave.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /contracts":                "ca",
		"POST /contracts":               "ca",
		"GET /contracts/{id}":           "ca",
		"POST /contracts/{id}":          "ca",
		"GET /contracts/{id}/day":       "ca",
		"POST /contracts/{id}/day":      "ca",
		"GET /bonuses":                  "ca",
		"POST /bonuses":                 "ca",
		"GET /bonuses/{id}":             "ca",
		"POST /bonuses/{id}":            "ca",
		"GET /sick-leave":               "ca",
		"GET /sick-leave/{id}":          "ca",
		"POST /sick-leave/{id}":         "c",
		"POST /sick-leave/{id}/balance": "c",
		"GET /sick-leave/uses/{id}":     "c",
		"POST /sick-leave/uses/{id}":    "c",
		"GET /my/terms":                 "wl",
	})
}

// A contract is entered, what was offered on a day is recorded and corrected, and its worker reads how it stands.
func TestAContractIsKept(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel := s.as("hazel", "en").speak("en")
		form := url.Values{"id": {hazel.get("/contracts").says("Brenda Soto", "MT-2026-1", "$20.25").hidden("id")}, "number": {"999"}, "first_day": {"soon"}}
		hazel.post("/contracts", form).wants(http.StatusUnprocessableEntity).says(`href="#first_day"`, `href="#last_day"`, `value="soon"`)
		with(form, "first_day", "2026-02-16", "last_day", "2026-03-20", "job_order", "JO-7", "offered_rate", "19.97", "rate_source", "Notice of 2 January", "day_hours", "8")
		hazel.post("/contracts", form).wants(http.StatusUnprocessableEntity).says(`href="#number"`, "999")
		hazel.post("/contracts", with(form, "number", "18")).wants(http.StatusUnprocessableEntity).says(`href="#workdays"`)
		form["workdays"] = []string{"1", "2", "3", "4", "5"}
		at := "/contracts/" + form.Get("id")
		for range 2 {
			hazel.post("/contracts", form).leads(at + "?done=contract_kept")
		}
		p := hazel.get(at).says("Inés Barraza", "JO-7", "$19.97", "How the guarantee stands on Mar 2, 2026", "week from Mar 15, 2026", "Nothing falls short")
		form.Set("version", p.hidden("version"))
		hazel.post(at, with(form, "day_hours", "90")).wants(http.StatusUnprocessableEntity).says(`href="#day_hours"`, `value="90"`)
		hazel.post(at, with(form, "day_hours", "9.5")).leads(at + "?done=contract_kept")
		hazel.post(at, form).wants(http.StatusPreconditionFailed)

		day := url.Values{"id": {hazel.get(at + "/day").hidden("id")}, "workday": {"2026-04-01"}, "kind": {"offered"}, "offered_hours": {"9.5"}, "note": {"Refused: rain"}}
		hazel.post(at+"/day", day).wants(http.StatusUnprocessableEntity).says(`href="#workday"`)
		for range 2 {
			hazel.post(at+"/day", with(day, "workday", "2026-02-28")).leads(at + "?done=contract_day")
		}
		p = hazel.get(at+"/day?on=2026-02-28").says("Correct Feb 28, 2026", "Refused: rain")
		with(day, "id", p.hidden("id"), "old", p.hidden("old"), "offered_hours", "5")
		hazel.post(at+"/day", day).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		hazel.post(at+"/day", with(day, "reason", "Half a day was offered")).leads(at + "?done=contract_day")
		hazel.get(at).says("5:00 h", "Sat Feb 28, 2026").hides("9:30 h</td><td data-label=\"Note\">")
		hazel.get(at + "/day?on=never").says("Record a day")
		hazel.get("/contracts").says("Inés Barraza", "JO-7")
		s.as("ines", "es").speak("es").get("/my/terms").says("JO-7", "$19.97", "Cómo va la garantía", "Every flower of March", "$45.00", "en el recibo de la semana del 22 mar 2026")
		s.as("abril", "en").speak("es").get(at).says("Contrato de Inés Barraza")
	})
}

// A bonus is recorded for a worker or a crew, corrected while nothing pays it, and read by whoever gets it.
func TestABonusIsKept(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel := s.as("hazel", "en").speak("en")
		form := url.Values{"id": {hazel.get("/bonuses").says("crew Sur", "Every flower of March", "$45.00").hidden("id")}, "amount": {"lots"}}
		hazel.post("/bonuses", form).wants(http.StatusUnprocessableEntity).says(`href="#amount"`, `href="#pay_week"`, `value="lots"`)
		with(form, "amount", "60", "earned_from", "2026-02-16", "earned_through", "2026-02-28", "pay_week", "2026-02-19", "kind", "flat", "what_for", "A clean fortnight", "measured", "yes", "basis", "Posted on 9 February")
		hazel.post("/bonuses", form).wants(http.StatusUnprocessableEntity).says(`href="#number"`)
		hazel.post("/bonuses", with(form, "number", "18")).wants(http.StatusUnprocessableEntity).says(`href="#pay_week"`)
		at := "/bonuses/" + form.Get("id")
		for range 2 {
			hazel.post("/bonuses", with(form, "pay_week", "2026-02-25")).leads(at + "?done=bonus_kept")
		}
		p := hazel.get(at).says("Inés Barraza", "$60.00", "week from Feb 22, 2026", "counts in the regular rate")
		run := hazel.drafted()
		ines := regexp.MustCompile(`href="(/statements/[^"]+)"[^>]*>[^<]*Inés Barraza`)
		if m := ines.FindStringSubmatch(hazel.get(run).body); m != nil {
			hazel.get(m[1]).says("A clean fortnight")
		}
		correction := url.Values{}
		maps.Copy(correction, form)
		with(correction, "id", p.hidden("id"), "amount", "0")
		hazel.post(at, correction).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		hazel.post(at, with(correction, "reason", "Entered for the wrong week")).leads("/bonuses/" + correction.Get("id") + "?done=bonus_corrected")
		hazel.get("/bonuses/"+correction.Get("id")).says("taken back", "Entered for the wrong week", "$60.00")
		hazel.get(at).says("Another record took the place")

		crew := regexp.MustCompile(`<option value="([0-9a-f-]{36})">[^<]*Sur`).FindStringSubmatch(hazel.get("/bonuses").body)
		maps.Copy(correction, form)
		with(correction, "id", hazel.get("/bonuses").hidden("id"), "number", "", "crew", crew[1], "amount", "25", "what_for", "The crew's palms without a scratch")
		hazel.post("/bonuses", correction).leads("/bonuses/" + correction.Get("id") + "?done=bonus_kept")
		hazel.get("/bonuses").says("crew Sur", "$25.00")
		s.as("ines", "es").speak("es").get("/my/terms").says("$25.00", "en el recibo de la semana del 22 feb 2026").hides("$60.00")
		s.as("abril", "en").speak("es").get("/bonuses").says("cuadrilla Sur")
	})
}

// The clerk brings a balance in, records what was taken of it, is refused more than there is, and corrects; nobody else reads why.
func TestSickLeaveIsRecorded(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel := s.as("hazel", "en").speak("en")
		hazel.get("/sick-leave?number=999").says("Nobody here has the number 999")
		hazel.get("/sick-leave?number=x").says("Nobody here has the number x")
		at := hazel.get("/sick-leave?number=2").wants(http.StatusSeeOther).header.Get("Location")
		p := hazel.get(at).says("Sick leave of", "As of Mar 2, 2026", "Bring in or adjust a balance")
		balance := url.Values{"id": {p.hidden("id")}, "kind": {"opening"}, "on_date": {"2026-02-09"}, "balance_hours": {"many"}}
		hazel.post(at+"/balance", balance).wants(http.StatusUnprocessableEntity).says(`href="#balance_hours"`, `value="many"`)
		hazel.post(at+"/balance", with(balance, "balance_hours", "12")).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		for range 2 {
			hazel.post(at+"/balance", with(balance, "reason", "From the old books")).leads(at + "?done=leave_entered")
		}
		p = hazel.get(at).says("From the old books")
		garden := regexp.MustCompile(`<select id="garden"[^>]*>\s*<option value="([^"]+)"`).FindStringSubmatch(p.body)
		use := url.Values{"id": {p.hidden("id")}, "workday": {"2026-02-26"}, "hours": {"40"}, "garden": {garden[1]}, "leave_note": {"A private matter"}}
		hazel.post(at, use).wants(http.StatusUnprocessableEntity).says(`href="#hours"`)
		for range 2 {
			hazel.post(at, with(use, "hours", "8")).leads(at + "?done=leave_recorded")
		}
		hazel.get(at).says("by the statement of the week from Feb 22, 2026", "8:00 h")
		hazel.get("/sick-leave").says("Thu Feb 26, 2026", "Adelina Cota", "Tue Mar 3, 2026")
		one := "/sick-leave/uses/" + use.Get("id")
		p = hazel.get(one).says("A private matter")
		with(use, "id", p.hidden("id"), "hours", "4")
		hazel.post(one, use).wants(http.StatusUnprocessableEntity).says(`href="#reason"`)
		hazel.post(one, with(use, "reason", "Only the morning")).leads(at + "?done=leave_corrected")
		hazel.get(at).says("4:00 h")
		abril := s.as("abril", "en").speak("es")
		abril.get(at).says("Horas por enfermedad de").hides("A private matter", "Only the morning", "Anotar horas que se usaron")
		abril.get(one).wants(http.StatusForbidden)
		entry := trailLink.FindStringSubmatch(abril.get("/audit?what=sick_uses").body)
		abril.get(entry[1]).hides("A private matter", "Only the morning")
		if strings.Contains(s.as("ines", "es").get("/my/sick-leave").body, "From the old books") {
			t.Error("Inés reads somebody else's entries")
		}
	})
}
