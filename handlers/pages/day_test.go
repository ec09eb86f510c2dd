package pages_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"palmero/models"
)

func init() {
	for _, path := range []string{"", "/roll", "/time", "/counts", "/lots", "/send", "/climb", "/checklist", "/palms", "/gear"} {
		allowed["GET /day"+path], allowed["POST /day"+path] = "l", "l"
	}
}

// dayForm is a form of the day as a page shows it, with what is put in.
func (p *page) dayForm(pairs ...string) url.Values {
	form := url.Values{"id": {p.hidden("id")}, "crew": {p.hidden("crew")}, "on": {p.hidden("on")}}
	for i := 0; i < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	return form
}

// choice is the value of an option or a box with a label.
func (p *page) choice(label string) string {
	p.Helper()
	m := regexp.MustCompile(`value="([0-9a-f-]{36})"[^>]*>( <span>)?` + regexp.QuoteMeta(label)).FindStringSubmatch(p.body)
	if m == nil {
		p.Fatalf("%s offers no %s:\n%s", p.what, label, p.main())
	}
	return m[1]
}

// begin brings ramiro's crew to work: two on the roll, in block A-4 at pollination.
func begin(t *testing.T, s *site, b *browser) (ines, ramiro string) {
	t.Helper()
	first := b.get("/day").wants(http.StatusOK)
	b.post("/day", first.dayForm("block", first.choice("A-4"), "operation", first.choice("polinización"))).leads("/day?done=moved")
	roll := b.get("/day/roll").says("Inés Barraza", "checked")
	ines, ramiro = roll.choice("Inés Barraza"), roll.choice("Ramiro Encinas")
	b.post("/day/roll", roll.dayForm("here", ines, "here", ramiro)).leads("/day/time?done=roll")
	return ines, ramiro
}

// A day as a crew lead writes it, from the roll to the sheet.
func TestCrewDay(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("ramiro", "es")
		ines, _ := begin(t, s, b)
		s.clock.Set(s.clock.Now().Add(time.Minute))

		clock := b.get("/day/time").says("Inés Barraza", "parado", "Descanso de 0:10 h")
		start := clock.dayForm("kind", "piece", "do", "start")
		for range 2 { // pressed twice
			b.post("/day/time", start).leads("/day/time?done=clock_start")
		}
		start.Set("kind", "hourly")
		b.post("/day/time", start).wants(http.StatusConflict)
		b.get("/day/time").says("trabajo por pieza desde las 15:21")
		s.clock.Set(s.clock.Now().Add(9 * time.Minute))
		clock = b.get("/day/time")
		b.post("/day/time", clock.dayForm("do", "rest")).wants(http.StatusConflict).says("Nadie llevaba 10 minutos")
		s.clock.Set(s.clock.Now().Add(31 * time.Minute))
		b.post("/day/time", b.get("/day/time").dayForm("do", "rest")).leads("/day/time?done=clock_rest")

		pad := b.get("/day/counts").says("Inés Barraza")
		b.post("/day/counts", pad.dayForm("block", pad.hidden("block"), "operation", pad.hidden("operation"), "n."+ines, "12", "was."+ines, "0", "step", "more:"+ines)).
			leads("/day/counts?done=counted")
		pad = b.get("/day/counts").says(`value="13"`)
		b.post("/day/counts", pad.dayForm("n."+ines, "x", "was."+ines, "13")).wants(http.StatusUnprocessableEntity).says(`value="x"`, `id="n.`+ines+`-fault"`)
		b.post("/day/counts", pad.dayForm("n."+ines, "130", "was."+ines, "13")).leads("/day/counts?done=counted")
		b.post("/day/counts", b.get("/day/counts").says(`value="130"`).dayForm("undo", "yes")).leads("/day/counts?done=taken_back")
		b.get("/day/counts").says(`value="13"`).hides(`value="130"`)

		s.clock.Set(s.clock.Now().Add(20 * time.Minute))
		b.post("/day/time", b.get("/day/time").dayForm("do", "stop")).leads("/day/time?done=clock_stop")
		list := b.get("/day/send").says("13 racimos, polinización, A-4", "período de descanso, 15:51–16:01", "trabajo por pieza, 15:21–15:51")
		send := list.dayForm()
		for range 2 {
			b.post("/day/send", send).leads("/day/send?done=sent")
		}
		b.get("/day/send?done=sent").says("Todo está enviado", "Quedó enviado")
		s.as("ines", "es").get("/my/week").says("13 racimos", "15:21–15:51")

		// What was sent is a record: to come below it is a correction with a reason, and more is a new count.
		pad = b.get("/day/counts").says(`value="13"`)
		lower := pad.dayForm("n."+ines, "11", "was."+ines, "13")
		b.post("/day/counts", lower).wants(http.StatusUnprocessableEntity).says(`href="#reason"`, "Ya se enviaron 13")
		lower.Set("reason", "Dos racimos eran de Ramiro")
		b.post("/day/counts", lower).leads("/day/counts?done=counted")
		b.post("/day/send", b.get("/day/send").says("11 racimos", "Dos racimos eran de Ramiro").dayForm()).leads("/day/send?done=sent")
		week := s.as("ines", "es").get("/my/week").says("11 racimos").hides("13 racimos")
		found := false
		for _, link := range countLink.FindAllString(week.body, -1) {
			found = found || strings.Contains(week.get(link).body, "Dos racimos eran de Ramiro")
		}
		if !found {
			t.Error("the worker does not find the reason of the correction")
		}
	})
}

// Somebody who is in no list yet, a lot, a break that was missed, and what was noted by mistake.
func TestCrewDayWithOthers(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("ramiro", "en").speak("en")
		first := b.get("/day")
		b.post("/day", first.dayForm("block", first.choice("C-2"), "operation", first.choice("bagging"))).leads("/day?done=moved")
		roll := b.get("/day/roll")
		ines, ramiro := roll.choice("Inés Barraza"), roll.choice("Ramiro Encinas")
		b.post("/day/roll", roll.dayForm("here", ines, "here", ramiro)).leads("/day/time?done=roll")
		roll = b.get("/day/roll")
		b.post("/day/roll", roll.dayForm("add", "yes", "name", " ", "language", "es")).wants(http.StatusUnprocessableEntity).says(`href="#name"`)
		b.post("/day/roll", roll.dayForm("add", "yes", "name", "999", "language", "es")).wants(http.StatusUnprocessableEntity).says("Nobody who works here has this number")
		b.post("/day/roll", roll.dayForm("add", "yes", "name", "4", "language", "es")).leads("/day/roll?done=hand")
		b.get("/day/roll").says("Dale Hutchings")
		b.post("/day/roll", b.get("/day/roll").dayForm("add", "yes", "name", "Chema <Ruiz>", "language", "es")).leads("/day/roll?done=hand")
		chema := b.get("/day/roll").says("Chema &lt;Ruiz&gt;", "in no list yet").choice("Chema &lt;Ruiz&gt;")

		lots := b.get("/day/lots")
		b.post("/day/lots", lots.dayForm("pieces", "x", "parting", "heads", "who", ines, "who", chema)).wants(http.StatusUnprocessableEntity).says(`href="#pieces"`)
		b.post("/day/lots", lots.dayForm("pieces", "80", "parting", "heads", "who", ines)).wants(http.StatusUnprocessableEntity).says("shared by two or more")
		b.post("/day/lots", lots.dayForm("pieces", "80", "parting", "minutes", "who", ines, "who", chema, "m."+ines, "30", "m."+chema, "10")).leads("/day/lots?done=lot")
		b.post("/day/lots", b.get("/day/lots").dayForm("pieces", "60", "parting", "share", "who", ines, "who", chema, "m."+ines, "2", "m."+chema, "0")).wants(http.StatusUnprocessableEntity).says(`more than 0`, `value="2"`)
		b.post("/day/lots", b.get("/day/lots").dayForm("pieces", "60", "parting", "share", "who", ines, "who", chema, "m."+ines, "2", "m."+chema, "1")).leads("/day/lots?done=lot")
		b.post("/day/time", b.get("/day/time").dayForm("do", "break", "worker", chema, "fact", "rest_not_provided")).leads("/day/time?done=clock_break")
		b.post("/day/time", b.get("/day/time").dayForm("do", "start:"+chema, "kind", "hourly", "at", "25:99")).wants(http.StatusUnprocessableEntity).says(`href="#at"`)
		b.post("/day/time", b.get("/day/time").dayForm("do", "start:"+chema, "kind", "hourly", "at", "23:00")).wants(http.StatusUnprocessableEntity).says("has not come yet")
		b.post("/day/time", b.get("/day/time").dayForm("do", "start:"+chema, "kind", "hourly", "at", "14:00")).leads("/day/time?done=clock_start")
		b.post("/day/time", b.get("/day/time").dayForm("do", "stop", "at", "13:00")).wants(http.StatusUnprocessableEntity).says("before the time that runs began")

		list := b.get("/day/send").says("lot of 2", "80 bunches", "60 bunches", "a rest period was not given", "still runs", "hourly work, 14:00–")
		b.post("/day/send", list.dayForm()).leads("/day/send?done=sent")
		b.get("/day/send").says("still runs").hides("80 bunches", "60 bunches")
		b.get("/").says("Time runs for 1.")

		// A line that is refused stays, and the others go.
		b.post("/day/time", b.get("/day/time").dayForm("do", "stop")).leads("/day/time?done=clock_stop")
		b.post("/day/time", b.get("/day/time").dayForm("do", "start:"+ines, "kind", "piece", "at", "06:30")).leads("/day/time?done=clock_start")
		b.post("/day/time", b.get("/day/time").dayForm("do", "stop", "at", "15:10")).leads("/day/time?done=clock_stop")
		list = b.get("/day/send")
		refused := b.post("/day/send", list.dayForm()).wants(http.StatusUnprocessableEntity).says("1 lines were sent", "already recorded for some of this time").hides("hourly work, 14:00–")
		drop := regexp.MustCompile(`name="drop" value="([^"]+)"`).FindStringSubmatch(refused.body)[1]
		b.post("/day/send", refused.dayForm("drop", drop)).leads("/day/send?done=dropped")
		b.post("/day/send", b.get("/day").dayForm("drop", models.NewID().String())).wants(http.StatusConflict)
	})
}

// Whoever leads no crew is told so, and nobody writes in another crew's day.
func TestOnlyTheirOwnCrewsDay(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		ramiro, gudelia := s.as("ramiro", "es"), s.as("gudelia", "en").speak("en")
		first := ramiro.get("/day").says("Sur")
		other := gudelia.get("/day").says("Canal")
		form := first.dayForm("block", first.choice("A-4"), "operation", first.choice("polinización"))
		gudelia.post("/day", form).wants(http.StatusNotFound)
		gudelia.get("/day?crew=" + first.hidden("crew")).wants(http.StatusNotFound)
		gudelia.get("/day?on=2019-01-01").says("No crew today")
		gudelia.get("/day?on=nonsense").says("Canal")
		gudelia.post("/day", other.dayForm("block", "nonsense", "operation", models.NewID().String())).wants(http.StatusUnprocessableEntity).says(`href="#block"`)
		gudelia.post("/day", other.dayForm()).wants(http.StatusUnprocessableEntity)
		for _, path := range []string{"/day/time", "/day/counts", "/day/lots"} {
			gudelia.get(path).says("Say block and operation")
		}
		gudelia.post("/day/counts", other.dayForm()).wants(http.StatusConflict).says("Say first in which block")
		gudelia.post("/day/send", other.dayForm()).wants(http.StatusConflict)
	})
}

// Going up: the list, the way, who may, a stop that is acknowledged, and a palm that nobody goes up.
func TestCrewGoesUp(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("ramiro", "en").speak("en")
		b.get("/day/climb").says("Say block and operation")
		begin(t, s, b.speak("es"))
		b.speak("en")
		climb := b.get("/day/climb").says("up the trunk", "First the checklist", "may not go up")

		list := b.get("/day/checklist?way=climb").says("Power lines around the palm")
		filled := list.dayForm("way", "climb", "digest", list.hidden("digest"), "reason", "Looked again")
		for _, m := range regexp.MustCompile(`name="(a\.[a-z_]+)" value="ok"`).FindAllStringSubmatch(list.body, -1) {
			filled.Set(m[1], "ok")
		}
		filled.Set("a.bees", "defect")
		b.post("/day/checklist", filled).wants(http.StatusUnprocessableEntity).says(`href="#a.bees"`, `value="defect" checked`)
		filled.Set("note.bees", "A hive in the crown of 3-4")
		for range 2 {
			b.post("/day/checklist", filled).leads("/day/climb?done=list")
		}
		b.get("/day/checklist?way=nonsense").wants(http.StatusNotFound)

		setup := climb.dayForm("do", "setup", "way", "climb", "wet", "no", "bees", "yes", "gust", "x")
		b.post("/day/climb", setup).wants(http.StatusUnprocessableEntity).says(`href="#gust"`)
		setup.Set("gust", "4")
		for range 2 {
			b.post("/day/climb", setup).leads("/day/climb?done=climb_setup")
		}
		b.post("/day/climb", b.get("/day/climb").dayForm("do", "give")).leads("/day/climb?done=climb_give")
		b.post("/day/climb", b.get("/day/climb").dayForm("do", "nonsense")).wants(http.StatusNotFound)

		palms := b.get("/day/palms").says("Not this palm")
		word := palms.dayForm("block", palms.hidden("block"), "label", "9-99", "reason", "bees")
		b.post("/day/palms", word)
		word.Set("reason", "nonsense")
		b.post("/day/palms", word).wants(http.StatusUnprocessableEntity)
	})
}

// Gear goes to those who are ticked, once however often the form is sent; a worker takes it by name, and it comes back with a reason.
func TestCrewGear(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("ramiro", "en").speak("en")
		first := b.get("/day/gear").says("What the crew holds")
		ines := first.choice("Inés Barraza")
		kind := regexp.MustCompile(`(?s)<select id="gear_kind_id".*?<option value="([0-9a-f-]{36})"`).FindStringSubmatch(first.body)[1]
		hand := first.dayForm("do", "hand", "gear_kind_id", kind, "quantity", "7", "condition", "good")
		b.post("/day/gear", hand).wants(http.StatusUnprocessableEntity).says(`href="#who"`, `value="7"`)
		hand.Add("who", ines)
		hand.Set("quantity", "x")
		b.post("/day/gear", hand).wants(http.StatusUnprocessableEntity).says(`href="#quantity"`)
		hand.Set("quantity", "0")
		b.post("/day/gear", hand).wants(http.StatusUnprocessableEntity).says(`href="#quantity"`)
		hand.Set("quantity", "7")
		for range 2 {
			b.post("/day/gear", hand).leads("/day/gear?done=gear_hand")
		}
		given := b.get("/day/gear?done=gear_hand").says("recorded in their hands", "not acknowledged yet")
		if n := strings.Count(given.body, `data-label="How many">7<`); n != 1 {
			t.Errorf("%d lines for gear that was handed out once", n)
		}
		issue := regexp.MustCompile(`(?s)<select id="issue".*?<option value="([0-9a-f-]{36})"`).FindStringSubmatch(given.body)[1]
		took := given.dayForm("do", "acknowledge", "issue", issue)
		b.post("/day/gear", took).wants(http.StatusUnprocessableEntity).says(`href="#typed_name"`)
		took.Set("typed_name", "Inés <Barraza>")
		for range 2 {
			b.post("/day/gear", took).leads("/day/gear?done=gear_acknowledge")
		}
		back := b.get("/day/gear").dayForm("do", "back", "back", issue, "reason", "lost", "restock", "yes")
		b.post("/day/gear", back).wants(http.StatusUnprocessableEntity).says(`href="#restock"`)
		back.Set("reason", "other")
		b.post("/day/gear", back).wants(http.StatusUnprocessableEntity).says(`href="#note"`)
		back.Set("note", "A goat ate it")
		for range 2 {
			b.post("/day/gear", back).leads("/day/gear?done=gear_back")
		}
		again := b.get("/day/gear").hides(`data-label="How many">7<`)
		b.post("/day/gear", again.dayForm("do", "back", "back", issue, "reason", "worn")).wants(http.StatusConflict)
		b.post("/day/gear", again.dayForm("do", "back", "back", models.NewID().String(), "reason", "worn")).wants(http.StatusNotFound)
		b.post("/day/gear", again.dayForm("do", "nonsense")).wants(http.StatusNotFound)
		gudelia := s.as("gudelia", "en").speak("en")
		gudelia.post("/day/gear", gudelia.get("/day/gear").dayForm("do", "back", "back", issue, "reason", "worn")).wants(http.StatusNotFound)
	})
}

// What a lead noted and never sent is told to the office with the lead's name, and is the first thing on the lead's own page.
func TestNeverSent(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("ramiro", "es")
		_, _ = begin(t, s, b)
		b.post("/day/time", b.get("/day/time").dayForm("kind", "piece", "do", "start"))
		s.clock.Start(s.clock.Now().AddDate(0, 0, 1))
		hazel := s.as("hazel", "en").speak("en")
		for _, path := range []string{"/", "/pay"} {
			hazel.get(path).says("What Ramiro Encinas noted of", "Mar 2, 2026 was never sent (2 lines)")
		}
		s.as("abril", "en").speak("es").get("/pay").says("Lo que Ramiro Encinas apuntó de")
		lead := s.as("ramiro", "es").speak("en").get("/").says("2 lines were never sent", "Look at it and send").main()
		if strings.Index(lead, "never sent") > strings.Index(lead, "has not begun") {
			t.Errorf("what was never sent is not first: %s", lead)
		}
	})
}
