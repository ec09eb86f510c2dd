package pages

import (
	"net/url"
	"slices"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/climbs"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/rulebook"
)

// housePages set rules of the house aside for a crew's day, and show what was set aside. What the law asks nobody sets aside.
func housePages() []Page {
	return []Page{
		{Method: "GET", Path: "/rules-set-aside", Roles: guards, handle: showAside},
		{Method: "GET", Path: "/rules-set-aside/new", Roles: officer, handle: showNewAside},
		{Method: "POST", Path: "/rules-set-aside/new", Roles: officer, handle: setAside},
		{Method: "GET", Path: "/rules-set-aside/{id}", Roles: guards, handle: showOneAside},
		{Method: "POST", Path: "/rules-set-aside/{id}", Roles: officer, handle: withdrawAside},
	}
}

// houseAside is a rule of the house as it was set aside, with the names of whom it is about.
type houseAside struct {
	models.RuleOverride
	Crew, Worker, By string // Worker "": everybody of the crew
}

// Holds tells whether it is still to be heard: it was neither replaced nor withdrawn.
func (a houseAside) Holds() bool { return a.SupersededBy == nil && !a.Content.Withdrawn }

// asidePage is what was set aside.
type asidePage struct {
	shownDay
	Holding []houseAside // what holds today or later
	Past    []houseAside // the rest of the last weeks, the latest first
}

// How far back the history goes, and how much of it is shown at most.
const (
	asideDays = 60
	mostAside = 300
)

func showAside(v *visit) (*answer, error) {
	var page asidePage
	err := v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		all, err := models.List[models.RuleOverride](tx, models.Page{Limit: mostAside}, models.WorkedFrom(page.Today.AddDays(-asideDays)))
		if err != nil {
			return err
		}
		named, err := nameAside(tx, all)
		for _, a := range named {
			if a.Holds() && !a.Content.Workday.Before(page.Today) {
				page.Holding = append(page.Holding, a)
			} else {
				page.Past = append(page.Past, a)
			}
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	slices.Reverse(page.Past)
	return show("house", page), nil
}

// nameAside adds the names.
func nameAside(tx *models.Tx, all []models.RuleOverride) ([]houseAside, error) {
	crews, err := crewNames(tx)
	if err != nil {
		return nil, err
	}
	accounts, err := accountNames(tx)
	if err != nil {
		return nil, err
	}
	ids := []uuid.UUID{uuid.Nil}
	for i := range all {
		if id := all[i].Content.WorkerID; id != nil {
			ids = append(ids, *id)
		}
	}
	rows, err := models.List[models.Worker](tx, models.Page{Limit: len(ids)}, models.OneOf("id", ids))
	workers := models.KeptByID(rows)
	named := make([]houseAside, len(all))
	for i := range all {
		named[i] = houseAside{RuleOverride: all[i], Crew: crews[all[i].Content.CrewID], By: accounts[all[i].RecordedBy]}
		if id := all[i].Content.WorkerID; id != nil && workers[*id] != nil {
			named[i].Worker = workers[*id].Content.Name
		}
	}
	return named, err
}

// mayAside tells whether a reason is a rule of the house alone, which a competent person may set aside for the day.
func mayAside(way *clearance.Way, day dated.Date, w *clearance.Worker, code string) bool {
	book, ok := figuring.Books().Book(way.Rulebook)
	if !ok {
		return false
	}
	rules, err := safety.RulesOf(book, day, way.Way, code)
	if err != nil || !slices.ContainsFunc(rules, func(r rulebook.Rule) bool { return r.Class == rulebook.House }) {
		return false
	}
	mine, law := false, false
	for _, r := range w.Reasons {
		if r.Code == code && r.Blocks {
			mine, law = mine || r.Class == rulebook.House, law || r.Class == rulebook.Law
		}
	}
	return mine && !law && !slices.ContainsFunc(w.Overridden, func(o safety.Overridden) bool { return o.Code == code })
}

// Aside is where a reason against a worker's way up may be set aside; "" where it may not.
func (p crewClearance) Aside(way clearedWay, w clearedOne, r safety.Reason) string {
	return p.aside(way.Way, w.Worker, r, "one")
}

// AsideForAll is where a reason against everybody's way up may be set aside for the crew; "" where it may not.
func (p crewClearance) AsideForAll(way clearedWay, r safety.Reason) string {
	return p.aside(way.Way, way.People[0].Worker, r, "crew")
}

func (p crewClearance) aside(way *clearance.Way, w *clearance.Worker, r safety.Reason, whom string) string {
	if !r.Blocks || way.BlockID == nil || !mayAside(way, p.On, w, r.Code) {
		return ""
	}
	q := url.Values{"crew": {p.CrewID.String()}, "on": {p.On.String()}, "way": {way.Way}, "block": {way.BlockID.String()}, "worker": {w.ID.String()}, "code": {r.Code}, "whom": {whom}}
	return "/rules-set-aside/new?" + q.Encode()
}

// newAsidePage is the form by which a rule is set aside.
type newAsidePage struct {
	On     dated.Date
	Crew   string
	Worker clearance.Worker
	Way    clearance.Way
	Reason safety.Reason
}

// asideFields say which reason of whose way up is meant; they go along with the form.
var asideFields = []string{"crew", "on", "way", "block", "worker", "code"}

func showNewAside(v *visit) (*answer, error) {
	f := newForm(map[string]string{"whom": "one"})
	if v.gin.Query("whom") == "crew" {
		f.Set("whom", "crew")
	}
	for _, name := range asideFields {
		f.Set(name, v.gin.Query(name))
	}
	return newAsideOf(v, f)
}

func newAsideOf(v *visit, f *Form) (*answer, error) {
	var page newAsidePage
	var err error
	if page.On, err = dated.ParseDate(f.Value("on")); err != nil {
		return nil, errNotFound
	}
	crew, err := uuid.Parse(f.Value("crew"))
	if err != nil {
		return nil, errNotFound
	}
	var a *clearance.Answer
	err = v.view(func(tx *models.Tx) (err error) {
		a, err = clearance.Look(tx, figuring.Books(), clearance.Question{Crew: crew, Day: page.On})
		return err
	})
	if err != nil {
		return nil, err
	}
	a.Speak(v.speaking())
	if page.Crew = a.Name; !page.find(a, f) {
		return show("house_nothing", page), nil
	}
	return show("house_new", page).with(f), nil
}

// find looks for the reason that the form means; false where it stands against nobody any more.
func (p *newAsidePage) find(a *clearance.Answer, f *Form) bool {
	for _, way := range a.Ways {
		if way.Way != f.Value("way") || way.BlockID == nil || way.BlockID.String() != f.Value("block") {
			continue
		}
		for _, w := range way.Workers {
			for _, r := range w.Reasons {
				if w.ID.String() == f.Value("worker") && r.Code == f.Value("code") && mayAside(&way, p.On, &w, r.Code) {
					p.Way, p.Worker, p.Reason = way, w, r
					return true
				}
			}
		}
	}
	return false
}

func setAside(v *visit) (*answer, error) {
	f, err := v.form("competent_person", "grounds", "whom")
	if err != nil {
		return nil, err
	}
	in := climbs.Setting{ID: f.ID, RuleOverrideContent: models.RuleOverrideContent{
		CrewID: f.Ref("crew"), Workday: models.Day(f.Day("on")), Way: f.Value("way"), Code: f.Value("code"), CompetentPerson: f.Value("competent_person"), Grounds: f.Value("grounds"),
	}}
	if worker := f.Ref("worker"); f.Value("whom") != "crew" {
		in.WorkerID = &worker
	}
	block := f.Ref("block")
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			b, err := models.Get[models.BlockContent](tx, block)
			if err != nil {
				return err
			}
			in.GardenID = b.Content.GardenID
			_, _, err = climbs.SetAside(tx, climbBooks(), in)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, newAsideOf)
	}
	return seeOther("/clearance/"+in.CrewID.String()+"?on="+in.Workday.String(), "set_aside"), nil
}

// oneAsidePage is one that was set aside.
type oneAsidePage struct {
	shownDay
	houseAside
}

func showOneAside(v *visit) (*answer, error) { return oneAsideOf(v, newForm(nil)) }

func oneAsideOf(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page oneAsidePage
	err = v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		page.houseAside, err = findAside(tx, id)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("house_one", page).with(f), nil
}

func findAside(tx *models.Tx, id uuid.UUID) (houseAside, error) {
	found, err := models.List[models.RuleOverride](tx, models.Page{Limit: 1}, models.Equal("id", id))
	if err == nil && len(found) == 0 {
		err = errNotFound
	}
	if err != nil {
		return houseAside{}, err
	}
	named, err := nameAside(tx, found)
	if err != nil {
		return houseAside{}, err
	}
	return named[0], nil
}

// withdrawAside takes back what was set aside: the rule holds again.
func withdrawAside(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("reason")
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		aside, err := findAside(tx, id)
		if err != nil {
			return err
		}
		in := climbs.Setting{ID: f.ID, Supersedes: &id, Reason: f.Value("reason"), RuleOverrideContent: aside.Content}
		in.Withdrawn = true
		_, _, err = climbs.SetAside(tx, climbBooks(), in)
		return err
	})
	if err != nil {
		return v.again(f, err, oneAsideOf)
	}
	return seeOther("/rules-set-aside", "aside_withdrawn"), nil
}
