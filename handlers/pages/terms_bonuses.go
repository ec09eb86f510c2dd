package pages

import (
	"errors"
	"net/http"

	"github.com/google/uuid"

	"palmero/handlers/failures"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
)

// bonusPages keep bonuses that were earned over one or several weeks, each paid by the statement of the week that it names.
func bonusPages() []Page {
	return []Page{
		{Method: "GET", Path: "/bonuses", Roles: office, Nav: "page.nav.bonuses", Under: "/set-up", handle: func(v *visit) (*answer, error) { return bonusesPage(v, nil) }},
		{Method: "POST", Path: "/bonuses", Roles: office, handle: recordBonus},
		{Method: "GET", Path: "/bonuses/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return bonusPage(v, nil) }},
		{Method: "POST", Path: "/bonuses/{id}", Roles: office, handle: correctBonus},
	}
}

// bonusList are the bonuses, the last recorded first.
type bonusList struct {
	Bonuses []bonusRow
	Crews   []Option
	Older   int64
}

// bonusRow is a bonus with whose it is.
type bonusRow struct {
	models.Bonus
	Name   string
	Number int64 // of the worker; 0: a crew's
}

const bonusesAtOnce = 40

func bonusesPage(v *visit, f *Form) (*answer, error) {
	var page bonusList
	err := v.view(func(tx *models.Tx) error {
		found, err := models.LatestBonuses(tx, v.number("before"), bonusesAtOnce+1)
		if err != nil {
			return err
		}
		if len(found) > bonusesAtOnce {
			found = found[:bonusesAtOnce]
			page.Older = found[bonusesAtOnce-1].Seq
		}
		if page.Bonuses, err = bonusRows(tx, found); err != nil {
			return err
		}
		page.Crews, err = v.allCrews(tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = newForm(map[string]string{"kind": string(payroll.Flat)})
	}
	return show("bonuses", &page).with(f), nil
}

func bonusRows(tx *models.Tx, found []models.Bonus) ([]bonusRow, error) {
	var ids []uuid.UUID
	for i := range found {
		if id := found[i].Content.WorkerID; id != nil {
			ids = append(ids, *id)
		}
	}
	workers, err := termsWorkers(tx, ids)
	if err != nil {
		return nil, err
	}
	crews, err := models.All[models.CrewContent](tx)
	rows := make([]bonusRow, len(found))
	for i := range found {
		rows[i] = bonusRow{Bonus: found[i]}
		switch c := found[i].Content; {
		case c.WorkerID != nil && workers[*c.WorkerID] != nil:
			w := workers[*c.WorkerID].Content
			rows[i].Name, rows[i].Number = w.Name, w.Number
		case c.CrewID != nil && crews[*c.CrewID] != nil:
			rows[i].Name = crews[*c.CrewID].Content.Name
		}
	}
	return rows, err
}

// bonusFields are those of a bonus's form. It is a worker's, by number, or a crew's.
var bonusFields = []string{"number", "crew", "earned_from", "earned_through", "pay_week", "kind", "amount", "what_for", "promised", "measured", "basis", "reason"}

// readBonus reads a bonus from its form. The week that pays it is the one in which the day lies that was given.
func readBonus(tx *models.Tx, f *Form, c models.BonusContent) (models.BonusContent, error) {
	profile, err := tx.Profile()
	if err != nil {
		return c, err
	}
	c.EarnedFrom, c.EarnedThrough = models.Day(f.Day("earned_from")), models.Day(f.Day("earned_through"))
	c.Kind, c.Amount, c.WhatFor = payroll.BonusKind(f.Value("kind")), f.Cents("amount"), f.Value("what_for")
	c.Promised, c.Measured, c.Basis = f.Value("promised") != "", f.Value("measured") != "", f.Value("basis")
	if day := f.Day("pay_week"); !day.IsZero() {
		c.PayWeek = models.Day(models.WeekOf(day, profile.Content.WeekStart))
	}
	for _, name := range []string{"earned_from", "earned_through", "pay_week"} {
		f.needDay(name)
	}
	return c, f.Faulty()
}

// bonusFaults points what is wrong with a bonus at its form.
func bonusFaults(err error) error {
	return inForm(err, "/worker_id", "/number", "/crew_id", "/crew", "/supersedes", "/amount")
}

func recordBonus(v *visit) (*answer, error) {
	f, err := v.form(bonusFields...)
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		c, err := readBonus(tx, f, models.BonusContent{})
		if err != nil {
			return err
		}
		if f.Value("amount") == "" || c.Amount == 0 {
			return models.FaultAt("/amount", "fault.not_positive", nil)
		}
		if crew := f.Ref("crew"); crew != uuid.Nil {
			c.CrewID = &crew
		}
		if f.Value("number") != "" {
			id, err := f.termsWorker(tx, "number")()
			if err != nil {
				return err
			}
			c.WorkerID = &id
		}
		if err := f.Faulty(); err != nil {
			return err
		}
		_, _, err = payrun.RecordBonus(tx, f.ID, c, models.Recording{RecordedAt: tx.Now})
		return bonusFaults(err)
	})
	if err != nil {
		return v.again(f, err, bonusesPage)
	}
	return seeOther("/bonuses/"+f.ID.String(), "bonus_kept"), nil
}

// oneBonus is a bonus with its history.
type oneBonus struct {
	bonusRow
	Steps []bonusStep // what it was before and what took its place, the first first
	Head  bool        // whether nothing took its place
}

// bonusStep is a record of a bonus's history.
type bonusStep struct {
	models.Bonus
	By string
}

func bonusPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page oneBonus
	err = v.view(func(tx *models.Tx) error {
		chain, err := models.Chain[models.BonusContent](tx, id)
		if err != nil {
			return err
		}
		by := make([]uuid.UUID, len(chain))
		for i := range chain {
			by[i] = chain[i].RecordedBy
		}
		names, err := models.AccountNames(tx, by)
		if err != nil {
			return err
		}
		for _, b := range chain {
			page.Steps = append(page.Steps, bonusStep{b, names[b.RecordedBy]})
			if b.ID == id {
				rows, err := bonusRows(tx, []models.Bonus{b})
				if err != nil {
					return err
				}
				page.bonusRow, page.Head = rows[0], b.SupersededBy == nil
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if f == nil {
		c := page.Content
		f = newForm(map[string]string{"earned_from": isoOf(c.EarnedFrom.Date), "earned_through": isoOf(c.EarnedThrough.Date), "pay_week": isoOf(c.PayWeek.Date), "kind": string(c.Kind),
			"amount": c.Amount.String(), "what_for": c.WhatFor, "basis": c.Basis})
		for name, yes := range map[string]bool{"promised": c.Promised, "measured": c.Measured} {
			if yes {
				f.Set(name, "yes")
			}
		}
	}
	return show("bonus", &page).with(f), nil
}

// correctBonus puts another bonus in the place of one that no approved statement pays yet, or takes it back with an amount of nothing.
func correctBonus(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form(bonusFields...)
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		old, err := recordOf[models.BonusContent](tx, id)
		if err != nil {
			return err
		}
		if f.Value("amount") == "" {
			f.fault("amount", "fault.empty", nil)
		}
		c, err := readBonus(tx, f, models.BonusContent{WorkerID: old.Content.WorkerID, CrewID: old.Content.CrewID})
		if err != nil {
			return err
		}
		_, _, err = payrun.RecordBonus(tx, f.ID, c, models.Recording{RecordedAt: tx.Now, Supersedes: &id, Reason: f.Value("reason")})
		return bonusFaults(err)
	})
	if err != nil {
		return v.again(f, err, bonusPage)
	}
	return seeOther("/bonuses/"+f.ID.String(), "bonus_corrected"), nil
}

// explained says in the reader's words what a person can mend; what nobody can is returned.
func (v *visit) explained(err error) (string, error) {
	var e *models.Error
	if err == nil || !errors.As(err, &e) {
		return "", err
	}
	what := failures.From(err)
	if what.Status == http.StatusNotFound {
		return "", err
	}
	if len(what.Faults) > 0 {
		return v.inPageWords(what.Faults[0].Key, &failures.Failure{Terms: what.Faults[0].Terms}), nil
	}
	return v.inPageWords(what.Key, what), nil
}
