package season

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/access"
	"palmero/payroll/dated"
)

// The first day on which the season's rates and crews are in force.
var seasonStart = models.Day(dated.MustDate("2026-02-01"))

// planSetup founds the employer in January and has everything ready for the first day of work.
func (s *seeding) planSetup() {
	s.plan("2026-01-05 09:00", s.found)
	s.plan("2026-01-05 09:10", func() error { return s.openAccount(uuid.Nil, 1) })
	s.plan("2026-01-07 10:30", s.setUpGarden)
	s.plan("2026-01-28 14:00", s.setUpRates)
	s.plan("2026-02-05 11:00", s.setUpWorkers)
	s.plan("2026-02-05 15:30", func() error {
		for n := 2; n <= len(s.Accounts); n++ {
			if err := s.openAccount(id(ofAccount, 1), n); err != nil {
				return err
			}
		}
		return nil
	})
}

func (s *seeding) found() error {
	e := s.Employer
	return s.store.FoundEmployer(s.ctx, id(ofEmployer, 1), e.SignInName, models.EmployerContent{
		LegalName: e.LegalName, Address: e.Address, TaxNumber: e.TaxNumber, InsuranceCarrier: e.InsuranceCarrier, Size: e.Size,
		WeekStart: time.Sunday, Payday: time.Friday, SecondApprover: true,
	})
}

// openAccount opens an account, hands out its code, and lets its owner sign in for the first time and out again.
func (s *seeding) openAccount(by uuid.UUID, n int) error {
	a := s.Accounts[n-1]
	c := models.AccountContent{SignInName: a.SignInName, Name: s.nameOf(a), Role: a.Role, Language: a.Language}
	if a.Worker > 0 {
		c.WorkerID, c.Language = ref(id(ofWorker, a.Worker)), s.Workers[a.Worker-1].Language
	}
	err := s.in(by, func(tx *models.Tx) error {
		_, _, err := access.CreateAccount(tx, models.RoleAdministrator, id(ofAccount, n), c)
		return err
	})
	if err != nil {
		return err
	}
	code, err := s.gate.IssueCode(s.ctx, models.Scope{Employer: id(ofEmployer, 1), Actor: by}, models.RoleAdministrator, id(ofAccount, n))
	if err != nil {
		return err
	}
	granted, err := s.gate.FirstSignIn(s.ctx, access.Name{Employer: s.Employer.SignInName, Account: a.SignInName}, code.Code, Secret)
	if err != nil {
		return err
	}
	return s.in(id(ofAccount, n), func(tx *models.Tx) error { return access.SignOut(tx, &granted.Caller) })
}

func (s *seeding) setUpGarden() error {
	return s.in(id(ofAccount, 1), func(tx *models.Tx) error {
		var all errs
		g := s.Garden
		all.of(models.Create(tx, id(ofGarden, 1), models.GardenContent{Name: g.Name, TimeZone: g.TimeZone, Rulebook: g.Rulebook}))
		for i, b := range s.Blocks {
			all.of(models.Create(tx, id(ofBlock, i+1), models.BlockContent{GardenID: id(ofGarden, 1), Code: b.Code, Variety: b.Variety, Palms: b.Palms, TallestCM: b.TallestCM, BunchesPerPalm: b.Bunches}))
		}
		for i, o := range s.Operations {
			all.of(models.Create(tx, id(ofOperation, i+1), models.OperationContent{Code: o.Code, Unit: o.Unit, DailyLimit: o.DailyLimit}))
		}
		return all.first
	})
}

func (s *seeding) setUpRates() error {
	return s.in(id(ofAccount, 1), func(tx *models.Tx) error {
		var all errs
		for i, r := range s.PieceRates {
			c := models.PieceRateContent{OperationID: s.operation(r.Operation), Variety: r.Variety, Rate: r.Rate, EffectiveOn: seasonStart}
			if r.Block != "" {
				c.BlockID = ref(s.block(r.Block))
			}
			all.of(models.Record(tx, id(ofRate, i+1), c, models.Recording{RecordedAt: tx.Now}))
		}
		// Of the hourly rates one is everybody's; the workers' own follow with the workers.
		return s.recordHourly(tx, &all, false)
	})
}

// recordHourly records the hourly rates of single workers, or those of everybody.
func (s *seeding) recordHourly(tx *models.Tx, all *errs, own bool) error {
	for i, r := range s.HourlyRates {
		if own != (r.Worker > 0) {
			continue
		}
		c := models.HourlyRateContent{Rate: r.Rate, EffectiveOn: seasonStart}
		if own {
			c.WorkerID = ref(id(ofWorker, r.Worker))
		}
		all.of(models.Record(tx, id(ofRate, len(s.PieceRates)+i+1), c, models.Recording{RecordedAt: tx.Now}))
	}
	return all.first
}

func (s *seeding) setUpWorkers() error {
	return s.in(id(ofAccount, 1), func(tx *models.Tx) error {
		var all errs
		for _, w := range s.Workers {
			all.of(models.Create(tx, id(ofWorker, w.Number), models.WorkerContent{Number: int64(w.Number), Name: w.Name, Address: w.Street + ", Arenal Flats, California",
				BirthDate: models.Day(w.Born), Language: w.Language, StartedOn: models.Day(w.Started)}))
		}
		for i, k := range s.Crews {
			all.of(models.Create(tx, id(ofCrew, i+1), models.CrewContent{Name: k.Name}))
			for j, n := range k.Members {
				all.of(models.Create(tx, id(ofMember, n), models.CrewMemberContent{CrewID: id(ofCrew, i+1), WorkerID: id(ofWorker, n), Leads: j == 0, FromDate: seasonStart}))
			}
		}
		return s.recordHourly(tx, &all, true)
	})
}

// errs keeps the first error of a list of steps.
type errs struct{ first error }

func (e *errs) of(_ any, _ bool, err error) {
	if e.first == nil {
		e.first = err
	}
}
