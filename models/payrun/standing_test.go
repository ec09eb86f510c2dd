package payrun_test

import (
	"context"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// draft drafts a run that must succeed.
func (f *farm) draft(t testing.TB, books *rulebook.Library, q payrun.DraftRequest) *payrun.Run {
	t.Helper()
	q.ID = models.NewID()
	var run *payrun.Run
	f.in(t, f.clerk, func(tx *models.Tx) (err error) {
		run, _, err = payrun.DraftRun(tx, books, q)
		return err
	})
	return run
}

func (f *farm) approve(t testing.TB, books *rulebook.Library, run *payrun.Run) *payrun.Run {
	t.Helper()
	f.in(t, f.owner, func(tx *models.Tx) (err error) {
		run, err = payrun.Approve(tx, books, run.ID, run.Version)
		return err
	})
	return run
}

// statementsOf reads a run's statements in full, in the order of the workers' numbers.
func (f *farm) statementsOf(t testing.TB, run *payrun.Run) []*payrun.Sheet {
	t.Helper()
	var out []*payrun.Sheet
	f.in(t, f.clerk, func(tx *models.Tx) error {
		briefs, err := payrun.RunStatements(tx, run.ID, page)
		if err != nil {
			return err
		}
		for _, b := range briefs {
			s, err := payrun.ReadStatement(tx, b.ID, nil)
			if err != nil {
				return err
			}
			out = append(out, s)
		}
		return nil
	})
	return out
}

func (f *farm) payAll(t testing.TB, run *payrun.Run) *payrun.Run {
	t.Helper()
	var payments []payrun.Payment
	for _, s := range f.statementsOf(t, run) {
		if s.Row.VoidedAt == nil {
			payments = append(payments, payrun.Payment{StatementID: s.Row.ID, PaidOn: run.Payday, Method: "check", Reference: "1001"})
		}
	}
	f.in(t, f.clerk, func(tx *models.Tx) (err error) {
		run, err = payrun.Pay(tx, run.ID, payments)
		return err
	})
	return run
}

// count adds a tally of Ana's to Monday.
func (f *farm) count(t testing.TB, worker uuid.UUID, pieces payroll.Pieces) {
	t.Helper()
	f.in(t, f.scope, func(tx *models.Tx) error {
		_, _, err := intake.RecordTally(tx, intake.SingleTally{Workday: models.Day(dated.MustDate("2026-02-16")), RecordedAt: tx.Now,
			TallyLine: intake.TallyLine{ID: models.NewID(), WorkerID: worker, BlockID: f.block, OperationID: f.pollination, Pieces: pieces}})
		return err
	})
}

func (f *farm) review(t testing.TB, books *rulebook.Library) []payrun.Difference {
	t.Helper()
	var d []payrun.Difference
	f.in(t, f.clerk, func(tx *models.Tx) (err error) {
		d, err = payrun.Review(tx, books, weekStart.Date)
		return err
	})
	return d
}

// week is a run of the first week.
var week = payrun.DraftRequest{Kind: payrun.Regular, WeekStart: weekStart}

// paidWeek is a farm whose first week is drafted, approved and paid.
func paidWeek(t testing.TB, store *models.Store, books *rulebook.Library) *farm {
	t.Helper()
	f := newFarm(t, store)
	f.submit(t, f.mondaySheet())
	f.payAll(t, f.approve(t, books, f.draft(t, books, week)))
	return f
}

func TestALateTallyToAPaidWeekIsAnAdjustment(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := paidWeek(t, store, library)
		if d := f.review(t, library); len(d) != 0 {
			t.Fatalf("a week that did not move differs: %+v", d)
		}
		f.count(t, f.ana, 20_000)
		found := f.review(t, library)
		if len(found) != 1 || found[0].WorkerName != "Ana Rojas" || found[0].Rules != 0 || found[0].Engine != 0 {
			t.Fatalf("differences %+v", found)
		}
		d := found[0]
		// 20 bunches × $1.15 = $23.00 more; the average of rest rises from 244.20 to 267.20 over 460 minutes: 20 minutes of it from 10.62 to
		// 11.62 (11.6174 up), a dollar more (reckoned by hand from Cal. Lab. Code 226.2(a)(3)(A)(i)).
		if d.Records != 2400 || d.Now-d.Paid != 2400 || d.Adjustment == nil {
			t.Errorf("difference %+v", d)
		}
		if len(d.Lines) != 2 || d.Lines[0].Code != payroll.PieceLine || d.Lines[0].Now-d.Lines[0].Was != 2300 || d.Lines[1].Now-d.Lines[1].Was != 100 {
			t.Errorf("line by line: %+v", d.Lines)
		}
		if again := f.review(t, library); *again[0].Adjustment != *d.Adjustment {
			t.Error("the same review made another proposal")
		}
		f.in(t, f.clerk, func(tx *models.Tx) error {
			a, err := payrun.DecideAdjustment(tx, *d.Adjustment, 1, payrun.AdjustmentDecision{State: payrun.Accepted, Reason: "sheet found in the truck"})
			if err == nil && a.Amount != 2400 {
				t.Errorf("accepted %v", a.Amount)
			}
			return err
		})
		if left := f.review(t, library); len(left) != 0 {
			t.Errorf("after acceptance there is still %+v", left)
		}
		next := models.Day(weekStart.AddDays(7))
		run := f.approve(t, library, f.draft(t, library, payrun.DraftRequest{Kind: payrun.Correction, WeekStart: next}))
		sheets := f.statementsOf(t, run)
		if len(sheets) != 1 || sheets[0].Figures.Totals.Gross != 2400 || len(sheets[0].Figures.Lines) != 1 {
			t.Fatalf("correction %+v", sheets)
		}
		line := sheets[0].Figures.Lines[0]
		if line.Code != payroll.AdjustmentLine || line.Basis.Terms["week"] != weekStart.Date || line.Authority == "" {
			t.Errorf("the line does not name its week: %+v", line)
		}
		if f.payAll(t, run).State != payrun.Paid {
			t.Error("the correction is not paid")
		}
		if again := f.draft(t, library, payrun.DraftRequest{Kind: payrun.Correction, WeekStart: next}); len(f.statementsOf(t, again)) != 0 {
			t.Error("an adjustment is paid twice")
		}
	})
}

func TestADifferenceAgainstTheWorkerIsShownAndNeverTaken(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		sheet := f.mondaySheet()
		f.submit(t, sheet)
		f.payAll(t, f.approve(t, library, f.draft(t, library, week)))
		f.in(t, f.scope, func(tx *models.Tx) error {
			old := sheet.Tallies[0].ID
			_, _, err := intake.RecordTally(tx, intake.SingleTally{Workday: sheet.Workday, RecordedAt: tx.Now, TallyLine: intake.TallyLine{ID: models.NewID(), WorkerID: f.ana,
				BlockID: f.block, OperationID: f.pollination, Pieces: 150_000, Correction: intake.Correction{Supersedes: &old, Reason: "counted twice"}}})
			return err
		})
		d := f.review(t, library)
		if len(d) != 1 || d[0].Records >= 0 || d[0].Adjustment != nil {
			t.Errorf("differences %+v", d)
		}
		f.in(t, f.clerk, func(tx *models.Tx) error {
			kept, err := payrun.Adjustments(tx, dated.Date{}, page)
			if len(kept) != 0 {
				t.Errorf("kept as something to pay: %+v", kept)
			}
			return err
		})
	})
}

func TestARetroactiveRaiseIsAnAdjustment(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := paidWeek(t, store, library)
		f.in(t, f.clerk, func(tx *models.Tx) error {
			record(t, tx, models.PieceRateContent{OperationID: f.pollination, Rate: 12500, EffectiveOn: models.Day(dated.MustDate("2026-02-10"))})
			return nil
		})
		d := f.review(t, library)
		// 160 × $0.10 = $16.00, and rest at the higher average: 260.20 / 460 × 20 = 11.3130, up to 11.32, from 10.62.
		if len(d) != 1 || d[0].WorkerID != f.ana || d[0].Records != 1670 {
			t.Errorf("differences %+v", d)
		}
	})
}

// A rulebook that is corrected after the week was paid moves the part of the rules, which waits for somebody to choose it.
func TestACorrectedRulebookValueIsThePartOfTheRules(t *testing.T) {
	library := books(t)
	texts := rulebook.Texts()
	const wage = `{from: 2026-01-01, through: 2026-12-31, value: "16.90"`
	if !strings.Contains(string(texts["us-ca.yaml"]), wage) {
		t.Fatal("the wage of 2026 is written another way; mend this test")
	}
	texts["us-ca.yaml"] = []byte(strings.ReplaceAll(string(texts["us-ca.yaml"]), wage, `{from: 2026-01-01, through: 2026-12-31, value: "17.90"`))
	corrected, err := rulebook.Parse(texts)
	if err != nil {
		t.Fatal(err)
	}
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := paidWeek(t, store, library)
		d := f.review(t, corrected)
		// Beto's piece pay of 60.20 for 460 minutes was made up to 16.90 an hour and is now to 17.90: 7 h 40 min × $1.00, up.
		i := slices.IndexFunc(d, func(d payrun.Difference) bool { return d.WorkerID == f.beto })
		if i < 0 || d[i].Records != 0 || d[i].Rules < 767 || d[i].Adjustment == nil {
			t.Fatalf("differences %+v", d)
		}
		f.in(t, f.clerk, func(tx *models.Tx) error {
			kept, err := payrun.Adjustments(tx, weekStart.Date, page)
			if err != nil || len(kept) != 1 || kept[0].Amount != 0 {
				t.Errorf("proposed by itself: %+v, %v", kept, err)
			}
			_, err = payrun.DecideAdjustment(tx, *d[i].Adjustment, 1, payrun.AdjustmentDecision{State: payrun.Accepted, Reason: "records only"})
			if models.KindOf(err) != models.Invalid {
				t.Errorf("an acceptance that pays nothing: %v", err)
			}
			a, err := payrun.DecideAdjustment(tx, *d[i].Adjustment, 1, payrun.AdjustmentDecision{State: payrun.Accepted, Parts: []payrun.Part{payrun.FromRules}, Reason: "wage corrected"})
			if err == nil && a.Amount != d[i].Rules {
				t.Errorf("accepted %v of %v", a.Amount, d[i].Rules)
			}
			return err
		})
		if left := f.review(t, corrected); len(left) != 0 {
			t.Errorf("after acceptance there is still %+v", left)
		}
	})
}

func TestLateTalliesToDraftedAndApprovedRuns(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		run := f.draft(t, library, week)
		f.count(t, f.ana, 5_000)
		err := store.In(t.Context(), f.owner, func(tx *models.Tx) error {
			_, err := payrun.Approve(tx, library, run.ID, run.Version)
			return err
		})
		if models.KindOf(err) != models.Stale {
			t.Errorf("drafted, then a tally, then approved: %v", err)
		}
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			run, err = payrun.Redraft(tx, library, run.ID, run.Version)
			return err
		})
		run = f.approve(t, library, run)
		f.count(t, f.ana, 5_000)
		if d := f.review(t, library); len(d) != 1 || d[0].Records != 600 {
			t.Errorf("a tally to an approved run: %+v", d) // 5 × $1.15 = $5.75, and a quarter more for rest: 20/460 of it
		}
	})
}

// Whatever a writer commits around an approval is either in the approved figures or found by the next review: nothing is lost.
func TestAWriterDuringApprovalLosesNothing(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		run := f.draft(t, library, week)
		var wait sync.WaitGroup
		var approval error
		wait.Go(func() {
			approval = store.In(context.Background(), f.owner, func(tx *models.Tx) error {
				_, err := payrun.Approve(tx, library, run.ID, run.Version)
				return err
			})
		})
		for range 4 {
			wait.Go(func() { f.count(t, f.ana, 10_000) })
		}
		wait.Wait()
		paid := payroll.Cents(0)
		switch models.KindOf(approval) {
		case 0:
			if approval != nil {
				t.Fatal(approval)
			}
			paid = f.statementsOf(t, run)[0].Figures.Totals.Gross
			for _, d := range f.review(t, library) {
				paid += d.Records
			}
		case models.Stale:
			f.in(t, f.clerk, func(tx *models.Tx) (err error) {
				run, err = payrun.Redraft(tx, library, run.ID, run.Version)
				return err
			})
			paid = f.statementsOf(t, run)[0].Figures.Totals.Gross
		default:
			t.Fatal(approval)
		}
		// 200 × $1.15 + $60.20 = $290.20 in 460 minutes; 20 minutes of rest at that average are $12.6174, up to $12.62.
		if paid != 30282 {
			t.Errorf("paid and found %v", paid)
		}
	})
}

func TestAFinalRunGoesAheadOfTheWeek(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		monday := models.Day(dated.MustDate("2026-02-16"))
		final := f.draft(t, library, payrun.DraftRequest{Kind: payrun.Final, WeekStart: weekStart, Workers: []uuid.UUID{f.ana}, ThroughDate: monday, Ending: payrun.Discharge})
		if final.Payday != monday { // Cal. Lab. Code 201(a): wages earned and unpaid at discharge are due at once
			t.Errorf("final pay is due on %v", final.Payday)
		}
		f.payAll(t, f.approve(t, library, final))
		regular := f.draft(t, library, week)
		if s := f.statementsOf(t, regular); len(s) != 1 || s[0].Heading.Worker.ID != f.beto {
			t.Errorf("the rest of the week: %+v", s)
		}
		f.count(t, f.ana, 20_000) // hired again, or late: the week is reckoned whole, less what was paid
		if d := f.review(t, library); len(d) != 1 || d[0].WorkerID != f.ana || d[0].Records != 2400 {
			t.Errorf("what the final run has not paid: %+v", d)
		}
	})
}

func TestVoidAndReissue(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		run := f.approve(t, library, f.draft(t, library, week))
		ana := f.statementsOf(t, run)[0]
		void := func(reason string) error {
			return store.In(t.Context(), f.clerk, func(tx *models.Tx) error {
				_, err := payrun.Void(tx, ana.Row.ID, reason)
				return err
			})
		}
		if err := void("the name is misspelt"); err != nil {
			t.Fatal(err)
		}
		if err := void("the name is misspelt"); err != nil {
			t.Errorf("again: %v", err)
		}
		if err := void("another reason"); models.KindOf(err) != models.Conflict {
			t.Errorf("again for another reason: %v", err)
		}
		second := f.approve(t, library, f.draft(t, library, week))
		s := f.statementsOf(t, second)
		if len(s) != 1 || s[0].Heading.Worker.ID != f.ana || s[0].Row.ReissueOf == nil || *s[0].Row.ReissueOf != ana.Row.ID {
			t.Errorf("reissued: %+v", s)
		}
		if f.payAll(t, run).State != payrun.Paid {
			t.Error("a run whose other statements are paid is not paid")
		}
		if err := void("too late"); models.KindOf(err) != models.Conflict {
			t.Errorf("voided once more: %v", err)
		}
	})
}

func TestAPaymentThatFailed(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		run := f.payAll(t, f.approve(t, library, f.draft(t, library, week)))
		id := f.statementsOf(t, run)[0].Row.ID
		f.in(t, f.clerk, func(tx *models.Tx) error {
			_, _, err := payrun.TakeBackPayment(tx, id, payrun.Unpaid{ID: models.NewID(), Outcome: payrun.PaymentFailed, HappenedOn: models.Day(dated.MustDate("2026-02-22")), Reason: "account closed"})
			return err
		})
		f.in(t, f.clerk, func(tx *models.Tx) error {
			s, err := payrun.Summarize(tx, run.ID)
			if err != nil || s.State != payrun.Approved || s.Unpaid != 1 {
				t.Errorf("after the failure: %+v, %v", s, err)
			}
			return err
		})
		if run = f.payAll(t, run); run.State != payrun.Paid {
			t.Errorf("paid again: %v", run.State)
		}
		f.in(t, f.clerk, func(tx *models.Tx) error {
			events, err := payrun.PaymentEvents(tx, id)
			if len(events) != 3 || events[1].Outcome != payrun.PaymentFailed {
				t.Errorf("events %+v", events)
			}
			return err
		})
	})
}

func TestTwoRulebooksInAWeek(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		var east uuid.UUID
		f.in(t, f.clerk, func(tx *models.Tx) error {
			east = kept(t, tx, models.GardenContent{Name: "Tres Pozos East", TimeZone: "America/Phoenix", Rulebook: "us"})
			start, end := at("2026-02-17", "06:00"), at("2026-02-17", "12:00")
			_, _, err := intake.RecordTime(tx, intake.SingleTime{Workday: models.Day(dated.MustDate("2026-02-17")), GardenID: east, RecordedAt: tx.Now,
				TimeLine: intake.TimeLine{ID: models.NewID(), WorkerID: f.ana, Kind: payroll.Hourly, Start: start, End: end}})
			return err
		})
		run := f.draft(t, library, week)
		if s := f.statementsOf(t, run); len(s) != 1 || s[0].Heading.Worker.ID != f.beto {
			t.Errorf("before the confirmation: %d statements", len(s))
		}
		f.in(t, f.clerk, func(tx *models.Tx) error {
			problems, err := payrun.Problems(tx, run.ID)
			if err != nil {
				return err
			}
			i := slices.IndexFunc(problems, func(p payrun.KeptProblem) bool { return p.Code == "pay_problem.two_rulebooks" })
			if i < 0 {
				t.Fatalf("problems %+v", problems)
			}
			if problems[i].Kind != payrun.Holds || problems[i].Terms["proposed"] != "California" {
				t.Errorf("problem %+v", problems[i])
			}
			if err := payrun.DecideProblem(tx, run.ID, problems[i].No, "California, as proposed"); err != nil {
				return err
			}
			run, err = payrun.Redraft(tx, library, run.ID, run.Version)
			return err
		})
		s := f.statementsOf(t, run)
		if len(s) != 2 || s[0].Figures.Rulebook != "us-ca" {
			t.Errorf("after the confirmation: %+v", s)
		}
	})
}

func TestADisputedTallyIsPaidAndDecided(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		sheet := f.mondaySheet()
		f.submit(t, sheet)
		answer := func(worker uuid.UUID, answer models.Answer, note string) error {
			return store.In(t.Context(), f.scope, func(tx *models.Tx) error {
				_, _, err := models.AnswerTally(tx, worker, sheet.Tallies[0].ID, models.NewID(), answer, note)
				return err
			})
		}
		if err := answer(f.beto, models.Disputed, "not mine"); models.KindOf(err) != models.NotFound {
			t.Errorf("another worker's tally: %v", err)
		}
		if err := answer(f.ana, models.Disputed, ""); models.KindOf(err) != models.Invalid {
			t.Errorf("a dispute without a word: %v", err)
		}
		if err := answer(f.ana, models.Disputed, "it was 190"); err != nil {
			t.Fatal(err)
		}
		run := f.draft(t, library, week)
		if s := f.statementsOf(t, run); len(s) != 2 || s[0].Figures.Lines[0].Amount != 18400 {
			t.Errorf("paid meanwhile: %+v", s)
		}
		f.in(t, f.clerk, func(tx *models.Tx) error {
			problems, err := payrun.Problems(tx, run.ID)
			if !slices.ContainsFunc(problems, func(p payrun.KeptProblem) bool {
				return p.Kind == payrun.Decide && p.Code == "pay_problem.tally_disputed" && p.Terms["note"] == "it was 190"
			}) {
				t.Errorf("problems %+v", problems)
			}
			return err
		})
		if err := answer(f.ana, models.Confirmed, ""); err != nil {
			t.Fatal(err)
		}
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			run, err = payrun.Redraft(tx, library, run.ID, run.Version)
			if err != nil {
				return err
			}
			problems, err := payrun.Problems(tx, run.ID)
			if slices.ContainsFunc(problems, func(p payrun.KeptProblem) bool { return p.Code == "pay_problem.tally_disputed" }) {
				t.Error("a dispute that was taken back is still a problem")
			}
			return err
		})
	})
}

func TestTwoClerksAtOnce(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		drafts := make(chan error, 4)
		for range cap(drafts) {
			go func() {
				drafts <- store.In(context.Background(), f.clerk, func(tx *models.Tx) error {
					_, _, err := payrun.DraftRun(tx, library, payrun.DraftRequest{ID: models.NewID(), Kind: payrun.Regular, WeekStart: weekStart})
					return err
				})
			}()
		}
		drafted := 0
		for range cap(drafts) {
			switch err := <-drafts; {
			case err == nil:
				drafted++
			case models.KindOf(err) != models.Conflict:
				t.Error(err)
			}
		}
		if drafted != 1 {
			t.Fatalf("%d drafts of one week", drafted)
		}
		var run payrun.Run
		f.in(t, f.owner, func(tx *models.Tx) error { return tx.DB().Take(&run).Error })
		approvals := make(chan error, 4)
		for range cap(approvals) {
			go func() {
				approvals <- store.In(context.Background(), f.owner, func(tx *models.Tx) error {
					_, err := payrun.Approve(tx, library, run.ID, run.Version)
					return err
				})
			}()
		}
		approved := 0
		for range cap(approvals) {
			switch err := <-approvals; {
			case err == nil:
				approved++
			case models.KindOf(err) != models.Stale:
				t.Error(err)
			}
		}
		if approved != 1 {
			t.Errorf("approved %d times", approved)
		}
	})
}

func TestAnApprovalWithAVoidedOrFailedStatementStands(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		run := f.approve(t, library, f.draft(t, library, week))
		id := f.statementsOf(t, run)[0].Row.ID
		f.in(t, f.clerk, func(tx *models.Tx) error {
			_, err := payrun.Void(tx, id, "the name is misspelt")
			return err
		})
		err := store.In(t.Context(), f.owner, func(tx *models.Tx) error {
			var now payrun.Run
			if err := tx.DB().Where("id = ?", run.ID).Take(&now).Error; err != nil {
				return err
			}
			_, err := payrun.Withdraw(tx, run.ID, now.Version, "another look")
			return err
		})
		if models.KindOf(err) != models.Conflict {
			t.Errorf("withdrawn with a voided statement in it: %v", err)
		}
	})
}

func TestACorrectionInTheAdjustedWeekItself(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := paidWeek(t, store, library)
		f.count(t, f.ana, 20_000)
		d := f.review(t, library)
		f.in(t, f.clerk, func(tx *models.Tx) error {
			_, err := payrun.DecideAdjustment(tx, *d[0].Adjustment, 1, payrun.AdjustmentDecision{State: payrun.Accepted, Reason: "late sheet"})
			return err
		})
		run := f.draft(t, library, payrun.DraftRequest{Kind: payrun.Correction, WeekStart: weekStart})
		if s := f.statementsOf(t, run); len(s) != 1 || s[0].Figures.Totals.Gross != 2400 {
			t.Errorf("the correction pays %+v", s)
		}
	})
}

func TestWhatWasApprovedIsKept(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		f.approve(t, library, f.draft(t, library, week))
		for _, statement := range []string{
			"DELETE FROM statements WHERE employer_id = ?",
			"DELETE FROM statement_lines WHERE employer_id = ?",
			"UPDATE statements SET gross = 1 WHERE employer_id = ?",
			"UPDATE statements SET figures = '{}' WHERE employer_id = ?",
			"UPDATE statement_lines SET amount = 1 WHERE employer_id = ?",
		} {
			err := store.In(t.Context(), f.owner, func(tx *models.Tx) error { return tx.DB().Exec(statement, f.owner.Employer).Error })
			if err == nil {
				t.Errorf("an approved statement was altered: %s", statement)
			}
		}
	})
}
