package payrun_test

import (
	"testing"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// By hand, after 20 CFR 655.122(i): five workdays of eight hours guarantee thirty; sixteen were worked and eight refused, so six hours at 20.00 are owed. With a
// holiday among the five, twenty-four are guaranteed, and nothing is owed.
func TestAContractGuaranteesThreeQuarters(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		contract := models.NewID()
		day := func(on string, kind models.ContractDayKind, minutes payroll.Minutes) {
			f.in(t, f.clerk, func(tx *models.Tx) error {
				_, _, err := models.Record(tx, models.NewID(), models.ContractDayContent{ContractID: contract, Workday: date(on), Kind: kind, OfferedMinutes: minutes}, models.Recording{RecordedAt: tx.Now})
				return err
			})
		}
		f.in(t, f.clerk, func(tx *models.Tx) error {
			_, _, err := models.Create(tx, contract, models.ContractContent{WorkerID: f.ana, JobOrder: "date harvest 7", FirstDay: date("2026-02-16"), LastDay: date("2026-02-20"), Workdays: "12345",
				DayMinutes: 480, OfferedRate: 200_000, RateSource: "the job order"})
			return err
		})
		f.hours(t, f.ana, "2026-02-16", 480)
		f.hours(t, f.ana, "2026-02-17", 480)
		day("2026-02-18", models.OfferedDay, 480)
		run := f.draft(t, library, payrun.DraftRequest{Kind: payrun.Regular, WeekStart: weekStart})
		s := f.statementsOf(t, run)[0]
		got := map[payroll.Code]payroll.Line{}
		for _, l := range s.Figures.Lines {
			got[l.Code] = l
		}
		if h := got[payroll.HourlyLine]; h.Amount != 320_00 { // 16 h at 20.00, where 17.50 is usual
			t.Errorf("hours %+v", h)
		}
		if a := got[payroll.AdjustmentLine]; a.Amount != 120_00 || a.Basis.Key != "basis.hours_guarantee" || a.Basis.Terms["short"] != payroll.Minutes(360) || a.Authority != "20 CFR 655.122(i)" {
			t.Errorf("guarantee %+v", a)
		}
		if s.Heading.HoursOffered == nil || *s.Heading.HoursOffered != 1_440 {
			t.Errorf("hours offered: %v", s.Heading.HoursOffered)
		}
		for _, test := range []struct {
			on                             string
			guaranteed, counted, shortfall payroll.Minutes
			over                           bool
		}{
			{"2026-02-15", 0, 0, 0, false}, {"2026-02-16", 360, 480, 0, false}, {"2026-02-19", 1_440, 1_440, 0, false}, {"2026-02-20", 1_800, 1_440, 360, true}, {"2026-03-20", 1_800, 1_440, 360, true},
		} {
			f.in(t, f.clerk, func(tx *models.Tx) error {
				c, err := payrun.StandingOfContract(tx, library, contract, dated.MustDate(test.on))
				if err == nil && (c.Guaranteed != test.guaranteed || c.Counted != test.counted || c.Shortfall != test.shortfall || c.Over != test.over) {
					t.Errorf("on %s: %+v", test.on, c)
				}
				return err
			})
		}
		day("2026-02-19", models.HolidayDay, 0)
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			run, err = payrun.Redraft(tx, library, run.ID, run.Version)
			return err
		})
		for _, l := range f.statementsOf(t, run)[0].Figures.Lines {
			if l.Code == payroll.AdjustmentLine {
				t.Errorf("with a holiday: %+v", l)
			}
		}
		f.approve(t, library, run)
		if found := f.review(t, library); len(found) != 0 {
			t.Errorf("the review of a contract's week finds %+v", found)
		}
	})
}

// A contract is settled after its last week by a statement of its own, even if nothing was worked in that week, and at the average that pieces earned where that is higher.
func TestAContractIsSettledLater(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		f.in(t, f.clerk, func(tx *models.Tx) error {
			_, _, err := models.Create(tx, models.NewID(), models.ContractContent{WorkerID: f.ana, JobOrder: "date harvest 7", FirstDay: date("2026-02-16"), LastDay: date("2026-02-17"), Workdays: "12345",
				DayMinutes: 480, OfferedRate: 200_000, RateSource: "the job order", SettleWeek: date("2026-02-22")})
			return err
		})
		later := payrun.DraftRequest{Kind: payrun.Regular, WeekStart: date("2026-02-22")}
		run := f.draft(t, library, later)
		if n := len(f.statementsOf(t, run)); n != 0 {
			t.Errorf("%d statements while the contract's week is not paid", n)
		}
		f.approve(t, library, f.draft(t, library, payrun.DraftRequest{Kind: payrun.Regular, WeekStart: weekStart}))
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			run, err = payrun.Redraft(tx, library, run.ID, run.Version)
			return err
		})
		// 12 h are guaranteed and 8 count; 244.20 in 460 piece minutes are 31.8522 an hour: 4 × 31.8522 = 127.41.
		if s := f.statementsOf(t, run); len(s) != 1 || s[0].Figures.Totals.Gross != 127_41 || len(s[0].Figures.Lines) != 1 {
			t.Errorf("the statement that settles: %+v", s)
		}
	})
}
