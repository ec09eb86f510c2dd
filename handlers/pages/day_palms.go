package pages

import (
	"palmero/models"
	"palmero/models/gear"
)

// crewPalms is where one tap says that nobody is to go up a palm.
type crewPalms struct {
	*desk
	Reasons []models.PalmReason
	Avoided []gear.PalmToAvoid // in the garden
}

// mostAvoided is how many palms to avoid a page shows.
const mostAvoided = 100

func showCrewPalms(v *visit) (*answer, error) { return crewPalmsAgain(v, newForm(nil)) }

func crewPalmsAgain(v *visit, f *Form) (*answer, error) {
	return v.dayPage("day_palms", f, func(tx *models.Tx, d *desk) (any, error) {
		p := &crewPalms{desk: d, Reasons: models.PalmReasons}
		if d.Garden == nil {
			return p, nil
		}
		var err error
		p.Avoided, err = gear.PalmsToAvoid(tx, models.Page{Limit: mostAvoided}, models.Equal("b.garden_id", d.Garden.ID))
		return p, err
	})
}

// leadAvoidsPalm records the word against a palm. Anybody's word stops at once; the way back is a competent person's.
func leadAvoidsPalm(v *visit) (*answer, error) {
	f, err := v.dayForm("label", "note", "reason")
	if err != nil {
		return nil, err
	}
	var d *desk
	err = v.in(func(tx *models.Tx) (err error) {
		if d, err = v.desk(tx, f.Value("crew"), f.Value("on")); err != nil {
			return err
		}
		block := f.Ref("block")
		if err := f.Faulty(); err != nil {
			return err
		}
		_, _, err = gear.AvoidPalm(tx, gear.Avoid{
			Stamp: gear.Stamp{ID: f.ID}, BlockID: &block, Label: f.Value("label"), Reason: models.PalmReason(f.Value("reason")), Note: f.Value("note"),
		})
		return err
	})
	if err != nil {
		return v.again(f, err, crewPalmsAgain)
	}
	return seeOther("/day/palms"+d.Ask(), "not_this_palm"), nil
}
