package season

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/climbs"
	"palmero/models/gear"
	"palmero/models/injuries"
	"palmero/payroll/dated"
)

// newHand is the worker whom a lead knew by name only, by the identifier that the sheet gave.
func (s *seeding) newHand() uuid.UUID { return id(ofWorker, len(s.Workers)+1) }

// planIncidents has what was out of the ordinary happen: a hand hurt by a thorn, bees in a palm, a knife that fell, a hand without training, and on the last morning torn gloves of which there are no others.
func (s *seeding) planIncidents() {
	s.planInjury()
	s.plan("2026-02-26 10:40", s.reportNearMiss)
	s.plan("2026-02-26 13:20", s.avoidPalm)
	s.plan("2026-02-26 16:05", s.stopPalm)
	s.plan("2026-02-26 17:30", func() error {
		return s.in(s.leadAccount(3), func(tx *models.Tx) error {
			return climbs.Hear(tx, id(ofWorker, s.Crews[2].Members[0]), []uuid.UUID{id(ofStop, 1)})
		})
	})
	s.plan("2026-02-26 17:31", func() error {
		return s.in(s.leadAccount(3), func(tx *models.Tx) error {
			_, _, err := climbs.Acknowledge(tx, id(ofWorker, s.Crews[2].Members[0]), id(ofStop, 1), climbs.Acknowledging{ID: s.next(ofEvent), Name: s.leadName(3), RecordedAt: tx.Now})
			return err
		})
	})
	s.plan("2026-02-27 16:20", s.settleExceptions)
	s.plan("2026-03-02 06:04", s.tearGloves)
}

func (s *seeding) reportNearMiss() error {
	return s.in(s.leadAccount(2), func(tx *models.Tx) error {
		report := injuries.NewReport{IncidentReport: models.IncidentReport{
			Kind: models.NearMiss, HappenedAt: tx.Now.Add(-20 * time.Minute), GardenID: id(ofGarden, 1), BlockID: ref(s.block("B-2")), OperationID: ref(s.operation("pollination")),
			Place: "Al pie de la canasta", Description: "Un cuchillo se salió de su funda y cayó de la canasta junto a quien estaba abajo. Nadie salió lastimado.",
			Involved: models.Involved{EquipmentIDs: models.IDs{s.piece("G-1")}},
		}}
		_, _, err := injuries.Report(tx, s.climbing.Rules, id(ofIncident, 1), report, models.Recording{RecordedAt: tx.Now}, tx.Actor)
		return err
	})
}

// avoidPalm is a lead's word against a palm.
func (s *seeding) avoidPalm() error {
	return s.in(s.leadAccount(3), func(tx *models.Tx) error {
		_, _, err := gear.AvoidPalm(tx, gear.Avoid{Stamp: gear.Stamp{ID: s.next(ofEvent), HappenedAt: &tx.Now}, PalmID: ref(palm(badPalm)), Reason: "bees", Note: "Un enjambre entre las hojas"})
		return err
	})
}

const badPalm = "4-61"

// stopPalm is the officer's word to all leads on the same palm. Only one of them has heard of it.
func (s *seeding) stopPalm() error {
	return s.in(id(ofAccount, officer), func(tx *models.Tx) error {
		stop := climbs.Stopping{ID: id(ofStop, 1), Scope: models.StopPalm, Workday: models.Day(dated.DateOf(tx.Now.In(s.loc))), PalmID: ref(palm(badPalm)), Reason: "Abejas en la palma 4-61: nadie sube ni trabaja debajo"}
		_, _, err := climbs.StopClimb(tx, s.climbing, stop)
		return err
	})
}

// settleExceptions is the officer's word on the hand whom nobody could clear.
func (s *seeding) settleExceptions() error {
	for _, d := range s.Days {
		if d.NewHand == "" {
			continue
		}
		err := s.in(id(ofAccount, officer), func(tx *models.Tx) error {
			_, _, err := clearance.Settle(tx, clearance.Settlement{ID: s.next(ofException), WorkerID: s.newHand(), Workday: models.Day(d.Day), Finding: models.WasUnsafe,
				Reason: "Subió sin curso y sin guantes a su nombre. Antes de volver toma los cursos."})
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// tearGloves takes torn gloves back. There are no others of the size, so that their owner is not cleared that day; he worked all the same.
func (s *seeding) tearGloves() error {
	const worker, gloves = 22, 2
	return s.in(s.leadAccount(3), func(tx *models.Tx) error {
		_, _, err := gear.TakeBack(tx, id(ofIssue, worker*10+gloves), gear.GiveBack{Stamp: gear.Stamp{ID: s.next(ofEvent), HappenedAt: &tx.Now}, Reason: "damaged", Note: "Rotos de la palma"})
		return err
	})
}
