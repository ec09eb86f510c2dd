package pages_test

import (
	"net/url"
	"regexp"
	"slices"
	"testing"
)

// A crew lead's first page names what waits of the crew's safety: gear that is due, training that ends, a list that was sent back.
func TestLeadsHomeNamesWhatWaits(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		lead := s.as("eusebio", "es")
		lead.get("/").says("Hay equipo por devolver o cambiar: Eusebio Talamantes (Radio)", `href="/day/gear"`).hides("Le devolvieron")
		s.as("ramiro", "es").get("/").says("Se vence la capacitación", "Aurelio Duarte (protección contra caídas, 12 mar 2026)").hides("Hay equipo por devolver")
		b := s.as("oscar", "es")
		for _, list := range slices.Compact(checklistLink.FindAllString(b.get("/checklists").body, -1)) {
			b.post(list, url.Values{"decision": {"sent_back"}, "reason": {"Otra vez las <cuerdas>"}})
		}
		p := lead.get("/").says("Le devolvieron la lista de revisión", "Otra vez las &lt;cuerdas&gt;")
		lead.get(p.first(regexp.MustCompile(`/day/climb\?[^"]+`))).wants(200)
	})
}
