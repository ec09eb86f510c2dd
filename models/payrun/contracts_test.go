package payrun_test

import (
	"os"
	"testing"
	"time"

	"go.yaml.in/yaml/v3"

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

// The three-fourths guarantees that the Department of Labor printed (WHD Fact Sheet 26E) come out of the records too. Ten weeks of six eight-hour days: two days are
// worked and forty offered and refused, which count 336 hours. Of 360 hours 24 are short; with a holiday, of 354, 18.
func TestPublishedGuaranteesFromRecordToStatement(t *testing.T) {
	text, err := os.ReadFile("../../testdata/wages/cases.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		ID, Via  string
		Contract struct {
			Workdays, Hours int
			Holiday         int `yaml:"holiday_hours"`
			Guaranteed      int `yaml:"guaranteed_hours"`
		}
	}
	if err := yaml.Unmarshal(text, &cases); err != nil {
		t.Fatal(err)
	}
	short := map[string]payroll.Minutes{"FED-31": 24 * 60, "FED-32": 18 * 60}
	library := books(t)
	for _, c := range cases {
		if c.Via != "guarantee" {
			continue
		}
		want, known := short[c.ID]
		if !known {
			t.Errorf("nobody reckoned %s by hand", c.ID)
			continue
		}
		delete(short, c.ID)
		hours := payroll.Minutes(c.Contract.Hours * 60)
		t.Run(c.ID, func(t *testing.T) {
			databases.Each(t, now, func(t *testing.T, store *models.Store) {
				f := newFarm(t, store)
				f.employed(t, f.ana, "2025-12-01", "")
				contract, first := models.NewID(), dated.MustDate("2025-12-15") // a Monday
				f.in(t, f.clerk, func(tx *models.Tx) error {
					_, _, err := models.Create(tx, contract, models.ContractContent{WorkerID: f.ana, JobOrder: c.ID, FirstDay: models.Day(first), LastDay: date("2026-02-21"), Workdays: "123456",
						DayMinutes: hours, OfferedRate: 200_000, RateSource: "the job order"})
					if err != nil {
						return err
					}
					for day, offered := first, 0; offered < 40; day = day.AddDays(1) {
						d := models.ContractDayContent{ContractID: contract, Workday: models.Day(day), Kind: models.OfferedDay, OfferedMinutes: hours}
						switch {
						case day.Weekday() == time.Sunday:
							continue
						case day.String() == "2025-12-25" && c.Contract.Holiday == 0:
							continue
						case day.String() == "2025-12-25":
							d.Kind, d.OfferedMinutes = models.HolidayDay, 0
						default:
							offered++
						}
						if _, _, err := models.RecordContractDay(tx, models.NewID(), d, models.Recording{RecordedAt: tx.Now}); err != nil {
							return err
						}
					}
					return nil
				})
				f.hours(t, f.ana, "2026-02-16", hours)
				f.hours(t, f.ana, "2026-02-17", hours)
				run := f.payAll(t, f.approve(t, library, f.draft(t, library, payrun.DraftRequest{Kind: payrun.Regular, WeekStart: weekStart})))
				if run.State != payrun.Paid {
					t.Errorf("the run is %s", run.State)
				}
				f.in(t, f.clerk, func(tx *models.Tx) error {
					s, err := payrun.StandingOfContract(tx, library, contract, weekStart.AddDays(6))
					if err == nil && (s.Workdays != c.Contract.Workdays || int(s.Holiday) != c.Contract.Holiday*60 || int(s.Guaranteed) != c.Contract.Guaranteed*60 || s.Counted != 336*60 || s.Shortfall != want) {
						t.Errorf("the contract stands at %+v", s)
					}
					return err
				})
				// 16 h at 20.00, and what is short at 20.00 an hour. The breaks that nobody recorded are owed besides.
				owed, found := payroll.Cents(want/60*20_00), map[payroll.Code]payroll.Cents{}
				for _, l := range f.statementsOf(t, run)[0].Figures.Lines {
					found[l.Code] += l.Amount
					if l.Code == payroll.AdjustmentLine && (l.Basis.Terms["guaranteed"] != payroll.Minutes(c.Contract.Guaranteed*60) || l.Basis.Terms["short"] != want || l.Authority != "20 CFR 655.122(i)") {
						t.Errorf("guarantee %+v", l)
					}
				}
				if found[payroll.HourlyLine] != 320_00 || found[payroll.AdjustmentLine] != owed {
					t.Errorf("the statement pays %v, of which %d is what was short", found, owed)
				}
			})
		})
	}
	if len(short) > 0 {
		t.Errorf("the published examples %v are gone", short)
	}
}
