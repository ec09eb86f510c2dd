package payrun_test

import (
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// ticking is a clock that goes a second further whenever it is read.
func ticking() func() time.Time {
	var n atomic.Int64
	return func() time.Time { return now().Add(time.Duration(n.Add(1)) * time.Second) }
}

func (f *farm) redraft(t testing.TB, books *rulebook.Library, run *payrun.Run) *payrun.Run {
	t.Helper()
	f.in(t, f.clerk, func(tx *models.Tx) (err error) {
		run, err = payrun.Redraft(tx, books, run.ID, run.Version)
		return err
	})
	return run
}

// moves tells what moved since a run's last draft, a line for each worker.
func (f *farm) moves(t testing.TB, run *payrun.Run) (lines []string) {
	t.Helper()
	f.in(t, f.clerk, func(tx *models.Tx) error {
		sum, err := payrun.SumMoves(tx, run.ID)
		if err != nil {
			return err
		}
		moved, err := payrun.MovedSince(tx, run, 0, 10)
		if err != nil {
			return err
		}
		var change payroll.Cents
		for _, m := range moved {
			line := m.Name + ":"
			switch {
			case m.Joined:
				line += " joined"
			case m.Gone:
				line += " gone"
			}
			for _, k := range m.Kinds {
				line += " " + string(k.Kind) + " " + k.Was.String() + " to " + k.Now.String()
			}
			line += "; because"
			for _, b := range m.Because {
				line += " " + string(b.Kind)
			}
			lines = append(lines, line)
			change += m.Change()
			if (m.Statement == nil) != m.Gone {
				t.Errorf("%s: statement %v", line, m.Statement)
			}
		}
		if sum.Workers != len(moved) || sum.Change != change {
			t.Errorf("in all %+v, of %d workers %s", sum, len(moved), change)
		}
		if first, err := payrun.MovedSince(tx, run, 0, 1); err != nil || len(first) != min(len(moved), 1) || len(first) == 1 && first[0].Name != moved[0].Name {
			t.Errorf("the first alone: %+v, %v", first, err)
		}
		return nil
	})
	return lines
}

// What a redraft moves is told by worker and kind of pay, with the records that came between; a redraft that moves nothing tells nothing.
func TestWhatMovedSinceTheLastDraft(t *testing.T) {
	library := books(t)
	databases.Each(t, ticking(), func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		sheet := f.mondaySheet()
		f.submit(t, sheet)
		run := f.draft(t, library, week)
		if run.EarlierDraftAt != nil {
			t.Error("the first draft has one before it")
		}
		requireMoves(t, f, run)

		run = f.redraft(t, library, run)
		if run.EarlierDraftAt == nil || !run.EarlierDraftAt.Before(run.DraftedAt) {
			t.Errorf("drafted at %s, before at %v", run.DraftedAt, run.EarlierDraftAt)
		}
		requireMoves(t, f, run)

		f.count(t, f.ana, 20_000)
		run = f.redraft(t, library, run)
		requireMoves(t, f, run, "Ana Rojas: pieces 244.20 to 267.20 rest 10.62 to 11.62; because count_added")

		old := sheet.Tallies[0]
		f.in(t, f.scope, func(tx *models.Tx) error {
			_, _, err := intake.RecordTally(tx, intake.SingleTally{Workday: sheet.Workday, RecordedAt: tx.Now, TallyLine: intake.TallyLine{ID: models.NewID(), WorkerID: f.ana,
				BlockID: f.block, OperationID: f.pollination, Pieces: old.Pieces + 10_000, Correction: intake.Correction{Supersedes: &old.ID, Reason: "Ten were left out"}}})
			return err
		})
		f.in(t, f.clerk, func(tx *models.Tx) error {
			record(t, tx, models.PieceRateContent{OperationID: f.bagging, Rate: 5000, EffectiveOn: models.Day(dated.MustDate("2026-02-01"))})
			return nil
		})
		run = f.redraft(t, library, run)
		requireMoves(t, f, run, "Ana Rojas: pieces 267.20 to 293.75 rest 11.62 to 12.78; because count_corrected piece_rate",
			"Beto Luz: pieces 60.20 to 75.25 makeup 69.37 to 54.32; because piece_rate")

		f.in(t, f.clerk, func(tx *models.Tx) error {
			ana, err := models.Get[models.WorkerContent](tx, f.ana)
			if err != nil {
				return err
			}
			ana.Content.Provisional = true
			_, err = models.Update(tx, f.ana, ana.Version, ana.Content)
			return err
		})
		run = f.redraft(t, library, run)
		requireMoves(t, f, run, "Ana Rojas: gone pieces 293.75 to 0.00 rest 12.78 to 0.00; because worker_changed")
		f.in(t, f.clerk, func(tx *models.Tx) error {
			ana, err := models.Get[models.WorkerContent](tx, f.ana)
			if err != nil {
				return err
			}
			ana.Content.Provisional = false
			if _, err = models.Update(tx, f.ana, ana.Version, ana.Content); err != nil {
				return err
			}
			record(t, tx, models.HourlyRateContent{Rate: 300_000, EffectiveOn: models.Day(dated.MustDate("2026-02-01"))})
			return nil
		})
		run = f.redraft(t, library, run)
		requireMoves(t, f, run, "Ana Rojas: joined pieces 0.00 to 293.75 rest 0.00 to 12.78; because worker_changed")
		f.in(t, f.clerk, func(tx *models.Tx) error {
			all, err := payrun.ForEverybody(tx, run)
			if len(all) != 1 || all[0].Kind != payrun.GeneralRate || *all[0].Rate != 300_000 || all[0].By != "C" {
				t.Errorf("for everybody %+v", all)
			}
			return err
		})
	})
}

func requireMoves(t *testing.T, f *farm, run *payrun.Run, want ...string) {
	t.Helper()
	if diff := cmp.Diff(want, f.moves(t, run)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// A break that was answered, time that was entered, a hand who was settled: each is told with who recorded it and why.
func TestWhyPayMoved(t *testing.T) {
	library := books(t)
	databases.Each(t, ticking(), func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		var hand uuid.UUID
		f.in(t, f.clerk, func(tx *models.Tx) error {
			hand = kept(t, tx, models.WorkerContent{Name: "Un tal Beto", Language: "es", StartedOn: models.Day(dated.MustDate("2026-02-16")), Provisional: true})
			return nil
		})
		run := f.draft(t, library, week)
		f.count(t, hand, 30_000)
		f.in(t, f.clerk, func(tx *models.Tx) error {
			w, err := models.Get[models.WorkerContent](tx, hand)
			if err != nil {
				return err
			}
			w.Content.SameAs = &f.beto
			_, err = models.Update(tx, hand, w.Version, w.Content)
			return err
		})
		f.in(t, f.clerk, func(tx *models.Tx) error {
			_, _, err := intake.RecordTime(tx, intake.SingleTime{Workday: models.Day(dated.MustDate("2026-02-17")), GardenID: f.garden, RecordedAt: tx.Now, TimeLine: intake.TimeLine{
				ID: models.NewID(), WorkerID: f.beto, Kind: payroll.Hourly, Start: at("2026-02-17", "07:00"), End: at("2026-02-17", "09:00")}})
			return err
		})
		run = f.redraft(t, library, run)
		f.in(t, f.clerk, func(tx *models.Tx) error {
			moved, err := payrun.MovedSince(tx, run, 0, 10)
			if err != nil || len(moved) != 1 {
				t.Fatalf("%+v, %v", moved, err)
			}
			var told []string
			for _, b := range moved[0].Because {
				told = append(told, strings.TrimSpace(string(b.Kind)+" "+b.Operation+" "+b.Name+" "+b.By))
				if b.At.IsZero() || b.Kind == payrun.CountAdded && (b.Pieces == nil || *b.Pieces != 30_000 || b.Unit != "bunch" || b.Block != "A-1") {
					t.Errorf("%+v", b)
				}
			}
			if want := []string{"count_added pollination  C", "hand_settled  Un tal Beto", "time_added   C"}; !slices.Equal(told, want) {
				t.Errorf("%q", told)
			}
			return nil
		})
	})
}
