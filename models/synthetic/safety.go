package synthetic

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// Gear is what a synthetic employer climbs with, and whoever answers for it.
type Gear struct {
	Officer models.Scope
	Ladders map[uuid.UUID][]uuid.UUID // by crew
	Kinds   []uuid.UUID               // that everybody is handed
}

// laddersACrew is how many ladders a crew takes along.
const laddersACrew = 8

// climbs is the way up.
const climbs = "attached_ladder"

// Equip gives the employer a safety officer, ladders for every crew, kinds of gear, and so many palms, more than there are ladders.
func (e *Employer) Equip(ctx context.Context, palms int) (*Gear, error) {
	g := &Gear{Officer: e.Lead, Ladders: map[uuid.UUID][]uuid.UUID{}}
	return g, e.Store.In(ctx, e.Owner, func(tx *models.Tx) error {
		g.Officer.Actor = models.NewID()
		officer := models.AccountContent{SignInName: string(models.RoleSafetyOfficer), Name: "officer", Role: models.RoleSafetyOfficer, Language: "en"}
		if _, _, err := models.Create(tx, g.Officer.Actor, officer); err != nil {
			return err
		}
		for _, kind := range []string{"gloves", "eye_protection", "knife"} {
			k, _, err := models.Create(tx, models.NewID(), models.GearKindContent{Kind: kind, Name: kind})
			if err != nil {
				return err
			}
			g.Kinds = append(g.Kinds, k.ID)
		}
		trees := make([]models.Palm, palms)
		for i := range trees {
			trees[i] = kept(tx, models.PalmContent{BlockID: e.Block, Label: fmt.Sprintf("%d-%d", i/100+1, i%100+1)})
		}
		var ladders []models.Equipment
		for _, c := range e.Crews {
			for range laddersACrew {
				l := kept(tx, models.EquipmentContent{GardenID: e.Garden, Kind: models.AttachedLadder, Code: fmt.Sprintf("L-%d", len(ladders)+1), Description: "a ladder", State: models.InService,
					PalmID: &trees[len(ladders)].ID, PreUseOn: since, PeriodicOn: since})
				ladders, g.Ladders[c.ID] = append(ladders, l), append(g.Ladders[c.ID], l.ID)
			}
		}
		if err := models.InsertAll(tx, trees); err != nil {
			return err
		}
		return tx.DB().CreateInBatches(ladders, 100).Error
	})
}

// Season records the safety of so many weeks from a first day on, in bulk and checked by nobody: training and gear at its beginning; on each workday every crew's way up, its checklist with the officer's
// word, its clearance, the looking over of its ladders; the heat by the hour, a stop a week, which is lifted, and an accident every fourth week.
func (e *Employer) Season(ctx context.Context, g *Gear, first dated.Date, weeks int) error {
	return e.Store.In(ctx, g.Officer, func(tx *models.Tx) error {
		if err := e.hand(tx, g, first); err != nil {
			return err
		}
		for n := range weeks {
			for day := 1; day <= daysAWeek; day++ {
				if err := e.climbingDay(tx, g, first.AddDays(7*n+day)); err != nil {
					return err
				}
			}
			if err := e.mishaps(tx, g, first.AddDays(7*n+1), n); err != nil {
				return err
			}
		}
		return nil
	})
}

func key(tx *models.Tx) models.Keyed {
	id := tx.NewID()
	return models.Keyed{ID: id, ContentHash: models.ContentHash(id)}
}

func noted[C any](tx *models.Tx, c C) models.Recorded[C] {
	return models.Recorded[C]{Keyed: key(tx), Content: c, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
}

// takeBack takes back the gear that was handed out the season before.
func (e *Employer) takeBack(tx *models.Tx, on dated.Date) error {
	var out []models.GearIssue
	if err := tx.DB().Where("closed_by IS NULL").Find(&out).Error; err != nil {
		return err
	}
	events := make([]models.GearIssueEvent, len(out))
	for i := range out {
		events[i] = models.GearIssueEvent{Keyed: key(tx), IssueID: out[i].ID, Kind: models.GearReturned, Reason: "worn", HappenedAt: e.evening(on), ReceivedAt: tx.Now, RecordedBy: tx.Actor}
	}
	if err := models.InsertAll(tx, events); err != nil {
		return err
	}
	return tx.DB().Exec(`UPDATE gear_issues SET closed_by = (SELECT v.id FROM gear_issue_events v WHERE v.employer_id = @employer AND v.issue_id = gear_issues.id)
		WHERE employer_id = @employer AND closed_by IS NULL`, map[string]any{"employer": tx.Employer}).Error
}

// hand trains everybody and hands out gear, in place of the season before's.
func (e *Employer) hand(tx *models.Tx, g *Gear, on dated.Date) error {
	if err := e.takeBack(tx, on); err != nil {
		return err
	}
	var signed []models.SignOff
	var issues []models.GearIssue
	for _, c := range e.Crews {
		for _, w := range c.Workers {
			for _, topic := range []string{"fall_protection", climbs, "hand_tools", "heat_illness"} {
				signed = append(signed, noted(tx, models.SignOffContent{WorkerID: w, Trained: models.Trained{Topic: topic, HeldOn: models.Day(on), Trainer: "P. Soto", Qualification: "20 years", Language: "es", Understanding: "showed it"}}))
			}
			for _, kind := range g.Kinds {
				issues = append(issues, models.GearIssue{Keyed: key(tx), WorkerID: w, GearKindID: kind, Quantity: 1, Condition: "good", IssuedOn: models.Day(on), RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor})
			}
		}
	}
	if err := models.InsertAll(tx, signed); err != nil {
		return err
	}
	return models.InsertAll(tx, issues)
}

func (e *Employer) climbingDay(tx *models.Tx, g *Gear, on dated.Date) error {
	day := models.Day(on)
	var setups []models.ClimbSetup
	var lists []models.FilledChecklist
	var reviews []models.ChecklistReview
	var given []models.Clearance
	var cleared []models.ClearedWorker
	var looks []models.EquipmentEvent
	for _, c := range e.Crews {
		setups = append(setups, noted(tx, models.ClimbSetupContent{CrewID: c.ID, Workday: day, BlockID: e.Block, OperationID: e.Operation, Way: climbs, Equipment: g.Ladders[c.ID]}))
		list := noted(tx, models.FilledChecklistContent{CrewID: c.ID, GardenID: e.Garden, Workday: day, FilledOn: day, Way: climbs, Checklist: climbs, Answers: models.Answers{}, Passed: true, Stopped: models.WordList{}})
		lists = append(lists, list)
		reviews = append(reviews, models.ChecklistReview{Keyed: key(tx), ChecklistID: list.ID, Decision: models.Accepted, Reason: "in order", ReviewedAt: tx.Now, ReviewedBy: tx.Actor})
		answer := models.Clearance{Keyed: key(tx), CrewID: c.ID, Workday: day, Answer: models.Document("{}"), AskedAt: tx.Now, AskedBy: tx.Actor}
		given = append(given, answer)
		for _, w := range c.Workers {
			cleared = append(cleared, models.ClearedWorker{ClearanceID: answer.ID, WorkerID: w, Way: climbs, Workday: day})
		}
		for _, l := range g.Ladders[c.ID] {
			looks = append(looks, models.EquipmentEvent{Keyed: key(tx), EquipmentID: l, Kind: models.PreUseInspection, HappenedOn: day, Passed: new(true), Person: "I. Robles", HappenedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor})
		}
	}
	var readings []models.HeatReading
	for hour := 6; hour < 16; hour++ {
		readings = append(readings, noted(tx, models.HeatReadingContent{GardenID: e.Garden, ReadAt: models.WorkdayBegin(on, hour*60, e.zone).UTC(), Temperature: models.Quantity{Number: quantity.Of(70)}}))
	}
	for _, err := range []error{
		tx.DB().CreateInBatches(setups, 100).Error, tx.DB().CreateInBatches(lists, 100).Error, models.InsertAll(tx, reviews), models.InsertAll(tx, given), models.InsertAll(tx, cleared), models.InsertAll(tx, looks), models.InsertAll(tx, readings),
	} {
		if err != nil {
			return err
		}
	}
	return nil
}

// mishaps are a week's stop, and an accident in some.
func (e *Employer) mishaps(tx *models.Tx, g *Gear, on dated.Date, week int) error {
	ladder := g.Ladders[e.Crews[0].ID][week%laddersACrew]
	stop := models.Stop{Keyed: key(tx), Scope: models.StopEquipment, EquipmentID: &ladder, Workday: models.Day(on), Reason: "a rung is loose", StoppedAt: tx.Now, StoppedBy: tx.Actor}
	if err := tx.DB().Create(&stop).Error; err != nil {
		return err
	}
	lift := models.StopLift{Keyed: key(tx), StopID: stop.ID, CompetentPerson: "P. Soto", Reason: "mended", LiftedAt: tx.Now, LiftedBy: tx.Actor}
	if err := tx.DB().Create(&lift).Error; err != nil || week%4 != 0 {
		return err
	}
	number, err := tx.NextNumber("incidents")
	if err != nil {
		return err
	}
	hurt := e.Worker(week % len(e.Crews[0].Workers))
	report := noted(tx, models.IncidentContent{Number: number, HappenedOn: models.Day(on), IncidentReport: models.IncidentReport{Kind: "thorn_puncture", HappenedAt: models.WorkdayBegin(on, 10*60, e.zone).UTC().Truncate(time.Minute),
		WorkerID: &hurt, GardenID: e.Garden, BlockID: &e.Block, Description: "a thorn in the hand", BodyPart: "hand", Cause: "thorn"}})
	report.Content.CaseID = report.ID
	return tx.DB().Create(&report).Error
}
