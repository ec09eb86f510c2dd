package pages

import (
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/daybook"
	"palmero/models/intake"
)

func showRoll(v *visit) (*answer, error) { return rollPage(v, newForm(nil)) }

func rollPage(v *visit, f *Form) (*answer, error) {
	return v.dayPage("day_roll", f, func(_ *models.Tx, d *desk) (any, error) {
		if len(f.Values("here")) == 0 && f.Problem == "" {
			for _, p := range d.People {
				if p.Here || len(d.Draft.Roll) == 0 { // nobody was called yet: who is missing is fewer than who is there
					f.Add("here", p.ID.String())
				}
			}
		}
		return d, nil
	})
}

// callRoll says who is there, or adds a hand: a number is somebody of the farm, anything else the name of somebody who is in no list yet.
func callRoll(v *visit) (*answer, error) {
	f, err := v.dayForm("here", "name", "language")
	if err != nil {
		return nil, err
	}
	done := "roll"
	d, err := v.changeDay(f, func(tx *models.Tx, d *desk, draft *daybook.Draft) error {
		if f.Value("add") != "" {
			done = "hand"
			return addHand(tx, d, draft, f)
		}
		var there []uuid.UUID
		for _, p := range d.People {
			if f.Holds("here", p.ID.String()) {
				there = append(there, p.ID)
			}
		}
		draft.SetRoll(there)
		return nil
	})
	if err != nil {
		return v.again(f, err, rollPage)
	}
	if done == "hand" {
		return seeOther("/day/roll"+d.Ask(), done), nil
	}
	return seeOther("/day/time"+d.Ask(), done), nil
}

func addHand(tx *models.Tx, d *desk, draft *daybook.Draft, f *Form) error {
	name := f.Value("name")
	if number, err := strconv.ParseInt(strings.TrimPrefix(name, "#"), 10, 64); err == nil {
		worker, err := daybook.ByNumber(tx, number, d.Key.Day)
		if err != nil {
			return err
		}
		if worker == uuid.Nil {
			return models.FaultAt("/name", "fault.no_such_number", nil)
		}
		draft.Join(worker)
		return nil
	}
	return draft.AddHand(tx, intake.NewWorker{ID: f.ID, Name: name, Language: f.Value("language")})
}
