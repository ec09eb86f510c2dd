package evidence_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/climbs"
	"palmero/models/evidence"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
	"palmero/safety/quantity"
)

// requireRetention wants the season's records kept as long as California and the federal government ask: those of pay four years and of sick leave three (both of
// California), the log of injuries five from the end of its year (29 CFR 1904.33), trainings four by their longest topic, and what no book speaks of as long as the log.
func requireRetention(t *testing.T, store *models.Store, employer uuid.UUID, books *rulebook.Library) {
	t.Helper()
	r := retention(t, store, employer, books)
	// The first record is of equipment, looked over in January 2025.
	if r.Before.String() != "2030-12-31" || r.First.String() != "2025-01-28" || r.Longest().Years != 5 || r.Longest().Source.Section != "29 CFR 1904.33" {
		t.Errorf("before %s, first %s, longest %+v", r.Before, r.First, r.Longest())
	}
	want := map[string]string{
		"workers": "2030-03-02", "pay_runs": "2030-02-27", "statements": "2030-02-21", "time_entries": "2030-03-02", "tallies": "2030-03-02",
		"crew_sheets": "2030-03-02", "piece_rates": "2030-03-02", "hourly_rates": "2030-03-02", "sick_entries": "2029-03-03", // an appointment of 3 March is the last of them
		"incidents": "2031-12-31", "training_meetings": "2030-02-06", "training_sign_offs": "2030-02-06", "filled_checklists": "2031-12-31", "stops": "2031-12-31",
		"climb_setups": "2031-12-31", "clearances": "2031-12-31", "heat_plans": "2031-12-31", "heat_readings": "2031-12-31", "equipment_events": "2031-12-31", "gear_issues": "2031-12-31",
		"work_standards": "2031-12-31", "bunch_checks": "2031-12-31",
	}
	for _, k := range r.Kept {
		if until, ok := want[k.What]; ok && (k.Until.String() != until || k.Records == 0) {
			t.Errorf("%s: %d records, kept until %s; want %s", k.What, k.Records, k.Until, until)
		}
	}
}

func retention(t *testing.T, store *models.Store, employer uuid.UUID, books *rulebook.Library) (r *evidence.Retention) {
	t.Helper()
	climbing, err := climbs.Load()
	if err != nil {
		t.Fatal(err)
	}
	err = store.View(t.Context(), models.Scope{Employer: employer}, func(tx *models.Tx) (err error) {
		r, err = evidence.FindRetention(tx, books, climbing)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestRetentionOfNothing(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	databases.Each(t, time.Now, func(t *testing.T, store *models.Store) {
		r := retention(t, store, found(t, store, "new"), books)
		if !r.Before.IsZero() || len(r.Periods) != 0 || r.Longest() != nil || len(r.Kept) == 0 {
			t.Errorf("%+v", r)
		}
	})
}

// A topic of the employer's own keeps the records of training longer, though it be retired; with one that names no period the longest of all governs.
func TestRetentionOfTraining(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	now := func() time.Time { return time.Date(2026, 3, 2, 2, 0, 0, 0, time.UTC) }
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		employer := found(t, store, "trained")
		held := models.Day(dated.MustDate("2026-02-02"))
		scope := models.Scope{Employer: employer}
		in := func(fn func(tx *models.Tx) error) {
			t.Helper()
			if err := store.In(t.Context(), scope, fn); err != nil {
				t.Fatal(err)
			}
		}
		garden, account := models.NewID(), models.NewID()
		in(func(tx *models.Tx) error {
			_, _, err := models.Create(tx, account, models.AccountContent{SignInName: "officer", Name: "O", Role: models.RoleSafetyOfficer, Language: "en"})
			return err
		})
		scope.Actor = account
		in(func(tx *models.Tx) error {
			if _, _, err := models.Create(tx, garden, models.GardenContent{Name: "Home", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"}); err != nil {
				return err
			}
			worker := models.NewID()
			if _, _, err := models.Create(tx, worker, models.WorkerContent{Name: "Ana Rojas", Address: "1 Palm Lane", Language: "es", StartedOn: held}); err != nil {
				return err
			}
			how := models.Recording{RecordedAt: tx.Now}
			trained := models.Trained{Topic: "hand_tools", HeldOn: held, Trainer: "Luz Prado", Qualification: "climbs for ten years", Language: "es", Understanding: "asked"}
			if _, _, err := models.Record(tx, models.NewID(), models.SignOffContent{WorkerID: worker, Trained: trained}, how); err != nil {
				return err
			}
			_, _, err := models.Record(tx, models.NewID(), models.HeatReadingContent{GardenID: garden, ReadAt: tx.Now, Temperature: *models.QuantityOf(quantity.Of(70)), Source: "thermometer"}, how)
			return err
		})
		requireUntil := func(what, until string) {
			t.Helper()
			for _, k := range retention(t, store, employer, books).Kept {
				if k.What == what && k.Until.String() != until {
					t.Errorf("%+v; want it kept until %s", k, until)
				}
			}
		}
		requireUntil("heat_readings", "2031-12-31")
		requireUntil("training_sign_offs", "2030-02-02") // 48 months, of running a lift
		for _, topic := range []struct {
			models.TrainingTopicContent
			until string
		}{
			{models.TrainingTopicContent{Topic: "house_rules", KeepMonths: 54, Retired: true}, "2030-08-02"}, {models.TrainingTopicContent{Topic: "first_aid"}, "2031-12-31"},
		} {
			topic.TitleEN, topic.TitleES, topic.Source, topic.Section = "a", "a", "our program", "1"
			in(func(tx *models.Tx) error {
				_, _, err := models.Create(tx, models.NewID(), topic.TrainingTopicContent)
				return err
			})
			requireUntil("training_sign_offs", topic.until)
		}
	})
}
