package pages_test

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"palmero/models"
)

// linkOf is the address of the link that says something.
func (p *page) linkOf(says string) string {
	p.Helper()
	found := regexp.MustCompile(`href="([^"]+)">` + regexp.QuoteMeta(says) + `<`).FindStringSubmatch(p.main())
	if found == nil {
		p.Fatalf("%s has no link that says %q: %s", p.what, says, p.main())
	}
	return html.UnescapeString(found[1])
}

// A block and an operation that have ended are offered to nobody from the day after, stay on record, and come back when the last day is taken back.
func TestBlocksAndOperationsEnd(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("abril", "en").speak("en")
		garden := b.get("/gardens").led("/gardens/")
		block := b.get(garden).linkOf("C-1")
		operation := b.get("/operations").linkOf("de-thorning")
		for what, at := range map[string]string{"block": block, "operation": operation} {
			form := url.Values{"version": {b.get(at).says("in use").hidden("version")}, "last_day": {""}}
			b.post(at+"/ending", form).wants(http.StatusUnprocessableEntity).says(`href="#last_day"`)
			form.Set("last_day", "2031-01-01")
			b.post(at+"/ending", form).wants(http.StatusUnprocessableEntity).says(`href="#last_day"`, `value="2031-01-01"`)
			form.Set("last_day", "2026-03-02")
			b.post(at+"/ending", form).leads(at + "?done=" + what + "_ended")
			b.post(at+"/ending", form).wants(http.StatusPreconditionFailed)
			b.get(at).says("ends, last day Mar 2, 2026", "Take the last day back")
		}
		lead := s.as("ramiro", "es").speak("es")
		lead.get("/day").says("C-1 · ", "desespinado")
		for _, at := range []string{block, operation} {
			b.post(at+"/ending", url.Values{"version": {b.get(at).hidden("version")}, "last_day": {"2026-03-01"}})
		}
		lead.get("/day").says("A-4 · ").hides("C-1 · ").hides("desespinado")
		lead.get("/day?on=2026-03-01").says("C-1 · ", "desespinado")
		b.get(garden).says("Blocks that have ended", "C-1", "Mar 1, 2026")
		b.get("/operations").says("Operations that are not done any more")
		b.get("/rates").says("block C-1, until Mar 1, 2026", "de-thorning, until Mar 1, 2026")
		if sample := string(s.as("hazel", "en").sample("blocks")); strings.Contains(sample, "C-1") || !strings.Contains(sample, "A-4") {
			t.Errorf("the file to fill in:\n%s", sample)
		}
		if p := s.as("hazel", "en").speak("es").get(block).says("terminó, último día 1 mar 2026"); strings.Contains(p.main(), "<form") {
			t.Error("the clerk is offered what only the administrator may")
		}

		kept := url.Values{"version": {b.get(block).hidden("version")}, "code": {"C-1"}, "variety": {"Zahidi"}, "palms": {"70"}, "tallest": {"30"}}
		b.post(block, kept).leads(garden + "?done=block_kept")
		b.get(block).says("ended, last day Mar 1, 2026")
		for what, at := range map[string]string{"block": block, "operation": operation} {
			b.post(at+"/ending", url.Values{"version": {b.get(at).hidden("version")}, "back": {"yes"}}).leads(at + "?done=" + what + "_goes_on")
			b.get(at).says("in use")
		}
		lead.get("/day").says("C-1 · ", "desespinado")
	})
}

// A garden that is given up ends with all of its blocks, those left alone that had ended before, and comes back as it was.
func TestAGardenEnds(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("abril", "en").speak("en")
		garden := b.get("/gardens").led("/gardens/")
		block := b.get(garden).linkOf("C-1")
		b.post(block+"/ending", url.Values{"version": {b.get(block).hidden("version")}, "last_day": {"2026-02-20"}}).leads(block + "?done=block_ended")
		b.post(garden+"/ending", url.Values{}).wants(http.StatusUnprocessableEntity).says(`href="#last_day"`)
		b.post(garden+"/ending", url.Values{"last_day": {"1889-05-01"}}).wants(http.StatusUnprocessableEntity).says(`href="#last_day"`)
		for range 2 {
			b.post(garden+"/ending", url.Values{"last_day": {"2026-03-01"}}).leads(garden + "?done=garden_ended")
		}
		b.get(garden).says("ended, last day Mar 1, 2026", "Blocks that have ended", "A-4", "Feb 20, 2026")
		s.as("ramiro", "es").speak("es").get("/day").hides("A-4 · ").hides("C-1 · ")
		officer := s.as("oscar", "es").speak("es")
		if p := officer.get("/palms-to-avoid"); strings.Contains(p.main(), "4-61") || strings.Contains(p.main(), "<option") && strings.Contains(p.main(), ">A-4<") {
			p.Errorf("palms of a block that has ended: %s", p.main())
		}
		officer.get("/heat").says("No hay ninguna huerta en uso")
		officer.get("/heat?on=2026-03-01").says("Huerta Media Tarde")
		b.get("/audit").says("blocks ended")
		for range 2 {
			b.post(garden+"/ending", url.Values{"back": {"yes"}}).leads(garden + "?done=garden_goes_on")
		}
		b.get(block).says("ended, last day Feb 20, 2026")
		s.as("ramiro", "es").speak("es").get("/day").says("A-4 · ").hides("C-1 · ")
		b.post("/gardens/"+models.NewID().String()+"/ending", url.Values{"last_day": {"2026-03-01"}}).wants(http.StatusNotFound)
	})
}
