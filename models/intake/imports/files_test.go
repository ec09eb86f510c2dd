package imports_test

import (
	"testing"

	"palmero/models/intake/imports"
)

// Three files of three farms' habits: a comma-separated one with clock times of twelve hours, a workbook with typed cells, a formula and a shared
// count, and a semicolon-separated one in Spanish and Windows-1252 with titles and ten faults.
func TestExampleFiles(t *testing.T) {
	each(t, func(f *farm) {
		r := f.take(imports.Order{Reference: "north-crew.csv", Data: file(f.T, "north-crew.csv")})
		f.wants(told(f.T, r.Problems), []string(nil))
		if !r.Stored || r.Recorded != 5 || r.Skipped != 1 || r.Encoding != "utf-8" || r.Separator != "," {
			f.Errorf("%+v", r)
		}
		if got := r.Columns[len(r.Columns)-1]; got != (imports.ColumnUse{Column: "L", Heading: "Remarks"}) {
			f.Errorf("%+v", got)
		}
		f.wants(f.standing(), []string{
			"1 2026-02-16 A-1 160", "1 2026-02-16 meal 10:00-10:30", "1 2026-02-16 piece 06:00-10:00", "1 2026-02-16 piece 10:30-14:00",
			"1 2026-02-17 B-07 172", "1 2026-02-17 meal 10:00-10:30", "1 2026-02-17 piece 06:00-10:00", "1 2026-02-17 piece 10:30-14:00",
			"2 2026-02-16 A-1 148.5", "2 2026-02-16 meal 10:00-10:30", "2 2026-02-16 piece 06:00-10:00", "2 2026-02-16 piece 10:30-14:00",
			"2 2026-02-16 rest_not_provided", "2 2026-02-17 hourly 06:00-08:30",
			"3 2026-02-16 B-07 151", "3 2026-02-16 meal 10:05-10:35", "3 2026-02-16 piece 06:00-10:05", "3 2026-02-16 piece 10:35-14:00",
		})
	})
	each(t, func(f *farm) {
		r := f.take(imports.Order{Reference: "week-8.xlsx", Data: file(f.T, "week-8.xlsx")})
		f.wants(told(f.T, r.Problems), []string(nil))
		if !r.Stored || r.Recorded != 5 || r.Sheet != "Harvest" {
			f.Errorf("%+v", r)
		}
		f.wants(f.standing(), []string{
			"1 2026-02-19 A-1 lot 240/680", "1 2026-02-19 piece 06:00-10:00", "1 2026-02-20 B-07 16.9", "1 2026-02-20 piece 06:00-08:30",
			"2 2026-02-19 A-1 lot 200/680", "2 2026-02-19 piece 06:00-09:20", "3 2026-02-19 A-1 lot 240/680", "3 2026-02-19 piece 06:00-10:00",
			"4 2026-02-20 B-07 155", "4 2026-02-20 piece 06:00-10:00",
		})
	})
	each(t, func(f *farm) {
		m := &imports.Mapping{Values: map[string]imports.Words{"operation": {"polinización": "pollination"}}}
		r := f.take(imports.Order{Reference: "ten-faults.csv", Data: file(f.T, "ten-faults.csv"), Mapping: m, DryRun: true})
		f.wants(told(f.T, r.Problems), []string{
			"6 A fault.unknown_worker_number",
			"7 B fault.name_of_another",
			"8 C fault.ambiguous_date",
			"9 D fault.unknown_word",
			"10 F fault.ambiguous_number",
			"11 J fault.clock_backwards",
			"12 K fault.hours_not_as_clock",
			"13 F fault.not_a_number",
			"14 G fault.overlaps_line",
			"15 F fault.absurd_count",
		})
		if r.Rows != 13 || r.Refused != 10 || r.Recorded != 2 || r.Encoding != "windows-1252" || r.Separator != ";" || len(f.standing()) != 0 {
			f.Errorf("%+v", r)
		}
	})
}
