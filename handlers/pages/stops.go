package pages

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/climbs"
	"palmero/payroll/dated"
)

// stopPages show the stops that hold, who has heard of them, and how they end.
func stopPages() []Page {
	return []Page{
		{Method: "GET", Path: "/stops", Roles: guards, handle: showStops},
		{Method: "GET", Path: "/stops/new", Roles: officer, handle: showNewStop},
		{Method: "POST", Path: "/stops/new", Roles: officer, handle: stopCrew},
		{Method: "GET", Path: "/stops/{id}", Roles: guards, handle: showStop},
		{Method: "POST", Path: "/stops/{id}", Roles: officer, handle: liftStop},
	}
}

// stopsAtOnce is how many stops a page shows.
const stopsAtOnce = 60

// stopsPage is the stops that hold.
type stopsPage struct {
	shownDay
	Stops []namedStop
}

// namedStop is a stop with the names of what it is about.
type namedStop struct {
	climbs.StandingStop
	Crew, Piece, Palm, By string
}

func showStops(v *visit) (*answer, error) {
	var page stopsPage
	err := v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		// A stop of a crew ends with its day; one of a piece of equipment or a palm when it is lifted.
		page.Stops, err = readStops(tx, page.shownDay, models.HoldingOn(page.On), models.Lifted(false))
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("stops", page), nil
}

func readStops(tx *models.Tx, day shownDay, conditions ...models.Condition) ([]namedStop, error) {
	stops, err := models.List[models.Stop](tx, models.Page{Limit: stopsAtOnce}, conditions...)
	if err != nil || len(stops) == 0 {
		return nil, err
	}
	noticed, err := climbs.WithNotices(tx, stops, day.On)
	if err != nil {
		return nil, err
	}
	named := make([]namedStop, len(noticed))
	for i, s := range noticed {
		named[i].StandingStop = s
	}
	return named, nameStops(tx, named)
}

func nameStops(tx *models.Tx, stops []namedStop) error {
	crews, err := crewNames(tx)
	if err != nil {
		return err
	}
	accounts, err := accountNames(tx)
	if err != nil {
		return err
	}
	pieces, palms := []uuid.UUID{uuid.Nil}, []uuid.UUID{uuid.Nil}
	for _, s := range stops {
		if s.EquipmentID != nil {
			pieces = append(pieces, *s.EquipmentID)
		}
		if s.PalmID != nil {
			palms = append(palms, *s.PalmID)
		}
	}
	equipment, err := models.List[models.Equipment](tx, models.Page{Limit: len(pieces)}, models.OneOf("id", pieces))
	if err != nil {
		return err
	}
	avoided, err := models.List[models.Palm](tx, models.Page{Limit: len(palms)}, models.OneOf("id", palms))
	if err != nil {
		return err
	}
	codes, labels := models.KeptByID(equipment), models.KeptByID(avoided)
	for i := range stops {
		s := &stops[i]
		s.By = accounts[s.StoppedBy]
		switch {
		case s.CrewID != nil:
			s.Crew = crews[*s.CrewID]
		case s.EquipmentID != nil && codes[*s.EquipmentID] != nil:
			s.Piece = codes[*s.EquipmentID].Content.Code
		case s.PalmID != nil && labels[*s.PalmID] != nil:
			s.Palm = labels[*s.PalmID].Content.Label
		}
	}
	return nil
}

// stopPage is one stop.
type stopPage struct {
	shownDay
	namedStop
}

func showStop(v *visit) (*answer, error) { return stopLiftPage(v, newForm(nil)) }

func stopLiftPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page stopPage
	err = v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		stops, err := readStops(tx, page.shownDay, models.Equal("id", id))
		if err == nil && len(stops) == 0 {
			err = errNotFound
		}
		if err == nil {
			page.namedStop = stops[0]
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("stop", page).with(f), nil
}

func liftStop(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("competent_person", "reason")
	if err != nil {
		return nil, err
	}
	in := climbs.Lifting{ID: f.ID, CompetentPerson: f.Value("competent_person"), Reason: f.Value("reason")}
	err = v.in(func(tx *models.Tx) error {
		_, _, err := climbs.Lift(tx, id, in)
		return err
	})
	if err != nil {
		return v.again(f, err, stopLiftPage)
	}
	return seeOther("/stops", "lifted"), nil
}

// newStop is the form that stops a crew's climb.
type newStop struct {
	shownDay
	Crews []Option
	Ways  []Option
}

func showNewStop(v *visit) (*answer, error) {
	return newStopPage(v, newForm(map[string]string{"crew_id": v.gin.Query("crew")}))
}

func newStopPage(v *visit, f *Form) (*answer, error) {
	var page newStop
	err := v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		page.Crews, err = v.crewOptions(tx, page.shownDay)
		return err
	})
	if err != nil {
		return nil, err
	}
	page.Ways = append([]Option{{Value: "", Label: v.say("page.stop.every_way", nil)}}, v.wayOptions(page.On)...)
	if f.Value("workday") == "" {
		f.Set("workday", page.On.String())
	}
	return show("stop_new", page).with(f), nil
}

func (v *visit) crewOptions(tx *models.Tx, day shownDay) (options []Option, err error) {
	crews, err := crewsOn(tx, day.On)
	for _, c := range crews {
		options = append(options, Option{Value: c.ID.String(), Label: c.Content.Name})
	}
	return options, err
}

// wayOptions are the ways up that the safety rulebooks know on a day.
func (v *visit) wayOptions(day dated.Date) (options []Option) {
	for _, way := range climbBooks().Ways(day) {
		options = append(options, Option{Value: way, Label: v.catalogue().Word("climb_way", way)})
	}
	return options
}

func stopCrew(v *visit) (*answer, error) {
	f, err := v.form("crew_id", "workday", "way", "reason")
	if err != nil {
		return nil, err
	}
	crew := f.Ref("crew_id")
	in := climbs.Stopping{ID: f.ID, Scope: models.StopCrew, CrewID: &crew, Workday: models.Day(f.Day("workday")), Way: f.Value("way"), Reason: f.Value("reason")}
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := climbs.StopClimb(tx, climbBooks(), in)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, newStopPage)
	}
	return seeOther("/stops", "stopped"), nil
}
