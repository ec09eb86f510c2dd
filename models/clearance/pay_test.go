package clearance_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/payrun"
	"palmero/payroll"
	payrules "palmero/payroll/rulebook"
)

// The same week is paid the same to the byte without a clearance, with one, and after the officer stopped the climb and found the work unsafe.
func TestPayIsTheSameWithAndWithoutClearance(t *testing.T) {
	laws := must(payrules.Load())
	each(t, func(r *rig) {
		r.in(r.payWeek)
		r.clock.Store(dawn.AddDate(0, 0, 7).UnixNano())
		run := models.NewID()
		without := r.paid(laws, run) // 180 bunches at $1.15 each
		if strings.Count(without, `"gross":"207.00"`) != 2 {
			r.Fatalf("statements of two people: %s", without)
		}
		r.clock.Store(dawn.UnixNano())
		r.in(func(tx *models.Tx) error {
			_, _, err := clearance.Give(tx, books, models.NewID(), r.crew, today, say)
			return err
		})
		r.clock.Store(dawn.AddDate(0, 0, 7).UnixNano())
		if diff := cmp.Diff(without, r.paid(laws, run)); diff != "" {
			r.Errorf("with a clearance (-without +with)\n%s", diff)
		}
		r.stop(models.Stop{Scope: models.StopCrew, CrewID: &r.crew})
		r.stop(models.Stop{Scope: models.StopEquipment, EquipmentID: &r.ladder})
		r.review(models.StopClimb)
		for _, worker := range []uuid.UUID{r.lead, r.ana} {
			r.in(func(tx *models.Tx) error {
				_, _, err := clearance.Settle(tx, clearance.Settlement{ID: models.NewID(), WorkerID: worker, Workday: day("2026-03-02"), Finding: models.WasUnsafe, Reason: "no list"})
				return err
			})
		}
		if diff := cmp.Diff(without, r.paid(laws, run)); diff != "" {
			r.Errorf("after stops and settlements (-without +with)\n%s", diff)
		}
	})
}

// payWeek records a piece rate and, for both people, a day's time and count on the day that can be cleared.
func (r *rig) payWeek(tx *models.Tx) error {
	record(r, tx, models.Record[models.PieceRateContent], models.PieceRateContent{OperationID: r.operation, Rate: 11_500, EffectiveOn: day("2026-01-01")})
	record(r, tx, models.Record[models.HourlyRateContent], models.HourlyRateContent{Rate: 175_000, EffectiveOn: day("2026-01-01")})
	var work models.Work
	for _, worker := range []uuid.UUID{r.lead, r.ana} {
		for _, d := range []time.Time{dawn.AddDate(0, 0, -1), dawn} {
			end := d.Add(3 * time.Hour)
			entry := models.TimeEntry{Keyed: models.Keyed{ID: tx.NewID()}, Content: models.TimeEntryContent{WorkerID: worker, GardenID: r.garden, BlockID: &r.block, OperationID: &r.operation,
				Workday: day(d.Format(time.DateOnly)), Kind: payroll.Piece, StartedAt: new(d.UTC()), EndedAt: new(end.UTC())}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
			work.Time = append(work.Time, entry)
		}
		tally := models.Tally{Keyed: models.Keyed{ID: tx.NewID()}, Content: models.TallyContent{WorkerID: worker, OperationID: r.operation, BlockID: r.block, Workday: models.Day(today), Pieces: new(payroll.Pieces(80_000))},
			RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
		work.Tallies = append(work.Tallies, tally)
	}
	return models.KeepWork(tx, work, models.Work{})
}

// errUndo takes a transaction back.
var errUndo = errors.New("only to look")

// paid drafts and approves the week and returns its statements as JSON; nothing of that is kept.
func (r *rig) paid(laws *payrules.Library, run uuid.UUID) string {
	r.Helper()
	var b strings.Builder
	err := r.store.In(r.Context(), r.scope, func(tx *models.Tx) error {
		b.Reset()
		officer := tx.Actor
		if _, _, err := payrun.DraftRun(tx, laws, payrun.DraftRequest{ID: run, Kind: payrun.Regular, WeekStart: day("2026-03-01")}); err != nil {
			return err
		}
		tx.Actor = keep(r, tx, models.Create[models.AccountContent], models.AccountContent{SignInName: "owner", Name: "Abel Soto", Role: models.RoleAdministrator, Language: "es"})
		if _, err := payrun.Approve(tx, laws, run, 1); err != nil {
			return err
		}
		tx.Actor = officer
		briefs, err := payrun.RunStatements(tx, run, models.Page{Limit: 10})
		if err != nil {
			return err
		}
		for _, brief := range briefs {
			s, err := payrun.ReadStatement(tx, brief.ID, nil)
			if err != nil {
				return err
			}
			text, err := json.Marshal(s.Figures)
			if err != nil {
				return err
			}
			// A draft gives its statements identifiers of their own.
			fmt.Fprintln(&b, strings.ReplaceAll(string(text), brief.ID.String(), brief.WorkerName))
		}
		return errUndo
	})
	if !errors.Is(err, errUndo) {
		r.Fatal(err)
	}
	return b.String()
}
