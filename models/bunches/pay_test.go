package bunches_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/bunches"
	"palmero/models/payrun"
	"palmero/payroll"
	payrules "palmero/payroll/rulebook"
)

// A week is paid the same to the byte without bunch checks, and with the worst that there can be.
func TestPayIsTheSameWithAndWithoutBunchChecks(t *testing.T) {
	laws, err := payrules.Load()
	if err != nil {
		t.Fatal(err)
	}
	each(t, func(r *rig) {
		r.in(r.payWeek)
		run := models.NewID()
		without := r.paid(laws, run)
		if !strings.Contains(without, `"gross":"92.00"`) { // 80 bunches at $1.15 each
			r.Fatalf("the statement: %s", without)
		}
		standard := r.set(models.WorkStandardContent{OperationID: r.pollination, EffectiveOn: day("2026-03-04"), Points: models.StandardPoints{strands, thorns}})
		for _, worker := range []*uuid.UUID{&r.ana, nil} {
			look := bunches.Look{ID: models.NewID(), StandardID: standard.ID, CrewID: r.crew, WorkerID: worker, Workday: day("2026-03-04"), BlockID: r.heavy, RecordedAt: noon,
				Bunches: models.SampledBunches{bunch(number("strands_kept", 0), yes("thorns_off", false))}}
			r.in(func(tx *models.Tx) error { _, _, err := bunches.Record(tx, look); return err })
		}
		if diff := cmp.Diff(without, r.paid(laws, run)); diff != "" {
			r.Errorf("with bunch checks (-without +with)\n%s", diff)
		}
	})
}

// payWeek records a piece rate and Ana's day of time and bunches.
func (r *rig) payWeek(tx *models.Tx) error {
	if _, _, err := models.Record(tx, models.NewID(), models.PieceRateContent{OperationID: r.pollination, Rate: 11_500, EffectiveOn: day("2026-01-01")}, models.Recording{RecordedAt: tx.Now}); err != nil {
		return err
	}
	if _, _, err := models.Record(tx, models.NewID(), models.HourlyRateContent{Rate: 175_000, EffectiveOn: day("2026-01-01")}, models.Recording{RecordedAt: tx.Now}); err != nil {
		return err
	}
	from, to := noon.Add(-6*time.Hour), noon.Add(-3*time.Hour)
	entry := models.TimeEntry{Keyed: models.Keyed{ID: models.NewID()}, Content: models.TimeEntryContent{WorkerID: r.ana, GardenID: r.garden, BlockID: &r.heavy, OperationID: &r.pollination,
		Workday: day("2026-03-04"), Kind: payroll.Piece, StartedAt: &from, EndedAt: &to}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
	tally := models.Tally{Keyed: models.Keyed{ID: models.NewID()}, Content: models.TallyContent{WorkerID: r.ana, OperationID: r.pollination, BlockID: r.heavy, Workday: day("2026-03-04"),
		Pieces: new(payroll.Pieces(80_000))}, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
	return models.KeepWork(tx, models.Work{Time: []models.TimeEntry{entry}, Tallies: []models.Tally{tally}}, models.Work{})
}

// errUndo takes a transaction back.
var errUndo = errors.New("only to look")

// paid drafts and approves the week, once it is over, and returns its run and its statements as JSON; nothing of that is kept.
func (r *rig) paid(laws *payrules.Library, run uuid.UUID) string {
	r.Helper()
	r.clock.Store(noon.AddDate(0, 0, 7).UnixNano())
	defer r.clock.Store(noon.UnixNano())
	var b strings.Builder
	err := r.try(func(tx *models.Tx) error {
		b.Reset()
		lead := tx.Actor
		if _, _, err := payrun.DraftRun(tx, laws, payrun.DraftRequest{ID: run, Kind: payrun.Regular, WeekStart: day("2026-03-01")}); err != nil {
			return err
		}
		tx.Actor = keep(r, tx, models.Create[models.AccountContent], models.AccountContent{SignInName: "owner", Name: "Abel Soto", Role: models.RoleAdministrator, Language: "es"})
		if _, err := payrun.Approve(tx, laws, run, 1); err != nil {
			return err
		}
		tx.Actor = lead
		var digest string
		if err := tx.DB().Raw("SELECT input_digest FROM pay_runs WHERE employer_id = ? AND id = ?", tx.Employer, run).Scan(&digest).Error; err != nil {
			return err
		}
		fmt.Fprintln(&b, digest)
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

// Nothing that reckons pay, costs labor or writes statements knows of bunch checks: it imports nothing of them and names neither their tables nor their types.
func TestPayKnowsNothingOfBunchChecks(t *testing.T) {
	for _, pkg := range []string{"palmero/payroll", "palmero/payroll/rulebook", "palmero/models/payrun", "palmero/handlers/documents", "palmero/models/progress"} {
		out, err := exec.Command("go", "list", "-json=Dir,GoFiles,Deps", pkg).Output()
		if err != nil {
			t.Fatalf("%s: %v", pkg, err)
		}
		var listed struct {
			Dir           string
			GoFiles, Deps []string
		}
		if err := json.Unmarshal(out, &listed); err != nil || len(listed.GoFiles) == 0 {
			t.Fatalf("%s: %v", pkg, err)
		}
		if slices.Contains(listed.Deps, "palmero/models/bunches") {
			t.Errorf("%s depends on bunch checks", pkg)
		}
		for _, name := range listed.GoFiles {
			source, err := os.ReadFile(filepath.Join(listed.Dir, name))
			if err != nil {
				t.Fatal(err)
			}
			for _, word := range []string{"bunch_check", "work_standard", "BunchCheck", "WorkStandard"} {
				if strings.Contains(string(source), word) {
					t.Errorf("%s/%s names %s", pkg, name, word)
				}
			}
		}
	}
}
