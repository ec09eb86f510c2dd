package clearance_test

import (
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/gear"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// A clearance takes five statements, besides the one that finds the crew, whoever is in it.
func TestFiveStatements(t *testing.T) {
	each(t, func(r *rig) {
		for _, hands := range []int{0, 38} {
			r.hire(hands)
			statements := 0
			r.in(func(tx *models.Tx) error {
				name := fmt.Sprintf("count %d", hands)
				count := func(*gorm.DB) { statements++ }
				for _, kind := range []interface {
					Register(string, func(*gorm.DB)) error
				}{tx.DB().Callback().Query(), tx.DB().Callback().Row(), tx.DB().Callback().Raw()} {
					if err := kind.Register(name, count); err != nil {
						return err
					}
				}
				a, err := clearance.Look(tx, books, clearance.Question{Crew: r.crew, Day: today})
				if err == nil && len(a.Ways[0].Workers) != 2+hands {
					r.Errorf("%d workers", len(a.Ways[0].Workers))
				}
				return err
			})
			if statements != 1+5 {
				r.Errorf("a crew of %d takes %d statements", 2+hands, statements)
			}
		}
	})
}

// hire takes more hands into the crew, with everything that the first two have.
func (r *rig) hire(n int) (workers []uuid.UUID) {
	r.in(func(tx *models.Tx) error {
		for i := range n {
			id := keep(r, tx, models.Create[models.WorkerContent], models.WorkerContent{Name: fmt.Sprintf("Hand %d", i), Address: "1 Palm Lane", Language: "es", BirthDate: day("1991-04-02"), StartedOn: day("2020-01-05")})
			keep(r, tx, models.Create[models.CrewMemberContent], models.CrewMemberContent{CrewID: r.crew, WorkerID: id, FromDate: day("2020-01-05")})
			workers = append(workers, id)
		}
		return nil
	})
	return workers
}

// BenchmarkLook answers for a crew of forty with ten ladders, on the first of its days and after five seasons of 130 workdays.
func BenchmarkLook(b *testing.B) {
	for _, dialect := range testdbDialects() {
		for _, seasons := range []int{0, 5} {
			b.Run(fmt.Sprintf("%s/seasons=%d", dialect, seasons), func(b *testing.B) {
				clock := new(atomic.Int64)
				clock.Store(dawn.UnixNano())
				r := newRig(b, databases.Store(b, dialect, func() time.Time { return time.Unix(0, clock.Load()) }), clock)
				r.grow(38, seasons)
				for b.Loop() {
					if a := r.look(); len(a.Ways[0].Workers) != 40 {
						b.Fatalf("%d workers", len(a.Ways[0].Workers))
					}
				}
			})
		}
	}
}

func testdbDialects() []migrations.Dialect {
	return []migrations.Dialect{migrations.SQLite, migrations.Postgres}
}

// grow makes the crew one of forty on ten ladders, with a history of every day's work, sign-offs, gear, inspections, checklists and heat.
func (r *rig) grow(hands, seasons int) {
	workers := append(r.hire(hands), r.ana, r.lead)
	ladders := []uuid.UUID{r.ladder}
	r.in(func(tx *models.Tx) error {
		kept := must(models.Get[models.EquipmentContent](tx, r.ladder))
		if _, _, err := gear.AddPalms(tx, gear.PalmRange{ID: models.NewID(), BlockID: r.block, Prefix: "4-", First: 1, Last: 300}); err != nil {
			return err
		}
		for i := range 9 {
			c := kept.Content
			c.Code = fmt.Sprintf("L-%d", 20+i)
			id := keep(r, tx, models.Create[models.EquipmentContent], c)
			for _, in := range []gear.Inspection{
				{Stamp: r.stamp("2026-01-20 09:00"), Kind: models.PeriodicInspection, Person: "P. Soto"}, {Stamp: r.stamp("2026-03-03 05:50"), Kind: models.PreUseInspection, Person: "Irma Robles"},
			} {
				if _, _, err := gear.Inspect(tx, id, in); err != nil {
					return err
				}
			}
			ladders = append(ladders, id)
		}
		return nil
	})
	c := r.goingUp("")
	c.Equipment = ladders
	instead(r, models.Record[models.ClimbSetupContent], r.setup, c)
	for season := range seasons {
		r.season(workers, ladders, dated.NewDate(2021+season, time.January, 4))
	}
}

// season is one season's records: 130 days from the first.
func (r *rig) season(workers, ladders []uuid.UUID, first dated.Date) {
	r.in(func(tx *models.Tx) error {
		var tallies []models.Tally
		var times []models.TimeEntry
		var events []models.EquipmentEvent
		var readings []models.HeatReading
		var lists []models.FilledChecklist
		var issues []models.GearIssue
		var signed []models.SignOff
		key := func() models.Keyed { return models.Keyed{ID: tx.NewID()} }
		for d := range 130 {
			on := models.Day(first.AddDays(d))
			for _, w := range workers {
				tallies = append(tallies, models.Tally{Keyed: key(), Content: models.TallyContent{WorkerID: w, OperationID: r.operation, BlockID: r.block, Workday: on, Pieces: new(payroll.Pieces(100_000))}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor})
				for hour := range 3 {
					start := on.Midnight(zone).Add(time.Duration(6+3*hour) * time.Hour)
					times = append(times, models.TimeEntry{Keyed: key(), Content: models.TimeEntryContent{WorkerID: w, Workday: on, Kind: payroll.Piece, GardenID: r.garden, StartedAt: &start, EndedAt: new(start.Add(2 * time.Hour))}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor})
				}
			}
			for _, l := range ladders {
				events = append(events, models.EquipmentEvent{Keyed: key(), EquipmentID: l, Kind: models.PreUseInspection, HappenedOn: on, Passed: new(true), Person: "Irma Robles", HappenedAt: on.Midnight(zone), ReceivedAt: tx.Now, RecordedBy: tx.Actor})
			}
			for hour := range 10 {
				readings = append(readings, models.HeatReading{Keyed: key(), Content: models.HeatReadingContent{GardenID: r.garden, ReadAt: on.Midnight(zone).Add(time.Duration(6+hour) * time.Hour), Temperature: *quantityOf("70")}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor})
			}
			lists = append(lists, models.FilledChecklist{Keyed: key(), Content: models.FilledChecklistContent{CrewID: r.crew, GardenID: r.garden, Workday: on, FilledOn: on, Way: "attached_ladder", Checklist: "attached_ladder", Passed: true}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor})
		}
		for _, w := range workers {
			for _, kind := range []uuid.UUID{r.gloves, r.glasses, r.knife} {
				issues = append(issues, models.GearIssue{Keyed: key(), WorkerID: w, GearKindID: kind, Quantity: 1, Condition: "good", IssuedOn: models.Day(first), RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor})
			}
			for _, topic := range []string{"fall_protection", "attached_ladder", "hand_tools", "heat_illness"} {
				signed = append(signed, models.SignOff{Keyed: key(), Content: models.SignOffContent{WorkerID: w, Trained: models.Trained{Topic: topic, HeldOn: models.Day(first), Trainer: "P. Soto", Qualification: "20 years", Language: "es", Understanding: "showed it"}}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor})
			}
		}
		for _, insert := range []func() error{
			func() error { return models.KeepWork(tx, models.Work{Time: times, Tallies: tallies}, models.Work{}) }, func() error { return models.InsertAll(tx, events) },
			func() error { return models.InsertAll(tx, readings) }, func() error { return tx.DB().CreateInBatches(lists, 100).Error }, func() error { return models.InsertAll(tx, issues) },
			func() error { return models.InsertAll(tx, signed) },
		} {
			if err := insert(); err != nil {
				return err
			}
		}
		return nil
	})
}
