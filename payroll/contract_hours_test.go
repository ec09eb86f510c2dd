package payroll

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/payroll/dated"
)

const threeFourths = 750_000

// A contract of four eight-hour days guarantees 24 hours.
func TestGuaranteeOfAContract(t *testing.T) {
	day := func(n int, offered, worked Minutes) ContractDay {
		return ContractDay{dated.MustDate("2026-03-01").AddDays(n), offered, worked}
	}
	tests := []struct {
		name string
		c    ContractHours
		want HoursGuarantee
	}{
		{"kept exactly", ContractHours{Workdays: 4, DayMinutes: 480, RequiredRate: 200_000, Days: []ContractDay{day(0, 480, 480), day(1, 480, 480), day(2, 480, 480)}},
			HoursGuarantee{Guaranteed: 1440, Offered: 1440, Worked: 1440, Counted: 1440, Rate: 200_000}},
		{"a minute short", ContractHours{Workdays: 4, DayMinutes: 480, RequiredRate: 200_000, Days: []ContractDay{day(0, 480, 480), day(1, 480, 480), day(2, 479, 479)}},
			HoursGuarantee{Guaranteed: 1440, Offered: 1439, Worked: 1439, Counted: 1439, Shortfall: 1, Rate: 200_000, Pay: 34}},
		{"hours refused count up to the day of the job order", ContractHours{Workdays: 4, DayMinutes: 480, RequiredRate: 200_000, Days: []ContractDay{day(0, 600, 0), day(1, 600, 420), day(2, 600, 600)}},
			HoursGuarantee{Guaranteed: 1440, Offered: 1800, Worked: 1020, Counted: 1560, Rate: 200_000}},
		{"a part of a day is no day", ContractHours{Workdays: 4, DayMinutes: 480, RequiredRate: 200_000, Days: []ContractDay{day(0, 240, 240), day(1, 240, 240), day(2, 240, 240)}},
			HoursGuarantee{Guaranteed: 1440, Offered: 720, Worked: 720, Counted: 720, Shortfall: 720, Rate: 200_000, Pay: 24_000}},
		{"a holiday comes off before the share", ContractHours{Workdays: 4, DayMinutes: 480, Holiday: 480, RequiredRate: 200_000},
			HoursGuarantee{Guaranteed: 1080, Shortfall: 1080, Rate: 200_000, Pay: 36_000}},
		{"a piece worker's average is higher", ContractHours{Workdays: 1, DayMinutes: 480, RequiredRate: 200_000, PieceEarned: 10_000, PieceTime: 180},
			HoursGuarantee{Guaranteed: 360, Shortfall: 360, Rate: 333_333, Pay: 20_000}},
		{"a piece worker's average is lower", ContractHours{Workdays: 1, DayMinutes: 480, RequiredRate: 200_000, PieceEarned: 1_000, PieceTime: 180},
			HoursGuarantee{Guaranteed: 360, Shortfall: 360, Rate: 200_000, Pay: 12_000}},
		{"hours that come to no whole minute", ContractHours{Workdays: 1, DayMinutes: 461}, HoursGuarantee{Guaranteed: 346, Shortfall: 346}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, faults := test.c.Guarantee(threeFourths)
			if diff := cmp.Diff(test.want, got); len(faults) > 0 || diff != "" {
				t.Errorf("%v (-want +got):\n%s", faults, diff)
			}
		})
	}
}

func TestBadContracts(t *testing.T) {
	date := dated.MustDate("2026-03-01")
	c := ContractHours{Workdays: -1, DayMinutes: 1501, RequiredRate: -1, PieceEarned: -1, PieceTime: -1, Holiday: 1, Days: []ContractDay{{date, -1, 0}, {date, 0, 1501}}}
	_, faults := c.Guarantee(threeFourths)
	var got []string
	for _, f := range faults {
		got = append(got, f.Pointer+" "+f.Key)
	}
	want := []string{"/workdays fault.negative", "/day_minutes fault.day_too_long", "/holiday_minutes fault.out_of_range", "/required_rate fault.negative", "/piece_earned fault.negative",
		"/piece_minutes fault.negative", "/days/0/offered fault.negative", "/days/1/worked fault.day_too_long", "/days/1/date fault.day_twice"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}
