package pages

import (
	"errors"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/climbs"
	"palmero/models/daybook"
	"palmero/payroll"
	"palmero/safety"
	"palmero/safety/checklists"
	"palmero/safety/quantity"
)

// climbPage is how a crew goes up today: what stands against it, the lists, the way, and who may.
type climbPage struct {
	*desk
	Lead   string
	Stops  []climbs.LeadStop
	Ways   []climbWay
	Pieces []models.Equipment
	Facts  []string
	Answer *clearance.Answer

	unheard []uuid.UUID
}

// climbWay is a way up that the garden's rulebook knows, with the list filled for it today; nil: none yet.
type climbWay struct {
	Way    string
	List   string
	Filled *climbs.ReviewedChecklist
}

// mostPieces is more equipment than any crew chooses among.
const mostPieces = 200

func showClimb(v *visit) (*answer, error) { return climbAgain(v, newForm(nil)) }

// climbAgain shows the page. That the lead has heard of a stop is noted when it was shown first.
func climbAgain(v *visit, f *Form) (*answer, error) {
	var p *climbPage
	a, err := v.dayPage("day_climb", f, func(tx *models.Tx, d *desk) (any, error) {
		p = &climbPage{desk: d, Lead: v.caller.Name}
		return p, p.read(tx, v, f)
	})
	if err == nil && p != nil && len(p.unheard) > 0 {
		err = v.in(func(tx *models.Tx) error { return climbs.Hear(tx, *v.caller.Worker, p.unheard) })
	}
	return a, err
}

func (p *climbPage) read(tx *models.Tx, v *visit, f *Form) error {
	day, err := climbs.DayOf(tx, *v.caller.Worker, p.Day)
	if err != nil {
		return err
	}
	p.Stops, p.unheard = day.Stops, day.Unheard()
	if p.Garden == nil {
		return nil
	}
	p.Ways = waysOf(p.desk, day)
	if len(p.Ways) == 0 {
		return nil
	}
	for _, fact := range seenFacts {
		p.Facts = append(p.Facts, fact.name)
	}
	if p.Pieces, err = models.List[models.Equipment](tx, models.Page{Limit: mostPieces}, models.Equal("state", models.InService)); err != nil {
		return err
	}
	slices.SortFunc(p.Pieces, func(a, b models.Equipment) int { return strings.Compare(a.Content.Code, b.Content.Code) })
	if err := p.remember(tx, f); err != nil {
		return err
	}
	p.Answer, err = clearance.Look(tx, figuring.Books(), clearance.Question{Crew: p.Key.Crew, Day: p.Day})
	if err == nil {
		p.Answer.Speak(v.speaking())
	}
	return err
}

// remember puts the way and the equipment of last time into a form that nobody has filled in.
func (p *climbPage) remember(tx *models.Tx, f *Form) error {
	if f.Value("way") != "" || f.Problem != "" {
		return nil
	}
	last, err := clearance.LastSetup(tx, p.Key.Crew, "")
	if err != nil || last == nil {
		return err
	}
	f.Set("way", last.Content.Way)
	for _, id := range last.Content.Equipment {
		f.Add("equipment", id.String())
	}
	return nil
}

// waysOf are the ways up that the rulebook of the crew's garden knows today; none where there is no such book.
func waysOf(d *desk, day *climbs.Day) (ways []climbWay) {
	if d.Garden == nil {
		return nil
	}
	book, ok := figuring.Books().For(d.Garden.Content.Rulebook)
	if !ok {
		return nil
	}
	table, err := book.Clearance(d.Day)
	if err != nil {
		return nil
	}
	for _, name := range table.Value.WayNames() {
		w := climbWay{Way: name, List: table.Value.Ways[name].Checklist}
		for i := range day.Checklists {
			if c := &day.Checklists[i]; c.Content.CrewID == d.Key.Crew && c.Content.Way == name {
				w.Filled = c
			}
		}
		ways = append(ways, w)
	}
	return ways
}

// seenFacts are what a lead looks at anew each time, answered by yes or no; what is left open is unknown, and clears nobody.
var seenFacts = []struct {
	name string
	in   func(*safety.Setup) **bool
}{
	{"cutting_tool", func(s *safety.Setup) **bool { return &s.CuttingTool }},
	{"ground_person", func(s *safety.Setup) **bool { return &s.Crew.GroundPerson }},
	{"rescue_plan", func(s *safety.Setup) **bool { return &s.Crew.RescuePlan }},
	{"water_ready", func(s *safety.Setup) **bool { return &s.Weather.WaterReady }},
	{"shade_up", func(s *safety.Setup) **bool { return &s.Weather.ShadeUp }},
	{"high_heat_plan", func(s *safety.Setup) **bool { return &s.Weather.HighHeatPlan }},
	{"lightning", func(s *safety.Setup) **bool { return &s.Site.Lightning }},
	{"dark", func(s *safety.Setup) **bool { return &s.Site.Dark }},
	{"bees", func(s *safety.Setup) **bool { return &s.Site.Bees }},
	{"wet", func(s *safety.Setup) **bool { return &s.Site.Wet }},
	{"people_below", func(s *safety.Setup) **bool { return &s.Site.PeopleBelow }},
	{"entry_posted", func(s *safety.Setup) **bool { return &s.Site.EntryPosted }},
}

// seen is what the form says of today, over what the last setup of the crew for the same way says of ladder, lift and fall protection.
func (f *Form) seen(last *models.ClimbSetup) models.SetupFact {
	var s safety.Setup
	if last != nil {
		s = safety.Setup(last.Content.Setup)
	}
	s.CuttingTool, s.Site, s.Crew, s.Weather = nil, &safety.SeenSite{}, &safety.Crew{ReachBy: f.Value("reach")}, &safety.Weather{}
	for _, fact := range seenFacts {
		if said := f.Value(fact.name); said == "yes" || said == "no" {
			*fact.in(&s) = new(said == "yes")
		}
	}
	s.Site.Gust, s.Weather.Temperature, s.Weather.ForecastHigh = f.number("gust"), f.number("temperature"), f.number("forecast")
	return models.SetupFact(s)
}

// number reads a figure; nil where there is none.
func (f *Form) number(name string) *quantity.Number {
	if f.Value(name) == "" {
		return nil
	}
	n := readField(f, name, "input.not_decimal", quantity.Parse)
	return &n
}

var climbFields = []string{"way", "equipment", "name", "gust", "temperature", "forecast", "reach"}

// climb keeps how the crew goes up, asks for the clearance, or acknowledges a stop.
func climb(v *visit) (*answer, error) {
	f, err := v.dayForm(climbFields...)
	if err != nil {
		return nil, err
	}
	do := f.Value("do")
	var d *desk
	err = v.in(func(tx *models.Tx) (err error) {
		if d, err = v.desk(tx, f.Value("crew"), f.Value("on")); err != nil {
			return err
		}
		switch do {
		case "acknowledge":
			stop := f.Ref("stop")
			if err := f.Faulty(); err != nil {
				return err
			}
			_, _, err = climbs.Acknowledge(tx, *v.caller.Worker, stop, climbs.Acknowledging{ID: f.ID, Name: f.Value("name"), RecordedAt: tx.Now})
		case "give":
			_, _, err = clearance.Give(tx, figuring.Books(), f.ID, d.Key.Crew, d.Day, v.speaking())
		case "setup":
			err = keepSetup(tx, d, f, v.say("page.climb.anew", nil))
		default:
			err = errNotFound
		}
		return err
	})
	if err != nil {
		return v.again(f, inForm(err, "/setup/site/gust_mph", "/gust", "/setup/weather/temperature_f", "/temperature", "/setup/weather/forecast_high_f", "/forecast"), climbAgain)
	}
	return seeOther("/day/climb"+d.Ask(), "climb_"+do), nil
}

// keepSetup records how the crew goes up where it works now, in place of what was said before of the same way and block.
func keepSetup(tx *models.Tx, d *desk, f *Form, anew string) error {
	if d.Draft.Place == nil {
		return &models.Error{Kind: models.Conflict, Key: "problem.no_place"}
	}
	way := f.Value("way")
	last, err := clearance.LastSetup(tx, d.Key.Crew, way)
	if err != nil {
		return err
	}
	c := models.ClimbSetupContent{
		CrewID: d.Key.Crew, Workday: d.Key.Day, BlockID: d.Draft.Place.BlockID, OperationID: d.Draft.Place.OperationID, Way: way, Setup: f.seen(last),
	}
	for _, id := range f.Values("equipment") {
		piece, err := uuid.Parse(id)
		if err != nil {
			return models.FaultAt("/equipment", "input.not_understood", nil)
		}
		c.Equipment = append(c.Equipment, piece)
	}
	if err := f.Faulty(); err != nil {
		return err
	}
	how := models.Recording{RecordedAt: tx.Now}
	before, err := models.List[models.ClimbSetup](tx, models.Page{Limit: 1}, models.Equal("crew_id", c.CrewID), models.Equal("workday", c.Workday),
		models.Equal("block_id", c.BlockID), models.Equal("way", way), models.Standing(true))
	if err != nil {
		return err
	}
	if len(before) > 0 && before[0].ID != f.ID {
		how.Supersedes, how.Reason = &before[0].ID, anew
	}
	if kept, err := models.List[models.ClimbSetup](tx, models.Page{Limit: 1}, models.Equal("id", f.ID)); err != nil || len(kept) > 0 {
		return err // the button was pressed twice
	}
	_, _, err = clearance.RecordSetup(tx, figuring.Books(), f.ID, c, how)
	return err
}

// inForm moves the faults of a document to the fields of a form: pairs of a pointer and a field's.
func inForm(err error, pairs ...string) error {
	var e *models.Error
	if !errors.As(err, &e) {
		return err
	}
	moved := *e
	moved.Faults = slices.Clone(e.Faults)
	for i := range moved.Faults {
		for n := 0; n+1 < len(pairs); n += 2 {
			if moved.Faults[i].Pointer == pairs[n] {
				moved.Faults[i].Pointer = pairs[n+1]
			}
		}
	}
	return &moved
}

// listPage is a list to go through before the climb.
type listPage struct {
	*desk
	Way, WayWords string
	Title         string
	List          *checklists.Checklist
	Items         []listItem
	Before        *climbs.ReviewedChecklist // filled already today; nil: not yet
}

// listItem is one thing to look at, in the reader's language.
type listItem struct {
	ID, Ask, OK, Defect string
	Stops, MayNotApply  bool
	Answer, Note, Fault string
}

func showList(v *visit) (*answer, error) {
	return listAgain(v, newForm(map[string]string{"way": v.gin.Query("way")}))
}

func listAgain(v *visit, f *Form) (*answer, error) {
	return v.dayPage("day_checklist", f, func(tx *models.Tx, d *desk) (any, error) {
		way, err := v.wayOf(tx, d, f.Value("way"))
		if err != nil {
			return nil, err
		}
		p := &listPage{desk: d, Way: way.Way, WayWords: v.catalogue().Word("climb_way", way.Way), List: climbBooks().Lists[way.List], Before: way.Filled}
		p.Title = v.listTitle(way.List)
		lang := v.language()
		for _, item := range p.List.Items {
			one := listItem{ID: item.ID, Ask: item.Ask[lang], OK: item.OK[lang], Defect: item.Defect[lang], Stops: item.Stops, MayNotApply: item.MayNotApply}
			one.Answer, one.Note = f.Value("a."+item.ID), f.Value("note."+item.ID)
			one.Fault = f.Fault("a." + item.ID)
			p.Items = append(p.Items, one)
		}
		return p, nil
	})
}

// wayOf is a way up of the crew's garden; what is none is an address that names nothing.
func (v *visit) wayOf(tx *models.Tx, d *desk, name string) (*climbWay, error) {
	day, err := climbs.DayOf(tx, *v.caller.Worker, d.Day)
	if err != nil {
		return nil, err
	}
	for _, w := range waysOf(d, day) {
		if w.Way == name && climbBooks().Lists[w.List] != nil {
			return &w, nil
		}
	}
	return nil, errNotFound
}

// fillList keeps a list as it was gone through.
func fillList(v *visit) (*answer, error) {
	f, err := v.dayForm("way", "reason")
	if err != nil {
		return nil, err
	}
	var d *desk
	var items []string // of the answers, in their order
	err = v.in(func(tx *models.Tx) (err error) {
		if d, err = v.desk(tx, f.Value("crew"), f.Value("on")); err != nil {
			return err
		}
		way, err := v.wayOf(tx, d, f.Value("way"))
		if err != nil {
			return err
		}
		in := climbs.Filling{
			ID: f.ID, CrewID: d.Key.Crew, GardenID: d.Garden.ID, Workday: d.Key.Day, Way: way.Way, Checklist: way.List, Digest: f.Value("digest"), RecordedAt: tx.Now,
			Reason: f.Value("reason"),
		}
		list := climbBooks().Lists[way.List]
		items = nil
		for _, item := range list.Items {
			f.Knows("a." + item.ID)
			if said := f.Value("a." + item.ID); said != "" {
				in.Answers = append(in.Answers, models.ItemAnswer{Item: item.ID, Answer: said, Note: f.Value("note." + item.ID)})
				items = append(items, item.ID)
			}
		}
		if in.Equipment, err = lookedOver(tx, d.Key, way.Way, list); err != nil {
			return err
		}
		if way.Filled != nil && way.Filled.ID != f.ID {
			in.Supersedes = &way.Filled.ID
		} else if way.Filled != nil {
			return nil // the button was pressed twice
		}
		_, _, err = climbs.Fill(tx, climbBooks(), in)
		return err
	})
	if err != nil {
		return v.again(f, atItems(err, items), listAgain)
	}
	return seeOther("/day/climb"+d.Ask(), "list"), nil
}

// lookedOver are the pieces that the crew takes along for a way today and that a list looks at.
func lookedOver(tx *models.Tx, k daybook.Key, way string, list *checklists.Checklist) (ids []uuid.UUID, err error) {
	setups, err := models.List[models.ClimbSetup](tx, models.Page{Limit: mostPieces}, models.Equal("crew_id", k.Crew), models.Equal("workday", k.Day), models.Equal("way", way), models.Standing(true))
	if err != nil {
		return nil, err
	}
	var named []uuid.UUID
	for _, s := range setups {
		named = append(named, s.Content.Equipment...)
	}
	if len(named) == 0 {
		return nil, nil
	}
	pieces, err := models.List[models.Equipment](tx, models.Page{Limit: mostPieces}, models.OneOf("id", named))
	for _, piece := range pieces {
		if slices.ContainsFunc(list.Items, func(i checklists.Item) bool { return slices.Contains(i.About, string(piece.Content.Kind)) }) {
			ids = append(ids, piece.ID)
		}
	}
	return ids, err
}

// atItems moves the faults of answers to the items that they answer.
func atItems(err error, items []string) error {
	var e *models.Error
	if !errors.As(err, &e) {
		return err
	}
	moved := *e
	moved.Faults = make([]payroll.Fault, len(e.Faults))
	for i, fault := range e.Faults {
		parts := strings.Split(fault.Pointer, "/")
		if len(parts) > 2 && parts[1] == "answers" {
			for n, item := range items {
				if parts[2] == strconv.Itoa(n) {
					fault.Pointer = "/a/" + item
				}
			}
		}
		moved.Faults[i] = fault
	}
	return &moved
}
