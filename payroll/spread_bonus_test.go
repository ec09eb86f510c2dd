package payroll

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"palmero/payroll/dated"
)

// worker43 is the week of WHD Fact Sheet 56C: 43 hours at 10.00, overtime after 40.
const worker43 = `{"rulebook": "us", "coverage": "general", "week_start": "2019-12-01", "days": [
	{"date": "2019-12-02", "time": [{"kind": "hourly", "minutes": 860, "rate": "10.00"}]},
	{"date": "2019-12-03", "time": [{"kind": "hourly", "minutes": 860, "rate": "10.00"}]},
	{"date": "2019-12-04", "time": [{"kind": "hourly", "minutes": 860, "rate": "10.00"}]}]}`

// plain20 is the week before it: 20 hours, none of them overtime.
const plain20 = `{"rulebook": "us", "coverage": "general", "week_start": "2019-11-24", "days": [
	{"date": "2019-11-25", "time": [{"kind": "hourly", "minutes": 1200, "rate": "10.00"}]}]}`

// 29 CFR 778.209(a): in the week of overtime, half of the bonus's hourly rate for each overtime hour.
func TestSpreadingABonus(t *testing.T) {
	tests := []struct {
		name  string
		bonus Bonus
		weeks []string
		want  []BonusShare
	}{
		{"one week, as if paid in it", Bonus{Production, 5_000}, []string{worker43}, []BonusShare{{Share: 5_000, More: 175}}}, // 50/43 × 0.5 × 3 = 1.744
		{"by the hours, the overtime week with its half", Bonus{Production, 6_300}, []string{plain20, worker43}, []BonusShare{{Share: 2_000}, {Share: 4_300, More: 150}}},
		{"odd cents go to the first", Bonus{Production, 100}, []string{plain20, plain20, plain20}, []BonusShare{{Share: 34}, {Share: 33}, {Share: 33}}},
		{"nothing", Bonus{Flat, 0}, []string{plain20}, []BonusShare{{}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var weeks []*Week
			for _, doc := range test.weeks {
				weeks = append(weeks, week(t, doc))
			}
			got, faults := SpreadBonus(books(), test.bonus, weeks)
			for i := range test.want {
				test.want[i].Week, test.want[i].Authority = weeks[i].WeekStart, "29 CFR 778.209"
				if i < len(got) {
					test.want[i].Spread = Spread{test.bonus.Amount, test.want[i].Share, got[i].Spread.Minutes, got[i].Spread.AllMinutes}
				}
			}
			if diff := cmp.Diff(test.want, got, cmp.Comparer(func(a, b dated.Date) bool { return a == b })); len(faults) > 0 || diff != "" {
				t.Errorf("%v (-want +got):\n%s", faults, diff)
			}
		})
	}
	shares, _ := SpreadBonus(books(), Bonus{Production, 6_300}, []*Week{week(t, plain20), week(t, worker43)})
	if len(shares) != 2 || shares[1].Spread != (Spread{6_300, 4_300, 43 * 60, 63 * 60}) {
		t.Errorf("how the shares were found: %+v", shares)
	}
	a := BonusShare{Week: dated.MustDate("2019-12-01"), Share: 4_300, More: 150, Authority: "29 CFR 778.209"}.Adjustment("season's bonus")
	if a.Amount != 4_450 || a.Reason != "season's bonus" || a.ForWeek != dated.MustDate("2019-12-01") || a.Authority == "" {
		t.Errorf("adjustment %+v", a)
	}
}

// Alvarado: a flat bonus is spread over the hours that are no overtime, and an overtime hour is owed one and a half times that.
func TestSpreadingAFlatBonusInCalifornia(t *testing.T) {
	overtime := week(t, `{"coverage": "general", "days": [{"date": "2026-02-16", "time": [{"kind": "hourly", "minutes": 600, "rate": "20.00"}]}]}`)
	plain := week(t, `{"coverage": "general", "week_start": "2026-02-08", "days": [{"date": "2026-02-09", "time": [{"kind": "hourly", "minutes": 480, "rate": "20.00"}]}]}`)
	got, faults := SpreadBonus(books(), Bonus{Flat, 1_600}, []*Week{plain, overtime})
	if len(faults) > 0 || got[0].Share != 800 || got[0].More != 0 || got[1].Share != 800 || got[1].More != 300 { // 8.00/8 × 1.5 × 2
		t.Errorf("%+v, %v", got, faults)
	}
}

// Make-up that a bonus would have filled is not taken back.
func TestSpreadingNeverTakesBack(t *testing.T) {
	short := week(t, `{"rulebook": "us", "days": [{"date": "2026-02-16", "time": [{"kind": "piece", "minutes": 600}]}]}`)
	got, faults := SpreadBonus(books(), Bonus{Production, 1_000}, []*Week{short})
	if len(faults) > 0 || got[0].Share != 1_000 || got[0].More != 0 {
		t.Errorf("%+v, %v", got, faults)
	}
}

func TestBonusesThatCannotBeSpread(t *testing.T) {
	idle := week(t, `{"rulebook": "us"}`)
	bad := week(t, `{"rulebook": "us", "days": [{"date": "2026-03-16"}]}`)
	tests := []struct {
		bonus Bonus
		weeks []*Week
		want  string
	}{
		{Bonus{Production, 100}, nil, "/weeks fault.bonus_no_hours"},
		{Bonus{Production, 100}, []*Week{idle}, "/weeks fault.bonus_no_hours"},
		{Bonus{"gift", -1}, []*Week{idle, bad}, "/weeks/1/days/0/date fault.day_outside_week /amount fault.negative /kind fault.not_one_of"},
	}
	for _, test := range tests {
		_, faults := SpreadBonus(books(), test.bonus, test.weeks)
		var got []string
		for _, f := range faults {
			got = append(got, f.Pointer+" "+f.Key)
		}
		if strings.Join(got, " ") != test.want {
			t.Errorf("%v, want %s", got, test.want)
		}
	}
}

// The shares are the bonus, whatever the weeks; no week gets less than its share.
func TestSharesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		weeks := []*Week{drawWeek(t), drawWeek(t), drawWeek(t)}
		bonus := Bonus{rapid.SampledFrom([]BonusKind{Production, Flat}).Draw(t, "kind"), Cents(rapid.IntRange(0, 100_000).Draw(t, "amount"))}
		shares, faults := SpreadBonus(books(), bonus, weeks)
		if len(faults) > 0 {
			if faults[0].Key != "fault.bonus_no_hours" {
				t.Fatalf("%v", faults)
			}
			return
		}
		var sum Cents
		for _, s := range shares {
			if sum += s.Share; s.Share < 0 || s.More < 0 {
				t.Fatalf("%+v", s)
			}
		}
		if sum != bonus.Amount {
			t.Fatalf("shares of %s come to %s", bonus.Amount, sum)
		}
	})
}
