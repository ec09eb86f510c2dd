package pages_test

import (
	"maps"
	"net/http"
	"net/url"
	"testing"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /heat":  "lsa",
		"POST /heat": "lsa",
	})
}

// The heat of a day is read by the hour, what is owed follows from it, and what nobody measured is shown as unknown.
func TestHeat(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		b := s.as("oscar", "es").speak("en")
		p := b.get("/heat?on=2026-03-02").says("Heat in", "97 °F", "Full dots")
		form := url.Values{"id": {p.hidden("id")}, "garden": {p.hidden("garden")}, "on": {"2026-03-02"}, "unit": {"f"}, "read_at": {"25:00"}, "temperature_f": {"hot"}}
		b.post("/heat", form).wants(http.StatusUnprocessableEntity).says(`href="#read_at"`, `href="#temperature_f"`, `value="hot"`)
	})
}
