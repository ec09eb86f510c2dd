package pages

import (
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/daybook"
	"palmero/models/payrun"
	"palmero/models/progress"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// payPages take a week's pay from the draft over approval to payment.
func payPages() []Page {
	return []Page{
		{Method: "GET", Path: "/pay", Roles: office, Nav: "page.nav.pay", handle: showPay},
		{Method: "POST", Path: "/pay", Roles: clerks, handle: draftWeek},
		{Method: "GET", Path: "/pay/{id}", Roles: office, handle: showRun},
		{Method: "POST", Path: "/pay/{id}/redraft", Roles: clerks, handle: redraftRun},
		{Method: "POST", Path: "/pay/{id}/approve", Roles: office, handle: approveRun},
		{Method: "POST", Path: "/pay/{id}/withdraw", Roles: office, handle: withdrawRun},
	}
}

const (
	runsAtOnce   = 20
	peopleAtOnce = 50 // of a run's table, so that the page stays light
)

// payPage lists the pay runs, the latest first, with what waits.
type payPage struct {
	Needs []Need
	Runs  []payrun.RunBrief
	Older int64 // the place before which older runs follow; 0: there are none
	Clerk bool  // whether the reader may draft
}

func showPay(v *visit) (*answer, error) { return payPageWith(v, nil) }

func payPageWith(v *visit, f *Form) (*answer, error) {
	page := payPage{Clerk: v.caller.Role == models.RoleClerk}
	err := v.view(func(tx *models.Tx) (err error) {
		page.Runs, err = payrun.LatestRuns(tx, v.number("before"), runsAtOnce+1)
		if err != nil {
			return err
		}
		var week dated.Date
		page.Needs, week, err = v.payNeeds(tx)
		if err == nil && f == nil {
			f = newForm(map[string]string{"week_start": week.String()})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	if len(page.Runs) > runsAtOnce {
		page.Runs = page.Runs[:runsAtOnce]
		page.Older = page.Runs[runsAtOnce-1].Seq
	}
	return show("pay", page).with(f), nil
}

// payFirst is the clerk's first page: what waits, and what came in.
type payFirst struct {
	Then   []Need // what else the farm lacks, in order
	Needs  []Need
	Lately []progress.Workday
}

func payHome(v *visit) (*answer, error) {
	var first payFirst
	err := v.view(func(tx *models.Tx) (err error) {
		if first.Needs, _, err = v.payNeeds(tx); err != nil {
			return err
		}
		today, err := payrun.Today(tx)
		if err != nil {
			return err
		}
		step, then, err := v.setUpSteps(tx, today)
		if err != nil {
			return err
		}
		first.Needs, first.Then = slices.Concat(step, first.Needs), then
		first.Lately, err = progress.Lately(tx, today, daysBack)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("pay_home", first), nil
}

// number is a whole number in the query, and 0 where there is none.
func (v *visit) number(name string) int64 {
	n, err := strconv.ParseInt(v.gin.Query(name), 10, 64)
	if err != nil {
		return 0
	}
	return n
}

// payNeeds is what waits for whoever sees to the pay, and the week that is to be drafted next.
func (v *visit) payNeeds(tx *models.Tx) (needs []Need, week dated.Date, err error) {
	current, err := payrun.CurrentWeek(tx)
	if err != nil {
		return nil, week, err
	}
	week = current.AddDays(-7)
	if needs, err = v.neverSent(tx); err != nil {
		return nil, week, err
	}
	runs, err := payrun.LatestRuns(tx, 0, runsAtOnce)
	if err != nil {
		return nil, week, err
	}
	drafted := false
	for i := range runs {
		r := &runs[i]
		drafted = drafted || r.Kind == payrun.Regular && r.WeekStart.Date == week
		more, err := v.runNeeds(tx, r)
		if err != nil {
			return nil, week, err
		}
		needs = append(needs, more...)
	}
	if !drafted && v.caller.Role == models.RoleClerk {
		worked, err := models.AnyWorkIn(tx, week, week.AddDays(6))
		if err != nil {
			return nil, week, err
		}
		if worked {
			needs = append(needs, Need{Mark{"look", v.say("page.pay.to_draft", payroll.Terms{"date": week})}, "/pay#draft", v.say("page.pay.draft_do", nil)})
		}
	}
	return needs, week, nil
}

// neverSent names the crews' days that were noted and never sent: nobody is paid by them.
func (v *visit) neverSent(tx *models.Tx) (needs []Need, err error) {
	today, err := payrun.Today(tx)
	if err != nil {
		return nil, err
	}
	overdue, err := daybook.OverdueBefore(tx, models.Day(today), nil)
	for _, o := range overdue {
		lead := o.Lead
		if lead == "" {
			lead = v.say("page.lead.nobody", nil)
		}
		terms := payroll.Terms{"lead": lead, "crew": o.Crew, "date": o.Workday.Date, "count": int(o.Waiting)}
		needs = append(needs, Need{Mark: Mark{"stop", v.say("page.lead.never_sent", terms)}})
	}
	return needs, err
}

// runNeeds is what one run waits for.
func (v *visit) runNeeds(tx *models.Tx, r *payrun.RunBrief) (needs []Need, err error) {
	at := "/pay/" + r.ID.String()
	terms := payroll.Terms{"number": int(r.Number), "date": r.WeekStart.Date, "count": r.Unpaid, "payday": r.Payday.Date}
	switch {
	case r.State == payrun.Approved && r.Unpaid > 0 && v.caller.Role == models.RoleClerk:
		needs = append(needs, Need{Mark{"look", v.say("page.pay.to_pay", terms)}, at + "/payments", v.say("page.pay.pay_do", nil)})
	case r.State == payrun.Draft:
		s, err := payrun.Summarize(tx, r.ID)
		if err != nil {
			return nil, err
		}
		if open := s.Holds + s.Undecided; open > 0 && v.caller.Role == models.RoleClerk {
			terms["count"] = open
			needs = append(needs, Need{Mark{"look", v.say("page.pay.to_settle", terms)}, at + "/problems", v.say("page.pay.settle_do", nil)})
		}
		if r.DraftedBy != v.caller.Account {
			needs = append(needs, Need{Mark{"look", v.say("page.pay.to_approve", terms)}, at, v.say("page.pay.look_do", nil)})
		}
	}
	return needs, nil
}

// draftWeek drafts the regular run of the week that a day falls in.
func draftWeek(v *visit) (*answer, error) {
	f, err := v.form("week_start")
	if err != nil {
		return nil, err
	}
	day := f.Day("week_start")
	if err = f.Faulty(); err != nil {
		return v.again(f, err, payPageWith)
	}
	return v.draft(payrun.DraftStep, f, func(profile *models.EmployerProfile) payrun.DraftRequest {
		q := payrun.DraftRequest{Kind: payrun.Regular, WeekStart: models.Day(day)}
		if !day.IsZero() {
			q.WeekStart = models.Day(models.WeekOf(day, profile.Content.WeekStart))
		}
		return q
	})
}

// draft drafts a run, and leads to it.
func (v *visit) draft(kind payrun.StepKind, f *Form, request func(*models.EmployerProfile) payrun.DraftRequest) (*answer, error) {
	return v.start(kind, f.ID, f, func(tx *models.Tx) error {
		profile, err := tx.Profile()
		if err != nil {
			return err
		}
		q := request(profile)
		q.ID = f.ID
		_, _, err = payrun.DraftRun(tx, v.Books, q)
		return err
	})
}

// runPage is a pay run: what is next, what it comes to, and who is in it.
type runPage struct {
	*payrun.Summary
	Brief    *payrun.RunBrief
	Totals   *payrun.RunTotals
	Kinds    []payrun.PayKind // that occur
	People   []payrun.Across
	More     int64          // the number after which more people follow; 0: there are none
	Moved    payrun.MoveSum // since the draft before
	Unusual  []payrun.Unusual
	Clerk    bool
	Same     bool // whether the reader drafted it and may therefore not approve it
	Rule     payroll.Terms
	Continue bool // whether this is a later part of the table, or a search in it
	Find     string
	Failed   string // where it is told why the step failed that the reader took a short while ago; "" where none did
}

// Open is how many problems wait.
func (p *runPage) Open() int { return p.Holds + p.Undecided }

// Change is how gross pay differs from the week before.
func (p *runPage) Change() payroll.Cents { return p.Totals.Gross - p.Totals.WeekBefore }

func showRun(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	a, last, err := v.underWay(id)
	if a != nil || err != nil {
		return a, err
	}
	if a, err = runPageWith(v, newForm(nil)); err != nil {
		return nil, err
	}
	if page, ok := a.data.(*runPage); ok && last != nil {
		page.Failed = pathOfStep(last)
	}
	return a, nil
}

func runPageWith(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page runPage
	err = v.view(func(tx *models.Tx) error {
		return page.read(tx, id, v.number("after"), strings.TrimSpace(v.gin.Query("find")))
	})
	if err != nil {
		return nil, err
	}
	page.Clerk = v.caller.Role == models.RoleClerk
	page.Same = page.Same && page.DraftedBy == v.caller.Account
	f.Keep(page.Version)
	return show("pay_run", &page).with(f), nil
}

func (p *runPage) read(tx *models.Tx, id uuid.UUID, after int64, find string) (err error) {
	if p.Summary, err = payrun.Summarize(tx, id); err != nil {
		return err
	}
	if p.Brief, err = payrun.ReadRun(tx, id); err != nil {
		return err
	}
	if p.Totals, err = payrun.TotalsOf(tx, &p.Run); err != nil {
		return err
	}
	for _, kind := range payrun.PayKinds {
		if p.Totals.Kinds[kind] != 0 {
			p.Kinds = append(p.Kinds, kind)
		}
	}
	if p.Find = find; find != "" {
		p.People, err = payrun.AcrossFound(tx, id, find, peopleAtOnce)
	} else {
		p.People, err = payrun.AcrossRun(tx, id, after, peopleAtOnce+1)
	}
	if err != nil {
		return err
	}
	if len(p.People) > peopleAtOnce {
		p.People = p.People[:peopleAtOnce]
		p.More = p.People[peopleAtOnce-1].WorkerNumber
	}
	profile, err := tx.Profile()
	if err != nil {
		return err
	}
	p.Same, p.Continue = profile.Content.SecondApprover, after > 0 || find != ""
	p.Rule = payroll.Terms{"weeks": payrun.WeeksBack, "least": payrun.WeeksLeast, "crew": payrun.CrewLeast}
	if p.Continue {
		return nil
	}
	if p.Moved, err = payrun.SumMoves(tx, id); err != nil {
		return err
	}
	paces, err := payrun.Paces(tx, &p.Run)
	p.Unusual = payrun.FarFromUsual(paces)
	return err
}

// step makes a handler of a step in a run's life, which names the version that was looked at.
func step(kind payrun.StepKind, take func(tx *models.Tx, books *rulebook.Library, id uuid.UUID, f *Form) error) handler {
	return func(v *visit) (*answer, error) {
		id, err := v.id()
		if err != nil {
			return nil, err
		}
		f, err := v.form("reason")
		if err != nil {
			return nil, err
		}
		return v.start(kind, id, f, func(tx *models.Tx) error { return take(tx, v.Books, id, f) })
	}
}

var redraftRun = step(payrun.RedraftStep, func(tx *models.Tx, books *rulebook.Library, id uuid.UUID, f *Form) error {
	_, err := payrun.Redraft(tx, books, id, f.Version)
	return err
})

var approveRun = step(payrun.ApproveStep, func(tx *models.Tx, books *rulebook.Library, id uuid.UUID, f *Form) error {
	_, err := payrun.Approve(tx, books, id, f.Version)
	return err
})

var withdrawRun = step(payrun.WithdrawStep, func(tx *models.Tx, _ *rulebook.Library, id uuid.UUID, f *Form) error {
	_, err := payrun.Withdraw(tx, id, f.Version, f.Value("reason"))
	return err
})
