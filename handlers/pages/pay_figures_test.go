package pages_test

import (
	"html"
	"regexp"
	"strings"
	"testing"

	"palmero/payroll"
)

var (
	payFigureLink = regexp.MustCompile(`<a href="(/statements/[0-9a-f-]{36}(?:\?kind=[a-z]+)?)#why">([^<]+)</a>`)
	payWhySection = regexp.MustCompile(`(?s)<section id="why".*?</section>`)
	payWhyLine    = regexp.MustCompile(`(?s)<li><b>([^<]+)</b>(.*?)</li>`)
	payOpenedTo   = regexp.MustCompile(`<a href="(/rulebooks/[^"#]+)[^"]*">Provision: [^<]+</a>`)
)

// cents reads an amount as a page shows it in English.
func payCents(t *testing.T, shown string) payroll.Cents {
	t.Helper()
	c, err := payroll.ParseCents(strings.NewReplacer("$", "", ",", "", "−", "-", "+", "").Replace(html.UnescapeString(shown)))
	if err != nil {
		t.Fatalf("%q: %v", shown, err)
	}
	return c
}

// Every figure of a pay run opens to the lines that it is made of, which add up to it, each with its provision and where the rulebook has it; hours open to the days.
func TestEveryFigureOpens(t *testing.T) {
	each(t, func(t *testing.T, s *site) {
		hazel := s.as("hazel", "en")
		run := hazel.drafted()
		page := hazel.get(run)
		links := payFigureLink.FindAllStringSubmatch(page.body, -1)
		if len(links) < 100 {
			t.Fatalf("%d figures open", len(links))
		}
		books := map[string]bool{}
		for _, link := range links {
			why := payWhySection.FindString(hazel.get(html.UnescapeString(link[1])).body)
			var sum payroll.Cents
			for _, line := range payWhyLine.FindAllStringSubmatch(why, -1) {
				sum += payCents(t, line[1])
				m := payOpenedTo.FindStringSubmatch(line[2])
				if m == nil {
					t.Errorf("%s: a line rests on nothing that can be read: %s", link[1], line[0])
					continue
				}
				books[m[1]] = true
			}
			if sum != payCents(t, link[2]) {
				t.Errorf("%s shows %s, its lines come to %s: %s", link[1], link[2], sum, why)
			}
		}
		for book := range books {
			hazel.get(book).wants(200)
		}
		hours := regexp.MustCompile(`data-label="Hours"><a href="(/statements/[0-9a-f-]{36}#days)">([0-9:]+)</a>`).FindAllStringSubmatch(page.body, -1)
		if len(hours) != 21 {
			t.Fatalf("the hours of %d people open", len(hours))
		}
		hazel.get(strings.TrimSuffix(hours[0][1], "#days")).says(`id="days"`, hours[0][2])
	})
}
