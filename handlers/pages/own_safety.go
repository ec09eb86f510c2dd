package pages

import (
	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/climbs"
	"palmero/models/gear"
	"palmero/models/injuries"
)

// ownSafetyPages show people their own clearance, gear, training and incidents.
func ownSafetyPages() []Page {
	return []Page{
		{Method: "GET", Path: "/my/safety", Roles: hands, Nav: "page.nav.my_safety", handle: showOwnSafety},
		{Method: "POST", Path: "/my/gear/{id}", Roles: hands, handle: acknowledgeGear},
		{Method: "GET", Path: "/my/training", Roles: hands, handle: showOwnTraining},
		{Method: "POST", Path: "/my/training/{id}", Roles: hands, handle: acknowledgeTraining},
		{Method: "POST", Path: "/my/stops/{id}", Roles: hands, handle: acknowledgeStop},
	}
}

// ownSafety is somebody's own day and what they hold.
type ownSafety struct {
	shownDay
	Crews     []*clearance.Answer
	Stops     []climbs.LeadStop // that concern the own crews today
	Gear      []ownGear
	Trainings []ownTraining // that wait for the own word
	Incidents []injuries.Case
}

// ownGear is gear in somebody's hands, with the form by which they say that they have it.
type ownGear struct {
	gear.IssueTold
	FormID uuid.UUID
}

// ownTraining is a training that was signed off, by name.
type ownTraining struct {
	climbs.TrainingEntry
	Title  string
	FormID uuid.UUID
}

// gearShown is more than anybody holds.
const gearShown = 200

func showOwnSafety(v *visit) (*answer, error) {
	var page ownSafety
	err := v.view(func(tx *models.Tx) (err error) {
		if page.shownDay, err = v.shownDay(tx); err != nil {
			return err
		}
		if page.Crews, err = clearance.Own(tx, figuring.Books(), *v.caller.Worker, page.Today); err != nil {
			return err
		}
		issues, err := gear.Issues(tx, models.Page{Limit: gearShown}, models.Held(true), models.Equal("i.worker_id", *v.caller.Worker))
		if err != nil {
			return err
		}
		for _, i := range issues {
			page.Gear = append(page.Gear, ownGear{i, models.NewID()})
		}
		if page.Stops, err = climbs.OwnStops(tx, *v.caller.Worker, models.Day(page.Today)); err != nil {
			return err
		}
		own, err := climbs.TrainingOf(tx, climbBooks(), *v.caller.Worker, page.Today)
		if err != nil {
			return err
		}
		for _, e := range own.Entries {
			if !e.Content.Acknowledged && !e.Ended(page.Today) {
				page.Trainings = append(page.Trainings, ownTraining{e, documents.TopicTitle(e.Topic, e.Content.Topic, v.catalogue()), models.NewID()})
			}
		}
		page.Incidents, err = injuries.List(tx, figuring.Books(), models.Page{Limit: gearShown}, models.HappenedTo(tx, *v.caller.Worker))
		return err
	})
	if err != nil {
		return nil, err
	}
	for _, a := range page.Crews {
		a.Speak(v.speaking())
	}
	return show("my_safety", page), nil
}

// acknowledgeGear records the caller's word that gear was handed over.
func acknowledgeGear(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form()
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		_, _, err := gear.Acknowledge(tx, v.caller.Worker, id, gear.Acknowledgement{Stamp: gear.Stamp{ID: f.ID}})
		return err
	})
	if err != nil {
		return nil, err
	}
	return seeOther("/my/safety", "gear"), nil
}

func showOwnTraining(v *visit) (*answer, error) { return v.trainingOf(*v.caller.Worker) }

// acknowledgeTraining records the caller's word that a training took place.
func acknowledgeTraining(v *visit) (*answer, error) {
	return v.ownWord("training", func(tx *models.Tx, id uuid.UUID, f *Form) error {
		_, _, err := climbs.AcknowledgeTraining(tx, *v.caller.Worker, id, f.ID)
		return err
	})
}

// acknowledgeStop records the caller's word that a stop is understood.
func acknowledgeStop(v *visit) (*answer, error) {
	return v.ownWord("stop", func(tx *models.Tx, id uuid.UUID, f *Form) error {
		_, _, err := climbs.Acknowledge(tx, *v.caller.Worker, id, climbs.Acknowledging{ID: f.ID, Name: v.caller.Name, RecordedAt: tx.Now})
		return err
	})
}

// ownWord carries out the one-button form of what the path names, and goes back to the page of the own safety.
func (v *visit) ownWord(done string, keep func(tx *models.Tx, id uuid.UUID, f *Form) error) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form()
	if err != nil {
		return nil, err
	}
	if err := v.in(func(tx *models.Tx) error { return keep(tx, id, f) }); err != nil {
		return nil, err
	}
	return seeOther("/my/safety", "own_"+done), nil
}
