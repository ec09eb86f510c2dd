package pages

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// workerPages keep the books on who works here. Whoever sets up the farm reads them; the clerk writes them.
func workerPages() []Page {
	return []Page{
		{Method: "GET", Path: "/workers", Roles: office, Nav: "page.set.workers", Under: "/set-up", handle: workersPage},
		{Method: "GET", Path: "/workers/new", Roles: clerks, handle: func(v *visit) (*answer, error) { return newWorkerPage(v, nil) }},
		{Method: "POST", Path: "/workers/new", Roles: clerks, handle: newWorker},
		{Method: "GET", Path: "/workers/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return workerPage(v, nil) }},
		{Method: "POST", Path: "/workers/{id}", Roles: clerks, handle: changeWorker},
		{Method: "POST", Path: "/workers/{id}/leaving", Roles: clerks, handle: endWork},
		{Method: "POST", Path: "/workers/{id}/return", Roles: clerks, handle: beginAnew},
		{Method: "POST", Path: "/workers/{id}/same", Roles: clerks, handle: sayWho},
	}
}

// workersAtOnce is how many workers a page of the list shows.
const workersAtOnce = 50

// Which workers are listed, as the query says it.
var workerLists = map[string]func(dated.Date) models.Condition{
	"here":      models.NotLeft,
	"left":      models.LeftBefore,
	"unsettled": func(dated.Date) models.Condition { return models.Unsettled(true) },
	"all":       func(dated.Date) models.Condition { return models.Everything },
}

// workerList is a part of the workers.
type workerList struct {
	Words, Which string
	Choices      []Option
	Rows         []workerRow
	More         int64 // the place after which more follow; 0: none do
	First        bool  // whether this is the beginning of the list
	None         bool  // whether nobody is on the books at all
	Clerk        bool
	Today        dated.Date
}

// workerRow is a worker with the crews of the day.
type workerRow struct {
	*models.Worker
	Crews []models.WorkerCrew
}

// Left tells whether the employment ended before a day.
func (r workerRow) Left(day dated.Date) bool {
	return !r.Content.EndedOn.IsZero() && r.Content.EndedOn.Before(day)
}

// ToCome tells whether the employment begins after a day.
func (r workerRow) ToCome(day dated.Date) bool { return r.Content.StartedOn.After(day) }

// Unsettled tells whether it is a hand of whom nobody has said yet who it is.
func (r workerRow) Unsettled() bool { return r.Content.Provisional && r.Content.SameAs == nil }

func workersPage(v *visit) (*answer, error) {
	list := workerList{Words: v.gin.Query("find"), Which: v.gin.Query("list"), First: v.number("after") == 0, Clerk: v.caller.Role == models.RoleClerk}
	if workerLists[list.Which] == nil {
		list.Which = "here"
	}
	for _, which := range []string{"here", "left", "unsettled", "all"} {
		list.Choices = append(list.Choices, Option{which, v.say("page.set.list_"+which, nil), which == list.Which})
	}
	err := v.view(func(tx *models.Tx) (err error) {
		if list.Today, err = payrun.Today(tx); err != nil {
			return err
		}
		found, err := models.FindWorkers(tx, models.Page{After: v.number("after"), Limit: workersAtOnce}, list.Words, workerLists[list.Which](list.Today))
		if err != nil {
			return err
		}
		if len(found) > workersAtOnce {
			found = found[:workersAtOnce]
			list.More = found[workersAtOnce-1].Seq
		}
		return list.read(tx, found)
	})
	if err != nil {
		return nil, err
	}
	return show("set_workers", &list), nil
}

// read fills the rows, and finds out whether there is anybody at all where there are none.
func (l *workerList) read(tx *models.Tx, found []models.Worker) error {
	ids := make([]uuid.UUID, len(found))
	for i := range found {
		ids[i] = found[i].ID
		l.Rows = append(l.Rows, workerRow{Worker: &found[i]})
	}
	crews, err := models.CrewsOfWorkers(tx, ids, l.Today)
	if err != nil {
		return err
	}
	for i := range l.Rows {
		l.Rows[i].Crews = crews[l.Rows[i].ID]
	}
	if len(found) == 0 {
		any, err := models.List[models.Worker](tx, models.Page{Limit: 0})
		l.None = len(any) == 0
		return err
	}
	return nil
}

// Next is the address of the workers that follow.
func (l *workerList) Next() string {
	return "?" + url.Values{"find": {l.Words}, "list": {l.Which}, "after": {strconv.FormatInt(l.More, 10)}}.Encode()
}

// workerFields are those of a worker's form.
var workerFields = []string{"name", "address", "language", "birth_date", "started_on", "usual_hours", "number", "crew"}

// fillIn puts what a worker's form says into the worker. Leaving and coming back are forms of their own.
func fillIn(c *models.WorkerContent, f *Form) {
	c.Name, c.Address, c.Language = f.Value("name"), f.Value("address"), f.Value("language")
	c.BirthDate, c.StartedOn, c.Number = models.Day(f.Day("birth_date")), models.Day(f.Day("started_on")), f.Whole("number")
	c.UsualDayMinutes = f.usualDay("usual_hours", c.UsualDayMinutes)
	f.needDay("started_on")
	if c.Language == "" {
		f.fault("language", "page.fault.choose", nil)
	}
}

// usualDay reads hours with decimals. What says the minutes that are kept leaves them as they are.
func (f *Form) usualDay(name string, kept payroll.Minutes) payroll.Minutes {
	hours := f.Pieces(name)
	if hours == decimalHours(kept) {
		return kept
	}
	return payroll.Minutes((int64(hours)*60 + 500) / 1000)
}

// decimalHours are minutes as hours with decimals.
func decimalHours(m payroll.Minutes) payroll.Pieces { return payroll.Pieces((int64(m)*1000 + 30) / 60) }

// languageOptions are the languages that statements are written in.
func (v *visit) languageOptions() []Option {
	return []Option{{Value: "es", Label: v.say("page.language_itself.es", nil)}, {Value: "en", Label: v.say("page.language_itself.en", nil)}}
}

// newWorkerForm is what the form of a new worker offers.
type newWorkerForm struct {
	Languages, IntoCrew []Option
	Change              bool // whether it changes a worker whom there is
}

func newWorkerPage(v *visit, f *Form) (*answer, error) {
	page := newWorkerForm{Languages: v.languageOptions()}
	err := v.view(func(tx *models.Tx) (err error) {
		today, err := payrun.Today(tx)
		if err != nil {
			return err
		}
		if f == nil {
			f = newForm(map[string]string{"started_on": today.String(), "crew": v.gin.Query("crew")})
		}
		page.IntoCrew, err = v.allCrews(tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("set_worker_new", page).with(f), nil
}

// allCrews are the crews to choose from, none among them.
func (v *visit) allCrews(tx *models.Tx) ([]Option, error) {
	options := []Option{{Label: v.say("page.set.no_crew_yet", nil)}}
	var crews []models.Crew
	if err := tx.DB().Order("number").Find(&crews).Error; err != nil {
		return nil, err
	}
	for _, k := range crews {
		options = append(options, Option{Value: k.ID.String(), Label: k.Content.Name})
	}
	return options, nil
}

// newWorker enters a worker, and puts them into a crew where one is chosen.
func newWorker(v *visit) (*answer, error) {
	f, err := v.form(workerFields...)
	if err != nil {
		return nil, err
	}
	var c models.WorkerContent
	fillIn(&c, f)
	crew := f.Ref("crew")
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			w, _, err := models.Create(tx, f.ID, c)
			if err != nil || crew == uuid.Nil {
				return inForm(err, "/usual_day_minutes", "/usual_hours")
			}
			_, err = models.Join(tx, f.ID, models.Joining{CrewID: crew, Workers: []uuid.UUID{w.ID}, FromDate: c.StartedOn})
			return inForm(err, "/crew_id", "/crew")
		})
	}
	if err != nil {
		return v.again(f, err, newWorkerPage)
	}
	return seeOther("/workers/"+f.ID.String(), "worker_new"), nil
}

// workerShown is a worker with all that hangs on them.
type workerShown struct {
	workerRow
	newWorkerForm
	Earlier  []models.Employment
	Accounts []models.Account
	Same     *models.Worker // who a hand turned out to be
	Today    dated.Date
	Clerk    bool
	Safety   bool // whether the reader may see the training
}

func workerPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := workerShown{newWorkerForm: newWorkerForm{Languages: v.languageOptions(), Change: true}, Clerk: v.caller.Role == models.RoleClerk, Safety: slices.Contains(guards, v.caller.Role)}
	if err := v.view(func(tx *models.Tx) error { return page.read(tx, id) }); err != nil {
		return nil, err
	}
	if f == nil {
		f = newForm(nil)
	}
	if c := page.Content; !f.Has("name") {
		f.fill(map[string]string{"name": c.Name, "address": c.Address, "language": c.Language, "birth_date": dayValue(c.BirthDate), "started_on": dayValue(c.StartedOn), "number": fmt.Sprint(c.Number)})
		if c.UsualDayMinutes > 0 {
			f.Set("usual_hours", decimalHours(c.UsualDayMinutes).String())
		}
	}
	f.Keep(page.Version)
	return show("set_worker", &page).with(f), nil
}

// dayValue is a day as a field of a form has it, "" where there is none.
func dayValue(d models.Date) string {
	if d.IsZero() {
		return ""
	}
	return d.String()
}

func (p *workerShown) read(tx *models.Tx, id uuid.UUID) (err error) {
	if p.Today, err = payrun.Today(tx); err != nil {
		return err
	}
	if p.Worker, err = models.Get[models.WorkerContent](tx, id); err != nil {
		return err
	}
	if p.Content.SameAs != nil {
		if p.Same, err = models.Get[models.WorkerContent](tx, *p.Content.SameAs); err != nil {
			return err
		}
	}
	crews, err := models.CrewsOfWorkers(tx, []uuid.UUID{id}, p.Today)
	if err != nil {
		return err
	}
	p.Crews = crews[id]
	if err := tx.DB().Where("worker_id = ?", id).Order("from_date").Find(&p.Earlier).Error; err != nil {
		return err
	}
	return tx.DB().Where("worker_id = ?", id).Order("seq").Find(&p.Accounts).Error
}

// updateWorker carries out what a form asks of a worker as kept.
func updateWorker(v *visit, id uuid.UUID, f *Form, change func(*models.Tx, *models.WorkerContent) error) error {
	return v.in(func(tx *models.Tx) error {
		w, err := models.Get[models.WorkerContent](tx, id)
		if err != nil {
			return err
		}
		f.found = nil
		c := w.Content
		if err := change(tx, &c); err != nil {
			return err
		}
		if err := f.Faulty(); err != nil {
			return err
		}
		_, err = models.Update(tx, id, f.Version, c)
		return err
	})
}

// changeWorker changes a worker. A hand who was known by name only is a worker like any other from then on.
func changeWorker(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form(workerFields...)
	if err != nil {
		return nil, err
	}
	err = updateWorker(v, id, f, func(_ *models.Tx, c *models.WorkerContent) error {
		fillIn(c, f)
		c.Provisional = c.Provisional && c.SameAs != nil
		return nil
	})
	if err != nil {
		return v.again(f, inForm(err, "/usual_day_minutes", "/usual_hours", "/ended_on", "/started_on"), workerPage)
	}
	return seeOther("/workers/"+id.String(), "worker_kept"), nil
}

// endWork says a worker's last day, which is also the last in their crews; or takes it back.
func endWork(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("last_day")
	if err != nil {
		return nil, err
	}
	done := "worker_left"
	err = updateWorker(v, id, f, func(tx *models.Tx, c *models.WorkerContent) error {
		c.EndedOn = models.Day(f.Day("last_day"))
		if f.Value("back") != "" {
			c.EndedOn, done = models.Date{}, "worker_stays"
			return nil
		}
		f.needDay("last_day")
		if f.Faulty() != nil || c.EndedOn.Before(c.StartedOn.Date) {
			return nil
		}
		return models.PartFromAll(tx, id, c.EndedOn)
	})
	if err != nil {
		return v.again(f, inForm(err, "/ended_on", "/last_day"), workerPage)
	}
	return seeOther("/workers/"+id.String(), done), nil
}

// beginAnew hires a worker again who had left. The employment before stays on record: sick leave that was earned in it may come back.
func beginAnew(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("first_day")
	if err != nil {
		return nil, err
	}
	err = updateWorker(v, id, f, func(_ *models.Tx, c *models.WorkerContent) error {
		first := models.Day(f.Day("first_day"))
		f.needDay("first_day")
		switch {
		case f.Faulty() != nil:
		case c.EndedOn.IsZero():
			return &models.Error{Kind: models.Conflict, Key: "page.set.not_left"}
		case !first.After(c.EndedOn.Date):
			f.fault("first_day", "page.fault.after_last_day", payroll.Terms{"date": c.EndedOn.Date})
		}
		c.StartedOn, c.EndedOn = first, models.Date{}
		return nil
	})
	if err != nil {
		return v.again(f, inForm(err, "/started_on", "/first_day"), workerPage)
	}
	return seeOther("/workers/"+id.String(), "worker_back"), nil
}

// sayWho says which known worker a hand is who was known by name only.
func sayWho(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("same_number")
	if err != nil {
		return nil, err
	}
	err = updateWorker(v, id, f, func(tx *models.Tx, c *models.WorkerContent) error {
		number := f.Whole("same_number")
		if f.Value("same_number") == "" {
			f.fault("same_number", "page.fault.number_needed", nil)
		}
		if err := f.Faulty(); err != nil {
			return err
		}
		w, err := workerByNumber(tx, number)
		switch {
		case err != nil:
			return err
		case w == nil:
			return models.FaultAt("/same_number", "page.fault.no_such_worker", payroll.Terms{"number": strconv.FormatInt(number, 10)})
		}
		c.SameAs = &w.ID
		return nil
	})
	if err != nil {
		return v.again(f, inForm(err, "/same_as", "/same_number"), workerPage)
	}
	return seeOther("/workers/"+id.String(), "worker_same"), nil
}
