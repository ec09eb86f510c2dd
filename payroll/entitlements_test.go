package payroll

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"palmero/payroll/dated"
)

// clockedDay is a day of hourly work from six, with a meal, in the manner of the sheet "06:00-11:00 hourly, ...".
func clockedDay(entries ...string) string {
	const date = "2026-02-16"
	var all []string
	for _, e := range entries {
		span, kind, _ := strings.Cut(e, " ")
		start, end, _ := strings.Cut(span, "-")
		all = append(all, `{"kind": "`+kind+`", "start": "`+date+`T`+start+`:00-08:00", "end": "`+date+`T`+end+`:00-08:00"}`)
	}
	return `{"date": "` + date + `", "time": [` + strings.Join(all, ", ") + `]`
}

func owedOn(t *testing.T, day string, heat ...dated.Date) DayOwed {
	t.Helper()
	owed, faults := Entitlements(books(), week(t, `{"hourly_rate": "20.00", "days": [`+day+`}]}`), heat)
	if len(faults) > 0 || len(owed) != 1 {
		t.Fatalf("%v, %v", owed, faults)
	}
	return owed[0]
}

// Labor Code 512(a) and Donohue: a meal begins by the end of the fifth hour of work, a second by that of the tenth.
func TestMealsFromClockTimes(t *testing.T) {
	tests := []struct {
		name, day string
		want      []string // which, by when, minutes recorded, what is wrong with it
		decisions []string // a premium of 20.01 is one at a rate that rounding up lifted above 20.00
	}{
		{"in time", clockedDay("06:00-11:00 hourly", "11:00-11:30 meal", "11:30-14:00 hourly"), []string{"first 11:00 30"}, []string{"rest rest_short 20.00"}},
		{"a minute late", clockedDay("06:00-11:01 hourly", "11:01-11:31 meal", "11:31-14:00 hourly"), []string{"first 11:00 30 late"}, []string{"meal meal_late 20.00", "rest rest_short 20.00"}},
		{"a minute short", clockedDay("06:00-11:00 hourly", "11:00-11:29 meal", "11:29-14:00 hourly"), []string{"first 11:00 29 short"}, []string{"meal meal_due,meal_short 20.01", "rest rest_short 20.01"}},
		{"rests are time worked", clockedDay("06:00-08:00 hourly", "08:00-08:10 rest", "08:10-11:00 hourly", "11:00-11:30 meal", "11:30-12:30 hourly", "12:30-12:40 rest", "12:40-14:00 hourly"), []string{"first 11:00 30"}, nil},
		{"a gap is no work", clockedDay("06:00-08:00 hourly", "09:00-12:00 hourly", "12:00-12:30 meal", "12:30-14:00 hourly"), []string{"first 12:00 30"}, []string{"rest rest_short 20.00"}},
		{"none in five hours", clockedDay("06:00-11:00 hourly"), nil, []string{"rest rest_short 20.00"}},
		{"waived in six", clockedDay("06:00-12:00 hourly") + `, "meals_waived": ["first"]`, []string{"first 11:00 none waived"}, []string{"rest rest_short 20.00"}},
		{"two over ten", clockedDay("06:00-10:00 hourly", "10:00-10:30 meal", "10:30-16:31 hourly"), []string{"first 11:30 30", "second 16:30 none"}, []string{"meal second_meal_due 20.01", "rest rest_short 20.01"}},
		{"decided already", clockedDay("06:00-11:01 hourly", "11:01-11:31 meal", "11:31-14:00 hourly") + `, "periods_not_provided": ["meal", "rest"]`, []string{"first 11:00 30 late"}, nil},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			o := owedOn(t, test.day)
			var meals, decided []string
			for _, m := range o.Meals {
				meals = append(meals, mealText(m))
			}
			for _, d := range o.Decisions {
				decided = append(decided, string(d.Period)+" "+codesOf(d)+" "+d.Premium.String())
			}
			if diff := cmp.Diff(test.want, meals); diff != "" {
				t.Errorf("meals (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(test.decisions, decided); diff != "" {
				t.Errorf("decisions (-want +got):\n%s", diff)
			}
		})
	}
}

func codesOf(d Decision) string {
	codes := make([]string, len(d.Reasons))
	for i, r := range d.Reasons {
		codes[i] = r.Code
	}
	return strings.Join(codes, ",")
}

func mealText(m MealOwed) string {
	text := string(m.Which) + " "
	if m.StartBy == nil {
		text += "unknown"
	} else {
		text += m.StartBy.Format("15:04")
	}
	switch {
	case m.Recorded == nil:
		text += " none"
	default:
		text += " " + itoa(int(m.Recorded.Minutes))
		if m.Recorded.Short {
			text += " short"
		}
		if m.Recorded.Late {
			text += " late"
		}
	}
	if m.Waived {
		text += " waived"
	}
	return text
}

// Donohue v. AMN (2021): a meal of 23 minutes after five hours and five minutes has two faults and costs one premium.
func TestTwoFaultsCostOnePremium(t *testing.T) {
	o := owedOn(t, clockedDay("05:57-11:02 hourly", "11:02-11:25 meal", "11:25-13:20 hourly"))
	if len(o.Decisions) == 0 || o.Decisions[0].Period != MissedMeal || len(o.Decisions[0].Reasons) != 3 || o.Decisions[0].Premium != 2_000 {
		t.Errorf("%+v", o.Decisions)
	}
}

func TestRestsAndCoolDowns(t *testing.T) {
	day := dated.MustDate("2026-02-16")
	const long = `{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 575}, {"kind": "rest", "minutes": 15}, {"kind": "recovery", "minutes": 25}, {"kind": "meal", "minutes": 30}]`
	o := owedOn(t, long, day)
	want := DayOwed{Date: day, Worked: 615, Rests: 3, RestLength: 10, RestRecorded: 15, CoolDowns: 2, CoolDownsIfHot: 2, CoolDown: 10, Recovery: 25}
	got := o
	got.Meals, got.Decisions = nil, nil
	if diff := cmp.Diff(want, got, cmp.Comparer(func(a, b dated.Date) bool { return a == b })); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if len(o.Meals) != 2 || o.Meals[0].StartBy != nil || o.Meals[0].Recorded.Start != nil || o.Meals[0].Waivable || !o.Meals[1].Waivable {
		t.Errorf("meals without clock times: %+v", o.Meals)
	}
	if cool := owedOn(t, long); cool.CoolDowns != 0 {
		t.Error("a cool day has cool-down periods")
	}
}

// The times are told in the zone in which the day was written.
func TestTheHourIsThatOfTheGarden(t *testing.T) {
	o := owedOn(t, clockedDay("06:00-12:30 hourly"))
	if _, offset := o.Meals[0].StartBy.Zone(); offset != -8*3600 || o.Meals[0].StartBy.Hour() != 11 {
		t.Errorf("the meal is to begin by %s", o.Meals[0].StartBy.Format(time.RFC3339))
	}
}

func TestNoEntitlementsOfABadWeek(t *testing.T) {
	if owed, faults := Entitlements(books(), week(t, `{"rulebook": "no"}`), nil); owed != nil || len(faults) == 0 {
		t.Errorf("%v, %v", owed, faults)
	}
	owed, faults := Entitlements(books(), week(t, `{"rulebook": "us", "days": [{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 600}]}]}`), []dated.Date{dated.MustDate("2026-02-16")})
	if len(faults) > 0 || owed[0].Rests != 0 || owed[0].Meals != nil || owed[0].CoolDowns != 0 || owed[0].Decisions != nil {
		t.Errorf("under federal law nothing is owed: %+v, %v", owed, faults)
	}
}

// What is proposed is what is paid when the clerk agrees, and never lowers the week.
func TestPremiumsProposedAreThosePaid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWeek(t)
		before := reckonDrawn(t, w)
		owed, faults := Entitlements(books(), w, nil)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		for _, o := range owed {
			for _, d := range o.Decisions {
				if d.Premium < 0 || len(d.Reasons) == 0 {
					t.Fatalf("%+v", d)
				}
				for i := range w.Days {
					if day := w.Days[i]; day.Date == o.Date {
						w.Days[i].Miss(d)
						if after := reckonDrawn(t, w); after.Totals.Gross-before.Totals.Gross != d.Premium {
							t.Fatalf("proposed %s, paid %s", d.Premium, after.Totals.Gross-before.Totals.Gross)
						}
						w.Days[i] = day
					}
				}
			}
		}
	})
}

// Each limit to the minute: Labor Code 512(a) "more than five hours", 30 minutes, before the end of the fifth hour; wage orders sec. 12, no rest period under three and a
// half hours, one through six, two through ten (Brinker (2012) 53 Cal.4th 1004, from memory).
func TestLimitsToTheMinute(t *testing.T) {
	rested := func(rest, work string) string { return clockedDay("06:00-"+rest+" rest", rest+"-"+work+" hourly") }
	tests := []struct {
		name, day string
		want      string
	}{
		{"5:00 h, no meal", rested("06:10", "11:00"), ""},
		{"5:01 h, no meal", rested("06:10", "11:01"), "meal meal_due"},
		{"meal of 30", clockedDay("06:00-06:20 rest", "06:20-11:00 hourly", "11:00-11:30 meal", "11:30-14:00 hourly"), ""},
		{"meal of 29", clockedDay("06:00-06:20 rest", "06:20-11:00 hourly", "11:00-11:29 meal", "11:29-14:00 hourly"), "meal meal_due,meal_short"},
		{"meal at 5:00 h", clockedDay("06:00-06:20 rest", "06:20-11:00 hourly", "11:00-11:30 meal", "11:30-12:30 hourly"), ""},
		{"meal at 5:01 h", clockedDay("06:00-06:20 rest", "06:20-11:01 hourly", "11:01-11:31 meal", "11:31-12:30 hourly"), "meal meal_late"},
		{"3:29 h", clockedDay("06:00-09:29 hourly"), ""},
		{"3:30 h", clockedDay("06:00-09:30 hourly"), "rest rest_short"},
		{"6:00 h, ten minutes", rested("06:10", "12:00") + `, "meals_waived": ["first"]`, ""},
		{"6:01 h, ten minutes", rested("06:10", "12:01") + `, "periods_not_provided": ["meal"]`, "rest rest_short"},
		{"nine minutes of ten", rested("06:09", "10:00"), "rest rest_short"},
		{"10:00 h, one meal", clockedDay("06:00-06:20 rest", "06:20-10:00 hourly", "10:00-10:30 meal", "10:30-16:30 hourly"), ""},
		{"10:01 h, one meal", clockedDay("06:00-06:30 rest", "06:30-10:00 hourly", "10:00-10:30 meal", "10:30-16:31 hourly"), "meal second_meal_due"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var got []string
			for _, d := range owedOn(t, test.day).Decisions {
				got = append(got, string(d.Period)+" "+codesOf(d))
			}
			if strings.Join(got, "; ") != test.want {
				t.Errorf("%q, want %q", got, test.want)
			}
		})
	}
}

// The figures that the clerk reads: begun at 12:20, by 12:00 at the latest.
func TestALateMealNamesItsHours(t *testing.T) {
	d := owedOn(t, clockedDay("07:00-12:20 hourly", "12:20-12:50 meal", "12:50-15:30 hourly")).Decisions[0]
	if terms := d.Reasons[0].Terms; terms["start"] != "12:20" || terms["latest"] != "12:00" || terms["before"] != Minutes(320) || d.Waivable != "" || d.Basis.Key == "" || d.Authority == "" {
		t.Errorf("%+v", d)
	}
	if d := owedOn(t, clockedDay("07:00-12:20 hourly", "12:20-12:50 meal", "12:50-13:30 hourly")).Decisions[0]; d.Waivable != FirstMeal {
		t.Errorf("six hours can be waived: %+v", d)
	}
}

// A hot day past eight hours has a cool-down of its own (8 CCR 3395(e)(6)); it shares the day's premium with the rests, and past ten there are two.
func TestHeatIsDecidedWithTheRests(t *testing.T) {
	day := dated.MustDate("2026-02-16")
	full := func(end string, more ...string) string {
		return clockedDay(append([]string{"06:00-06:20 rest", "06:20-10:00 hourly", "10:00-10:30 meal", "10:30-" + end + " hourly"}, more...)...)
	}
	if d := owedOn(t, full("14:30"), day).Decisions; len(d) != 0 {
		t.Errorf("eight hours: %+v", d)
	}
	d := owedOn(t, full("14:31"), day).Decisions
	if len(d) != 1 || d[0].Period != MissedRecovery || d[0].RecoveryDue != 10 || codesOf(d[0]) != "recovery_short" || d[0].Premium != 20_01 {
		t.Errorf("eight hours and a minute: %+v", d)
	}
	d = owedOn(t, full("16:31", "16:31-16:40 recovery"), day).Decisions
	if len(d) != 2 || d[1].Period != MissedRest || d[1].RestDue != 10 || d[1].RecoveryDue != 11 || codesOf(d[1]) != "recovery_short,rest_short" {
		t.Errorf("over ten hours: %+v", d)
	}
	cool := owedOn(t, full("14:31")).Decisions
	if len(cool) != 0 {
		t.Errorf("a cool day: %+v", cool)
	}
}

// In Washington every missed rest period adds ten minutes of its own (Wingert (2000)); so many are proposed.
func TestRestsMissedOneByOne(t *testing.T) {
	owed, faults := Entitlements(books(), week(t, `{"rulebook": "us-wa", "hourly_rate": "18.00", "days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 475}, {"kind": "rest", "minutes": 5}, {"kind": "meal", "minutes": 30}]}]}`), nil)
	if len(faults) > 0 || len(owed[0].Decisions) != 1 || owed[0].Decisions[0].Missed != 2 || owed[0].Decisions[0].Premium != 6_00 {
		t.Errorf("%+v, %v", owed, faults)
	}
}

// Rest that was taken within work moves minutes from the longest entries and leaves the hours of all else.
func TestRestTakenWithinWork(t *testing.T) {
	w := week(t, `{"days": [`+clockedDay("06:00-08:00 piece", "08:00-11:00 piece")+`}]}`)
	d := w.Days[0]
	if left := d.Rested(20, Rest); left != 0 || len(d.Time) != 3 || d.Time[2].Kind != Rest || d.Time[2].Start.Format("15:04") != "10:40" || d.Time[1].End.Format("15:04") != "10:40" || len(w.Days[0].Time) != 2 || w.Days[0].Time[1].End.Format("15:04") != "11:00" {
		t.Errorf("%d, %+v", left, d.Time)
	}
	if left := d.Rested(300, Recovery); left != 20 {
		t.Errorf("of 280 minutes of work 300 were rest, and %d are left", left)
	}
}
