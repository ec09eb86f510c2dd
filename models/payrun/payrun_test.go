package payrun_test

import (
	"context"
	"os"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/models/testdb"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	if order := os.Getenv(toBeKilled); order != "" {
		takeUntilKilled(order)
	}
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

// The tests take place on the Sunday after the week of 15 February 2026.
func now() time.Time { return time.Date(2026, 2, 22, 18, 0, 0, 0, time.UTC) }

var weekStart = models.Day(dated.MustDate("2026-02-15"))

func books(t testing.TB) *rulebook.Library {
	t.Helper()
	l, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// farm is a small invented employer with a garden in California, set up to record work.
type farm struct {
	store                *models.Store
	scope                models.Scope // acts as the crew lead
	clerk, owner         models.Scope
	crew, garden, block  uuid.UUID
	pollination, bagging uuid.UUID
	ana, beto            uuid.UUID
}

func newFarm(t testing.TB, store *models.Store) *farm {
	t.Helper()
	f := &farm{store: store}
	employer := models.NewID()
	err := store.FoundEmployer(context.Background(), employer, "tres-pozos", models.EmployerContent{
		LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road", Size: 40, WeekStart: time.Sunday, Payday: time.Friday, SecondApprover: true,
	})
	if err != nil {
		t.Fatal(err)
	}
	f.scope = models.Scope{Employer: employer}
	f.in(t, f.scope, func(tx *models.Tx) error {
		day := models.Day(dated.MustDate("2026-02-01"))
		f.garden = kept(t, tx, models.GardenContent{Name: "Tres Pozos", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"})
		f.block = kept(t, tx, models.BlockContent{GardenID: f.garden, Code: "A-1", Variety: "Medjool", Palms: 120, TallestCM: 900})
		f.pollination = kept(t, tx, models.OperationContent{Code: "pollination", Unit: "bunch", DailyLimit: 400_000})
		f.bagging = kept(t, tx, models.OperationContent{Code: "bagging", Unit: "bunch", DailyLimit: 600_000})
		f.crew = kept(t, tx, models.CrewContent{Name: "North"})
		f.ana = kept(t, tx, models.WorkerContent{Name: "Ana Rojas", Address: "1 Palm Lane", Language: "es", StartedOn: day})
		f.beto = kept(t, tx, models.WorkerContent{Name: "Beto Luz", Address: "2 Palm Lane", Language: "es", StartedOn: day})
		f.clerk = models.Scope{Employer: employer, Actor: kept(t, tx, models.AccountContent{SignInName: "clerk", Name: "C", Role: models.RoleClerk, Language: "en"})}
		f.owner = models.Scope{Employer: employer, Actor: kept(t, tx, models.AccountContent{SignInName: "owner", Name: "O", Role: models.RoleAdministrator, Language: "en"})}
		f.scope.Actor = f.clerk.Actor
		return nil
	})
	f.in(t, f.clerk, func(tx *models.Tx) error {
		day := models.Day(dated.MustDate("2026-02-01"))
		record(t, tx, models.PieceRateContent{OperationID: f.pollination, Rate: 11500, EffectiveOn: day})
		record(t, tx, models.PieceRateContent{OperationID: f.bagging, Rate: 4000, EffectiveOn: day})
		record(t, tx, models.HourlyRateContent{Rate: 175000, EffectiveOn: day})
		return nil
	})
	return f
}

func kept[C any](t testing.TB, tx *models.Tx, c C) uuid.UUID {
	t.Helper()
	id := models.NewID()
	var err error
	switch c := any(c).(type) {
	case models.GardenContent:
		_, _, err = models.Create(tx, id, c)
	case models.BlockContent:
		_, _, err = models.Create(tx, id, c)
	case models.OperationContent:
		_, _, err = models.Create(tx, id, c)
	case models.CrewContent:
		_, _, err = models.Create(tx, id, c)
	case models.WorkerContent:
		_, _, err = models.Create(tx, id, c)
	case models.AccountContent:
		_, _, err = models.Create(tx, id, c)
	}
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func record[C any](t testing.TB, tx *models.Tx, c C) {
	t.Helper()
	how := models.Recording{RecordedAt: tx.Now}
	var err error
	switch c := any(c).(type) {
	case models.PieceRateContent:
		_, _, err = models.Record(tx, models.NewID(), c, how)
	case models.HourlyRateContent:
		_, _, err = models.Record(tx, models.NewID(), c, how)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func (f *farm) in(t testing.TB, scope models.Scope, fn func(tx *models.Tx) error) {
	t.Helper()
	if err := f.store.In(context.Background(), scope, fn); err != nil {
		t.Fatal(err)
	}
}

// at is an instant on a day of the week of 15 February, on the garden's clock.
func at(day string, clock string) *time.Time {
	loc, err := time.LoadLocation("America/Los_Angeles")
	if err != nil {
		panic(err)
	}
	t, err := time.ParseInLocation("2006-01-02 15:04", day+" "+clock, loc)
	if err != nil {
		panic(err)
	}
	return &t
}

// mondaySheet is a day of piece work: eight hours with a meal period and two rests, 160 bunches by Ana, and a lot of 300 bunches of the two.
func (f *farm) mondaySheet() intake.Sheet {
	s := intake.Sheet{ID: models.NewID(), CrewID: f.crew, GardenID: f.garden, Workday: models.Day(dated.MustDate("2026-02-16")), RecordedAt: *at("2026-02-16", "15:00"),
		Roll: []uuid.UUID{f.ana, f.beto}}
	for _, w := range []uuid.UUID{f.ana, f.beto} {
		for _, e := range []struct {
			kind       payroll.TimeKind
			start, end string
		}{
			{payroll.Piece, "06:00", "08:00"}, {payroll.Rest, "08:00", "08:10"}, {payroll.Piece, "08:10", "10:30"}, {payroll.MealPeriod, "10:30", "11:00"},
			{payroll.Piece, "11:00", "13:00"}, {payroll.Rest, "13:00", "13:10"}, {payroll.Piece, "13:10", "14:30"},
		} {
			s.Time = append(s.Time, intake.TimeLine{ID: models.NewID(), WorkerID: w, Kind: e.kind, BlockID: &f.block, Start: at("2026-02-16", e.start), End: at("2026-02-16", e.end)})
		}
	}
	s.Tallies = []intake.TallyLine{{ID: models.NewID(), WorkerID: f.ana, BlockID: f.block, OperationID: f.pollination, Pieces: 160_000}}
	s.Lots = []intake.LotLine{{ID: models.NewID(), BlockID: f.block, OperationID: f.bagging, Pieces: 301_000, Parting: intake.ByHeads,
		Parts: []intake.LotPart{{ID: models.NewID(), WorkerID: f.ana}, {ID: models.NewID(), WorkerID: f.beto}}}}
	return s
}

func (f *farm) submit(t testing.TB, s intake.Sheet) *intake.Receipt {
	t.Helper()
	var r *intake.Receipt
	f.in(t, f.scope, func(tx *models.Tx) (err error) {
		r, err = intake.Submit(tx, s, intake.Whole)
		return err
	})
	return r
}

func TestFromSheetToPayment(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		sheet := f.mondaySheet()
		if r := f.submit(t, sheet); len(r.Lines) != 16 || r.Lines[0].Outcome != intake.Recorded {
			t.Fatalf("receipt: %+v", r)
		}
		for _, l := range f.submit(t, sheet).Lines {
			if l.Outcome != intake.Repeated {
				t.Errorf("the sheet sent again: %+v", l)
			}
		}
		var run *payrun.Run
		request := payrun.DraftRequest{ID: models.NewID(), Kind: payrun.Regular, WeekStart: weekStart}
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			run, _, err = payrun.DraftRun(tx, library, request)
			return err
		})
		var statements []payrun.Brief
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			if statements, err = payrun.RunStatements(tx, run.ID, page); err != nil {
				return err
			}
			problems, err := payrun.Problems(tx, run.ID)
			if err != nil || len(problems) != 1 || problems[0].Code != "note.makeup_due" || problems[0].WorkerName != "Beto Luz" {
				t.Errorf("problems %+v, %v", problems, err)
			}
			return err
		})
		if len(statements) != 2 {
			t.Fatalf("%d statements", len(statements))
		}
		var sheetOfAna *payrun.Sheet
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			sheetOfAna, err = payrun.ReadStatement(tx, statements[0].ID, nil)
			return err
		})
		// 160 × 1.15 = 184.00; 301 × 0.40 / 2 = 60.20; 460 piece minutes at (184.00 + 60.20) / 460 min: 20 rest minutes at that average
		// = 10.6174 → 10.62 (reckoned by hand from Cal. Lab. Code 226.2(a)(3)(A)(i)).
		want := map[payroll.Code]payroll.Cents{payroll.PieceLine: 18400, payroll.SharedPieceLine: 6020, payroll.RestRecoveryLine: 1062}
		got := map[payroll.Code]payroll.Cents{}
		for _, l := range sheetOfAna.Figures.Lines {
			got[l.Code] += l.Amount
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("Ana's lines (-want +got):\n%s", diff)
		}

		err := store.In(t.Context(), f.clerk, func(tx *models.Tx) error {
			_, err := payrun.Approve(tx, library, run.ID, run.Version)
			return err
		})
		if models.KindOf(err) != models.Forbidden {
			t.Errorf("the drafter approved: %v", err)
		}
		f.in(t, f.scope, func(tx *models.Tx) error {
			_, _, err := intake.RecordTally(tx, intake.SingleTally{Workday: sheet.Workday, RecordedAt: tx.Now,
				TallyLine: intake.TallyLine{ID: models.NewID(), WorkerID: f.beto, BlockID: f.block, OperationID: f.pollination, Pieces: 90_000}})
			return err
		})
		err = store.In(t.Context(), f.owner, func(tx *models.Tx) error {
			_, err := payrun.Approve(tx, library, run.ID, run.Version)
			return err
		})
		if models.KindOf(err) != models.Stale {
			t.Errorf("a late tally went unnoticed at approval: %v", err)
		}
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			run, err = payrun.Redraft(tx, library, run.ID, run.Version)
			return err
		})
		f.in(t, f.owner, func(tx *models.Tx) (err error) {
			run, err = payrun.Approve(tx, library, run.ID, run.Version)
			return err
		})
		f.in(t, f.owner, func(tx *models.Tx) (err error) {
			run, err = payrun.Withdraw(tx, run.ID, run.Version, "one more look")
			return err
		})
		f.in(t, f.owner, func(tx *models.Tx) (err error) {
			run, err = payrun.Approve(tx, library, run.ID, run.Version)
			return err
		})
		f.in(t, f.clerk, func(tx *models.Tx) error {
			statements, err := payrun.RunStatements(tx, run.ID, page)
			if err != nil {
				return err
			}
			var payments []payrun.Payment
			for _, s := range statements {
				payments = append(payments, payrun.Payment{StatementID: s.ID, PaidOn: run.Payday, Method: "check", Reference: "1001"})
			}
			if run, err = payrun.Pay(tx, run.ID, payments[:1]); err != nil || run.State != payrun.Approved {
				t.Errorf("one of two paid: %v, %v", run.State, err)
			}
			if run, err = payrun.Pay(tx, run.ID, payments); err != nil || run.State != payrun.Paid {
				t.Errorf("both paid: %v, %v", run.State, err)
			}
			s, err := payrun.Summarize(tx, run.ID)
			if err != nil || s.Statements != 2 || s.Unpaid != 0 || s.Gross == 0 {
				t.Errorf("summary %+v, %v", s, err)
			}
			again, repeated, err := payrun.DraftRun(tx, library, request)
			if err != nil || !repeated || again.State != payrun.Paid {
				t.Errorf("the first request again: %+v, repeated %v, %v", again, repeated, err)
			}
			return nil
		})
	})
}

var page = models.Page{Limit: 10}
