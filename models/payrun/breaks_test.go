package payrun_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// longDay is nine hours of Ana's on Monday, with the meal and the two rest periods that they have.
func (f *farm) longDay() intake.Sheet {
	stretch := func(kind payroll.TimeKind, start, end string) intake.TimeLine {
		return intake.TimeLine{ID: models.NewID(), WorkerID: f.ana, Kind: kind, Start: at("2026-02-16", start), End: at("2026-02-16", end)}
	}
	return intake.Sheet{
		ID: models.NewID(), CrewID: f.crew, GardenID: f.garden, Workday: models.Day(dated.MustDate("2026-02-16")), RecordedAt: *at("2026-02-16", "16:00"),
		Time: []intake.TimeLine{
			stretch(payroll.Hourly, "06:00", "08:00"), stretch(payroll.Rest, "08:00", "08:10"), stretch(payroll.Hourly, "08:10", "10:00"), stretch(payroll.MealPeriod, "10:00", "10:30"),
			stretch(payroll.Hourly, "10:30", "13:00"), stretch(payroll.Rest, "13:00", "13:10"), stretch(payroll.Hourly, "13:10", "15:30"),
		},
	}
}

// measure records the heat of every hour from six until four o'clock.
func (f *farm) measure(t *testing.T, fahrenheit func(hour int) int64) {
	t.Helper()
	f.in(t, f.clerk, func(tx *models.Tx) error {
		for hour := range 10 {
			c := models.HeatReadingContent{GardenID: f.garden, ReadAt: at("2026-02-16", "06:00").Add(time.Duration(hour) * time.Hour), Temperature: *models.QuantityOf(quantity.Of(fahrenheit(hour)))}
			if _, _, err := models.Record(tx, models.NewID(), c, models.Recording{RecordedAt: tx.Now}); err != nil {
				return err
			}
		}
		return nil
	})
}

// codes are the problems of a draft of the week.
func (f *farm) codes(t *testing.T) (codes []string) {
	t.Helper()
	err := f.store.In(t.Context(), f.clerk, func(tx *models.Tx) error {
		run, _, err := payrun.DraftRun(tx, books(t), payrun.DraftRequest{ID: models.NewID(), Kind: payrun.Regular, WeekStart: weekStart})
		if err != nil {
			return err
		}
		problems, err := payrun.Problems(tx, run.ID)
		for _, p := range problems {
			codes = append(codes, p.Code)
		}
		return errors.Join(err, errUndone)
	})
	if !errors.Is(err, errUndone) {
		t.Fatal(err)
	}
	return codes
}

// Nine hours at work have a cool-down of their own if it was 95 °F at any of them (8 CCR 3395(e)); whether it was has to be known of all of them.
func TestHeatAsksAboutCoolDowns(t *testing.T) {
	tests := map[string]struct {
		heat func(hour int) int64
		want []string
	}{
		"unmeasured":          {nil, []string{"pay_problem.heat_unknown"}},
		"94 °F":               {func(int) int64 { return 94 }, nil},
		"95 °F in one hour":   {func(hour int) int64 { return 60 + int64(hour/9)*35 }, []string{"break.recovery_short"}},
		"as hot in the sixth": {func(hour int) int64 { return 95 - int64(min(1, (hour-6)*(hour-6))) }, []string{"break.recovery_short"}},
		"hotter all day long": {func(int) int64 { return 110 }, []string{"break.recovery_short"}},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			databases.Each(t, now, func(t *testing.T, store *models.Store) {
				f := newFarm(t, store)
				f.submit(t, f.longDay())
				if test.heat != nil {
					f.measure(t, test.heat)
				}
				if diff := cmp.Diff(test.want, f.codes(t)); diff != "" {
					t.Errorf("(-want +got)\n%s", diff)
				}
			})
		})
	}
}

// What was answered is evidence: it may be superseded, once, and nothing else.
func TestAnswersAreEvidence(t *testing.T) {
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.longDay())
		f.measure(t, func(int) int64 { return 100 })
		id := models.NewID()
		f.in(t, f.clerk, func(tx *models.Tx) error {
			asked, err := payrun.WeekQuestions(tx, books(t), weekStart.Date, nil)
			if err != nil || len(asked) != 1 {
				t.Fatalf("%+v, %v", asked, err)
			}
			_, _, err = payrun.AnswerBreaks(tx, books(t), payrun.BreakAnswering{ID: id, Outcome: payrun.PremiumNotOwed, Reason: payrun.TakenUnrecorded, Note: "in the shade at two, says the lead", Questions: []string{asked[0].ID()}})
			return err
		})
		if got := f.codes(t); len(got) != 1 {
			t.Errorf("%q", got)
		}
		f.in(t, f.clerk, func(tx *models.Tx) error {
			so, err := payrun.Preview(tx.Batch(), books(t), f.ana, weekStart.Date)
			if err == nil && (so.Statement.Minutes.Recovery != 10 || so.Statement.Minutes.Worked != 540) {
				t.Errorf("%+v", so.Statement.Minutes)
			}
			return err
		})
		for _, change := range []string{
			"UPDATE break_answers SET note = 'x' WHERE employer_id = ? AND id = ?", "DELETE FROM break_answers WHERE employer_id = ? AND id = ?",
			"UPDATE answered_breaks SET question = 'x' WHERE employer_id = ? AND answer_id = ?", "DELETE FROM answered_breaks WHERE employer_id = ? AND answer_id = ?",
		} {
			err := store.In(t.Context(), f.clerk, func(tx *models.Tx) error { return tx.DB().Exec(change, f.clerk.Employer, id).Error })
			if err == nil || !strings.Contains(err.Error(), "append-only") && !strings.Contains(err.Error(), "permission denied") {
				t.Errorf("%s: %v", change, err)
			}
		}
	})
}
