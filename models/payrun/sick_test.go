package payrun_test

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

func date(s string) models.Date { return models.Day(dated.MustDate(s)) }

// hours records time by the hour without clock times.
func (f *farm) hours(t testing.TB, worker uuid.UUID, day string, minutes payroll.Minutes) {
	t.Helper()
	f.in(t, f.clerk, func(tx *models.Tx) error {
		_, _, err := intake.RecordTime(tx, intake.SingleTime{Workday: date(day), GardenID: f.garden, RecordedAt: tx.Now,
			TimeLine: intake.TimeLine{ID: models.NewID(), WorkerID: worker, Kind: payroll.Hourly, Minutes: &minutes}})
		return err
	})
}

// employed sets a worker's dates.
func (f *farm) employed(t testing.TB, worker uuid.UUID, from, through string) {
	t.Helper()
	f.in(t, f.clerk, func(tx *models.Tx) error {
		w, err := models.Get[models.WorkerContent](tx, worker)
		if err != nil {
			return err
		}
		c := w.Content
		if c.StartedOn, c.EndedOn = date(from), (models.Date{}); through != "" {
			c.EndedOn = date(through)
		}
		_, err = models.Update(tx, worker, w.Version, c)
		return err
	})
}

func (f *farm) rate(t testing.TB, worker uuid.UUID, from string, rate payroll.Rate) {
	t.Helper()
	f.in(t, f.clerk, func(tx *models.Tx) error {
		record(t, tx, models.HourlyRateContent{WorkerID: &worker, Rate: rate, EffectiveOn: date(from)})
		return nil
	})
}

func (f *farm) enter(t testing.TB, worker uuid.UUID, kind payrun.SickEntryKind, day string, minutes payroll.Minutes) {
	t.Helper()
	f.in(t, f.clerk, func(tx *models.Tx) error {
		_, _, err := payrun.EnterSick(tx, worker, payrun.SickEntryRequest{ID: models.NewID(), Kind: kind, OnDate: date(day), Minutes: minutes, Reason: "by hand"})
		return err
	})
}

// use records sick leave taken, in place of another where one is named, and returns its identifier and the key of the fault with which it was refused.
func (f *farm) use(t testing.TB, books *rulebook.Library, worker uuid.UUID, day string, minutes payroll.Minutes, instead *uuid.UUID) (uuid.UUID, string) {
	t.Helper()
	id := models.NewID()
	how := models.Recording{Supersedes: instead}
	if instead != nil {
		how.Reason = "told otherwise"
	}
	err := f.store.In(t.Context(), f.clerk, func(tx *models.Tx) error {
		how.RecordedAt = tx.Now
		_, _, err := payrun.RecordSickUse(tx, books, id, models.SickUseContent{WorkerID: worker, Workday: date(day), GardenID: f.garden, Minutes: minutes}, how)
		return err
	})
	var e *models.Error
	if errors.As(err, &e) && len(e.Faults) == 1 {
		return id, e.Faults[0].Key
	}
	if err != nil {
		t.Fatal(err)
	}
	return id, ""
}

// balances are the balances of a worker's ledger, entry by entry.
func (f *farm) balances(t testing.TB, worker uuid.UUID) (all []payroll.Seconds) {
	t.Helper()
	f.in(t, f.clerk, func(tx *models.Tx) error {
		entries, err := payrun.SickEntries(tx, worker, models.Page{Limit: 100})
		for i, e := range entries {
			if e.EntryNo != int64(i+1) {
				t.Errorf("entry %d has the number %d", i+1, e.EntryNo)
			}
			all = append(all, e.ChangedTo)
		}
		return err
	})
	return all
}

func (f *farm) sickAccount(t testing.TB, books *rulebook.Library, worker uuid.UUID, on string) (a *payrun.SickAccount) {
	t.Helper()
	f.in(t, f.clerk, func(tx *models.Tx) (err error) {
		a, err = payrun.SickAccountOf(tx, books, worker, dated.MustDate(on))
		return err
	})
	return a
}

// By hand: ten hours are brought in; 1,080 minutes at two seconds a minute are 2,160 s; four hours used leave 23,760 s; 480 minutes make 960 s more. The week before was
// paid 24.00 an hour, so the absence is, although this week's rate is 18.00 (Cal. Lab. Code 246(l)(2)).
func TestSickLeaveIsEarnedUsedAndPaid(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.employed(t, f.ana, "2025-06-01", "")
		f.rate(t, f.ana, "2026-02-08", 240_000)
		f.rate(t, f.ana, "2026-02-15", 180_000)
		f.enter(t, f.ana, payrun.SickOpening, "2026-02-01", 600)
		f.hours(t, f.ana, "2026-02-09", 480)
		f.hours(t, f.ana, "2026-02-10", 600)
		before := payrun.DraftRequest{Kind: payrun.Regular, WeekStart: date("2026-02-08")}
		f.approve(t, library, f.draft(t, library, before))
		if _, refused := f.use(t, library, f.ana, "2026-02-17", 240, nil); refused != "" {
			t.Fatal(refused)
		}
		f.hours(t, f.ana, "2026-02-16", 480)
		run := f.draft(t, library, payrun.DraftRequest{Kind: payrun.Regular, WeekStart: weekStart})
		s := f.statementsOf(t, run)[0]
		var sick payroll.Line
		for _, l := range s.Figures.Lines {
			if l.Code == payroll.SickLine {
				sick = l
			}
		}
		if sick.Amount != 96_00 || sick.Basis.Key != "basis.sick_average" || sick.Basis.Terms["pay"] != payroll.Cents(432_00) || sick.Basis.Terms["hours"] != payroll.Minutes(1080) {
			t.Errorf("sick pay %+v", sick)
		}
		want := &payrun.SickLeave{EarnedSeconds: 960, BalanceSeconds: 24_720, Balance: 412, Used: 240, Paid: 96_00, UsedThisYear: 240, Usable: 412, UsableFrom: date("2025-08-29")}
		if diff := cmp.Diff(want, s.Heading.SickLeave, cmp.Comparer(func(a, b models.Date) bool { return a == b })); diff != "" {
			t.Errorf("the statement tells (-want +got):\n%s", diff)
		}
		run = f.approve(t, library, run)
		f.in(t, f.owner, func(tx *models.Tx) (err error) {
			run, err = payrun.Withdraw(tx, run.ID, run.Version, "one more look")
			return err
		})
		run = f.approve(t, library, run)
		if found := f.review(t, library); len(found) != 0 {
			t.Errorf("the review of a week with sick leave finds %+v", found)
		}
		f.in(t, f.owner, func(tx *models.Tx) error {
			_, err := payrun.Void(tx, s.Row.ID, "misspelt")
			return err
		})
		again := f.draft(t, library, payrun.DraftRequest{Kind: payrun.Regular, WeekStart: weekStart})
		if diff := cmp.Diff(want, f.statementsOf(t, again)[0].Heading.SickLeave, cmp.Comparer(func(a, b models.Date) bool { return a == b })); diff != "" {
			t.Errorf("the statement made anew tells (-want +got):\n%s", diff)
		}
		f.approve(t, library, again)
		// brought in, earned, used; approved, withdrawn, approved, void, approved
		if diff := cmp.Diff([]payroll.Seconds{36_000, 38_160, 23_760, 24_720, 23_760, 24_720, 23_760, 24_720}, f.balances(t, f.ana)); diff != "" {
			t.Errorf("the ledger (-want +got):\n%s", diff)
		}
	})
}

// A week without other work is paid for its sick leave, and an entry after the draft is noticed.
func TestAWeekOfSickLeaveAlone(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.employed(t, f.ana, "2025-06-01", "")
		f.enter(t, f.ana, payrun.SickOpening, "2026-02-01", 600)
		id, _ := f.use(t, library, f.ana, "2026-02-17", 480, nil)
		run := f.draft(t, library, payrun.DraftRequest{Kind: payrun.Regular, WeekStart: weekStart})
		if s := f.statementsOf(t, run); len(s) != 1 || s[0].Figures.Totals.Gross != 140_00 { // 8 h × 17.50, with no week to average
			t.Errorf("%d statements, %+v", len(s), s[0].Figures)
		}
		f.use(t, library, f.ana, "2026-02-17", 240, &id)
		err := store.In(t.Context(), f.owner, func(tx *models.Tx) error {
			_, err := payrun.Approve(tx, library, run.ID, run.Version)
			return err
		})
		if models.KindOf(err) != models.Stale {
			t.Errorf("a use corrected after the draft went unnoticed: %v", err)
		}
		if diff := cmp.Diff([]payroll.Seconds{36_000, 7_200, 36_000, 21_600}, f.balances(t, f.ana)); diff != "" {
			t.Errorf("the ledger (-want +got):\n%s", diff)
		}
	})
}

// The edges of use: the ninetieth day of employment, the balance to the minute, forty hours or five days a year, and after the end.
func TestSickLeaveMayBeUsed(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.enter(t, f.ana, payrun.SickOpening, "2026-02-01", 3_000)
		for _, test := range []struct {
			day     string
			minutes payroll.Minutes
			want    string
		}{
			{"2026-04-30", 60, "fault.sick_waiting"}, // hired on 1 February: the 89th day
			{"2026-05-01", 1_440, ""},
			{"2026-05-02", 961, "fault.sick_year"}, // of 40 h, 24 are used
			{"2026-05-02", 960, ""},
			{"2026-05-03", 1, "fault.sick_year"},
			{"2027-02-01", 601, "fault.sick_balance"},
			{"2027-02-01", 600, ""}, // a new year of use
			{"2027-02-02", 1, "fault.sick_balance"},
			{"2026-05-04", 0, "fault.not_positive"},
		} {
			if _, got := f.use(t, library, f.ana, test.day, test.minutes, nil); got != test.want {
				t.Errorf("%d minutes on %s: %q, want %q", test.minutes, test.day, got, test.want)
			}
		}
		f.employed(t, f.ana, "2026-02-01", "2026-06-30")
		if _, got := f.use(t, library, f.ana, "2026-07-01", 1, nil); got != "fault.sick_not_employed" {
			t.Errorf("after the end: %q", got)
		}
		id, _ := f.use(t, library, f.beto, "2026-02-17", 0, nil)
		if _, got := f.use(t, library, f.beto, "2026-02-17", 0, &id); got != "fault.unknown_reference" {
			t.Errorf("in place of what was refused: %q", got)
		}
	})
}

// What was used before an opening balance counts toward the cap of its year of use, and of no other.
func TestAnOpeningTellsWhatWasUsed(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.employed(t, f.ana, "2025-04-01", "")
		f.in(t, f.clerk, func(tx *models.Tx) error {
			_, _, err := payrun.EnterSick(tx, f.ana, payrun.SickEntryRequest{ID: models.NewID(), Kind: payrun.SickOpening, OnDate: date("2026-02-01"), Minutes: 1_200, Used: 2_100, Reason: "the paper ledger"})
			return err
		})
		for _, test := range []struct {
			on           string
			used, usable payroll.Minutes
		}{
			{"2026-02-01", 2_100, 300}, // of 40 h, 35 are used
			{"2026-03-31", 2_100, 300},
			{"2026-04-01", 0, 1_200},
		} {
			if a := f.sickAccount(t, library, f.ana, test.on); a.UsedThisYear != test.used || a.Usable != test.usable {
				t.Errorf("on %s: %d minutes used, %d usable", test.on, a.UsedThisYear, a.Usable)
			}
		}
		if _, got := f.use(t, library, f.ana, "2026-02-17", 301, nil); got != "fault.sick_year" {
			t.Errorf("more than the year allows: %q", got)
		}
		if _, got := f.use(t, library, f.ana, "2026-02-17", 300, nil); got != "" {
			t.Errorf("what the year allows: %q", got)
		}
		f.hours(t, f.ana, "2026-02-16", 480)
		run := f.draft(t, library, payrun.DraftRequest{Kind: payrun.Regular, WeekStart: weekStart})
		if s := f.statementsOf(t, run)[0].Heading.SickLeave; s.UsedThisYear != 2_400 || s.Usable != 0 {
			t.Errorf("the statement tells %+v", s)
		}
	})
}

// California takes a bank up again within a year of the end, and not a day later; the days that were waited count.
func TestSickLeaveComesBackOnRehire(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		for _, worker := range []uuid.UUID{f.ana, f.beto} {
			f.enter(t, worker, payrun.SickOpening, "2026-02-01", 600)
			f.hours(t, worker, "2026-02-10", 480)
		}
		f.approve(t, library, f.draft(t, library, payrun.DraftRequest{Kind: payrun.Regular, WeekStart: date("2026-02-08")}))
		for _, test := range []struct {
			worker     uuid.UUID
			back       string
			balance    payroll.Minutes
			usableFrom string
		}{
			{f.ana, "2027-02-14", 616, "2027-04-30"}, // 14 days were served: the 76th day is the 90th
			{f.beto, "2027-02-15", 0, "2027-05-15"},
		} {
			f.employed(t, test.worker, "2026-02-01", "2026-02-14")
			f.employed(t, test.worker, test.back, "")
			a := f.sickAccount(t, library, test.worker, "2027-02-20")
			if a.Balance != test.balance || a.UsableFrom.String() != test.usableFrom {
				t.Errorf("back on %s: %d minutes, usable from %s", test.back, a.Balance, a.UsableFrom)
			}
		}
	})
}
