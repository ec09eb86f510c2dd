package imports

import (
	"regexp"
	"strconv"
	"strings"

	"palmero/payroll"
)

func itoa(n int) string { return strconv.Itoa(n) }

// plainNumber is a number as a workbook keeps it: the shortest decimal that means the stored one. What is stored is binary: 16.9 stands
// there as 16.899999999999999.
func plainNumber(s string) string {
	f, err := strconv.ParseFloat(s, 64)
	if err != nil || f > 1e15 || f < -1e15 {
		return s
	}
	return strconv.FormatFloat(f, 'f', -1, 64)
}

var (
	grouped  = regexp.MustCompile(`^-?[0-9]{1,3}([ .,'\x{a0}\x{202f}][0-9]{3})+$`)
	anyMarks = regexp.MustCompile(`^-?[0-9]+([ .,'\x{a0}\x{202f}][0-9]+)*$`)
)

// number reads a number as people write it and returns it as a plain decimal. Where its mark may be that of the decimals or that of the
// thousands, the question is asked; ok is false then, and where it is no number.
func (r *row) number(field string) (plain string, ok bool) {
	s := strings.TrimSpace(strings.TrimLeft(r.text(field), "$€"))
	if r.table.Typed && !strings.ContainsAny(s, ", '") {
		s = plainNumber(s)
		if !anyMarks.MatchString(s) {
			r.fault(field, "fault.not_a_number", payroll.Terms{"given": r.text(field)})
			return "", false
		}
		return s, true
	}
	if !anyMarks.MatchString(s) {
		r.fault(field, "fault.not_a_number", payroll.Terms{"given": r.text(field)})
		return "", false
	}
	mark := r.mapping.DecimalMark
	if mark == "" {
		if mark = guessMark(s); mark == "?" {
			r.ask(field, "fault.ambiguous_number", payroll.Terms{"given": s})
			return "", false
		}
	}
	whole, fraction, pointed := s, "", false
	if i := strings.LastIndex(s, mark); i >= 0 && mark != "" {
		whole, fraction, pointed = s[:i], s[i+len(mark):], true
	}
	// What parts the thousands must part threes, and be none of what marks the decimals.
	if strings.ContainsAny(whole, " .,'\u00a0\u202f") && (!grouped.MatchString(whole) || mark != "" && strings.Contains(whole, mark)) || !digits(fraction) {
		r.fault(field, "fault.not_a_number", payroll.Terms{"given": r.text(field)})
		return "", false
	}
	whole = strings.NewReplacer(" ", "", ".", "", ",", "", "'", "", "\u00a0", "", "\u202f", "").Replace(whole)
	if pointed {
		whole += "." + fraction
	}
	return trimZeros(whole), true
}

// guessMark is the decimal mark that a number shows by itself; "?" where it may be read in two ways.
func guessMark(s string) string {
	point, comma := strings.LastIndex(s, "."), strings.LastIndex(s, ",")
	switch {
	case point < 0 && comma < 0:
		return "."
	case point >= 0 && comma >= 0 && point > comma:
		return "."
	case point >= 0 && comma >= 0:
		return ","
	}
	mark := "."
	if comma >= 0 {
		mark = ","
	}
	switch {
	case strings.Count(s, mark) > 1: // 1.250.000
		return map[string]string{".": ",", ",": "."}[mark]
	case grouped.MatchString(s) && !strings.HasPrefix(strings.TrimPrefix(s, "-"), "0"): // 1,250
		return "?"
	}
	return mark
}

func digits(s string) bool { return strings.Trim(s, "0123456789") == "" }

// trimZeros takes away what the records' own notation does not have: leading zeros and trailing ones behind the mark.
func trimZeros(s string) string {
	negative := strings.HasPrefix(s, "-")
	s = strings.TrimPrefix(s, "-")
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	s = strings.TrimLeft(s, "0")
	if s == "" || s[0] == '.' {
		s = "0" + s
	}
	if negative && strings.Trim(s, "0.") != "" {
		s = "-" + s
	}
	return s
}

// read reads a number into one of the records' units.
func read[T any](r *row, field string, parse func(string) (T, error)) (value T, ok bool) {
	plain, ok := r.number(field)
	if !ok {
		return value, false
	}
	value, err := parse(plain)
	switch err {
	case nil:
		return value, true
	case payroll.ErrDecimals:
		r.fault(field, "fault.more_decimals_than_kept", payroll.Terms{"given": r.text(field)})
	default:
		r.fault(field, "fault.not_a_number", payroll.Terms{"given": r.text(field)})
	}
	return value, false
}

// whole reads a whole number.
func (r *row) whole(field string) (int64, bool) {
	return read(r, field, func(s string) (int64, error) {
		if strings.Contains(s, ".") {
			return 0, payroll.ErrDecimals
		}
		return strconv.ParseInt(s, 10, 64)
	})
}

// minutes reads a length of time: whole minutes or h:mm. In a column of hours a plain number is of hours, and must come to whole minutes.
func (r *row) minutes(field string) (payroll.Minutes, bool) {
	s := r.text(field)
	if hours, minutes, ok := strings.Cut(s, ":"); ok {
		h, errH := strconv.Atoi(hours)
		m, errM := strconv.Atoi(minutes)
		if errH != nil || errM != nil || h < 0 || h > 24 || m < 0 || m > 59 || len(minutes) != 2 {
			r.fault(field, "fault.not_a_length", payroll.Terms{"given": s})
			return 0, false
		}
		return payroll.Minutes(h*60 + m), true
	}
	if field != "hours" {
		n, ok := r.whole(field)
		if ok && (n < 0 || n > 24*60) {
			r.fault(field, "fault.not_between", payroll.Terms{"low": 0, "high": 24 * 60})
			return 0, false
		}
		return payroll.Minutes(n), ok
	}
	hours, ok := read(r, field, payroll.ParseCents)
	if !ok {
		return 0, false
	}
	if hours < 0 || hours > 24*100 {
		r.fault(field, "fault.not_between", payroll.Terms{"low": 0, "high": 24})
		return 0, false
	}
	if hours*60%100 != 0 {
		r.fault(field, "fault.not_whole_minutes", payroll.Terms{"given": s})
		return 0, false
	}
	return payroll.Minutes(hours * 60 / 100), true
}
