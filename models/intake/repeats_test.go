package intake_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/models/testdb"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Whatever has happened since, the same sheet again is answered with what became of it the first time, and keeps nothing; the same identifiers with other
// content are refused.
func TestTheSameSheetLater(t *testing.T) {
	books := must(rulebook.Load())
	later := map[string]func(t *testing.T, g *ground, target models.Target){
		"at once": func(*testing.T, *ground, models.Target) {},
		"through another server, after an update": func(t *testing.T, g *ground, target models.Target) {
			g.store = openStore(t, target, func() time.Time { return evening().Add(time.Hour) })
		},
		"years later": func(t *testing.T, g *ground, target models.Target) {
			g.store = openStore(t, target, func() time.Time { return evening().AddDate(3, 0, 0) })
		},
		"after the draft":    func(t *testing.T, g *ground, _ models.Target) { g.draft(t, books) },
		"after the approval": func(t *testing.T, g *ground, _ models.Target) { g.approve(t, g.draft(t, books), books) },
		"after the payment": func(t *testing.T, g *ground, _ models.Target) {
			g.pay(t, g.approve(t, g.draft(t, books), books))
		},
		"after the worker left": func(t *testing.T, g *ground, _ models.Target) {
			updated(t, g, g.ana, models.Update, func(w *models.WorkerContent) { w.EndedOn = models.Day(dated.MustDate("2026-02-10")) })
		},
		"after the workday was moved": func(t *testing.T, g *ground, _ models.Target) {
			g.in(t, func(tx *models.Tx) error {
				p, err := tx.Profile()
				if err != nil {
					return err
				}
				p.Content.WorkdayStart = 12 * 60
				_, err = tx.UpdateProfile(p.Version, p.Content)
				return err
			})
		},
		"after the garden's zone was set right": func(t *testing.T, g *ground, _ models.Target) {
			updated(t, g, g.garden, models.Update, func(c *models.GardenContent) { c.TimeZone = "Asia/Tokyo" })
		},
		"after the operation's limit was lowered": func(t *testing.T, g *ground, _ models.Target) {
			updated(t, g, g.pollination, models.Update, func(c *models.OperationContent) { c.DailyLimit = 1 })
		},
	}
	for _, dialect := range testdb.Dialects() {
		for name, happen := range later {
			t.Run(string(dialect)+"/"+name, func(t *testing.T) {
				target := databases.Target(t, dialect)
				g := newGround(t, openStore(t, target, evening), "tres-pozos")
				s := g.sheet()
				if _, err := g.submit(s, intake.Whole); err != nil {
					t.Fatal(err)
				}
				happen(t, g, target)
				before := g.counts(t)
				for _, mode := range []intake.Acceptance{intake.Whole, intake.GoodLines} {
					r, err := g.submit(s, mode)
					if err != nil || !r.Repeated || outcomes(r)[intake.Repeated] != 4 {
						t.Errorf("again: %+v, %v", r, err)
					}
				}
				other := s
				other.Tallies = slices.Clone(s.Tallies)
				other.Tallies[0].Pieces++
				if _, err := g.submit(other, intake.Whole); !slices.Equal(faultsOf(err), []string{"/tallies/0/id fault.id_reused"}) {
					t.Errorf("with another count: %v", faultsOf(err))
				}
				if after := g.counts(t); !slices.Equal(before, after) {
					t.Errorf("rows before %v, after %v", before, after)
				}
			})
		}
	}
}

// A sheet that came in once may come again after its lines were corrected: each is answered with what stands in its place.
func TestTheSameSheetAfterCorrectionsOfEveryLine(t *testing.T) {
	each(t, func(t *testing.T, g *ground) {
		s := g.sheet()
		s.Breaks = []intake.BreakLine{{ID: models.NewID(), WorkerID: g.ana, Fact: models.RestNotProvided}}
		s.Lots = []intake.LotLine{{ID: models.NewID(), BlockID: g.block, OperationID: g.pollination, Pieces: 30_000, Parting: intake.ByHeads,
			Parts: []intake.LotPart{{ID: models.NewID(), WorkerID: g.ana}, {ID: models.NewID(), WorkerID: g.beto}}}}
		if _, err := g.submit(s, intake.Whole); err != nil {
			t.Fatal(err)
		}
		next := intake.Sheet{ID: models.NewID(), CrewID: s.CrewID, GardenID: s.GardenID, Workday: s.Workday, RecordedAt: *at("17:00")}
		successor := map[uuid.UUID]uuid.UUID{}
		correct := func(id uuid.UUID) (uuid.UUID, intake.Correction) {
			successor[id] = models.NewID()
			return successor[id], intake.Correction{Supersedes: &id, Reason: "read from the paper"}
		}
		for _, l := range s.Time {
			l.ID, l.Correction = correct(l.ID)
			next.Time = append(next.Time, l)
		}
		for _, l := range s.Tallies {
			l.Pieces -= 1000
			l.ID, l.Correction = correct(l.ID)
			next.Tallies = append(next.Tallies, l)
		}
		for _, l := range s.Breaks {
			l.ID, l.Correction = correct(l.ID)
			next.Breaks = append(next.Breaks, l)
		}
		for _, l := range s.Lots {
			l.ID, l.Correction = correct(l.ID)
			l.Parts = []intake.LotPart{{ID: models.NewID(), WorkerID: g.ana}, {ID: models.NewID(), WorkerID: g.beto}}
			next.Lots = append(next.Lots, l)
		}
		if _, err := g.submit(next, intake.Whole); err != nil {
			t.Fatal(err)
		}
		before := g.counts(t)
		r, err := g.submit(s, intake.Whole)
		if err != nil || !r.Repeated {
			t.Fatalf("again: %+v, %v", r, err)
		}
		for _, l := range r.Lines {
			want, ok := successor[l.ID]
			if ok && (l.Outcome != intake.Repeated || l.SupersededBy == nil || *l.SupersededBy != want) {
				t.Errorf("%s: %+v, want it superseded by %s", l.Pointer, l, want)
			}
		}
		if r, err := g.submit(next, intake.Whole); err != nil || !r.Repeated {
			t.Errorf("the correction again: %+v, %v", r, err)
		}
		if after := g.counts(t); !slices.Equal(before, after) {
			t.Errorf("rows before %v, after %v", before, after)
		}
	})
}

// A new hand who turned out to be somebody known is answered with whom.
func TestTheSameSheetAfterTheHandIsSettled(t *testing.T) {
	each(t, func(t *testing.T, g *ground) {
		s := g.sheet()
		hand := models.NewID()
		s.NewWorkers = []intake.NewWorker{{ID: hand, Name: "Chuy"}}
		s.Tallies[0].WorkerID = hand
		if _, err := g.submit(s, intake.Whole); err != nil {
			t.Fatal(err)
		}
		updated(t, g, hand, models.Update, func(w *models.WorkerContent) { w.SameAs = &g.beto })
		r, err := g.submit(s, intake.Whole)
		if err != nil || !r.Repeated || r.Lines[0].SupersededBy == nil || *r.Lines[0].SupersededBy != g.beto {
			t.Errorf("again: %+v, %v", r, err)
		}
	})
}

func openStore(t *testing.T, target models.Target, now func() time.Time) *models.Store {
	t.Helper()
	store, err := models.Open(t.Context(), target, models.Options{Now: now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() })
	return store
}

func (g *ground) in(t *testing.T, fn func(tx *models.Tx) error) {
	t.Helper()
	if err := g.store.In(context.Background(), g.scope, fn); err != nil {
		t.Fatal(err)
	}
}

// counts are the numbers of rows of everything that a sheet could leave.
func (g *ground) counts(t *testing.T) (all []int64) {
	t.Helper()
	for _, table := range []string{"crew_sheets", "time_entries", "tallies", "lots", "break_records", "workers", "audit_entries"} {
		all = append(all, g.count(t, table))
	}
	return all
}

// updated replaces a record of the set-up.
func updated[C any](t *testing.T, g *ground, id uuid.UUID, update func(*models.Tx, uuid.UUID, int64, C) (*models.Kept[C], error), change func(*C)) {
	t.Helper()
	g.in(t, func(tx *models.Tx) error {
		kept, err := models.Get[C](tx, id)
		if err != nil {
			return err
		}
		change(&kept.Content)
		_, err = update(tx, id, kept.Version, kept.Content)
		return err
	})
}

func (g *ground) draft(t *testing.T, books *rulebook.Library) (run *payrun.Run) {
	t.Helper()
	g.in(t, func(tx *models.Tx) error {
		how := models.Recording{RecordedAt: tx.Now}
		day := models.Day(dated.MustDate("2026-02-01"))
		if _, _, err := models.Record(tx, tx.NewID(), models.PieceRateContent{OperationID: g.pollination, Rate: 11500, EffectiveOn: day}, how); err != nil {
			return err
		}
		if _, _, err := models.Record(tx, tx.NewID(), models.HourlyRateContent{Rate: 175000, EffectiveOn: day}, how); err != nil {
			return err
		}
		var err error
		run, _, err = payrun.DraftRun(tx, books, payrun.DraftRequest{ID: tx.NewID(), Kind: payrun.Regular, WeekStart: models.Day(dated.MustDate("2026-02-15"))})
		return err
	})
	return run
}

func (g *ground) approve(t *testing.T, run *payrun.Run, books *rulebook.Library) (approved *payrun.Run) {
	t.Helper()
	owner := models.NewID()
	g.in(t, func(tx *models.Tx) error {
		_, _, err := models.Create(tx, owner, models.AccountContent{SignInName: "owner", Name: "Owner", Role: models.RoleAdministrator, Language: "en"})
		return err
	})
	err := g.store.In(t.Context(), models.Scope{Employer: g.scope.Employer, Actor: owner}, func(tx *models.Tx) (err error) {
		approved, err = payrun.Approve(tx, books, run.ID, run.Version)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return approved
}

func (g *ground) pay(t *testing.T, run *payrun.Run) {
	t.Helper()
	g.in(t, func(tx *models.Tx) error {
		statements, err := payrun.RunStatements(tx, run.ID, models.Page{Limit: 10})
		if err != nil {
			return err
		}
		var payments []payrun.Payment
		for _, s := range statements {
			payments = append(payments, payrun.Payment{StatementID: s.ID, PaidOn: monday, Method: "cash"})
		}
		_, err = payrun.Pay(tx, run.ID, payments)
		return err
	})
}
