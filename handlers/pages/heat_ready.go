package pages

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/safety/quantity"
)

// heatReadyPage is the form of what is ready.
type heatReadyPage struct {
	heatPlace
	Stands    *models.HeatPlan // what was said of the day so far; nil: nothing
	Units     []Option
	YesNo     []Option
	Observers []Option
}

func showHeatReady(v *visit) (*answer, error) { return heatReadyAgain(v, newForm(nil)) }

func heatReadyAgain(v *visit, f *Form) (*answer, error) {
	page := heatReadyPage{Units: v.heatUnits(), YesNo: v.yesNoUnknown()}
	err := v.view(func(tx *models.Tx) (err error) {
		if page.heatPlace, err = v.heatPlace(tx, f); err != nil {
			return err
		}
		plans, err := models.HeatPlansOn(tx, []uuid.UUID{page.Garden.ID}, page.On)
		if err != nil {
			return err
		}
		if page.Stands = plans[page.Garden.ID]; page.Stands != nil && !f.Has("unit") {
			f.fillReady(&page.Stands.Content)
		}
		page.Observers, err = v.membersByCrew(tx, page.shownDay)
		return err
	})
	if err != nil {
		return nil, err
	}
	if f.Value("unit") == "" {
		f.Set("unit", "f")
	}
	return show("heat_ready", page).with(f), nil
}

// yesNoUnknown are the answers to what may be unknown.
func (v *visit) yesNoUnknown() []Option {
	return []Option{{Value: "", Label: v.say("page.climb.unknown", nil)}, {Value: "yes", Label: v.say("page.climb.yes", nil)}, {Value: "no", Label: v.say("page.climb.no", nil)}}
}

// membersByCrew are the members of the crews on a day, in the order of the crews' names.
func (v *visit) membersByCrew(tx *models.Tx, day shownDay) ([]Option, error) {
	members, err := models.List[models.CrewMember](tx, models.Page{Limit: mostMembers}, models.MembersOn(day.On))
	if err != nil {
		return nil, err
	}
	crews, err := crewNames(tx)
	if err != nil {
		return nil, err
	}
	ids := []uuid.UUID{uuid.Nil}
	for i := range members {
		ids = append(ids, members[i].Content.WorkerID)
	}
	rows, err := models.List[models.Worker](tx, models.Page{Limit: mostMembers}, models.OneOf("id", ids))
	workers := models.KeptByID(rows)
	slices.SortStableFunc(members, func(a, b models.CrewMember) int {
		return cmp.Compare(crews[a.Content.CrewID], crews[b.Content.CrewID])
	})
	var options []Option
	for i := range members {
		m := &members[i].Content
		if w := workers[m.WorkerID]; w != nil {
			options = append(options, Option{Value: m.WorkerID.String(), Label: w.Content.Name + " · " + crews[m.CrewID]})
			workers[m.WorkerID] = nil // once, though in two crews
		}
	}
	return options, err
}

// fillReady puts what was said into the form.
func (f *Form) fillReady(c *models.HeatPlanContent) {
	f.Set("unit", "f")
	if c.ForecastHigh != nil {
		f.Set("forecast_high_f", c.ForecastHigh.String())
	}
	for name, n := range map[string]*int64{"water_quarts": c.WaterQuarts, "shade_places": c.ShadePlaces} {
		if n != nil {
			f.Set(name, strconv.FormatInt(*n, 10))
		}
	}
	for name, yes := range map[string]*bool{"water_ready": c.WaterReady, "shade_up": c.ShadeUp, "high_heat_plan": c.HighHeatPlan} {
		if yes != nil {
			f.Set(name, map[bool]string{true: "yes", false: "no"}[*yes])
		}
	}
	for _, id := range c.Observers {
		f.Add("observers", id.String())
	}
	f.Set("observation", c.Observation)
	f.Set("note", c.Note)
}

// heatReadyFields are the fields of the form.
var heatReadyFields = []string{"garden", "on", "forecast_high_f", "unit", "water_quarts", "shade_places", "water_ready", "shade_up", "high_heat_plan", "observers", "observation", "note", "reason"}

func keepHeatReady(v *visit) (*answer, error) {
	f, err := v.form(heatReadyFields...)
	if err != nil {
		return nil, err
	}
	var place heatPlace
	err = v.in(func(tx *models.Tx) (err error) {
		if place, err = v.heatPlace(tx, f); err != nil {
			return err
		}
		ready := f.heatReady(place)
		if err := f.Faulty(); err != nil {
			return err
		}
		how := models.Recording{RecordedAt: tx.Now, Reason: f.Value("reason")}
		if replaced := f.Ref("replaces"); replaced != uuid.Nil {
			how.Supersedes = &replaced
		}
		_, _, err = models.Record(tx, f.ID, ready, how)
		return err
	})
	if err != nil {
		return v.again(f, inFahrenheit(err), heatReadyAgain)
	}
	return seeOther("/heat"+place.Query(place.On), "heat_ready"), nil
}

// heatReady reads what the form says is ready.
func (f *Form) heatReady(place heatPlace) models.HeatPlanContent {
	c := models.HeatPlanContent{
		GardenID: place.Garden.ID, Workday: models.Day(place.On), Observation: f.Value("observation"), Note: f.Value("note"),
		WaterReady: f.yesNo("water_ready"), ShadeUp: f.yesNo("shade_up"), HighHeatPlan: f.yesNo("high_heat_plan"),
		WaterQuarts: f.count("water_quarts"), ShadePlaces: f.count("shade_places"), ForecastHigh: f.degrees("forecast_high_f"),
	}
	for _, id := range f.Values("observers") {
		if worker, err := uuid.Parse(id); err == nil {
			c.Observers = append(c.Observers, worker)
		}
	}
	return c
}

// count reads a whole number that may be left open.
func (f *Form) count(name string) *int64 {
	if f.Value(name) == "" {
		return nil
	}
	return new(f.Whole(name))
}

// degrees reads a temperature in the form's unit, nil where none is given.
func (f *Form) degrees(name string) *models.Quantity {
	text := strings.Replace(f.Value(name), ",", ".", 1)
	if text == "" {
		return nil
	}
	field := name
	if f.Value("unit") == "c" {
		field = quantity.Twin(name)
	}
	var t models.Quantity
	if err := t.UnmarshalNumber(field, text); err != nil {
		f.fault(name, "fault.heat_number", payroll.Terms{"value": f.Value(name)})
	}
	return &t
}
