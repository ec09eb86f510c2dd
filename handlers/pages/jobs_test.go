//go:build !race

package pages_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"palmero/handlers/text"
	"palmero/models/season"
	"palmero/payroll"
)

// person is somebody of the season at their own window, who reads the pages in a language.
type person struct {
	*window
	words *text.Catalogue
}

func (c *chromium) person(t *testing.T, origin, account, lang string, width int64) *person {
	t.Helper()
	p := &person{c.window(t, origin, lang, width), text.For(lang)}
	p.signIn(account, season.Secret)
	if got(p.window, chromedp.Evaluate[string]("document.documentElement.lang")) != lang {
		p.click(fmt.Sprintf("button[name=language][value=%s]", lang))
	}
	return p
}

// say is a message of the catalogue in the person's language.
func (p *person) say(key string, terms payroll.Terms) string { return p.words.Say(key, terms) }

// click clicks what a CSS selector finds and waits for the page that comes of it.
func (w *window) click(selector string) {
	w.Helper()
	w.leave(func() { w.do(chromedp.Click(chromedp.CSS(selector))) })
}

// press presses the button that says some words.
func (w *window) press(words string) {
	w.Helper()
	w.leave(func() {
		w.do(chromedp.Click(chromedp.Search(`//main//button[contains(normalize-space(.), "` + words + `")]`)))
	})
}

// follow follows the first link that says some words.
func (w *window) follow(words string) {
	w.Helper()
	w.leave(func() {
		w.do(chromedp.Click(chromedp.Search(`//main//a[contains(normalize-space(.), "` + words + `")]`)))
	})
}

// leave does what leads to another page and waits until that is there.
func (w *window) leave(act func()) {
	w.Helper()
	got(w, chromedp.Evaluate[bool]("window.staying = true"))
	act()
	for range 300 {
		gone, err := chromedp.Run(w.ctx, chromedp.Evaluate[bool](`window.staying === undefined && document.readyState === "complete"`))
		if err == nil && gone { // an error says that the page is just changing
			w.quiet()
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	w.Fatalf("still at %s", w.where())
}

// fill puts a value into a field.
func (w *window) fill(selector, value string) {
	w.Helper()
	w.do(chromedp.WaitReady(chromedp.CSS(selector)), chromedp.SetValue(chromedp.CSS(selector), value))
}

// choose chooses what a list calls by some words.
func (w *window) choose(selector, words string) {
	w.Helper()
	value := got(w, chromedp.Evaluate[string](fmt.Sprintf(`[...document.querySelectorAll(%q)].find(o => o.textContent.includes(%q)).value`, selector+" option", words)))
	w.fill(selector, value)
}

// tick ticks the box of somebody, by name.
func (w *window) tick(name string) {
	w.Helper()
	w.do(chromedp.Click(chromedp.Search(`//main//label[contains(., "` + name + `")]`)))
}

// The whole way from a day's work to the reason of a line: a crew lead records a day, the clerk settles a problem and drafts the week, the owner approves it, and the worker reads in Spanish why.
func TestFromCrewSheetToStatement(t *testing.T) {
	_, origin := newSeason(t)
	c := newChromium(t)

	lead := c.person(t, origin, "ramiro", "es", phone)
	lead.recordSaturday()

	clerk := c.person(t, origin, "hazel", "en", desktop)
	run := clerk.draft()
	clerk.settleEntry(run)

	owner := c.person(t, origin, "abril", "es", desktop)
	owner.visit(run)
	owner.press(strings.TrimSpace(strings.Split(owner.say("page.pay.approve_do", payroll.Terms{"count": 1, "gross": payroll.Cents(0)}), " ")[0]))
	owner.says(owner.say("run_state.approved", nil))

	worker := c.person(t, origin, "ines", "es", phone)
	worker.visit("/my/statements")
	worker.click("main table tbody tr th a")
	worker.says("polinización")
	worker.says("racimos ×")
	worker.accessible()
}

// recordSaturday records what Inés did on the last Saturday: two hours of pollination in A-4, 64 bunches.
func (p *person) recordSaturday() {
	p.Helper()
	p.visit("/day?on=2026-02-28")
	p.choose("#block", "A-4")
	p.choose("#operation", p.words.Operation("pollination"))
	p.press(p.say("page.day.begin_here", nil))
	p.visit("/day/roll?on=2026-02-28")
	for _, absent := range []string{"Ramiro Encinas", "Tomás Urías", "Celso Madrigal", "Norma Félix", "Clayton Webb", "Aurelio Duarte", "Brenda Soto"} {
		p.tick(absent)
	}
	p.press(p.say("page.day.keep_roll", nil))
	p.visit("/day/time?on=2026-02-28")
	p.fill("#at", "06:30")
	p.press(p.say("page.day.start_all", nil))
	p.fill("#at", "08:35")
	p.press(p.say("page.day.stop_all", nil))
	p.visit("/day/counts?on=2026-02-28")
	p.fill(`.pads input[inputmode="decimal"]`, "64")
	p.press(p.say("page.day.keep_counts", nil))
	p.visit("/day/send?on=2026-02-28")
	p.says("Inés Barraza")
	p.press(p.say("page.day.send_do", nil))
}

func (p *person) draft() string {
	p.Helper()
	p.visit("/pay")
	p.press(p.say("page.pay.draft_do", nil))
	at, _, _ := strings.Cut(p.where(), "?")
	return at
}

func (p *person) settleEntry(run string) {
	p.Helper()
	p.visit(run + "/problems")
	p.follow(p.say("page.pay.fix.time", nil))
	p.fill("#end", "14:30")
	p.fill("#reason", "Said the lead: forgot to stop the time")
	p.press(p.say("page.pay.end_do", nil))
	p.press(p.say("page.pay.redraft_do", nil))
}

// A stopping defect: the ladder goes out of service, the climb is stopped, nobody of the crew may go up any more, and the bunches of the day are paid as before, to the word.
func TestStoppedClimbIsPaid(t *testing.T) {
	_, origin := newSeason(t)
	c := newChromium(t)
	worker := c.person(t, origin, "ines", "es", phone)
	before := worker.payOfWeek("2026-03-01")
	if !strings.Contains(before, "racimos") {
		t.Errorf("no bunches are paid in the week:\n%s", before)
	}
	officer := c.person(t, origin, "oscar", "en", phone)
	officer.visit("/clearance")
	officer.says(officer.say("page.clearance.some", payroll.Terms{"cleared": 7, "all": 8}))

	officer.visit("/equipment")
	officer.follow("T-1")
	officer.fill("#note", "A rung is cracked")
	officer.press(officer.say("page.equipment.out_do", nil))
	officer.says(officer.say("page.equipment.out_of_service", nil))
	officer.visit("/clearance")
	officer.says(officer.say("page.clearance.some", payroll.Terms{"cleared": 0, "all": 8}))

	officer.visit("/stops/new")
	officer.choose("#crew_id", "Sur")
	officer.fill("#reason", "The ladder has a cracked rung")
	officer.press(officer.say("page.stop.do", nil))
	officer.visit("/clearance")
	officer.says("Sur")

	if after := worker.payOfWeek("2026-03-01"); after != before {
		t.Errorf("the pay was\n%s\nand is\n%s", before, after)
	}
}

// payOfWeek is what the page of the pay so far says of a week.
func (p *person) payOfWeek(start string) string {
	p.Helper()
	p.visit("/my/pay?week=" + start)
	p.says("$")
	return got(p.window, chromedp.Text(chromedp.CSS("main")))
}
