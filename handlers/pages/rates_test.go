package pages_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// The owner reads what is in force and records new rates, each once however often its form is sent.
func TestRatesAreRecorded(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("abril", "en").speak("en")
		first := b.get("/rates").says("$10.25", "block A-4", "variety Barhi", "$17.50", "Eusebio Talamantes", "everybody who has no rate of their own")
		operation := regexp.MustCompile(`(?i)value="([0-9a-f-]{36})"[^>]*>de-thorning`).FindStringSubmatch(first.body)
		piece := url.Values{"id": {first.hidden("id")}, "operation_id": {operation[1]}, "place": {"variety:Barhi"}, "rate": {"x"}}
		b.post("/rates", piece).wants(http.StatusUnprocessableEntity).says(`href="#rate"`, `href="#effective_on"`, `value="x"`)
		piece.Set("rate", "-1")
		piece.Set("effective_on", "2026-03-20")
		b.post("/rates", piece).wants(http.StatusUnprocessableEntity).says(`href="#rate"`)
		piece.Set("rate", "7.77")
		for range 2 {
			b.post("/rates", piece).leads("/rates?done=rate_kept")
		}
		if p := b.get("/rates").says("$7.50", "$7.77", "from "); strings.Count(p.body, "$7.77") != 1 {
			t.Error("a rate that was sent twice is there twice")
		}
		piece.Set("id", b.get("/rates").hidden("id"))
		piece.Set("rate", "7.61")
		piece.Set("effective_on", "2026-02-16")
		b.post("/rates", piece).leads("/rates?done=rate_back")
		b.get("/rates?done=rate_back").says("$7.61", "reaches back", "wait for the clerk", "$7.77").hides("$7.50")

		hour := url.Values{"id": {b.get("/rates").hidden("id")}, "number": {"999"}, "hourly_rate": {"0"}, "hourly_from": {"2026-03-20"}}
		b.post("/rates/hourly", hour).wants(http.StatusUnprocessableEntity).says(`href="#number"`, "Nobody here has the number 999")
		hour.Set("number", "2")
		b.post("/rates/hourly", hour).wants(http.StatusUnprocessableEntity).says(`href="#hourly_rate"`)
		hour.Set("hourly_rate", "19.25")
		for range 2 {
			b.post("/rates/hourly", hour).leads("/rates?done=rate_kept")
		}
		b.get("/rates").says("$19.25")
		hour.Set("hourly_rate", "20")
		b.post("/rates/hourly", hour).wants(http.StatusConflict)
		hour.Set("id", b.get("/rates").hidden("id"))
		hour.Set("number", "")
		hour.Set("hourly_from", "1026-03-20")
		b.post("/rates/hourly", hour).wants(http.StatusUnprocessableEntity).says(`href="#hourly_from"`)
		s.as("hazel", "en").speak("es").get("/rates").says("Tarifas por pieza", "a partir del")
	})
}
