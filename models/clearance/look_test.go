package clearance_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/gear"
)

// A crew of which everything is on record goes up until the weather has to be looked at again.
func TestEverybodyIsCleared(t *testing.T) {
	each(t, func(r *rig) {
		a := r.look()
		if len(a.Ways) != 1 || a.Ways[0].Cleared != 2 || a.Ways[0].Block != "B-07" || a.Ways[0].Rulebook != "us-ca" || a.Advice != "safety.advice" || len(a.Ways[0].Provisions) == 0 {
			r.Fatalf("%+v", a)
		}
		if got := against(a, r.ana) + against(a, r.lead); got != "" {
			r.Error(got)
		}
		if until := a.Ways[0].Workers[0].ValidUntil; until == nil || !until.Equal(dawn.Add(4*time.Hour)) {
			r.Errorf("valid until %v", until)
		}
	})
}

// What each record has to do with the answer, one at a time.
func TestReasons(t *testing.T) {
	cases := []struct {
		name   string
		change func(r *rig)
		want   string // against Ana
	}{
		{"the ladder has a stopping defect", func(r *rig) {
			r.in(func(tx *models.Tx) error {
				_, _, err := gear.Inspect(tx, r.ladder, gear.Inspection{Stamp: r.stamp("2026-03-03 06:00"), Kind: models.PreUseInspection, Person: "Irma Robles",
					Findings: []gear.Finding{{ID: models.NewID(), Severity: models.Stopping, Note: "a rung is loose"}}})
				return err
			})
		}, "out_of_service /equipment/0/in_service"},
		{"the ladder is retired", func(r *rig) {
			r.in(func(tx *models.Tx) error {
				version := must(models.Get[models.EquipmentContent](tx, r.ladder)).Version
				_, _, err := gear.Retire(tx, r.ladder, version, gear.Retirement{Stamp: r.stamp("2026-03-03 06:00"), Note: "bent"})
				return err
			})
		}, "equipment_missing /equipment, equipment_retired /equipment, fact_missing /access/ladder/chain_ultimate_lb, fact_missing /access/ladder/material, fact_missing /access/ladder/rated_load_lb, " +
			"fact_missing /access/ladder/rung_length_in, fact_missing /access/ladder/rung_spacing_in, fact_missing /access/ladder/section_length_ft, fact_missing /access/ladder/sections, " +
			"fact_missing /access/ladder/wire_gauge, fact_missing /access/ladder/wires"},
		{"the officer sent the checklist back", func(r *rig) { r.review(models.SentBack) }, "checklist_missing /checklist"},
		{"the officer stopped the climb", func(r *rig) { r.review(models.StopClimb) }, "checklist_failed /checklist/passed"},
		{"the officer accepted the checklist", func(r *rig) { r.review(models.Accepted) }, ""},
		{"a stop of the crew", func(r *rig) { r.stop(models.Stop{Scope: models.StopCrew, CrewID: &r.crew}) }, "stopped"},
		{"a stop of another way", func(r *rig) { r.stop(models.Stop{Scope: models.StopCrew, CrewID: &r.crew, Way: "lift"}) }, ""},
		{"a stop of the ladder", func(r *rig) { r.stop(models.Stop{Scope: models.StopEquipment, EquipmentID: &r.ladder}) }, "stopped"},
		{"another list failed, and nobody corrected it", func(r *rig) {
			r.in(func(tx *models.Tx) error {
				for _, passed := range []bool{false, true} {
					record(r, tx, models.Record[models.FilledChecklistContent], models.FilledChecklistContent{CrewID: r.crew, GardenID: r.garden, Workday: models.Day(today), FilledOn: models.Day(today),
						Way: "attached_ladder", Checklist: "attached_ladder", Digest: strings.Repeat("a", 64), Passed: passed})
				}
				return nil
			})
		}, "checklist_failed /checklist/passed"},
		{"bees", func(r *rig) {
			instead(r, models.Record[models.ClimbSetupContent], r.setup, r.goingUp(`{"site": {"entry_posted": false, "gust_mph": 6, "lightning": false, "dark": false, "bees": true, "wet": false, "people_below": false}}`))
		}, "bees /site/bees"},
		{"a sign forbids to enter", func(r *rig) {
			instead(r, models.Record[models.ClimbSetupContent], r.setup, r.goingUp(`{"site": {"entry_posted": true}}`))
		}, "entry_restricted /site/entry_restricted_until, training_missing /worker/sign_offs"},
		{"the block was treated yesterday", func(r *rig) {
			r.in(func(tx *models.Tx) error {
				record(r, tx, models.Record[models.EntryRestrictionContent], models.EntryRestrictionContent{
					BlockID: r.block, Product: "sulfur", RestrictedFrom: dawn.Add(-20 * time.Hour), RestrictedUntil: dawn.Add(4 * time.Hour), IntervalHours: 24, Source: "label", PostedBy: "P. Soto"})
				return nil
			})
		}, "entry_restricted /site/entry_restricted_until, training_missing /worker/sign_offs"},
		{"nobody looked at the power lines of the block", func(r *rig) {
			r.in(func(tx *models.Tx) error {
				other := keep(r, tx, models.Create[models.BlockContent], models.BlockContent{GardenID: r.garden, Code: "B-08", Variety: "medjool", Palms: 20, TallestCM: 600})
				c := r.goingUp("")
				c.BlockID = other
				_, _, err := models.Record(tx, models.NewID(), c, models.Recording{RecordedAt: tx.Now, Supersedes: &r.setup, Reason: "another block"})
				return err
			})
		}, "fact_missing /site/power_line_ft"},
		{"it is hot, and the plan lacks shade", func(r *rig) {
			instead(r, models.Record[models.HeatPlanContent], r.plan, models.HeatPlanContent{GardenID: r.garden, Workday: models.Day(today), ForecastHigh: quantityOf("90"), WaterReady: new(true), ShadeUp: new(false), HighHeatPlan: new(true)})
			r.in(func(tx *models.Tx) error {
				record(r, tx, models.Record[models.HeatReadingContent], models.HeatReadingContent{GardenID: r.garden, ReadAt: dawn.Add(-time.Minute), Temperature: *quantityOf("82")})
				return nil
			})
		}, "shade_missing /weather/shade_up"},
		{"five hours later nobody has looked at the weather again", func(r *rig) { r.clock.Store(dawn.Add(5 * time.Hour).UnixNano()) },
			"fact_missing /site/bees, fact_missing /site/dark, fact_missing /site/gust_mph, fact_missing /site/lightning, fact_missing /site/people_below, fact_missing /site/wet, fact_missing /weather/temperature_f"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			each(t, func(r *rig) {
				c.change(r)
				if got := against(r.look(), r.ana); got != c.want {
					r.Errorf("got  %s\nwant %s", got, c.want)
				}
			})
		})
	}
}

func (r *rig) review(decision models.ReviewDecision) {
	r.in(func(tx *models.Tx) error {
		return tx.DB().Create(&models.ChecklistReview{Keyed: models.Keyed{ID: tx.NewID()}, ChecklistID: r.checklist, Decision: decision, Reason: "seen", ReviewedAt: tx.Now, ReviewedBy: tx.Actor}).Error
	})
}

func (r *rig) stop(s models.Stop) {
	r.in(func(tx *models.Tx) error {
		s.Keyed, s.Workday, s.Reason, s.StoppedAt, s.StoppedBy = models.Keyed{ID: tx.NewID()}, models.Day(today), "wind", tx.Now, tx.Actor
		return tx.DB().Create(&s).Error
	})
}

// A rule of the house that a competent person sets aside holds nobody for whom it was set aside; one of the law holds everybody all the same.
func TestOverrides(t *testing.T) {
	each(t, func(r *rig) {
		instead(r, models.Record[models.ClimbSetupContent], r.setup, r.goingUp(`{"site": {"entry_posted": false, "gust_mph": 6, "lightning": false, "dark": false, "bees": true, "wet": false, "people_below": false}}`))
		aside := func(code string, worker *uuid.UUID) {
			r.in(func(tx *models.Tx) error {
				record(r, tx, models.Record[models.RuleOverrideContent], models.RuleOverrideContent{
					GardenID: r.garden, CrewID: r.crew, Workday: models.Day(today), Way: "attached_ladder", WorkerID: worker, Code: code, CompetentPerson: "P. Soto", Grounds: "the hive is at the far end"})
				return nil
			})
		}
		aside("bees", &r.lead)
		a := r.look()
		if got := against(a, r.ana); got != "bees /site/bees" {
			r.Errorf("Ana: %s", got)
		}
		i := slices.IndexFunc(a.Ways[0].Workers, func(w clearance.Worker) bool { return w.ID == r.lead })
		if w := a.Ways[0].Workers[i]; !w.Cleared || len(w.Overridden) != 1 || w.Overridden[0].By != "P. Soto" {
			r.Errorf("the lead: %+v", w)
		}
		aside("gloves_missing", nil)
		if got := against(r.look(), r.lead); got != "bees /site/bees, override_refused /overrides/1" {
			r.Errorf("the lead, with the law set aside: %s", got)
		}
	})
}

// Somebody who is not of the crew has no part in its clearance; a crew that has said nothing is not cleared, and neither is one of another day.
func TestWhoIsAsked(t *testing.T) {
	each(t, func(r *rig) {
		if a := r.asked(clearance.Question{Crew: r.crew, Day: today, Worker: &r.ana}); len(a.Ways[0].Workers) != 1 || a.Ways[0].Workers[0].ID != r.ana {
			r.Errorf("%+v", a)
		}
		a := r.asked(clearance.Question{Crew: r.crew, Day: today.AddDays(-1)})
		if got := against(a, r.ana); got != "setup_missing" || a.Ways[0].SetupID != nil {
			r.Errorf("yesterday: %s", got)
		}
		err := r.store.View(r.Context(), r.scope, func(tx *models.Tx) error {
			_, err := clearance.Look(tx, books, clearance.Question{Crew: uuid.New(), Day: today})
			return err
		})
		if models.KindOf(err) != models.NotFound {
			r.Errorf("an unknown crew: %v", err)
		}
	})
}
