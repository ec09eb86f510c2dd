package payroll

import (
	"fmt"
	"strings"
	"testing"
)

// hourDays writes days of hourly work, each as its date and its hours.
func hourDays(kind string, days ...string) string {
	var all []string
	for _, day := range days {
		date, hours, _ := strings.Cut(day, " ")
		var tenths int
		whole, part, _ := strings.Cut(hours, ".")
		if _, err := fmt.Sscan(whole+strings.Repeat("0", 1-len(part))+part, &tenths); err != nil {
			panic(err)
		}
		all = append(all, fmt.Sprintf(`{"date": %q, "time": [{"kind": %q, "minutes": %d}]}`, date, kind, tenths*6))
	}
	return `"days": [` + strings.Join(all, ", ") + `]`
}

// Weeks in which a value changes, of every book; the figures are worked out by hand beside each.
func TestWeeksThatStraddleAChange(t *testing.T) {
	tests := []struct {
		name, week string
		want       map[Code]string
		overtime   Minutes
	}{
		{"Florida raises its wage on 30 September", `{"rulebook": "us-fl", "week_start": "2026-09-27", ` + hourDays("piece", "2026-09-29 8", "2026-09-30 8") + `}`,
			map[Code]string{MinimumMakeupLine: "232.00"}, 0}, // 8 × 14 + 8 × 15
		{"Nevada drops its tiers on 1 July", `{"rulebook": "us-nv", "week_start": "2024-06-30", ` + hourDays("piece", "2024-06-30 8", "2024-07-01 8") + `}`,
			map[Code]string{MinimumMakeupLine: "186.00"}, 0}, // 8 × 11.25 + 8 × 12
		{"Arizona at New Year", `{"rulebook": "us-az", "week_start": "2025-12-28", ` + hourDays("piece", "2025-12-31 8", "2026-01-01 8") + `}`,
			map[Code]string{MinimumMakeupLine: "238.80"}, 0}, // 8 × 14.70 + 8 × 15.15
		{"Texas has the federal wage", `{"rulebook": "us-tx", "week_start": "2026-02-15", ` + hourDays("piece", "2026-02-16 8") + `}`,
			map[Code]string{MinimumMakeupLine: "58.00"}, 0}, // 8 × 7.25
		{"Texas outside farm work", `{"rulebook": "us-tx", "coverage": "general", "hourly_rate": "10.00", "week_start": "2026-02-15", ` + hourDays("hourly", "2026-02-16 20", "2026-02-17 21") + `}`,
			map[Code]string{HourlyLine: "410.00", OvertimePremiumLine: "5.00"}, 60},
		{"Washington before its 40 hours", `{"rulebook": "us-wa", "hourly_rate": "20.00", "week_start": "2023-12-24", ` + hourDays("hourly", "2023-12-26 25", "2023-12-27 25") + `}`,
			map[Code]string{HourlyLine: "1000.00", OvertimePremiumLine: "20.00"}, 120}, // after 48
		{"Washington's 40 hours hold for the whole week in which they begin", `{"rulebook": "us-wa", "hourly_rate": "20.00", "week_start": "2023-12-31", ` + hourDays("hourly", "2023-12-31 25", "2024-01-01 20") + `}`,
			map[Code]string{HourlyLine: "900.00", OvertimePremiumLine: "50.00"}, 300},
		{"Washington before any farm overtime", `{"rulebook": "us-wa", "hourly_rate": "20.00", "week_start": "2021-12-19", ` + hourDays("hourly", "2021-12-20 25", "2021-12-21 25", "2021-12-22 25") + `}`,
			map[Code]string{HourlyLine: "1500.00"}, 0},
		{"California's small employers at the step of 2022", `{"employer_size": 25, "hourly_rate": "20.00", "week_start": "2021-12-26", ` + hourDays("hourly", "2021-12-31 10", "2022-01-01 10") + `}`,
			map[Code]string{HourlyLine: "400.00", OvertimePremiumLine: "5.00"}, 30}, // ten hours, then nine and a half
		{"California's large employers at the same step", `{"employer_size": 26, "hourly_rate": "20.00", "week_start": "2021-12-26", ` + hourDays("hourly", "2021-12-31 10", "2022-01-01 10") + `}`,
			map[Code]string{HourlyLine: "400.00", OvertimePremiumLine: "35.00"}, 210}, // eight and a half, then eight
		{"Washington tests pieces by the week", `{"rulebook": "us-wa", "week_start": "2026-02-15", ` + hourDays("piece", "2026-02-16 8", "2026-02-17 8") + `}`,
			map[Code]string{MinimumMakeupLine: "274.08"}, 0}, // 16 × 17.13
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			s := reckon(t, week(t, test.week))
			got := amounts(s)
			for code, want := range test.want {
				equal(t, string(code), want, got[code])
			}
			if len(got) != len(test.want) {
				t.Errorf("lines %v", got)
			}
			equal(t, "overtime", test.overtime, s.Minutes.Overtime)
		})
	}
}

// Days that a book has no value for, and coverage that it does not know, are refused and not guessed.
func TestWhatNoBookKnowsIsRefused(t *testing.T) {
	for name, doc := range map[string]string{
		"/days/0/date no_value":      `{"rulebook": "us-fl", "week_start": "2027-12-26", "days": [{"date": "2028-01-01"}]}`,
		"/days/1/date no_value":      `{"rulebook": "us-wa", "week_start": "2026-12-27", "days": [{"date": "2026-12-31"}, {"date": "2027-01-01"}]}`,
		"/days/0/date no_value az":   `{"rulebook": "us-az", "week_start": "2018-12-30", "days": [{"date": "2018-12-31"}]}`,
		"/coverage coverage_unknown": `{"rulebook": "us-nv", "coverage": "general"}`,
	} {
		got := faultsOf(t, week(t, doc))
		if len(got) != 1 || !strings.HasPrefix(name, got[0]) {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// What is announced and not in a book of the program is entered as a local book, and weeks are reckoned by it.
func TestALocalBookReckons(t *testing.T) {
	with, err := books().With(map[string][]byte{"oasis.yaml": []byte(oasis)})
	if err != nil {
		t.Fatal(err)
	}
	w := week(t, `{"rulebook": "oasis", "week_start": "2026-12-27", "coverage": "general", `+hourDays("piece", "2026-12-31 8", "2027-01-01 9")+`}`)
	s, faults := Reckon(with, w)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	got := amounts(s)
	equal(t, "make-up", "293.60", got[MinimumMakeupLine]) // 8 × 16.90 from California, 9 × 17.60
	equal(t, "overtime", Minutes(60), s.Minutes.Overtime)
	equal(t, "authority", "Cal. Lab. Code 226.2(a)(6)(B), 1182.12", s.Lines[0].Authority)
}

const oasis = `
book: oasis
title: The invented city of Oasis
parent: us-ca
local: announcement
sources:
  city: {title: Oasis announcement, section: Oasis 1, link: "https://law.example/oasis"}
parameters:
  minimum_wage:
    about: What the city announced
    way: higher
    values: [{from: 2027-01-01, through: 2027-12-31, value: "17.60", source: city, read: 2026-11-25, standing: read}]
authorities: {}
`
