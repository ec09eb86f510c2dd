package progress_test

import (
	"os"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/models/progress"
	"palmero/models/season"
	"palmero/models/testdb"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
	"palmero/safety"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

// farm is the employer of the invented season, with whoever drafts and whoever approves.
type farm struct {
	store        *models.Store
	books        *rulebook.Library
	clerk, owner models.Scope
	opened       dated.Date // the week that is yet to be settled
}

// each runs a test on the season, on both databases.
func each(t *testing.T, test func(t *testing.T, f *farm)) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	clock := &season.Clock{}
	databases.Each(t, clock.Now, func(t *testing.T, store *models.Store) {
		if err := season.Seed(t.Context(), store, clock, books, func(key string, _ safety.Terms) string { return key }); err != nil {
			t.Fatal(err)
		}
		employer, err := store.FindEmployer(t.Context(), "media-tarde")
		if err != nil {
			t.Fatal(err)
		}
		f := &farm{store: store, books: books, opened: dated.MustDate("2026-02-22")}
		f.clerk, f.owner = models.Scope{Employer: employer.ID}, models.Scope{Employer: employer.ID}
		f.view(t, func(tx *models.Tx) error {
			for name, scope := range map[string]*models.Scope{"hazel": &f.clerk, "abril": &f.owner} {
				var a models.Account
				if err := tx.DB().Where("sign_in_name = ?", name).Take(&a).Error; err != nil {
					return err
				}
				scope.Actor = a.ID
			}
			return nil
		})
		test(t, f)
	})
}

func (f *farm) view(t *testing.T, read func(tx *models.Tx) error) {
	t.Helper()
	if err := f.store.View(t.Context(), f.clerk, read); err != nil {
		t.Fatal(err)
	}
}

func (f *farm) in(t *testing.T, scope models.Scope, command func(tx *models.Tx) error) {
	t.Helper()
	if err := f.store.In(t.Context(), scope, command); err != nil {
		t.Fatal(err)
	}
}

func (f *farm) read(t *testing.T, year int) (s *progress.Season) {
	t.Helper()
	f.view(t, func(tx *models.Tx) (err error) {
		s, err = progress.Read(tx, year)
		return err
	})
	return s
}

// gross is what the standing statements of approved runs come to.
func (f *farm) gross(t *testing.T) (sum payroll.Cents) {
	t.Helper()
	f.view(t, func(tx *models.Tx) error {
		return tx.DB().Raw(`SELECT coalesce(sum(s.gross), 0) FROM statements s JOIN pay_runs r ON r.employer_id = s.employer_id AND r.id = s.run_id
			WHERE s.employer_id = ? AND s.voided_at IS NULL AND r.state <> 'draft'`, tx.Employer).Scan(&sum).Error
	})
	return sum
}

// approved drafts the open week, as the clerk, and has it approved by the owner.
func (f *farm) approved(t *testing.T) *payrun.Run {
	t.Helper()
	var run *payrun.Run
	f.in(t, f.clerk, func(tx *models.Tx) (err error) {
		run, _, err = payrun.DraftRun(tx, f.books, payrun.DraftRequest{ID: models.NewID(), Kind: payrun.Regular, WeekStart: models.Day(f.opened)})
		return err
	})
	f.in(t, f.owner, func(tx *models.Tx) (err error) {
		run, err = payrun.Approve(tx, f.books, run.ID, run.Version)
		return err
	})
	return run
}

// parts adds an operation up once by its blocks and once by its weeks.
func parts(op *progress.Operation) (blocks, weeks progress.Part) {
	for _, b := range op.Blocks {
		blocks.Worked, blocks.Cost = blocks.Worked+b.Worked, blocks.Cost+b.Cost
	}
	for _, w := range op.Weeks {
		weeks.Worked, weeks.Cost, weeks.Paid = weeks.Worked+w.Worked, weeks.Cost+w.Cost, weeks.Paid+w.Paid
	}
	return blocks, weeks
}

// requireSums wants the season's cost to be the gross pay of what is approved, and every operation to be the sum of its blocks and of its weeks.
func requireSums(t *testing.T, s *progress.Season, gross payroll.Cents) {
	t.Helper()
	sum := s.Unplaced
	for _, op := range s.Operations {
		blocks, weeks := parts(op)
		sum += op.Cost
		if blocks.Worked != op.Worked || weeks.Worked != op.Worked || blocks.Cost != op.Cost || weeks.Cost != op.Cost || weeks.Paid != op.Paid {
			t.Errorf("%s: %+v, by block %+v, by week %+v", op.Code, op.Part, blocks, weeks)
		}
	}
	if sum != s.Total || s.Total != gross {
		t.Errorf("labor cost %s, by operation %s, gross pay %s", s.Total, sum, gross)
	}
}

// The demo's season looks like one: nothing is done more than once, some operations are nearly through in a block and others have hardly begun.
func TestTheSeason(t *testing.T) {
	each(t, func(t *testing.T, f *farm) {
		s := f.read(t, 2026)
		requireSums(t, s, f.gross(t))
		if s.Settled != f.opened.AddDays(-1) {
			t.Errorf("settled through %s", s.Settled)
		}
		done, begun := 0, 0
		for _, op := range s.Operations {
			for _, b := range op.Blocks {
				per := map[string]int64{"A": 22, "B": 20, "C": 18}[b.Code[:1]] // as the season says
				if want := payroll.Pieces(b.Palms * per * 1000); op.Unit == "bunch" && b.Expected != want || op.Unit == "palm" && b.Expected != payroll.Pieces(b.Palms*1000) {
					t.Errorf("%s in %s: %s expected", op.Code, b.Code, b.Expected)
				}
				switch share := b.Share(); {
				case share > 100:
					t.Errorf("%s in %s: %d%%", op.Code, b.Code, share)
				case share >= 90:
					done++
				case share < 50:
					begun++
				}
			}
		}
		if done < 5 || begun < 5 {
			t.Errorf("%d are nearly through, %d under way", done, begun)
		}
		if main := s.Main(); main == nil || s.Operation(main.Code) != main || s.Operation("picking") != nil {
			t.Errorf("the main operation is %+v", main)
		}
		before := f.read(t, 2025)
		if before.Main() != nil || before.Total != 0 || !before.Settled.IsZero() {
			t.Errorf("the season before has work: %+v", before)
		}
		requireWeeks(t, f)
		requireUnknown(t, f)
		requireApart(t, f)
		requireEnded(t, f)
	})
}

// What was voided costs nothing, and the statement in its place costs once; so does a run whose approval was taken back and given again.
func TestNothingCostsTwice(t *testing.T) {
	each(t, func(t *testing.T, f *farm) {
		run := f.approved(t)
		whole := f.gross(t)
		requireSums(t, f.read(t, 2026), whole)

		f.in(t, f.owner, func(tx *models.Tx) (err error) {
			run, err = payrun.Withdraw(tx, run.ID, run.Version, "Too early")
			return err
		})
		requireSums(t, f.read(t, 2026), f.gross(t))
		f.in(t, f.owner, func(tx *models.Tx) (err error) {
			run, err = payrun.Approve(tx, f.books, run.ID, run.Version)
			return err
		})
		requireSums(t, f.read(t, 2026), whole)

		var voided uuid.UUID
		f.in(t, f.clerk, func(tx *models.Tx) error {
			briefs, err := payrun.RunStatements(tx, run.ID, models.Page{Limit: 3})
			if err != nil {
				return err
			}
			voided = briefs[2].ID
			_, err = payrun.Void(tx, voided, "Another address")
			return err
		})
		less := f.gross(t)
		if less >= whole {
			t.Fatalf("%s after the void, %s before", less, whole)
		}
		requireSums(t, f.read(t, 2026), less)

		again := f.approved(t)
		requireSums(t, f.read(t, 2026), whole)
		f.view(t, func(tx *models.Tx) error {
			week, err := payrun.WeekLaborCost(tx, models.Day(f.opened))
			if err != nil {
				return err
			}
			ledger, err := payrun.WeekCosts(tx, f.opened, f.opened)
			if err != nil {
				return err
			}
			byDay, byWeek := map[[2]string]payroll.Cents{}, map[[2]string]payroll.Cents{}
			for _, c := range week {
				byDay[[2]string{c.Block, c.Operation}] += c.Total
			}
			for _, c := range ledger {
				byWeek[[2]string{c.Block, c.Operation}] += c.Total()
			}
			if diff := cmp.Diff(byDay, byWeek); diff != "" {
				t.Errorf("the week by its statements and by the ledger (-statements +ledger):\n%s", diff)
			}
			briefs, err := payrun.RunStatements(tx, again.ID, models.Page{Limit: 10})
			if !slices.ContainsFunc(briefs, func(b payrun.Brief) bool { return b.ReissueOf != nil && *b.ReissueOf == voided }) {
				t.Errorf("nothing stands in the place of what was voided: %+v", briefs)
			}
			return err
		})
	})
}

// What one costs is known where something of it is paid, and a share where something is expected.
func TestParts(t *testing.T) {
	each := func(r payroll.Rate) *payroll.Rate { return &r }
	for _, c := range []struct {
		part  progress.Part
		share int
		each  *payroll.Rate
	}{
		{progress.Part{}, -1, nil},
		{progress.Part{Worked: 5000}, -1, nil},
		{progress.Part{Worked: 999, Expected: 100_000}, 0, nil},
		{progress.Part{Worked: 99_999, Expected: 100_000}, 99, nil},
		{progress.Part{Worked: 250_000, Expected: 100_000, Paid: 100_000, Cost: 4400}, 250, each(4400)},
		{progress.Part{Worked: 3000, Paid: 3000, Cost: 200}, -1, each(6667)},
	} {
		if share := c.part.Share(); share != c.share {
			t.Errorf("%+v: %d%%; want %d", c.part, share, c.share)
		}
		if diff := cmp.Diff(c.each, c.part.Each()); diff != "" {
			t.Errorf("%+v costs %s", c.part, diff)
		}
	}
}

// requireWeeks wants the weeks of a year to be those that begin in it: the employer's begin on Sundays.
func requireWeeks(t *testing.T, f *farm) {
	t.Helper()
	for year, want := range map[int][2]string{2025: {"2025-01-05", "2026-01-03"}, 2026: {"2026-01-04", "2027-01-02"}, 2023: {"2023-01-01", "2024-01-06"}} {
		s := f.read(t, year)
		if got := [2]string{s.First.String(), s.Last.String()}; got != want {
			t.Errorf("%d: %v; want %v", year, got, want)
		}
	}
}

// requireUnknown wants a block of which nobody said how many bunches its palms bear to make that unknown, there and altogether; palms are known all the same.
func requireUnknown(t *testing.T, f *farm) {
	t.Helper()
	f.in(t, f.owner, func(tx *models.Tx) error {
		var b models.Block
		if err := tx.DB().Where("code = ?", "A-1").Take(&b).Error; err != nil {
			return err
		}
		b.Content.BunchesPerPalm = 0
		_, err := models.Update(tx, b.ID, b.Version, b.Content)
		return err
	})
	s := f.read(t, 2026)
	for code, known := range map[string]bool{"de-thorning": true, "pollination": false, "bagging": false} {
		op := s.Operation(code)
		if (op.Share() >= 0) != known || (op.Blocks[0].Share() >= 0) != known || op.Blocks[1].Share() < 0 {
			t.Errorf("%s: %d%%, in %s %d%%, in %s %d%%", code, op.Share(), op.Blocks[0].Code, op.Blocks[0].Share(), op.Blocks[1].Code, op.Blocks[1].Share())
		}
	}
}

// requireApart wants another garden's blocks to stand apart from those here, and to leave them as they are.
func requireApart(t *testing.T, f *farm) {
	t.Helper()
	before := f.read(t, 2026)
	f.in(t, f.owner, func(tx *models.Tx) error {
		garden, _, err := models.Create(tx, models.NewID(), models.GardenContent{Name: "Entre Canales", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"})
		if err == nil {
			_, _, err = models.Create(tx, models.NewID(), models.BlockContent{GardenID: garden.ID, Code: "D-1", Variety: "Zahidi", Palms: 50, TallestCM: 600, BunchesPerPalm: 20})
		}
		return err
	})
	s := f.read(t, 2026)
	requireSums(t, s, f.gross(t))
	op, was := s.Operation("pollination"), before.Operation("pollination")
	if gardens := op.Gardens(); !slices.Equal(gardens, []string{"Entre Canales", "Huerta Media Tarde"}) || len(op.Blocks) != len(was.Blocks)+1 {
		t.Fatalf("gardens %q, %d blocks", gardens, len(op.Blocks))
	}
	if other := op.Blocks[0]; other.Code != "D-1" || other.Worked != 0 || other.Cost != 0 || other.Expected != 1_000_000 {
		t.Errorf("the other garden's block is %+v", other)
	}
	if diff := cmp.Diff(was.Blocks, op.Blocks[1:], cmp.AllowUnexported(dated.Date{})); diff != "" || was.Blocks[1].Cost == 0 {
		t.Errorf("this garden's blocks (-before +after):\n%s", diff)
	}
}

// requireEnded ends a block that was worked, a second one without work in some operation, and wants what was worked and what it cost to stay, and nothing to be expected any more
// where nobody worked.
func requireEnded(t *testing.T, f *farm) {
	t.Helper()
	before := f.read(t, 2026)
	last := models.Day(f.opened.AddDays(6))
	f.in(t, f.owner, func(tx *models.Tx) error {
		blocks, err := models.All[models.BlockContent](tx)
		for id, b := range blocks {
			if b.Content.EndedOn = last; err == nil {
				_, err = models.Update(tx, id, b.Version, b.Content)
			}
		}
		return err
	})
	after := f.read(t, 2026)
	requireSums(t, after, f.gross(t))
	dropped := 0
	for i, op := range after.Operations {
		was := before.Operations[i]
		expected := payroll.Pieces(0)
		for _, b := range was.Blocks {
			at := slices.IndexFunc(op.Blocks, func(now *progress.Block) bool { return now.Code == b.Code })
			switch touched := b.Worked > 0 || b.Cost > 0; {
			case touched != (at >= 0):
				t.Errorf("%s in %s: worked %s, and shown: %v", op.Code, b.Code, b.Worked, at >= 0)
			case at < 0:
				dropped++
			case op.Blocks[at].Worked != b.Worked || op.Blocks[at].Cost != b.Cost || op.Blocks[at].EndedOn != last.Date:
				t.Errorf("%s: %+v became %+v", op.Code, b, op.Blocks[at])
			case b.Worked > 0:
				expected += b.Expected
			}
		}
		if op.Expected != expected && was.Expected > 0 || op.Worked != was.Worked {
			t.Errorf("%s: %s expected, of those worked %s; worked %s, before %s", op.Code, op.Expected, expected, op.Worked, was.Worked)
		}
	}
	if dropped == 0 {
		t.Error("every block was worked at every operation")
	}
}
