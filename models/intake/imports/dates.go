package imports

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

var (
	inNumbers = regexp.MustCompile(`^([0-9]{1,4})[-/. ]([0-9]{1,2})[-/. ]([0-9]{1,4})$`)
	monthName = regexp.MustCompile(`^([a-z]+) ([0-9]{1,2}) ([0-9]{2,4})$`)                 // Feb 16, 2026
	dayMonth  = regexp.MustCompile(`^([0-9]{1,2}) (?:de )?([a-z]+) (?:de )?([0-9]{2,4})$`) // 16 feb 2026, 16 de febrero de 2026
)

// weekdayName is what some write before a date.
var weekdayName = regexp.MustCompile(`^(mon|tue|wed|thu|fri|sat|sun|lun|mar|mie|jue|vie|sab|dom)[a-z]* `)

var months = map[string]time.Month{
	"jan": 1, "ene": 1, "feb": 2, "mar": 3, "apr": 4, "abr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "ago": 8, "sep": 9, "oct": 10, "nov": 11, "dec": 12, "dic": 12,
}

// date reads a date as people write it. One that the order of day and month changes, where that order is not set, is asked about.
func (r *row) date(field string) (models.Date, bool) {
	s := r.text(field)
	if d, ok := r.serialDate(s); ok {
		return models.Day(d), true
	}
	s, _, _ = strings.Cut(s, "T") // a workbook's own notation of an instant
	if m := inNumbers.FindStringSubmatch(strings.TrimSuffix(s, " 00:00:00")); m != nil {
		return r.dateInNumbers(field, m[1], m[2], m[3])
	}
	folded := fold(r.text(field))
	for _, said := range []string{folded, weekdayName.ReplaceAllString(folded, "")} {
		if m := monthName.FindStringSubmatch(said); m != nil {
			return r.dateByName(field, m[3], m[1], m[2])
		}
		if m := dayMonth.FindStringSubmatch(said); m != nil {
			return r.dateByName(field, m[3], m[2], m[1])
		}
	}
	r.fault(field, "fault.not_a_date", payroll.Terms{"given": r.text(field)})
	return models.Date{}, false
}

// serialDate reads a date as a workbook keeps it: days since the last day of 1899, or since the first of 1904.
func (r *row) serialDate(s string) (dated.Date, bool) {
	serial, ok := r.serial(s)
	if !ok || serial < 20_000 || serial > 80_000 {
		return dated.Date{}, false
	}
	if r.table.From1904 {
		return dated.NewDate(1904, 1, 1).AddDays(int(serial)), true
	}
	return dated.NewDate(1899, 12, 30).AddDays(int(serial)), true // the epoch of all days since March 1900
}

// serial reads a number of days as a workbook keeps dates and times.
func (r *row) serial(s string) (float64, bool) {
	if !r.table.Typed {
		return 0, false
	}
	f, err := strconv.ParseFloat(s, 64)
	return f, err == nil && f >= 0 && f < 3_000_000
}

// dateInNumbers reads a date by the order that is set, or else by every order that gives a date: where these give several, it is asked about.
func (r *row) dateInNumbers(field, a, b, c string) (models.Date, bool) {
	readings := map[string][3]string{"mdy": {c, a, b}, "dmy": {c, b, a}, "ymd": {a, b, c}}
	if order := r.mapping.DateOrder; order != "" && len(a) < 3 && !(order == "ymd" && len(c) > 2) {
		readings = map[string][3]string{order: readings[order]}
	}
	found := map[dated.Date]bool{}
	var one dated.Date
	for _, reading := range readings {
		if d, ok := civil(reading[0], atoi(reading[1]), atoi(reading[2])); ok {
			found[d], one = true, d
		}
	}
	switch len(found) {
	case 0:
		r.fault(field, "fault.not_a_date", payroll.Terms{"given": r.text(field)})
	case 1:
		return models.Day(one), true
	default:
		r.ask(field, "fault.ambiguous_date", payroll.Terms{"given": r.text(field)})
	}
	return models.Date{}, false
}

func (r *row) dateByName(field, year, month, day string) (models.Date, bool) {
	if d, ok := civil(year, int(months[month[:min(3, len(month))]]), atoi(day)); ok {
		return models.Day(d), true
	}
	r.fault(field, "fault.not_a_date", payroll.Terms{"given": r.text(field)})
	return models.Date{}, false
}

// civil puts a date together, if there is such a day; a year of two digits is of this century.
func civil(year string, month, day int) (dated.Date, bool) {
	y := atoi(year)
	if len(year) == 2 {
		y += 2000
	}
	t := time.Date(y, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if len(year) != 2 && len(year) != 4 || y < 1900 || month < 1 || month > 12 || t.Day() != day {
		return dated.Date{}, false
	}
	return dated.DateOf(t), true
}

func atoi(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return -1
	}
	return n
}

var clockTime = regexp.MustCompile(`^([0-9]{1,2})(?:[:.h]([0-9]{2}))?(?::[0-9]{2}(?:\.[0-9]+)?)?\s*([ap])?\.?\s*m?\.?$`)

// clock reads a time of day, in minutes after midnight: 6:00, 14.30, 2:30 pm, 0600, or as a workbook keeps it.
func (r *row) clock(field string) (int, bool) {
	s := strings.ToLower(r.text(field))
	if f, ok := r.serial(s); ok && f < 100_000 && (f != math.Trunc(f) || f == 0) {
		_, part := math.Modf(f)
		return int(math.Round(part*24*60)) % (24 * 60), true
	}
	if len(s) == 4 && digits(s) {
		s = s[:2] + ":" + s[2:]
	}
	m := clockTime.FindStringSubmatch(s)
	if m == nil || m[2] == "" && m[3] == "" {
		r.fault(field, "fault.not_a_time", payroll.Terms{"given": r.text(field)})
		return 0, false
	}
	hour, minute := atoi(m[1]), max(atoi(m[2]), 0)
	halves := m[3] != ""
	wrong := minute > 59 || hour > 23 || halves && (hour < 1 || hour > 12)
	if halves {
		hour %= 12
	}
	if m[3] == "p" {
		hour += 12
	}
	if wrong {
		r.fault(field, "fault.not_a_time", payroll.Terms{"given": r.text(field)})
		return 0, false
	}
	return hour*60 + minute, true
}
