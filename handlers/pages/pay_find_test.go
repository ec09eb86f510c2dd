package pages_test

import (
	"html"
	"regexp"
	"strings"
	"testing"
)

var (
	payTableFoot = regexp.MustCompile(`(?s)<tfoot>.*?</tfoot>`)
	payCrewLink  = regexp.MustCompile(`href="(\?crew=[0-9]+)"`)
	payNextLink  = regexp.MustCompile(`rel="next" href="([^"]+)"`)
)

// Somebody in a long run is found by number or name, the sums stay those of the whole run, and statements are printed crew by crew, each once.
func TestFindInARunAndPrintByCrew(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel := s.as("hazel", "en")
		run := hazel.drafted()
		sums := payTableFoot.FindString(hazel.get(run).body)
		for find, who := range map[string]string{"18": "18 Inés Barraza", "ines+barr": "18 Inés Barraza", "+BARRAZA+": "18 Inés Barraza"} {
			p := hazel.get(run+"?find="+find).says(who, "Found in this pay run: 1.", "Show everybody").hides("Eusebio Talamantes", "Far from usual")
			if got := payTableFoot.FindString(p.body); got != sums || sums == "" {
				t.Errorf("the sums are\n%s\nwith %s; of all they are\n%s", got, find, sums)
			}
		}
		hazel.get(run+"?find=%3Cb%3E'%25_").says("Nobody of that number or name", "&lt;b&gt;&#39;%_").hides("<b>'")
		hazel.get(run + "?find=999999999999999999999").says("Nobody of that number or name")
		hazel.get(run + "?find=15").says("Nobody of that number or name") // held, so that there is no statement
		if got := payTableFoot.FindString(hazel.get(run + "?after=10").body); got != sums {
			t.Errorf("the sums of a later part are\n%s", got)
		}

		printed := map[string]int{}
		crews := payCrewLink.FindAllStringSubmatch(hazel.get(run+"/print").says("Everybody (21)").body, -1)
		for _, crew := range crews {
			for path := crew[1]; path != ""; {
				p := hazel.get(run + "/print" + path)
				for _, m := range regexp.MustCompile(`(?s)<article class="sheet page">.*?</article>`).FindAllString(p.body, -1) {
					printed[regexp.MustCompile(`[A-ZÉÍ][a-zéáíóúñ]+ [A-Z][a-zéáíóúñ]+`).FindString(strings.SplitN(m, "Worker", 2)[1])]++
				}
				path = ""
				if m := payNextLink.FindStringSubmatch(p.body); m != nil {
					path = html.UnescapeString(m[1])
				}
			}
		}
		first := run + "/print" + html.UnescapeString(crews[0][1])
		hazel.get(first).says("The whole crew on one page", `name="whole"`)
		if n := strings.Count(hazel.get(first+"&whole=yes").hides("The next statements").body, `class="sheet page"`); n != 8 {
			t.Errorf("%d statements of a whole crew", n)
		}
		total := 0
		for name, n := range printed {
			if total += n; n != 1 {
				t.Errorf("%s is printed %d times", name, n)
			}
		}
		if len(crews) < 3 || total != 21 {
			t.Errorf("%d statements of %d crews: %v", total, len(crews), printed)
		}
	})
}
