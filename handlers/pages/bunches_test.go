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
	"palmero/models/bunches"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /day/bunches": "l", "GET /day/bunches/look": "l", "POST /day/bunches": "l", "GET /bunches": "la", "GET /bunches/{id}": "la", "GET /my/bunches": "wl",
		"GET /standards": "a", "GET /standards/new": "a", "POST /standards": "a",
	})
}

var lookLink = regexp.MustCompile(`href="(/day/bunches/look\?[^"]+)">Inés Barraza`)

// A lead looks at three of Inés's bunches, one by one, tells and keeps what was seen, and corrects a slip; Inés reads it, and the owner finds it in the results.
func TestBunchesAreLookedAtOneByOne(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		lead := s.as("ramiro", "en").speak("en")
		day := lead.get("/day/bunches").wants(http.StatusOK).says("Pay does not depend on it", "17 to 19 in (43.2 to 48.3 cm)", "7 of 10 bunches as asked.")
		at := html.UnescapeString(lookLink.FindStringSubmatch(day.body)[1])
		pad := lead.get(at).wants(http.StatusOK).says("<h1>Bunches of Inés Barraza</h1>", "Bunch 1", `name="m.0"`, `data-start="17"`)
		lead.get(at + "&step=more:m.0").says(`name="m.0" value="17"`)
		lead.get(at+"&m.0=17.5&step=less:m.0&m.1=n").says(`name="m.0" value="16.5"`, `name="m.1" value="n" checked`)
		lead.get(at+"&do=next").says("Nothing is noted of this bunch yet", `href="#m.0"`)
		lead.get(at+"&do=next&m.0=long").says("is no number", `href="#m.0"`, `value="long"`)
		lead.get(at+"&do=next&m.0=10001&m.1=y").says("cannot be", `href="#m.0"`, `value="10001"`)
		// Two bunches, the second of them with all but the tie in order, and a last one.
		standard := "&standard=" + pad.hidden("standard")
		first := lead.get(at + standard + "&m.0=18&m.1=y&m.2=y&m.3=y&do=next").wants(http.StatusSeeOther).header.Get("Location")
		lead.get(first).says("Bunch 2", "The one bunch as asked.")
		second := lead.get(first + "&m.0=15&m.1=-&do=rest").wants(http.StatusSeeOther).header.Get("Location")
		lead.get(second).says("Bunch 3", "1 of 2 bunches as asked.")
		last := lead.get(second + "&m.1=n&do=enough").wants(http.StatusSeeOther).header.Get("Location")
		if !strings.Contains(last, "s=18_y_y_y~15_y_y_y~-_n_-_-") {
			t.Errorf("the sample is in the address as %s", last)
		}
		tell := lead.get(last).says("What to tell Inés Barraza", "1 of 3 bunches as asked.", "Length of the cotton tie: below 17 in on 1", "Tie midway on the bunch: not so on 1", "Always as asked: Room to swell within the tie, Bag on")
		form := url.Values{"palm": {"9-99"}, "remark": {"Bien <b>hecho</b>"}}
		for _, name := range []string{"id", "crew", "on", "block", "operation", "worker", "standard", "s", "instead"} {
			form.Set(name, tell.hidden(name))
		}
		lead.post("/day/bunches", form).wants(http.StatusUnprocessableEntity).says("There is no palm 9-99", `href="#palm"`, `value="9-99"`, "Bien &lt;b&gt;hecho&lt;/b&gt;")
		form.Set("palm", "")
		kept := "/bunches/" + form.Get("id")
		for range 2 { // the button was pressed twice
			lead.post("/day/bunches", form).leads(kept + "?done=bunches_kept")
		}
		lead.get(kept+"?done=bunches_kept").says("The check is kept.", "Inés Barraza", "Ramiro Encinas looked.", "Not seen")
		if n := s.checks(); n != 16 {
			t.Errorf("%d checks are kept", n)
		}
		s.as("gudelia", "en").get(kept).wants(http.StatusNotFound) // another crew's
		s.as("ines", "en").speak("en").get("/my/bunches").says("1 of 3 bunches as asked.", "Bien &lt;b&gt;hecho&lt;/b&gt;", "Your pay does not depend on it")
		s.as("ines", "es").get("/my/bunches").says("1 de 3 racimos como se pide.", "Su pago no depende de esto")

		// It were two bunches: the correction begins with what stands, and wants a reason.
		correct := lead.get(html.UnescapeString(regexp.MustCompile(`/day/bunches/look\?[^"]*instead[^"]*`).FindString(lead.get(kept).body))).says("Why is it corrected?", "1 of 3 bunches", "Bien &lt;b&gt;hecho&lt;/b&gt;")
		correct.says(`<option value="` + form.Get("worker") + `" selected>Inés Barraza`)
		for _, name := range []string{"id", "s", "instead"} {
			form.Set(name, correct.hidden(name))
		}
		form.Set("worker", "")
		form.Set("s", "18_y_y_y~18_y_y_y")
		lead.post("/day/bunches", form).wants(http.StatusUnprocessableEntity).says(`href="#reason"`, "All 2 bunches as asked.")
		form.Set("reason", "Counted wrong, in the other block")
		// It was another block too; what is asked at another operation is not what was noted.
		was, here := form.Get("operation"), form.Get("block")
		for _, o := range regexp.MustCompile(`<option value="([^"]+)">`).FindAllStringSubmatch(correct.part("operation"), -1) {
			form.Set("operation", o[1])
			lead.post("/day/bunches", form).wants(http.StatusUnprocessableEntity).says(`href="#operation"`, "What was noted is not what is asked", "Counted wrong", `<option value="`+o[1]+`" selected>`)
		}
		form.Set("operation", was)
		form.Set("block", regexp.MustCompile(`<option value="([^"]+)"[^>]*>A-4 · Medjool`).FindStringSubmatch(correct.part("block"))[1])
		if form.Get("block") == here {
			t.Fatal("the block is the same")
		}
		lead.post("/day/bunches", form).leads("/bunches/" + form.Get("id") + "?done=bunches_kept")
		lead.get("/bunches/"+form.Get("id")).says("It takes the place of another: Counted wrong", "The crew Sur", "A-4 Medjool")
		lead.get(kept).says("This check was corrected by a later one.").hides("Correct this check")

		owner := s.as("abril", "en").speak("en")
		owner.get("/bunches/" + form.Get("id")).wants(http.StatusOK).hides("Correct this check")
		owner.get("/bunches").says("By operation", `<svg class="plot"`, "By crew", "Mar 1, 2026")
		owner.get("/bunches?until=2026-01-03").says("Nobody looked at bunches in these weeks.")
	})
}

// A check that was of another variety's block is held against what is asked of that variety, where that asks for all that was noted.
func TestBunchCheckMovesToAnotherVariety(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		lead := s.as("ramiro", "en").speak("en")
		pad := lead.get("/day/bunches")
		option := func(choice, label string) string {
			return regexp.MustCompile(`<option value="([^"]+)"[^>]*>` + label).FindStringSubmatch(pad.part(choice))[1]
		}
		look := url.Values{"block": {option("block", "A-4")}, "operation": {option("operation", "pollination")}}
		for sample, fits := range map[string]bool{"y_-_34_y": true, "y_40_34_y": false} {
			look.Set("s", sample)
			look.Set("enough", "yes")
			p := lead.get("/day/bunches/look?" + look.Encode()).says("The one bunch as asked.")
			form := url.Values{"remark": {""}}
			for _, name := range []string{"id", "crew", "on", "block", "operation", "worker", "standard", "s"} {
				form.Set(name, p.hidden(name))
			}
			kept := "/bunches/" + form.Get("id")
			lead.post("/day/bunches", form).leads(kept + "?done=bunches_kept")
			p = lead.get(html.UnescapeString(regexp.MustCompile(`/day/bunches/look\?[^"]*instead[^"]*`).FindString(lead.get(kept).body)))
			for _, name := range []string{"id", "standard", "s", "instead"} {
				form.Set(name, p.hidden(name))
			}
			form.Set("block", option("block", "C-1"))
			form.Set("reason", "The other block")
			if p = lead.post("/day/bunches", form); !fits {
				p.wants(http.StatusUnprocessableEntity).says(`href="#operation"`, "pollination in C-1", `value="y_40_34_y"`)
				continue
			}
			p.leads("/bunches/" + form.Get("id") + "?done=bunches_kept")
			lead.get("/bunches/"+form.Get("id")).says("C-1 Barhi", "0 of 1 bunches as asked.", "Strands kept: below 38 strands on 1")
		}
	})
}

// part is a choice of the page.
func (p *page) part(name string) string {
	p.Helper()
	_, after, _ := strings.Cut(p.body, `<select id="`+name+`"`)
	choice, _, found := strings.Cut(after, "</select>")
	if !found {
		p.Fatalf("%s has no choice of %s", p.what, name)
	}
	return choice
}

// checks is how many checks stand or have been corrected.
func (s *site) checks() (n int) {
	s.Helper()
	employer, err := s.store.FindEmployer(s.Context(), "media-tarde")
	if err != nil {
		s.Fatal(err)
	}
	err = s.store.View(s.Context(), models.Scope{Employer: employer.ID}, func(tx *models.Tx) error {
		checks, err := bunches.Latest(tx, 100)
		n = len(checks)
		return err
	})
	if err != nil {
		s.Fatal(err)
	}
	return n
}

// Addresses that somebody has tampered with show nothing.
func TestBunchAddressesThatAreNone(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		lead := s.as("ramiro", "en")
		at := html.UnescapeString(lookLink.FindStringSubmatch(lead.get("/day/bunches").body)[1])
		for _, more := range []string{"&s=x", "&s=18_y_y", "&s=y_y_y_y", "&s=18_y_y_y~", "&worker=nobody", "&standard=" + models.NewID().String(), "&instead=" + models.NewID().String()} {
			path := at
			if strings.HasPrefix(more, "&worker") {
				path = regexp.MustCompile(`&worker=[^&]*`).ReplaceAllString(at, "")
			}
			lead.get(path + more).wants(http.StatusNotFound)
		}
		lead.post("/day/bunches", url.Values{}).wants(http.StatusNotFound)
		lead.get("/day/bunches?block=x&operation=y").wants(http.StatusOK)
		lead.get("/bunches?crew=x&until=yesterday&operation=1").wants(http.StatusOK)
	})
}

// What is asked changes from a day on; a form with faults keeps what was typed, each fault beside its row.
func TestStandardsArePutInPlace(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		owner := s.as("abril", "en").speak("en")
		list := owner.get("/standards").says("Asked today", "Common practice, no source", "30 to 35 strands", "is your decision")
		change := html.UnescapeString(regexp.MustCompile(`/standards/new\?[^"]*Barhi`).FindString(list.body))
		page := owner.get(change).says(`value="Strands kept"`, `value="38"`, `<option value="Barhi" selected>`)
		operation := regexp.MustCompile(`<option value="([^"]+)" selected>pollination`).FindStringSubmatch(page.body)[1]
		form := url.Values{"id": {page.hidden("id")}, "rows": {page.hidden("rows")}, "operation_id": {operation}, "variety": {"Barhi"}, "effective_on": {"2026-03-01"}, "do": {"keep"}}
		set := func(row string, values ...string) {
			for i, name := range []string{"point", "name_en", "name_es", "kind", "low", "high", "unit", "reason"} {
				form.Set("points."+row+"."+name, values[i])
			}
		}
		set("1", "strands_kept", "Strands kept", "Hebras que quedan", "number", "45", "40", "strand", "Ours")
		set("3", "", "Bag on & tied", "Bolsa puesta", "yes_no", "", "", "strand", "")
		owner.post("/standards", form).wants(http.StatusUnprocessableEntity).
			says(`href="#effective_on"`, `href="#points.1.high"`, `href="#points.3.reason"`, `value="Bag on &amp; tied"`)
		form.Set("do", "row")
		if more := owner.post("/standards", form).wants(http.StatusOK).says(`value="Bag on &amp; tied"`); more.hidden("rows") == form.Get("rows") {
			t.Error("there is no room for one more")
		}
		form.Set("do", "keep")
		form.Set("effective_on", "2026-03-03")
		form.Set("points.1.low", "36,5")
		form.Set("points.3.reason", "Ours")
		for range 2 {
			owner.post("/standards", form).leads("/standards?done=standard_kept")
		}
		owner.get("/standards?done=standard_kept").says("This is asked from its day on.", "Yet to begin", "36.5 to 40 strands", "38 to 42 strands")
		owner.get("/standards?day=2026-03-03").says("36.5 to 40 strands", "Bag on &amp; tied").hides("38 to 42 strands")
		owner.get("/standards?day=2026-02-01").says("Nothing is asked on this day.")
		form.Set("id", models.NewID().String())
		form.Set("do", "withdraw")
		owner.post("/standards", form).leads("/standards?done=standard_withdrawn")
		owner.get("/standards?day=2026-03-03").hides("36.5 to 40 strands", "Barhi")
		form.Set("effective_on", "")
		owner.post("/standards", form).wants(http.StatusUnprocessableEntity).says(`href="#effective_on"`)
	})
}
