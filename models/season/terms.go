package season

import (
	_ "embed"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

//go:embed terms.yaml
var termsYAML []byte

// What identifiers of these kinds are of, apart from the row of the others.
const (
	ofContract kind = 0x40 + iota
	ofBonus
	ofSickDay
)

// termsData is what was agreed with single workers beyond their rates.
type termsData struct {
	At        string
	Contracts []struct {
		Worker           int
		JobOrder         string     `yaml:"job_order"`
		FirstDay         dated.Date `yaml:"first_day"`
		LastDay          dated.Date `yaml:"last_day"`
		Workdays, Source string
		Hours            int64
		Rate             payroll.Rate
	}
	Bonuses []struct {
		Crew               int
		From, Through      dated.Date
		PayWeek            dated.Date `yaml:"pay_week"`
		Amount             payroll.Cents
		WhatFor            string `yaml:"what_for"`
		Promised, Measured bool
		Basis              string
	}
	SickDays []struct {
		Worker  int
		Day     dated.Date
		Minutes payroll.Minutes
	} `yaml:"sick_days"`
}

// planTerms has the clerk enter it.
func (s *seeding) planTerms() error {
	d, err := read[termsData](termsYAML)
	if err != nil {
		return err
	}
	s.plan(d.At, func() error {
		return s.in(id(ofAccount, clerk), func(tx *models.Tx) error {
			var all errs
			for i, c := range d.Contracts {
				all.of(models.Create(tx, id(ofContract, i+1), models.ContractContent{WorkerID: id(ofWorker, c.Worker), JobOrder: c.JobOrder, FirstDay: models.Day(c.FirstDay), LastDay: models.Day(c.LastDay),
					Workdays: c.Workdays, DayMinutes: payroll.Minutes(c.Hours * 60), OfferedRate: c.Rate, RateSource: c.Source}))
			}
			return all.first
		})
	})
	for i, b := range d.Bonuses {
		s.plan(d.At, func() error {
			return s.in(id(ofAccount, clerk), func(tx *models.Tx) error {
				_, _, err := payrun.RecordBonus(tx, id(ofBonus, i+1), models.BonusContent{CrewID: ref(id(ofCrew, b.Crew)), EarnedFrom: models.Day(b.From), EarnedThrough: models.Day(b.Through),
					PayWeek: models.Day(b.PayWeek), Kind: payroll.Flat, Amount: b.Amount, WhatFor: b.WhatFor, Promised: b.Promised, Measured: b.Measured, Basis: b.Basis}, models.Recording{RecordedAt: tx.Now})
				return err
			})
		})
	}
	for i, u := range d.SickDays {
		s.plan(d.At, func() error {
			return s.in(id(ofAccount, clerk), func(tx *models.Tx) error {
				c := models.SickUseContent{WorkerID: id(ofWorker, u.Worker), Workday: models.Day(u.Day), GardenID: id(ofGarden, 1), Minutes: u.Minutes}
				_, _, err := payrun.RecordSickUse(tx, s.books, id(ofSickDay, i+1), c, models.Recording{RecordedAt: tx.Now})
				return err
			})
		})
	}
	return nil
}
