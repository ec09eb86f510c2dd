package pages

import (
	"cmp"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/clearance"
	"palmero/payroll/dated"
	"palmero/safety"
)

// clearancePages say who may go up and who not, and take the officer's word on work that nobody was cleared for.
func clearancePages() []Page {
	return []Page{
		{Method: "GET", Path: "/clearance", Roles: guards, Nav: "page.nav.clearance", Under: "/safety", handle: showClearance},
		{Method: "GET", Path: "/clearance/{id}", Roles: guards, handle: showCrewClearance},
		{Method: "GET", Path: "/uncleared-work", Roles: guards, handle: showUncleared},
		{Method: "GET", Path: "/uncleared-work/crew-day", Roles: officer, handle: showUnclearedCrew},
		{Method: "POST", Path: "/uncleared-work/crew-day", Roles: officer, handle: settleCrewDay},
		{Method: "GET", Path: "/uncleared-work/{id}", Roles: guards, handle: showUnclearedDay},
		{Method: "POST", Path: "/uncleared-work/{id}", Roles: officer, handle: settleUncleared},
	}
}

// clearancePage is every crew's day in short.
type clearancePage struct {
	shownDay
	Crews []crewBrief
}

// crewBrief is a crew's way up in a line: how many may go, and who may not.
type crewBrief struct {
	Crew   *clearance.Answer
	Way    *clearance.Way
	Unsaid bool     // whether nobody has said how the crew goes up
	Held   []string // who may not
}

func showClearance(v *visit) (*answer, error) {
	var page clearancePage
	err := v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		crews, err := crewsOn(tx, page.On)
		if err != nil {
			return err
		}
		answers, err := clearance.LookAll(tx, figuring.Books(), crews, page.On)
		for _, a := range answers {
			page.Crews = append(page.Crews, briefsOf(a)...)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("clearance", page), nil
}

// crewsOn lists the crews that have members on a day, by their numbers.
func crewsOn(tx *models.Tx, day dated.Date) ([]*models.Crew, error) {
	members, err := models.List[models.CrewMember](tx, models.Page{Limit: mostMembers}, models.MembersOn(day))
	if err != nil {
		return nil, err
	}
	all, err := models.All[models.CrewContent](tx)
	if err != nil {
		return nil, err
	}
	var crews []*models.Crew
	for i := range members {
		if crew := all[members[i].Content.CrewID]; crew != nil && !slices.Contains(crews, crew) {
			crews = append(crews, crew)
		}
	}
	slices.SortFunc(crews, func(a, b *models.Crew) int { return cmp.Compare(a.Content.Number, b.Content.Number) })
	return crews, nil
}

// mostMembers is more people than any farm has in its crews on a day.
const mostMembers = 20_000

func briefsOf(a *clearance.Answer) (briefs []crewBrief) {
	for i := range a.Ways {
		b := crewBrief{Crew: a, Way: &a.Ways[i], Unsaid: a.Ways[i].Way == ""}
		for _, w := range b.Way.Workers {
			if !w.Cleared {
				b.Held = append(b.Held, w.Name)
			}
		}
		briefs = append(briefs, b)
	}
	return briefs
}

// crewClearance is one crew's day with every reason.
type crewClearance struct {
	shownDay
	*clearance.Answer
	Shown []clearedWay
}

// clearedWay is a way up, with what stands against everybody told once.
type clearedWay struct {
	*clearance.Way
	Shared []safety.Reason
	People []clearedOne
}

// clearedOne is a worker, with what stands against this one alone.
type clearedOne struct {
	*clearance.Worker
	Own []safety.Reason
}

// showWay parts the reasons that all of two or more workers have from those of one.
func showWay(w *clearance.Way) clearedWay {
	heldFirst(w.Workers)
	shown := clearedWay{Way: w}
	if len(w.Workers) > 1 {
		for _, r := range w.Workers[0].Reasons {
			if !slices.ContainsFunc(w.Workers, func(other clearance.Worker) bool { return !has(other.Reasons, r) }) {
				shown.Shared = append(shown.Shared, r)
			}
		}
	}
	for i := range w.Workers {
		own := slices.DeleteFunc(slices.Clone(w.Workers[i].Reasons), func(r safety.Reason) bool { return has(shown.Shared, r) })
		shown.People = append(shown.People, clearedOne{&w.Workers[i], own})
	}
	return shown
}

func has(reasons []safety.Reason, r safety.Reason) bool {
	return slices.ContainsFunc(reasons, func(other safety.Reason) bool {
		return other.Code == r.Code && other.Fact == r.Fact && other.Text == r.Text && other.Authority == r.Authority && other.Blocks == r.Blocks
	})
}

func showCrewClearance(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page crewClearance
	err = v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err == nil {
			page.Answer, err = clearance.Look(tx, figuring.Books(), clearance.Question{Crew: id, Day: page.On})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	page.Speak(v.speaking())
	for i := range page.Ways {
		page.Shown = append(page.Shown, showWay(&page.Ways[i]))
	}
	return show("clearance_crew", page), nil
}

// heldFirst puts those who may not go up before those who may.
func heldFirst(workers []clearance.Worker) {
	slices.SortStableFunc(workers, func(a, b clearance.Worker) int {
		switch {
		case a.Cleared == b.Cleared:
			return 0
		case b.Cleared:
			return -1
		}
		return 1
	})
	for i := range workers {
		slices.SortStableFunc(workers[i].Reasons, func(a, b safety.Reason) int {
			switch {
			case a.Blocks == b.Blocks:
				return 0
			case a.Blocks:
				return -1
			}
			return 1
		})
	}
}

// unclearedAtOnce is how many days of work a page lists.
const unclearedAtOnce = 100

// unclearedPage is work that nobody was cleared for and nobody has spoken on.
type unclearedPage struct {
	From, Through dated.Date
	Open          []clearance.Exception
	More          bool // whether more follow once these are settled
	Crews         []unclearedCrew
}

func showUncleared(v *visit) (*answer, error) {
	var page unclearedPage
	err := v.view(func(tx *models.Tx) (err error) {
		page.From, page.Through = clearance.Recent(tx.Now), dated.DateOf(tx.Now).AddDays(1)
		page.Open, err = clearance.Exceptions(tx, page.From, page.Through, nil, unclearedAtOnce)
		return err
	})
	if err != nil {
		return nil, err
	}
	if page.More = len(page.Open) > unclearedAtOnce; page.More {
		page.Open = page.Open[:unclearedAtOnce]
	}
	page.Crews = crewsOf(page.Open)
	return show("uncleared", page), nil
}

// unclearedDay is a worker's day of work without clearance.
type unclearedDay struct {
	Worker    *models.Worker
	On        dated.Date
	Settled   *models.ClearanceException // nil: nobody has spoken on it
	SettledBy string
	Zone      *time.Location
}

func showUnclearedDay(v *visit) (*answer, error) {
	return unclearedDayPage(v, newForm(map[string]string{"on": v.gin.Query("on")}))
}

func unclearedDayPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := unclearedDay{}
	if page.On, err = dated.ParseDate(f.Value("on")); err != nil {
		return nil, errNotFound
	}
	err = v.view(func(tx *models.Tx) (err error) { return page.read(tx, v, id) })
	if err != nil {
		return nil, err
	}
	return show("uncleared_day", page).with(f), nil
}

func (p *unclearedDay) read(tx *models.Tx, v *visit, worker uuid.UUID) error {
	var err error
	if p.Worker, err = models.Get[models.WorkerContent](tx, worker); err != nil {
		return err
	}
	day, err := v.shownDay(tx)
	if err != nil {
		return err
	}
	p.Zone = day.Zone
	if p.Settled, err = clearance.SettledOn(tx, worker, p.On); err != nil || p.Settled == nil {
		return err
	}
	account, err := models.Get[models.AccountContent](tx, p.Settled.SettledBy)
	if err == nil {
		p.SettledBy = account.Content.Name
	}
	return err
}

func settleUncleared(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("finding", "reason")
	if err != nil {
		return nil, err
	}
	in := clearance.Settlement{ID: f.ID, WorkerID: id, Workday: models.Day(f.Day("on")), Finding: models.ExceptionFinding(f.Value("finding")), Reason: f.Value("reason")}
	err = f.Faulty()
	if err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := clearance.Settle(tx, in)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, unclearedDayPage)
	}
	return seeOther("/uncleared-work", "uncleared_settled"), nil
}
