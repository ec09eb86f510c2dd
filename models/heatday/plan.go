package heatday

import (
	"cmp"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// Plan is a garden's day in the heat: what is owed, what of it is ready, and whom to watch.
type Plan struct {
	GardenID    uuid.UUID         `json:"garden_id"`
	Workday     dated.Date        `json:"workday"`
	Rulebook    string            `json:"rulebook"`      // the safety rulebook
	Hours       []models.HeatHour `json:"hours"`         // in which the air was measured
	Temperature *models.Quantity  `json:"temperature_f"` // the higher of the hottest hour and the forecast; null: neither is known
	Ready       *models.HeatPlan  `json:"ready"`         // what was recorded as ready; null: nothing was
	People      int               `json:"people"`        // who are there, or are expected
	Duties      []Duty            `json:"duties"`
	Watched     []Watched         `json:"watched"`
	CoolDowns   []Owed            `json:"cool_downs"`
	Asked       []Duty            `json:"-"` // all that the book asks, at whatever temperature
	NewDays     int               `json:"-"` // for how many days those new to the work are watched
	AwayDays    int               `json:"-"` // after more days away than these somebody is watched again

	zone       *time.Location
	begin, end time.Time // of the workday
}

// Duty is something owed at the day's temperature. Where the temperature is unknown all duties are told.
type Duty struct {
	Code      string           `json:"code"`
	Authority string           `json:"authority"`
	Standing  dated.Standing   `json:"standing"`
	Amount    *quantity.Number `json:"amount"` // quarts of water an hour for all, observers, minutes of a cool-down; null: no figure
	Every     *quantity.Number `json:"every_hours"`
	Ready     *bool            `json:"ready"` // null: nobody has said
	Terms     payroll.Terms    `json:"-"`     // of its text, duty.CODE
	From      *quantity.Number `json:"-"`     // of the air temperature in °F from which it is owed; nil with Over nil: always
	Over      *quantity.Number `json:"-"`     // or above which
	due       func(temperature quantity.Number) bool
}

// Watched is a worker to be watched closely: new to the work in the heat, or back after days away.
type Watched struct {
	WorkerID  uuid.UUID `json:"worker_id"`
	Number    int64     `json:"number"`
	Name      string    `json:"name"`
	Why       string    `json:"why"`  // "new" or "returning"
	Day       int       `json:"day"`  // which day of the work it is; 0 where returning
	Days      int       `json:"days"` // for how many days new ones are watched, or how many days it is since the last at work
	Authority string    `json:"authority"`
}

// Key is the message that tells why, with the terms "day" and "days".
func (w Watched) Key() string {
	if w.Why == "returning" {
		return "reason.close_observation_away"
	}
	return "reason.close_observation"
}

// FindPlan makes the plan of a garden's day. Those who recorded time there that day are the people; before anybody has, the members of a crew that day, or with nil of all crews. It takes a
// fixed number of statements.
func FindPlan(tx *models.Tx, books *rulebook.Library, garden uuid.UUID, on dated.Date, crew *uuid.UUID) (*Plan, error) {
	g, err := models.Get[models.GardenContent](tx, garden)
	if err != nil {
		return nil, err
	}
	book, ok := books.For(g.Content.Rulebook)
	if !ok {
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.no_safety_book", Terms: payroll.Terms{"rulebook": g.Content.Rulebook}}
	}
	p := &Plan{GardenID: garden, Workday: on, Rulebook: book.Key(), Hours: []models.HeatHour{}, Duties: []Duty{}, Watched: []Watched{}}
	if err := p.read(tx, g, on); err != nil {
		return nil, err
	}
	people, err := peopleAt(tx, garden, on, crew)
	if err != nil {
		return nil, err
	}
	p.People = len(people)
	if err := p.ask(book); err != nil {
		return nil, noValue(err)
	}
	if err := p.watch(tx, book, people); err != nil {
		return nil, noValue(err)
	}
	p.CoolDowns, err = FindOwed(tx, books, on, &garden)
	return p, noValue(err)
}

// read reads the heat of the workday and what is ready.
func (p *Plan) read(tx *models.Tx, g *models.Garden, on dated.Date) error {
	profile, err := tx.Profile()
	if err != nil {
		return err
	}
	zone, err := models.Zone(g.Content.TimeZone)
	if err != nil {
		return err
	}
	begin := func(day dated.Date) time.Time {
		return models.WorkdayBegin(day, int(profile.Content.WorkdayStart), zone)
	}
	p.zone, p.begin, p.end = zone, begin(on), begin(on.AddDays(1))
	hours, err := models.HeatOn(tx, []uuid.UUID{g.ID}, p.begin, p.end)
	if err != nil {
		return err
	}
	plans, err := models.HeatPlansOn(tx, []uuid.UUID{g.ID}, on)
	if err != nil {
		return err
	}
	p.Hours, p.Ready = append(p.Hours, hours...), plans[g.ID]
	hotter := func(t *models.Quantity) {
		if t != nil && (p.Temperature == nil || t.Over(p.Temperature.Number)) {
			p.Temperature = t
		}
	}
	for i := range hours {
		hotter(&hours[i].Temperature)
	}
	if p.Ready != nil {
		hotter(p.Ready.Content.ForecastHigh)
	}
	return nil
}

// ask lists what the book asks, and what of it is owed at the day's temperature; where that is unknown, everything.
func (p *Plan) ask(book *rulebook.Book) error {
	table, err := book.HeatDuties(p.Workday)
	if err != nil {
		return err
	}
	for i := range table.Value {
		d := &table.Value[i]
		asked := Duty{Code: d.Name, Authority: d.Source.Source.Section, Standing: d.Source.Standing, From: d.From, Over: d.Over, due: d.Due}
		if err := p.measure(&asked, book, p.Workday); err != nil {
			return err
		}
		p.Asked = append(p.Asked, asked)
		if p.Temperature == nil || d.Due(p.Temperature.Number) {
			p.Duties = append(p.Duties, asked)
		}
	}
	return nil
}

// measure says how much of a duty is owed to the people, and whether it is ready.
func (p *Plan) measure(d *Duty, book *rulebook.Book, on dated.Date) error {
	var ready models.HeatPlanContent
	if p.Ready != nil {
		ready = p.Ready.Content
	}
	number := func(name rulebook.Number) (n quantity.Number, err error) {
		v, err := book.Number(name, on)
		if err == nil {
			n = v.Value
		}
		return n, err
	}
	people := quantity.Of(int64(p.People))
	switch d.Code {
	case "water":
		quarts, err := number(rulebook.WaterQuarts)
		if err != nil {
			return err
		}
		d.Amount, d.Ready, d.Terms = new(quarts.Times(people)), ready.WaterReady, payroll.Terms{"quarts": quarts}
	case "shade":
		d.Ready = ready.ShadeUp
	case "high_heat_plan":
		d.Ready = ready.HighHeatPlan
	case "observation":
		each, err := number(rulebook.PerObserver)
		if err != nil {
			return err
		}
		needed := (int64(p.People) + int64(each.Float()) - 1) / int64(each.Float())
		d.Amount, d.Terms = new(quantity.Of(needed)), payroll.Terms{"people": each}
		if p.Ready != nil {
			d.Ready = new(ready.Observation != "" || int64(len(ready.Observers)) >= needed)
		}
	case "cool_down":
		minutes, err := number(rulebook.CoolDownMinutes)
		if err != nil {
			return err
		}
		hours, err := number(rulebook.CoolDownHours)
		if err != nil {
			return err
		}
		d.Amount, d.Every, d.Terms = &minutes, &hours, payroll.Terms{"minutes": minutes, "hours": hours}
	}
	return nil
}

// peopleAt lists the workers whose time was recorded in a garden on a day; before anybody's was, the members that day of a crew, or of all.
func peopleAt(tx *models.Tx, garden uuid.UUID, on dated.Date, crew *uuid.UUID) ([]uuid.UUID, error) {
	var ids []uuid.UUID
	err := tx.DB().Model(&models.TimeEntry{}).Where("workday = ? AND garden_id = ? AND superseded_by IS NULL", models.Day(on), garden).
		Distinct().Pluck("worker_id", &ids).Error
	if err != nil || len(ids) > 0 {
		return ids, err
	}
	members := tx.DB().Model(&models.CrewMember{}).Scopes(models.MembersOn(on))
	if crew != nil {
		members = members.Where("crew_id = ?", *crew)
	}
	err = members.Distinct().Pluck("worker_id", &ids).Error
	return ids, err
}

// watch lists who of some workers is to be watched closely on the day, by the same rule as the clearance has: those in their first days by the days on which they worked, and those back after more
// days away than the book says.
func (p *Plan) watch(tx *models.Tx, book *rulebook.Book, people []uuid.UUID) error {
	on := p.Workday
	fresh, err := book.Number(rulebook.NewWorkerDays, on)
	if err != nil {
		return err
	}
	away, err := book.Number(rulebook.AwayDays, on)
	if err != nil {
		return err
	}
	p.NewDays, p.AwayDays = int(fresh.Value.Float()), int(away.Value.Float())
	var workers []models.Worker
	if err := tx.DB().Scopes(tx.Among("id", people), models.EmployedOn(on)).Find(&workers).Error; err != nil {
		return err
	}
	worked, err := models.WorkedBefore(tx, people, on)
	if err != nil {
		return err
	}
	for i := range workers {
		w := Watched{WorkerID: workers[i].ID, Number: workers[i].Content.Number, Name: workers[i].Content.Name}
		first := on // where nothing stands on record today is the first day
		days, ok := worked[w.WorkerID]
		if ok {
			first = days.First
		}
		if day := on.DaysSince(first) + 1; day <= p.NewDays {
			w.Why, w.Day, w.Days, w.Authority = "new", day, p.NewDays, fresh.Source.Section
			p.Watched = append(p.Watched, w)
		} else if gone := on.DaysSince(days.Last); gone > p.AwayDays {
			w.Why, w.Days, w.Authority = "returning", gone, away.Source.Section
			p.Watched = append(p.Watched, w)
		}
	}
	slices.SortFunc(p.Watched, func(a, b Watched) int { return cmp.Or(cmp.Compare(a.Why, b.Why), cmp.Compare(a.Number, b.Number)) })
	return nil
}
