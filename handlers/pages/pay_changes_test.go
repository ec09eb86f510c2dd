package pages_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"palmero/handlers/text"
	"palmero/models/payrun"
)

func init() { allowed["GET /pay/{id}/changes"] = "ca" }

// What a redraft moved is told by worker and kind of pay, with the record by which it did; against the week before is told apart from it.
func TestWhatChangedSinceTheLastDraft(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel := s.as("hazel", "en")
		run := hazel.drafted()
		problems, changes := run+"/problems", run+"/changes"
		hazel.get(run).hides("Since the last draft")
		hazel.get(changes).says("This is the first draft of this pay run")
		later := func() { s.clock.Set(s.clock.Now().Add(time.Minute)) }
		redraft := func() {
			t.Helper()
			later()
			hazel.posted(run+"/redraft", url.Values{"version": {hazel.get(run).hidden("version")}}).leads(run + "?done=redrafted")
		}
		redraft()
		hazel.get(run).says("Since the last draft", "Nobody&#39;s pay changed since the last draft.")
		hazel.get(changes).says("Nobody&#39;s pay changed since the last draft.").hides("Whose pay changed")

		later()
		_, end := hazel.problem(run, "has no end")
		hazel.post(problems, with(end, "end", "15:00", "reason", "He went home with the others at three")).leads(problems + "?done=time_ended")
		_, rate := hazel.problem(run, "Nobody has set what bagging pays")
		hazel.post(problems, with(rate, "rate", "0.46", "where", "block", "effective_on", "2026-02-01")).leads(problems + "?done=rate_given")
		s.correctTally("hazel", 18, "2026-02-23", 9_000)
		redraft()
		hazel.get(run).says("People whose pay changed since the last draft: 4.", `href="`+changes+`"`, "The week before came to")
		hazel.get(changes).says("15 Refugio Valdés", "was not in the last draft", "Time on Feb 27, 2026 was corrected.", "He went home with the others at three", "Hazel Whitcomb, ",
			"A rate of $0.46 for bagging in block C-1, from Feb 1, 2026, was recorded.", "The count of pollination in block A-3 on Feb 23, 2026 was corrected to",
			`data-label="Before">$900.81</td>`, `data-label="Now">$911.16</td>`, `data-label="Change">+$10.35</td>`, "$46.67", "It is the same week, reckoned twice").hides("The records do not tell")
		s.as("abril", "es").get(changes).says("15 Refugio Valdés", "no estaba en el último borrador", "Se corrigió el tiempo del 27 feb 2026.")
		hazel.get(changes + "?after=99").says("People whose pay changed").hides("Refugio")
		s.as("ines", "es").get(changes).wants(http.StatusForbidden)
	})
}

// Every kind of record by which pay moves has its words.
func TestRecordsThatMovePayHaveWords(t *testing.T) {
	for _, kind := range payrun.BecauseKinds {
		for _, lang := range text.Languages() {
			if key := "page.pay.change.because." + string(kind); !text.For(lang).Has(key) {
				t.Errorf("%s has no message %s", lang, key)
			}
		}
	}
}
