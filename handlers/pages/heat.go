package pages

import (
	"cmp"
	"errors"
	"html/template"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/handlers/plot"
	"palmero/models"
	"palmero/models/heatday"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/quantity"
)

// heatPages are a garden's day in the heat: what was measured, what is owed, and what is ready.
func heatPages() []Page {
	return []Page{
		{Method: "GET", Path: "/heat", Roles: onGuard, Nav: "page.nav.heat", Under: "/safety", handle: showHeat},
		{Method: "POST", Path: "/heat", Roles: onGuard, handle: keepReading},
		{Method: "GET", Path: "/heat/ready", Roles: onGuard, handle: showHeatReady},
		{Method: "POST", Path: "/heat/ready", Roles: onGuard, handle: keepHeatReady},
		{Method: "GET", Path: "/heat/sheet", Roles: onGuard, handle: showHeatSheet},
		{Method: "GET", Path: "/heat/readings", Roles: onGuard, handle: showReadings},
		{Method: "POST", Path: "/heat/readings", Roles: guards, handle: keepReadings},
		{Method: "GET", Path: "/heat/readings/{id}", Roles: onGuard, handle: showReading},
		{Method: "POST", Path: "/heat/readings/{id}", Roles: onGuard, handle: correctReading},
	}
}

// onGuard are those who see to people in the garden's heat.
var onGuard = []models.Role{models.RoleCrewLead, models.RoleSafetyOfficer, models.RoleAdministrator}

// heatPage is a garden's day.
type heatPage struct {
	*heatday.Plan
	heatPlace
	Hours  []heatHour
	Owed   []heatDuty // on the day
	Watch  []heatWatch
	Plot   template.HTML
	Units  []Option
	Latest *heatHour // the last hour that was measured; nil: none was
	Unread int       // hours in which people worked and nobody measured
	Humid  bool      // whether the humidity of any hour is known
}

// heatPlace is the garden and the day that a page of the heat is about.
type heatPlace struct {
	shownDay
	Garden  *models.Garden
	Gardens []*models.Garden // by their numbers
}

// Query is the address of a day in the page's garden.
func (p heatPlace) Query(day dated.Date) string { return heatQuery(p.Garden.ID, day) }

// Of is the address of the page's day in another garden.
func (p heatPlace) Of(g *models.Garden) string { return heatQuery(g.ID, p.On) }

func heatQuery(garden uuid.UUID, day dated.Date) string {
	return "?" + url.Values{"garden": {garden.String()}, "on": {day.String()}}.Encode()
}

// heatHour is an hour as it is shown.
type heatHour struct {
	heatday.Hour
	Clock string
	Index *safety.HeatIndexAnswer // nil where the humidity is not known
	Owed  []string                // in words
}

// heatDuty is a duty in words.
type heatDuty struct {
	heatday.Duty
	Text string
}

// State says whether the duty is ready: "ready", "not", or "" where nobody has said.
func (d heatDuty) State() string {
	switch {
	case d.Ready == nil:
		return ""
	case *d.Ready:
		return "ready"
	}
	return "not"
}

// heatWatch is somebody to be watched, with the reason in words.
type heatWatch struct {
	heatday.Watched
	Text string
}

// heatPlace reads the garden and the day in a form or in the query: of those in use then the garden of the lowest number where none is named, and today.
func (v *visit) heatPlace(tx *models.Tx, f *Form) (p heatPlace, err error) {
	asked, on := v.gin.Query("garden"), v.gin.Query("on")
	if f.Value("garden") != "" {
		asked, on = f.Value("garden"), f.Value("on")
	}
	if p.shownDay, err = v.shownDay(tx); err != nil {
		return p, err
	}
	if day, err := dated.ParseDate(on); err == nil {
		p.On = day
	}
	gardens, err := models.All[models.GardenContent](tx, models.GardensInUse(models.Day(p.On)))
	if err != nil {
		return p, err
	}
	for _, g := range gardens {
		p.Gardens = append(p.Gardens, g)
	}
	slices.SortFunc(p.Gardens, func(a, b *models.Garden) int { return cmp.Compare(a.Content.Number, b.Content.Number) })
	for _, g := range p.Gardens {
		if asked == "" || g.ID.String() == asked {
			p.Garden = g
			break
		}
	}
	switch {
	case len(p.Gardens) == 0:
		return p, errNoGarden
	case p.Garden == nil:
		return p, errNotFound
	}
	p.Zone, err = models.Zone(p.Garden.Content.TimeZone)
	f.Set("garden", p.Garden.ID.String())
	f.Set("on", p.On.String())
	return p, err
}

// errNoGarden is the answer where there is no garden yet.
var errNoGarden = &models.Error{Kind: models.Conflict, Key: "page.heat.no_garden"}

func showHeat(v *visit) (*answer, error) {
	return heatPageOf(v, newForm(map[string]string{"unit": "f"}))
}

func heatPageOf(v *visit, f *Form) (*answer, error) {
	page := heatPage{Units: v.heatUnits()}
	err := v.view(func(tx *models.Tx) (err error) {
		if page.heatPlace, err = v.heatPlace(tx, f); err != nil {
			return err
		}
		if page.Plan, err = heatday.FindPlan(tx, figuring.Books(), page.Garden.ID, page.On, nil); err != nil {
			return err
		}
		hours, err := page.Plan.ByHour(tx)
		for _, h := range hours {
			page.add(v.heatHour(page.Plan, h))
		}
		if page.On == page.Today && f.Value("read_at") == "" {
			f.Set("read_at", tx.Now.In(page.Zone).Format("15:04"))
		}
		return err
	})
	if err == errNoGarden {
		return show("heat_none", nil), nil
	}
	if err != nil {
		return nil, err
	}
	page.Owed, page.Watch = v.heatDuties(page.Duties), v.heatWatch(page.Watched)
	page.Plot = v.plotHeat(&page)
	return show("heat", page).with(f), nil
}

func (p *heatPage) add(h heatHour) {
	p.Hours = append(p.Hours, h)
	if h.Air != nil {
		p.Latest = &h
		p.Humid = p.Humid || h.Air.Humidity != nil
	} else if h.People > 0 {
		p.Unread++
	}
}

// heatUnits are the units in which a temperature can be given.
func (v *visit) heatUnits() []Option {
	return []Option{{Value: "f", Label: "°F"}, {Value: "c", Label: "°C"}}
}

func (v *visit) heatHour(plan *heatday.Plan, h heatday.Hour) heatHour {
	shown := heatHour{Hour: h, Clock: h.Begin.Format("15:04")}
	for _, code := range h.Duties {
		shown.Owed = append(shown.Owed, v.say("page.heat.duty."+code, nil))
	}
	if h.Air != nil && h.Air.Humidity != nil {
		shown.Index = v.heatIndex(plan, h.Air)
	}
	return shown
}

// heatIndex is how hot an hour felt, by the engine; nil where the engine cannot tell.
func (v *visit) heatIndex(plan *heatday.Plan, air *models.HeatHour) *safety.HeatIndexAnswer {
	figure, ok := safety.FigureOf("heat-index")
	if !ok {
		return nil
	}
	humidity := quantity.Of(*air.Humidity)
	in := &safety.HeatIndex{Head: safety.Head{Rulebook: plan.Rulebook, On: plan.Workday}, Temperature: &air.Temperature.Number, Humidity: &humidity}
	answer, faults := figuring.Answer(figure, in, v.catalogue())
	if len(faults) > 0 {
		return nil
	}
	index, _ := answer.(*safety.HeatIndexAnswer)
	return index
}

// Band is how dangerous an hour was.
func (h heatHour) Band() string {
	if h.Index == nil {
		return ""
	}
	return string(h.Index.Band)
}

func (v *visit) heatDuties(duties []heatday.Duty) (all []heatDuty) {
	for _, d := range duties {
		all = append(all, heatDuty{d, v.say("duty."+d.Code, d.Terms)})
	}
	return all
}

func (v *visit) heatWatch(watched []heatday.Watched) (all []heatWatch) {
	for _, w := range watched {
		all = append(all, heatWatch{w, v.say(w.Key(), payroll.Terms{"day": w.Day, "days": w.Days})})
	}
	return all
}

// Degrees writes a temperature in both scales' figures.
func (heatPlace) Degrees(f any) Degrees {
	switch t := f.(type) {
	case models.Quantity:
		return degreesOf(t.Number)
	case *models.Quantity:
		return degreesOf(t.Number)
	case quantity.Number:
		return degreesOf(t)
	case *quantity.Number:
		return degreesOf(*t)
	}
	return Degrees{}
}

// Degrees are a temperature by both scales, in whole degrees.
type Degrees struct{ F, C quantity.Number }

func degreesOf(f quantity.Number) Degrees {
	c := f.Minus(quantity.Of(32)).Times(quantity.Of(5)).Per(quantity.Of(9))
	return Degrees{f.Round(0), c.Round(0)}
}

// heatLimits are the temperatures at which something more is owed, with what.
func (v *visit) heatLimits(plan *heatday.Plan) (limits []plot.Limit) {
	words := map[int64][]string{}
	for _, d := range plan.Asked {
		if at := cmp.Or(d.From, d.Over); at != nil {
			words[tenths(*at)] = append(words[tenths(*at)], v.say("page.heat.duty."+d.Code, nil))
		}
	}
	for at, duties := range words {
		terms := payroll.Terms{"f": quantity.Thousandths(at * 100), "duties": strings.Join(duties, ", ")}
		limits = append(limits, plot.Limit{At: at, Words: v.say("page.heat.limit", terms)})
	}
	return limits
}

// tenths is a temperature in tenths of a degree.
func tenths(n quantity.Number) int64 { return int64(n.Times(quantity.Of(10)).Round(0).Float()) }

// plotHeat draws the hours of a day; nothing where nothing was measured.
func (v *visit) plotHeat(p *heatPage) template.HTML {
	if p.Latest == nil {
		return ""
	}
	var labels []string
	air, felt := plot.Curve{}, plot.Curve{Hollow: true}
	for _, h := range p.Hours {
		labels = append(labels, h.Clock)
		var t, i plot.Value
		if h.Air != nil {
			t = plot.Value{At: tenths(h.Air.Temperature.Number), Known: true}
		}
		if h.Index != nil {
			i = plot.Value{At: tenths(h.Index.HeatIndex), Known: true}
		}
		air.Values, felt.Values = append(air.Values, t), append(felt.Values, i)
	}
	terms := payroll.Terms{"garden": p.Garden.Content.Name, "date": p.On}
	words := plot.Words{ID: "hours", Title: v.say("page.heat.plot", terms), Text: v.say("page.heat.plot_text", terms)}
	return plot.Curves(words, labels, []plot.Curve{air, felt}, v.heatLimits(p.Plan))
}

// keepReading keeps one reading of the shown day.
func keepReading(v *visit) (*answer, error) {
	f, err := v.form("garden", "on", "read_at", "temperature_f", "unit", "relative_humidity", "source")
	if err != nil {
		return nil, err
	}
	var place heatPlace
	err = v.in(func(tx *models.Tx) (err error) {
		if place, err = v.heatPlace(tx, f); err != nil {
			return err
		}
		reading := models.HeatReadingContent{GardenID: place.Garden.ID, Source: f.Value("source")}
		reading.Temperature, reading.Humidity = f.air("temperature_f", "relative_humidity")
		if reading.ReadAt, err = v.heatMoment(tx, f, place); err != nil {
			return err
		}
		if err := f.Faulty(); err != nil {
			return err
		}
		_, _, err = models.Record(tx, f.ID, reading, models.Recording{RecordedAt: tx.Now})
		return err
	})
	if err != nil {
		return v.again(f, inFahrenheit(err), heatPageOf)
	}
	return seeOther("/heat"+place.Query(place.On), "heat_read"), nil
}

// heatMoment is the instant of a time of day on the garden's clock, in the workday that is shown.
func (v *visit) heatMoment(tx *models.Tx, f *Form, place heatPlace) (time.Time, error) {
	clock, err := time.Parse("15:04", f.Value("read_at"))
	if err != nil {
		f.fault("read_at", "page.input.not_clock", payroll.Terms{"value": f.Value("read_at")})
		return time.Time{}, nil
	}
	profile, err := tx.Profile()
	if err != nil {
		return time.Time{}, err
	}
	y, m, d := place.On.Civil()
	at := time.Date(y, m, d, clock.Hour(), clock.Minute(), 0, 0, place.Zone)
	if models.WorkdayOf(at, int(profile.Content.WorkdayStart), place.Zone).Before(place.On) {
		at = at.AddDate(0, 0, 1) // before the workday begins it is the night after
	}
	return at, nil
}

// air reads a temperature in the form's unit, and the humidity where it is known.
func (f *Form) air(temperature, humidity string) (t models.Quantity, h *int64) {
	if given := f.degrees(temperature); given != nil {
		t = *given
	} else {
		f.fault(temperature, "fault.empty", nil)
	}
	return t, f.count(humidity)
}

// inFahrenheit tells the faults of a temperature in °C beside the one field that there is.
func inFahrenheit(err error) error {
	return movingFaults(err, func(pointer string) string {
		if field, ok := strings.CutSuffix(pointer, "_c"); ok {
			return field + "_f"
		}
		return pointer
	})
}

// movingFaults moves the faults of an error to other places.
func movingFaults(err error, to func(pointer string) string) error {
	var e *models.Error
	if !errors.As(err, &e) {
		return err
	}
	moved := *e
	moved.Faults = slices.Clone(e.Faults)
	for i := range moved.Faults {
		moved.Faults[i].Pointer = to(moved.Faults[i].Pointer)
	}
	return &moved
}

// Clock writes an instant as a time of day in the garden.
func (p heatPlace) Clock(at time.Time) string { return at.In(p.Zone).Format("15:04") }

// Clocks writes instants as times of day in the garden.
func (p heatPlace) Clocks(at []time.Time) string {
	clocks := make([]string, len(at))
	for i, t := range at {
		clocks[i] = p.Clock(t)
	}
	return strings.Join(clocks, ", ")
}
