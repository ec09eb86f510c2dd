package pages

import (
	"bytes"
	"html/template"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// ownWorkPages show people their own work and pay: whose it is comes from the account and from nowhere else.
func ownWorkPages() []Page {
	return []Page{
		{Method: "GET", Path: "/my/week", Roles: hands, Nav: "page.nav.my_week", handle: showOwnWeek},
		{Method: "GET", Path: "/my/pay", Roles: hands, Nav: "page.nav.my_pay", handle: showOwnPay},
		{Method: "GET", Path: "/my/counts/{id}", Roles: hands, handle: showOwnCount},
		{Method: "POST", Path: "/my/counts/{id}", Roles: hands, handle: answerCount},
	}
}

// mostCounts is more than anybody's counts of two weeks.
const mostCounts = 2000

// ownWeek is somebody's own week.
type ownWeek struct {
	First, Last, Today dated.Date
	Days               []ownDay
	So                 *payrun.SoFar
	Open               int // counts on which nothing was said yet
}

// Before is the first day of the week before.
func (w *ownWeek) Before() dated.Date { return w.First.AddDays(-7) }

// After is the first day of the next week, and zero where that is yet to come.
func (w *ownWeek) After() dated.Date {
	if next := w.First.AddDays(7); !next.After(w.Today) {
		return next
	}
	return dated.Date{}
}

// ownDay is what is recorded of a day.
type ownDay struct {
	Date   dated.Date
	Time   []payrun.Detail
	Counts []ownCount
}

// ownCount is a tally with the worker's last word on it, nil where there is none.
type ownCount struct {
	intake.OwnTally
	Answer *models.SaidOfTally
}

// Said is the worker's last word on the count, "" where there is none.
func (c ownCount) Said() models.Answer {
	if c.Answer == nil {
		return ""
	}
	return c.Answer.Answer
}

// Part writes the worker's part of a lot, "" where the pieces are all theirs.
func (c ownCount) Part() string {
	switch {
	case c.PartMinutes != nil && c.LotMinutes != nil:
		return payroll.Pieces(int64(*c.PartMinutes)*1000).String() + "/" + payroll.Pieces(int64(*c.LotMinutes)*1000).String()
	case c.Share != nil:
		return c.Share.String()
	case c.Heads != nil:
		return "1/" + payroll.Pieces(int64(*c.Heads)*1000).String()
	}
	return ""
}

// readOwnWeek reads the week that a day falls in, or this week where the day is zero.
func (v *visit) readOwnWeek(b *models.Batch, day dated.Date) (*ownWeek, error) {
	calendar, err := payrun.CalendarOf(b)
	if err != nil {
		return nil, err
	}
	today := calendar.Today(b.Now)
	if day.IsZero() || day.After(today) {
		day = today
	}
	first, worker := calendar.WeekOf(day), *v.caller.Worker
	w := &ownWeek{First: first, Last: first.AddDays(6), Today: today}
	if w.So, err = payrun.Preview(b, v.Books, worker, first); err != nil {
		return nil, err
	}
	var tallies []intake.OwnTally
	intake.FindWorkerTallies(b, worker, models.Day(first), models.Day(w.Last), models.Page{Limit: mostCounts}, &tallies)
	answers := models.FindLastAnswers(b, worker, models.Day(first), models.Day(w.Last))
	b.Then(func() error {
		w.sort(standingCounts(tallies, answers))
		return nil
	})
	return w, nil
}

// standingCounts are the tallies that stand, with what was said of them.
func standingCounts(tallies []intake.OwnTally, answers map[uuid.UUID]*models.SaidOfTally) (counts []ownCount) {
	for _, t := range tallies {
		if t.SupersededBy == nil {
			counts = append(counts, ownCount{t, answers[t.ID]})
		}
	}
	return counts
}

// sort puts what is recorded under its days.
func (w *ownWeek) sort(counts []ownCount) {
	for day := w.First; !day.After(w.Last); day = day.AddDays(1) {
		d := ownDay{Date: day}
		for _, row := range w.So.Detail {
			if row.Date == day && row.Kind != "" {
				d.Time = append(d.Time, row)
			}
		}
		for _, c := range counts {
			if c.Workday.Date == day {
				d.Counts = append(d.Counts, c)
				if c.Answer == nil {
					w.Open++
				}
			}
		}
		if len(d.Time)+len(d.Counts) > 0 {
			w.Days = append(w.Days, d)
		}
	}
}

// On is what is recorded of a day, nil where nothing is.
func (w *ownWeek) On(day dated.Date) *ownDay {
	for i := range w.Days {
		if w.Days[i].Date == day {
			return &w.Days[i]
		}
	}
	return nil
}

func showOwnWeek(v *visit) (*answer, error) {
	var week *ownWeek
	err := v.ask(func(b *models.Batch) (err error) {
		week, err = v.readOwnWeek(b, v.day("week"))
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("my_week", week), nil
}

// ownPay is the pay of a week as the records are now, and why.
type ownPay struct {
	*ownWeek
	Problems []toldProblem
	Lines    template.HTML // "" where there is no statement
}

// toldProblem is something about a week that its worker should know.
type toldProblem struct {
	Date dated.Date
	Mark Mark
}

func showOwnPay(v *visit) (*answer, error) {
	var pay ownPay
	err := v.ask(func(b *models.Batch) (err error) {
		pay.ownWeek, err = v.readOwnWeek(b, v.day("week"))
		return err
	})
	if err != nil {
		return nil, err
	}
	pay.Problems = v.tellProblems(pay.So.Problems)
	if pay.So.Statement != nil {
		var b bytes.Buffer
		if err := documents.LinesHTML(&b, pay.So.Statement, pay.So.Book, v.catalogue()); err != nil {
			return nil, err
		}
		pay.Lines = template.HTML(b.String())
	}
	return show("my_pay", pay), nil
}

// tellProblems says a week's problems in the reader's language.
func (v *visit) tellProblems(problems []payrun.Problem) []toldProblem {
	told := make([]toldProblem, len(problems))
	for i, p := range problems {
		kind := "look"
		if p.Kind == payrun.Note {
			kind = "plain"
		}
		told[i] = toldProblem{p.Date, Mark{kind, documents.ProblemText(&p, v.catalogue())}}
	}
	return told
}

// countPage is one count with what became of it.
type countPage struct {
	Count   ownCount
	Chain   []intake.OwnTally    // what it took the place of and what took its place, oldest first; empty where it was never corrected
	Answers []models.SaidOfTally // all that was said of it, in order
	Zone    *time.Location
}

func showOwnCount(v *visit) (*answer, error) { return ownCountPage(v, newForm(nil)) }

func ownCountPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page countPage
	err = v.view(func(tx *models.Tx) error { return page.read(tx, *v.caller.Worker, id) })
	if err != nil {
		return nil, err
	}
	return show("my_count", page).with(f), nil
}

func (p *countPage) read(tx *models.Tx, worker, id uuid.UUID) (err error) {
	if p.Zone, err = payrun.HomeZone(tx); err != nil {
		return err
	}
	chain, err := intake.OwnChain(tx, worker, id)
	if err != nil {
		return err
	}
	for _, t := range chain {
		if t.ID == id {
			p.Count.OwnTally = t
		}
	}
	if len(chain) > 1 {
		p.Chain = chain
	}
	if p.Answers, err = models.AnswersOf(tx, []uuid.UUID{id}); err == nil && len(p.Answers) > 0 {
		p.Count.Answer = &p.Answers[len(p.Answers)-1]
	}
	return err
}

// answerCount records the worker's word on a count.
func answerCount(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("answer", "note", "week")
	if err != nil {
		return nil, err
	}
	said := models.Answer(f.Value("answer"))
	err = v.in(func(tx *models.Tx) error {
		_, _, err := models.AnswerTally(tx, *v.caller.Worker, id, f.ID, said, f.Value("note"))
		return err
	})
	if err != nil {
		return v.again(f, err, ownCountPage)
	}
	to := "/my/week"
	if day, err := dated.ParseDate(f.Value("week")); err == nil {
		to += "?week=" + day.String()
	}
	return seeOther(to, "count_"+strings.ToLower(string(said))), nil
}

// ownFirst is the first page of those whose own work is recorded.
type ownFirst struct {
	Needs []Need
	Week  *ownWeek
	Day   *ownDay // today's; nil where nothing is recorded yet
	Last  *payrun.Brief
}

func ownHome(v *visit) (*answer, error) {
	var first ownFirst
	var before *ownWeek
	var latest []payrun.Brief
	err := v.ask(func(b *models.Batch) (err error) {
		if first.Week, err = v.readOwnWeek(b, dated.Date{}); err != nil {
			return err
		}
		if before, err = v.readOwnWeek(b, first.Week.Before()); err != nil {
			return err
		}
		payrun.FindLatestStatements(b, *v.caller.Worker, 0, 1, &latest)
		return nil
	})
	if err != nil {
		return nil, err
	}
	if len(latest) > 0 {
		first.Last = &latest[0]
	}
	if first.Last == nil || first.Last.WeekStart.Before(first.Week.Before()) { // last week waits to be settled
		first.Needs = v.ownNeeds(before)
	}
	first.Needs = append(first.Needs, v.ownNeeds(first.Week)...)
	if v.caller.Role == models.RoleCrewLead {
		var crew []Need
		err = v.view(func(tx *models.Tx) (err error) {
			crew, err = v.leadNeeds(tx)
			return err
		})
		if err != nil {
			return nil, err
		}
		first.Needs = append(crew, first.Needs...)
	}
	first.Day = first.Week.On(first.Week.Today)
	return show("my_home", first), nil
}

// ownNeeds is what waits for somebody in a week of theirs: counts to confirm or question, and what holds the pay.
func (v *visit) ownNeeds(w *ownWeek) []Need {
	var needs []Need
	terms := payroll.Terms{"date": w.First, "count": w.Open}
	if w.Open > 0 {
		key := "page.my.counts_open"
		if w.Open == 1 {
			key = "page.my.count_open"
		}
		needs = append(needs, Need{Mark{"look", v.say(key, terms)}, "/my/week?week=" + w.First.String(), v.say("page.my.look_at_counts", nil)})
	}
	if w.So.Held() {
		needs = append(needs, Need{Mark{"look", v.say("page.my.held", terms)}, "/my/pay?week=" + w.First.String(), v.say("page.my.see_why", nil)})
	}
	return needs
}
