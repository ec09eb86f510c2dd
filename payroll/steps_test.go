package payroll

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Each step at its limits: the day before, the day itself, and exactly at the number the law names.
func TestStepsAtTheirLimits(t *testing.T) {
	tests := []struct {
		name, week string
		want       map[Code]string
	}{
		{"the last day of the old wage", `{"rulebook": "us-ca", "week_start": "2025-12-28", "days": [{"date": "2025-12-31", "time": [{"kind": "hourly", "minutes": 60}]}]}`,
			map[Code]string{HourlyLine: "16.50"}},
		{"the first day of the new wage", `{"rulebook": "us-ca", "week_start": "2025-12-28", "days": [{"date": "2026-01-01", "time": [{"kind": "hourly", "minutes": 60}]}]}`,
			map[Code]string{HourlyLine: "16.90"}},
		{"a small employer before the sizes met", `{"employer_size": 25, "week_start": "2021-12-26", "days": [{"date": "2021-12-31", "time": [{"kind": "hourly", "minutes": 60}]}]}`,
			map[Code]string{HourlyLine: "13.00"}},
		{"a large employer on the same day", `{"employer_size": 26, "week_start": "2021-12-26", "days": [{"date": "2021-12-31", "time": [{"kind": "hourly", "minutes": 60}]}]}`,
			map[Code]string{HourlyLine: "14.00"}},
		{"pieces round half up", `{"days": [{"date": "2026-02-16", "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "1", "rate": "0.005"}]}]}`,
			map[Code]string{PieceLine: "0.01"}},
		{"pieces just below half", `{"days": [{"date": "2026-02-16", "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "1", "rate": "0.0049"}]}]}`,
			map[Code]string{PieceLine: "0.00"}},
		{"pieces that come exactly to the minimum", `{"days": [{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "169", "rate": "0.10"}]}]}`,
			map[Code]string{PieceLine: "16.90"}},
		{"pieces one cent below", `{"days": [{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "1689", "rate": "0.01"}]}]}`,
			map[Code]string{PieceLine: "16.89", MinimumMakeupLine: "0.01"}},
		{"a good day fills no bad one", `{"days": [
			{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "100", "rate": "1"}]},
			{"date": "2026-02-17", "time": [{"kind": "piece", "minutes": 60}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "10", "rate": "1"}]}]}`,
			map[Code]string{PieceLine: "110.00", MinimumMakeupLine: "6.90"}},
		{"federally it does", `{"rulebook": "us", "days": [
			{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "10", "rate": "1"}]},
			{"date": "2026-02-17", "time": [{"kind": "piece", "minutes": 60}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "4", "rate": "1"}]}]}`,
			map[Code]string{PieceLine: "14.00", MinimumMakeupLine: "0.50"}},
		{"federally bonuses count, and time that the pieces cover", `{"rulebook": "us", "days": [
			{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}, {"kind": "nonproductive", "minutes": 30}, {"kind": "rest", "minutes": 30}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "10", "rate": "1"}]}],
			"bonuses": [{"kind": "production", "amount": "4.00"}]}`,
			map[Code]string{PieceLine: "10.00", BonusLine: "4.00", MinimumMakeupLine: "0.50"}},
		{"an offer is filled by pieces and their make-up", `{"offered_rate": "20", "days": [{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "10", "rate": "1"}]}],
			"bonuses": [{"kind": "production", "amount": "9.00"}]}`,
			map[Code]string{PieceLine: "10.00", MinimumMakeupLine: "6.90", GuaranteeMakeupLine: "3.10", BonusLine: "9.00"}},
		{"the offer of the day beats that of the week, and rest counts where it is included", `{"rulebook": "us", "offered_rate": "30", "days": [{"date": "2026-02-16", "offered_rate": "20", "time": [{"kind": "piece", "minutes": 60}, {"kind": "rest", "minutes": 15}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "10", "rate": "1"}]}]}`,
			map[Code]string{PieceLine: "10.00", GuaranteeMakeupLine: "15.00"}},
		{"rest on a day without pieces takes no part in the offer", `{"rulebook": "us", "offered_rate": "20", "days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 60}, {"kind": "rest", "minutes": 15}]}]}`,
			map[Code]string{HourlyLine: "20.00"}},
		{"a week of nothing but rest, at the hourly rate", `{"hourly_rate": "20", "days": [{"date": "2026-02-16", "time": [{"kind": "rest", "minutes": 30}]}]}`,
			map[Code]string{RestRecoveryLine: "10.00"}},
		{"and without one, at the minimum wage", `{"days": [{"date": "2026-02-16", "time": [{"kind": "recovery", "minutes": 60}]}]}`,
			map[Code]string{RestRecoveryLine: "16.90"}},
		{"a meal of twenty minutes is work", `{"days": [{"date": "2026-02-16", "time": [{"kind": "meal", "minutes": 20}]}]}`,
			map[Code]string{NonproductiveLine: "5.64"}},
		{"one of twenty-one is none", `{"days": [{"date": "2026-02-16", "time": [{"kind": "meal", "minutes": 21}]}]}`,
			map[Code]string{}},
		{"eight hours are no overtime", `{"days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 480, "rate": "30"}]}]}`,
			map[Code]string{HourlyLine: "240.00"}},
		{"a minute more is", `{"days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 481, "rate": "30"}]}]}`,
			map[Code]string{HourlyLine: "240.50", OvertimePremiumLine: "0.25"}},
		{"twelve hours are no double time", `{"days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 720, "rate": "30"}]}]}`,
			map[Code]string{HourlyLine: "360.00", OvertimePremiumLine: "60.00"}},
		{"a minute more is double time", `{"days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 721, "rate": "30"}]}]}`,
			map[Code]string{HourlyLine: "360.50", OvertimePremiumLine: "60.00", DoubleTimePremiumLine: "0.50"}},
		{"the day before a stricter limit", `{"employer_size": 26, "week_start": "2021-12-26", "days": [{"date": "2021-12-31", "time": [{"kind": "hourly", "minutes": 510, "rate": "30"}]}]}`,
			map[Code]string{HourlyLine: "255.00"}},
		{"the day of it", `{"employer_size": 26, "week_start": "2021-12-26", "days": [{"date": "2022-01-01", "time": [{"kind": "hourly", "minutes": 510, "rate": "30"}]}]}`,
			map[Code]string{HourlyLine: "255.00", OvertimePremiumLine: "7.50"}},
		{"the weekly limit is the lowest of the week's days", `{"employer_size": 26, "week_start": "2021-12-26", "days": [` + strings.Join(hourlyDays("2021-12-26", 5, 504), ",") + `]}`,
			map[Code]string{HourlyLine: "1260.00", OvertimePremiumLine: "30.00"}},
		{"forty hours of farm work under federal law alone", `{"rulebook": "us", "days": [` + strings.Join(hourlyDays("2026-02-15", 6, 600), ",") + `]}`,
			map[Code]string{HourlyLine: "1800.00"}},
		{"the same in a packing house", `{"rulebook": "us", "coverage": "general", "days": [` + strings.Join(hourlyDays("2026-02-15", 6, 600), ",") + `]}`,
			map[Code]string{HourlyLine: "1800.00", OvertimePremiumLine: "300.00"}},
		{"six days of work have no seventh", `{"days": [` + strings.Join(hourlyDays("2026-02-15", 6, 60), ",") + `]}`,
			map[Code]string{HourlyLine: "180.00"}},
		{"the first eight hours of a seventh day are overtime, the ninth is double time", `{"days": [` + strings.Join(append(hourlyDays("2026-02-15", 6, 60), hourlyDays("2026-02-21", 1, 540)...), ",") + `]}`,
			map[Code]string{HourlyLine: "450.00", OvertimePremiumLine: "120.00", DoubleTimePremiumLine: "30.00"}},
		{"one premium for meals and one for rests, however many were missed", `{"days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 60, "rate": "30"}], "periods_not_provided": ["meal", "meal", "rest", "recovery"]}]}`,
			map[Code]string{HourlyLine: "30.00", MealPremiumLine: "30.00", RestPremiumLine: "30.00"}},
		{"a premium is not owed in a week without work", `{"days": [{"date": "2026-02-16", "periods_not_provided": ["meal", "rest"]}]}`,
			map[Code]string{}},
		{"minutes for each rest that was missed", `{"rulebook": "orchard", "days": [{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "30", "rate": "1"}], "periods_not_provided": ["rest", "meal", "rest"]}]}`,
			map[Code]string{PieceLine: "30.00", RestPremiumLine: "10.00"}},
		{"an average over piece hours leaves other time out", `{"rulebook": "orchard", "days": [{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}, {"kind": "hourly", "minutes": 60, "rate": "18"}, {"kind": "rest", "minutes": 10}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "30", "rate": "1"}]}]}`,
			map[Code]string{PieceLine: "30.00", HourlyLine: "18.00", RestRecoveryLine: "5.00"}},
		{"reporting from five workers on", `{"employer_size": 5, "hourly_rate": "20", "days": [{"date": "2026-02-16", "reports": [{"scheduled_minutes": 480, "ended_by": "employer"}]}]}`,
			map[Code]string{ReportingTimeLine: "80.00"}},
		{"not with four", `{"employer_size": 4, "hourly_rate": "20", "days": [{"date": "2026-02-16", "reports": [{"scheduled_minutes": 480, "ended_by": "employer"}]}]}`,
			map[Code]string{}},
		{"exactly half of the schedule owes nothing", `{"hourly_rate": "20", "days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 240}], "reports": [{"scheduled_minutes": 480, "ended_by": "employer"}]}]}`,
			map[Code]string{HourlyLine: "80.00"}},
		{"a minute less does", `{"hourly_rate": "20", "days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 239}], "reports": [{"scheduled_minutes": 480, "ended_by": "employer"}]}]}`,
			map[Code]string{HourlyLine: "79.67", ReportingTimeLine: "0.34"}},
		{"a later report is owed two hours, and the first is the first whoever ended it", `{"days": [{"date": "2026-02-16", "reports": [
			{"scheduled_minutes": 480, "worked_minutes": 0, "ended_by": "worker"}, {"scheduled_minutes": 480, "worked_minutes": 60, "ended_by": "employer"}]}]}`,
			map[Code]string{ReportingTimeLine: "16.90"}},
		{"what nobody could help owes nothing", `{"days": [{"date": "2026-02-16", "reports": [{"scheduled_minutes": 480, "ended_by": "beyond_control"}]}]}`,
			map[Code]string{}},
		{"sick pay at its rate, raised to the minimum wage", `{"sick_rate": "10", "days": [{"date": "2026-02-16", "sick_minutes": 60}]}`,
			map[Code]string{SickLine: "16.90"}},
		{"sick pay at the regular rate", `{"days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 60, "rate": "21"}]}, {"date": "2026-02-17", "sick_minutes": 60}]}`,
			map[Code]string{HourlyLine: "21.00", SickLine: "21.00"}},
		{"leave as agreed, below the minimum wage if so", `{"leave_rate": "10", "days": [{"date": "2026-02-16", "leave_minutes": 61}]}`,
			map[Code]string{LeaveLine: "10.17"}},
		{"an adjustment takes back, and stays out of the rates", `{"days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 540, "rate": "30"}]}], "adjustments": [{"for_week": "2026-02-08", "amount": "-5.00", "reason": "recount", "authority": "agreed"}]}`,
			map[Code]string{HourlyLine: "270.00", OvertimePremiumLine: "15.00", AdjustmentLine: "-5.00"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if diff := cmp.Diff(test.want, amounts(reckon(t, week(t, test.week)))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// hourlyDays are so many days of hourly work at 30 an hour.
func hourlyDays(start string, n, minutes int) []string {
	w := make([]string, n)
	for i := range w {
		w[i] = `{"date": "` + mustAdd(start, i) + `", "time": [{"kind": "hourly", "minutes": ` + itoa(minutes) + `, "rate": "30"}]}`
	}
	return w
}

func TestLinesStandInOrderAndListTheirDays(t *testing.T) {
	s := reckon(t, week(t, `{"days": [
		{"date": "2026-02-17", "time": [{"kind": "piece", "minutes": 60}, {"kind": "hourly", "minutes": 5, "rate": "19"}], "tallies": [
			{"operation": "tying", "unit": "bunch", "pieces": "21", "rate": "2"},
			{"operation": "bagging", "unit": "palm", "pieces": "1", "rate": "9"},
			{"operation": "bagging", "unit": "bunch", "pieces": "1", "rate": "9"},
			{"operation": "bagging", "unit": "bunch", "pieces": "1", "rate": "8"}]},
		{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}, {"kind": "hourly", "minutes": 5, "rate": "18"}], "tallies": [
			{"operation": "bagging", "unit": "bunch", "pieces": "100", "rate": "1", "part": {"heads": 3}},
			{"operation": "tying", "unit": "bunch", "pieces": "13", "rate": "2"}]}]}`))
	var got []string
	for _, l := range s.Lines {
		text := string(l.Code) + " " + l.Operation + " " + l.Quantity + " " + l.Unit + " " + written(l.Rate) + " " + l.Amount.String()
		for _, d := range l.Days {
			text += " " + d.Date.String()[8:] + ":" + d.Quantity
		}
		got = append(got, text)
	}
	want := []string{
		"piece bagging 1 bunch 8.0000 8.00 17:1",
		"piece bagging 1 bunch 9.0000 9.00 17:1",
		"piece bagging 1 palm 9.0000 9.00 17:1",
		"piece tying 34 bunch 2.0000 68.00 16:13 17:21",
		"shared_piece bagging 33.3333 bunch 1.0000 33.33 16:33.3333",
		"hourly  5 minute 18.0000 1.50 16:5",
		"hourly  5 minute 19.0000 1.59 17:5",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if exact := s.Lines[4].Basis.Terms["exact"]; exact != "100/3" {
		t.Errorf("the exact part is %v, want 100/3", exact)
	}
}

// A week that holds the first of January has two minimum wages.
func TestAWeekOfTwoMinimumWages(t *testing.T) {
	s := reckon(t, week(t, `{"week_start": "2025-12-28", "days": [
		{"date": "2026-01-01", "time": [{"kind": "hourly", "minutes": 60}]}, {"date": "2025-12-31", "time": [{"kind": "hourly", "minutes": 60}]}]}`))
	if got := len(s.Rates.MinimumWage); got != 2 || s.Rates.MinimumWage[0].Rate != 165_000 || s.Rates.MinimumWage[1].Rate != 169_000 {
		t.Errorf("minimum wages %v", s.Rates.MinimumWage)
	}
	if got := amounts(s)[HourlyLine]; got != "33.40" || len(s.Lines) != 2 {
		t.Errorf("hourly pay %s in %d lines", got, len(s.Lines))
	}
}

func TestNotes(t *testing.T) {
	hour := `"time": [{"kind": "hourly", "minutes": 60, "rate": "20"}]`
	tests := []struct {
		name, days string
		want       []string
	}{
		{"a rate below the minimum", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 60, "rate": "16.89"}]}`, []string{"below_minimum"}},
		{"a rate at the minimum", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 60, "rate": "16.90"}]}`, nil},
		{"make-up", `{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "1", "rate": "1"}]}`, []string{"makeup_due"}},
		{"no pieces", `{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 60}]}`, []string{"no_pieces", "makeup_due"}},
		{"no time", `{"date": "2026-02-16", "time": [{"kind": "nonproductive", "minutes": 60}], "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "1", "rate": "1"}]}`, []string{"no_time"}},
		{"hourly time is time for a tally", `{"date": "2026-02-16", ` + hour + `, "tallies": [{"operation": "tying", "unit": "bunch", "pieces": "1", "rate": "1"}]}`, nil},
		{"3:29 h have no rest period", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 209}]}`, nil},
		{"3:30 h have one", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 210}]}`, []string{"rest_short"}},
		{"one recorded", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 200}, {"kind": "rest", "minutes": 10}]}`, nil},
		{"a recovery period is no rest period", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 200}, {"kind": "recovery", "minutes": 10}]}`, []string{"rest_short"}},
		{"one missed and said so", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 210}], "periods_not_provided": ["rest"]}`, nil},
		{"five hours need no meal", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 290}, {"kind": "rest", "minutes": 10}]}`, nil},
		{"a minute more does", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 291}, {"kind": "rest", "minutes": 10}]}`, []string{"meal_due"}},
		{"a meal of the length", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 291}, {"kind": "rest", "minutes": 10}, {"kind": "meal", "minutes": 30}]}`, nil},
		{"a meal on duty", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 291}, {"kind": "rest", "minutes": 10}, {"kind": "meal_on_duty", "minutes": 30}]}`, nil},
		{"a short meal", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 291}, {"kind": "rest", "minutes": 10}, {"kind": "meal", "minutes": 29}]}`, []string{"meal_due", "meal_short"}},
		{"a meal not provided", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 291}, {"kind": "rest", "minutes": 10}], "periods_not_provided": ["meal"]}`, nil},
		{"a meal waived in a day of six hours", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 350}, {"kind": "rest", "minutes": 10}], "meals_waived": ["first"]}`, nil},
		{"a longer day cannot waive it", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 341}, {"kind": "rest", "minutes": 20}], "meals_waived": ["first"]}`, []string{"meal_due"}},
		{"over ten hours need two", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 571}, {"kind": "rest", "minutes": 30}, {"kind": "meal", "minutes": 30}]}`, []string{"second_meal_due"}},
		{"the second waived", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 571}, {"kind": "rest", "minutes": 30}, {"kind": "meal", "minutes": 30}], "meals_waived": ["second"]}`, nil},
		{"the second cannot be waived with the first", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 571}, {"kind": "rest", "minutes": 30}, {"kind": "meal", "minutes": 30}], "meals_waived": ["first", "second"]}`, []string{"second_meal_due"}},
		{"nor past twelve hours", `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 691}, {"kind": "rest", "minutes": 30}, {"kind": "meal", "minutes": 30}], "meals_waived": ["second"]}`, []string{"second_meal_due"}},
		{"a meal that began in time", `{"date": "2026-02-16", "time": [{"kind": "rest", "minutes": 10}, {"kind": "hourly", "start": "2026-02-16T06:00:00-08:00", "end": "2026-02-16T11:00:00-08:00"},
			{"kind": "meal", "start": "2026-02-16T11:00:00-08:00", "end": "2026-02-16T11:30:00-08:00"}]}`, nil},
		{"a meal that began a minute late", `{"date": "2026-02-16", "time": [{"kind": "rest", "minutes": 10}, {"kind": "hourly", "start": "2026-02-16T06:00:00-08:00", "end": "2026-02-16T11:01:00-08:00"},
			{"kind": "meal", "start": "2026-02-16T11:01:00-08:00", "end": "2026-02-16T11:31:00-08:00"}]}`, []string{"meal_late"}},
		{"seven days of work", strings.Join(hourlyDays("2026-02-15", 7, 60), ","), []string{"day_of_rest"}},
	}
	seen := map[string]bool{}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			s := reckon(t, week(t, `{"days": [`+test.days+`]}`))
			if diff := cmp.Diff(test.want, raised(s)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			for _, n := range s.Notes {
				seen[n.Code] = true
				if n.Authority == "" && n.Code != "day_of_rest" {
					t.Errorf("note %s rests on nothing", n.Code)
				}
			}
		})
	}
	for _, code := range keysWritten(t, "raise") {
		if !seen[code] {
			t.Errorf("no test reaches the note %s", code)
		}
	}
}
