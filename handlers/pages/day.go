package pages

import (
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/climbs"
	"palmero/models/daybook"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// dayPages are the crew lead's: one crew's workday, written while it goes on.
func dayPages() []Page {
	return slices.Concat([]Page{
		{Method: "GET", Path: "/day", Roles: leads, Nav: "page.nav.day", handle: showDay},
		{Method: "POST", Path: "/day", Roles: leads, handle: moveCrew},
		{Method: "GET", Path: "/day/roll", Roles: leads, handle: showRoll},
		{Method: "POST", Path: "/day/roll", Roles: leads, handle: callRoll},
		{Method: "GET", Path: "/day/time", Roles: leads, handle: showClock},
		{Method: "POST", Path: "/day/time", Roles: leads, handle: turnClock},
		{Method: "GET", Path: "/day/counts", Roles: leads, handle: showCounts},
		{Method: "POST", Path: "/day/counts", Roles: leads, handle: count},
		{Method: "GET", Path: "/day/lots", Roles: leads, handle: showLots},
		{Method: "POST", Path: "/day/lots", Roles: leads, handle: countLot},
		{Method: "GET", Path: "/day/climb", Roles: leads, handle: showClimb},
		{Method: "POST", Path: "/day/climb", Roles: leads, handle: climb},
		{Method: "GET", Path: "/day/checklist", Roles: leads, handle: showList},
		{Method: "POST", Path: "/day/checklist", Roles: leads, handle: fillList},
		{Method: "GET", Path: "/day/palms", Roles: leads, handle: showCrewPalms},
		{Method: "POST", Path: "/day/palms", Roles: leads, handle: leadAvoidsPalm},
		{Method: "GET", Path: "/day/gear", Roles: leads, handle: showCrewGear},
		{Method: "POST", Path: "/day/gear", Roles: leads, handle: changeGear},
		{Method: "GET", Path: "/day/send", Roles: leads, handle: showSending},
		{Method: "POST", Path: "/day/send", Roles: leads, handle: sendDay},
	})
}

var leads = []models.Role{models.RoleCrewLead}

// desk is what a crew lead's pages stand on: the crew, its day, and the draft of it.
type desk struct {
	Key        daybook.Key
	Crew       string
	Crews      []daybook.Crew // that the caller leads on the day
	Day, Today dated.Date
	Draft      *daybook.Draft
	People     []daybook.Person
	Blocks     []*models.Block
	Operations []*models.Operation
	Garden     *models.Garden // of the place; nil while nobody has said where the crew works
	Block      *models.Block
	Operation  *models.Operation
	Zone       *time.Location
	Now        time.Time
	Tab        string
	Overdue    []daybook.Overdue
	Heat       *heatBrief // of the day's first page
}

// errNoCrew is the answer to whoever leads no crew on the day.
var errNoCrew = &models.Error{Kind: models.Conflict, Key: "problem.no_crew"}

// desk reads a crew's day. Nothing named is the caller's first crew today.
func (v *visit) desk(tx *models.Tx, crew, on string) (*desk, error) {
	d := &desk{Zone: time.UTC, Now: tx.Now}
	var err error
	if d.Today, err = payrun.Today(tx); err != nil {
		return nil, err
	}
	if d.Day, err = dated.ParseDate(on); err != nil || d.Day.After(d.Today) {
		d.Day = d.Today
	}
	d.Key.Day = models.Day(d.Day)
	if d.Crews, err = daybook.CrewsOf(tx, *v.caller.Worker, d.Key.Day); err != nil {
		return nil, err
	}
	if len(d.Crews) == 0 {
		return nil, errNoCrew
	}
	chosen := d.Crews[0]
	if crew != "" {
		i := slices.IndexFunc(d.Crews, func(c daybook.Crew) bool { return c.ID.String() == crew })
		if i < 0 {
			return nil, errNotFound
		}
		chosen = d.Crews[i]
	}
	d.Key.Crew, d.Crew = chosen.ID, chosen.Name
	if d.Draft, err = daybook.Read(tx, d.Key); err != nil {
		return nil, err
	}
	return d, d.furnish(tx)
}

// furnish reads who and what the draft speaks of.
func (d *desk) furnish(tx *models.Tx) (err error) {
	if d.People, err = d.Draft.People(tx, d.Key); err != nil {
		return err
	}
	blocks, err := models.All[models.BlockContent](tx)
	if err != nil {
		return err
	}
	operations, err := models.All[models.OperationContent](tx)
	if err != nil {
		return err
	}
	for _, b := range blocks {
		d.Blocks = append(d.Blocks, b)
	}
	for _, o := range operations {
		d.Operations = append(d.Operations, o)
	}
	slices.SortFunc(d.Blocks, func(a, b *models.Block) int { return strings.Compare(a.Content.Code, b.Content.Code) })
	slices.SortFunc(d.Operations, func(a, b *models.Operation) int { return int(a.Seq - b.Seq) })
	if d.Zone, err = payrun.HomeZone(tx); err != nil || d.Draft.Place == nil {
		return err
	}
	d.Block, d.Operation = blocks[d.Draft.Place.BlockID], operations[d.Draft.Place.OperationID]
	if d.Garden, err = models.Get[models.GardenContent](tx, d.Draft.Place.GardenID); err != nil {
		return err
	}
	d.Zone, err = models.Zone(d.Garden.Content.TimeZone)
	return err
}

// Here are those on the roll.
func (d *desk) Here() (here []daybook.Person) {
	for _, p := range d.People {
		if p.Here {
			here = append(here, p)
		}
	}
	return here
}

// Ask is the query by which a page comes back to this crew and day; "" for the first crew today.
func (d *desk) Ask() string {
	q := url.Values{}
	if d.Key.Crew != d.Crews[0].ID {
		q.Set("crew", d.Key.Crew.String())
	}
	if d.Day != d.Today {
		q.Set("on", d.Day.String())
	}
	if len(q) == 0 {
		return ""
	}
	return "?" + q.Encode()
}

// Name is somebody's name, "" where nobody of the day is meant.
func (d *desk) Name(id uuid.UUID) string {
	for _, p := range d.People {
		if p.ID == id {
			return p.Name
		}
	}
	return ""
}

// BlockCode is what is painted on a block.
func (d *desk) BlockCode(id uuid.UUID) string {
	for _, b := range d.Blocks {
		if b.ID == id {
			return b.Content.Code
		}
	}
	return ""
}

// Work is an operation; nil where there is none.
func (d *desk) Work(id uuid.UUID) *models.OperationContent {
	for _, o := range d.Operations {
		if o.ID == id {
			return &o.Content
		}
	}
	return nil
}

// CodeOf is the code of an operation.
func (d *desk) CodeOf(operation uuid.UUID) string {
	if o := d.Work(operation); o != nil {
		return o.Code
	}
	return ""
}

// UnitOf is what an operation is counted in.
func (d *desk) UnitOf(operation uuid.UUID) string {
	if o := d.Work(operation); o != nil {
		return o.Unit
	}
	return ""
}

// Clock writes an instant as a time of day in the garden.
func (d *desk) Clock(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.In(d.Zone).Format("15:04")
}

// Running is how many of those who are there have time that runs.
func (d *desk) Running() (n int) {
	for _, l := range d.Draft.Time {
		if l.End == nil {
			n++
		}
	}
	return n
}

// Ready is how many lines are complete and wait to be sent.
func (d *desk) Ready() int { return int(d.Draft.Waiting()) - d.Running() }

// dayPage shows a page of the day; more reads what that page needs beside the desk, and makes what it shows.
func (v *visit) dayPage(template string, f *Form, more func(tx *models.Tx, d *desk) (any, error)) (*answer, error) {
	crew, on := v.gin.Query("crew"), v.gin.Query("on")
	if f.Value("crew") != "" {
		crew, on = f.Value("crew"), f.Value("on")
	}
	var data any
	err := v.view(func(tx *models.Tx) error {
		d, err := v.desk(tx, crew, on)
		if err != nil {
			return err
		}
		d.Tab = v.page.Path
		f.Set("crew", d.Key.Crew.String())
		f.Set("on", d.Day.String())
		data, err = more(tx, d)
		return err
	})
	if err == errNoCrew {
		return show("day_none", nil), nil
	}
	if err != nil {
		return nil, err
	}
	return show(template, data).with(f), nil
}

// changeDay carries out a form's command on the draft of the crew's day that the form names.
func (v *visit) changeDay(f *Form, do func(tx *models.Tx, d *desk, draft *daybook.Draft) error) (*desk, error) {
	var d *desk
	err := v.in(func(tx *models.Tx) (err error) {
		if d, err = v.desk(tx, f.Value("crew"), f.Value("on")); err != nil {
			return err
		}
		_, err = daybook.Change(tx, d.Key, f.command(), func(draft *daybook.Draft) error { return do(tx, d, draft) })
		return err
	})
	return d, err
}

// command is what a form asks of the draft. Two tabs with the same form ask the same only where they say the same.
func (f *Form) command() daybook.Command {
	return daybook.Command{ID: f.ID, Hash: models.ContentHash(f.values)}
}

// dayFields are in every form of the day.
var dayFields = []string{"crew", "on"}

func (v *visit) dayForm(fields ...string) (*Form, error) {
	return v.form(append(fields, dayFields...)...)
}

func showDay(v *visit) (*answer, error) { return dayFirst(v, newForm(nil)) }

// dayFirst is the first page of the day: where the crew works, and what to do next.
func dayFirst(v *visit, f *Form) (*answer, error) {
	return v.dayPage("day", f, func(tx *models.Tx, d *desk) (any, error) {
		if d.Draft.Place != nil && f.Value("block") == "" {
			f.Set("block", d.Draft.Place.BlockID.String())
			f.Set("operation", d.Draft.Place.OperationID.String())
		}
		var err error
		if d.Heat, err = v.heatBrief(tx, d.Garden, d.Day, d.Key.Crew); err != nil {
			return nil, err
		}
		d.Overdue, err = daybook.OverdueBefore(tx, models.Day(d.Today), v.caller.Worker)
		return d, err
	})
}

// BlockOptions are the blocks to choose from, with their varieties: those in use on the day, and where the crew works.
func (d *desk) BlockOptions() []Option {
	all := make([]Option, 0, len(d.Blocks))
	for _, b := range d.Blocks {
		if b.Content.InUse(d.Day) || b == d.Block {
			all = append(all, Option{Value: b.ID.String(), Label: b.Content.Code + " · " + b.Content.Variety})
		}
	}
	return all
}

// Works are the operations to choose from: those in use on the day, and the one that the crew is at.
func (d *desk) Works() (works []*models.Operation) {
	for _, o := range d.Operations {
		if o.Content.InUse(d.Day) || o == d.Operation {
			works = append(works, o)
		}
	}
	return works
}

func moveCrew(v *visit) (*answer, error) {
	f, err := v.dayForm("block", "operation")
	if err != nil {
		return nil, err
	}
	d, err := v.changeDay(f, func(tx *models.Tx, _ *desk, draft *daybook.Draft) error {
		block, operation := f.Ref("block"), f.Ref("operation")
		if err := f.Faulty(); err != nil {
			return err
		}
		return draft.MoveTo(tx, block, operation)
	})
	if err != nil {
		return v.again(f, err, dayFirst)
	}
	return seeOther("/day"+d.Ask(), "moved"), nil
}

// leadNeeds is what waits for a crew lead.
func (v *visit) leadNeeds(tx *models.Tx) ([]Need, error) {
	today, err := payrun.Today(tx)
	if err != nil {
		return nil, err
	}
	overdue, err := daybook.OverdueBefore(tx, models.Day(today), v.caller.Worker)
	if err != nil {
		return nil, err
	}
	var needs []Need
	for _, o := range overdue {
		words := v.say("page.day.overdue", payroll.Terms{"crew": o.Crew, "date": o.Workday.Date, "count": int(o.Waiting)})
		path := "/day/send?crew=" + o.CrewID.String() + "&on=" + o.Workday.String()
		needs = append(needs, Need{Mark{"look", words}, path, v.say("page.day.look_and_send", nil)})
	}
	day, err := climbs.DayOf(tx, *v.caller.Worker, today)
	if err != nil {
		return nil, err
	}
	waiting, err := v.crewNeeds(tx, day, today)
	if err != nil {
		return nil, err
	}
	needs = append(waiting, needs...)
	for _, stop := range day.Stops {
		if !stop.Acknowledged {
			needs = append([]Need{{Mark{"stop", v.say("page.climb.stop_waits", payroll.Terms{"reason": stop.Reason})}, "/day/climb", v.say("page.climb.see_stop", nil)}}, needs...)
		}
	}
	d, err := v.desk(tx, "", "")
	if err == errNoCrew {
		return needs, nil
	}
	if err != nil {
		return nil, err
	}
	return append(needs, v.crewNeed(d)), nil
}

// crewNeed is the next thing to do for a crew today.
func (v *visit) crewNeed(d *desk) Need {
	terms := payroll.Terms{"crew": d.Crew, "count": d.Ready(), "running": d.Running()}
	switch {
	case d.Draft.Place == nil:
		return Need{Mark{"look", v.say("page.day.not_begun", terms)}, "/day", v.say("page.day.begin", nil)}
	case d.Running() > 0:
		return Need{Mark{"plain", v.say("page.day.clock_runs", terms)}, "/day/time", v.say("page.day.open_time", nil)}
	case d.Ready() > 0:
		return Need{Mark{"look", v.say("page.day.to_send", terms)}, "/day/send", v.say("page.day.look_and_send", nil)}
	}
	return Need{Mark{"go", v.say("page.day.all_sent", terms)}, "/day", v.say("page.day.open", nil)}
}
