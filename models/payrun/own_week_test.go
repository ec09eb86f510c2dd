package payrun_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll/dated"
)

// A worker's own week reads nothing of anybody else, and says what the run says of them: the roll they were called on, the tally they dispute, their own hourly rate.
func TestAWorkersOwnWeekSaysWhatTheRunSays(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		sheet := f.mondaySheet()
		f.submit(t, sheet)
		f.submit(t, intake.Sheet{ID: models.NewID(), CrewID: f.crew, GardenID: f.garden, Workday: models.Day(dated.MustDate("2026-02-17")), RecordedAt: *at("2026-02-17", "15:00"),
			Roll: []uuid.UUID{f.ana, f.beto}})
		f.in(t, f.scope, func(tx *models.Tx) error {
			_, _, err := models.AnswerTally(tx, f.ana, sheet.Tallies[0].ID, models.NewID(), models.Disputed, "it was 190")
			return err
		})
		f.in(t, f.clerk, func(tx *models.Tx) error {
			record(t, tx, models.HourlyRateContent{WorkerID: &f.beto, Rate: 210_000, EffectiveOn: weekStart})
			return nil
		})
		run := f.draft(t, library, week)
		for _, s := range f.statementsOf(t, run) {
			worker := s.Row.WorkerID
			var own *payrun.SoFar
			err := store.Ask(t.Context(), f.clerk, func(b *models.Batch) (err error) {
				own, err = payrun.Preview(b, library, worker, weekStart.Date)
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			f.in(t, f.clerk, func(tx *models.Tx) error {
				if own.Statement.Totals != s.Figures.Totals {
					t.Errorf("own week %+v, run %+v", own.Statement.Totals, s.Figures.Totals)
				}
				all, err := payrun.Problems(tx, run.ID)
				if diff := cmp.Diff(codes(worker, all), ownCodes(own.Problems)); diff != "" {
					t.Errorf("problems of the run and of the own week:\n%s", diff)
				}
				return err
			})
		}
	})
}

func codes(worker uuid.UUID, problems []payrun.KeptProblem) (of []string) {
	for _, p := range problems {
		if p.WorkerID == worker {
			of = append(of, p.Code+" "+p.Date.String())
		}
	}
	return of
}

func ownCodes(problems []payrun.Problem) (of []string) {
	for _, p := range problems {
		of = append(of, p.Code+" "+p.Date.String())
	}
	return of
}

// A worker's own week is one round trip to PostgreSQL, whatever lies behind it: work, pay, an answer, a dispute, a lot, an absence of years.
func TestAWorkersOwnWeekIsOneRoundTrip(t *testing.T) {
	_, dsn := databases.ServingDSN(t)
	far := databases.Distant(t, dsn, 0)
	store, err := models.Open(t.Context(), far.Target, models.Options{Now: now})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = store.Close() }()
	f := newFarm(t, store)
	sheet := f.mondaySheet()
	f.submit(t, sheet)
	f.in(t, f.scope, func(tx *models.Tx) error {
		_, _, err := models.AnswerTally(tx, f.ana, sheet.Tallies[0].ID, models.NewID(), models.Disputed, "it was 190")
		return err
	})
	library := books(t)
	trips := func(worker uuid.UUID) int {
		before := far.Trips()
		var own *payrun.SoFar
		err := store.Ask(t.Context(), f.clerk, func(b *models.Batch) error {
			calendar, err := payrun.CalendarOf(b)
			if err != nil {
				return err
			}
			own, err = payrun.Preview(b, library, worker, calendar.WeekOf(weekStart.AddDays(3)))
			return err
		})
		if err != nil || own.Statement == nil {
			t.Fatalf("%+v, %v", own, err)
		}
		return far.Trips() - before
	}
	trips(f.ana) // the calendar is read and the statements are prepared
	trips(f.ana)
	for _, worker := range []uuid.UUID{f.ana, f.beto} {
		least := trips(worker)
		for range 5 { // a connection that was left alone for a second is tried first
			least = min(least, trips(worker))
		}
		if least != 1 {
			t.Errorf("a week takes %d round trips", least)
		}
	}
}
