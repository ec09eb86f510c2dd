package rulebook

import (
	"fmt"
	"reflect"

	"palmero/payroll/dated"
)

// LocalKind says what a local book carries.
type LocalKind string

// The kinds of local book: the ordinance of a city or county, a union or H-2A contract, or a value that was announced and
// that the books of the program do not have yet.
const (
	Ordinance    LocalKind = "ordinance"
	Contract     LocalKind = "contract"
	Announcement LocalKind = "announcement"
)

// Local says what kind of local book it is, "" for the book of a jurisdiction that comes with the program.
func (b *Book) Local() LocalKind { return b.local }

// IsLocal tells whether the book is a local one. It may then only move what its forebears say the protective way.
func (b *Book) IsLocal() bool { return b.local != "" }

// Loosening is a value of a local book that protects workers less than a forebear does.
type Loosening struct {
	Book, Parameter string
	Day             dated.Date // the first day on which it does
	Value           dated.Figure
	Forebear        string // key of the book that protects more
	Held            dated.Figure
	HeldFrom        dated.Date // first day of the value held; zero: since ever
	Past            bool       // the value held has ended, and nothing follows it yet
}

func (l *Loosening) Error() string {
	held := "has"
	if l.Past {
		held = "had last"
	}
	return fmt.Sprintf("%s.yaml: %s: %s on %s protects less than %s, which the book %s %s; a local book may only move the protective way",
		l.Book, l.Parameter, l.Value, l.Day, l.Held, l.Forebear, held)
}

// loosenings are the ways in which a local book protects less than its forebears.
func (b *Book) loosenings() []error {
	var all []error
	for i := range kinds {
		if kinds[i].guard == nil {
			continue
		}
		for _, l := range kinds[i].guard(b) {
			all = append(all, l)
		}
	}
	return all
}

// guard compares each value of a local series with what the forebears say on its first day and on each day within it on
// which they change. One finding to a forebear is enough to refuse the book.
func guard[T any](local *Book, pick func(*Book) *dated.Series[T], protects func(local, held T) bool) []*Loosening {
	own := pick(local)
	if own == nil {
		return nil
	}
	var found []*Loosening
	for at := local.parent; at != nil; at = at.parent {
		theirs := pick(at)
		if theirs == nil {
			continue
		}
		if l := firstLoosening(own, theirs, protects); l != nil {
			found = append(found, l)
		}
		if own.Way == dated.NotComparable {
			break // the nearest forebear decides, as it does for pay
		}
	}
	return found
}

func firstLoosening[T any](own, theirs *dated.Series[T], protects func(local, held T) bool) *Loosening {
	for i := range own.Values {
		v := &own.Values[i]
		for _, day := range daysToCompare(v, theirs) {
			held, past := heldOn(theirs, day)
			if held != nil && !protects(v.Value, held.Value) {
				return &Loosening{own.Book, own.Name, day, v.Given, theirs.Book, held.Given, held.From, past}
			}
		}
	}
	return nil
}

// daysToCompare are the first day of a value and those on which the other series begins a new one while it lasts. A value
// since ever is compared from the other's first day on.
func daysToCompare[T any](v *dated.Value[T], theirs *dated.Series[T]) []dated.Date {
	days := []dated.Date{v.From}
	for i := range theirs.Values {
		from := theirs.Values[i].From
		if from.After(v.From) && (v.Through.IsZero() || !from.After(v.Through)) {
			days = append(days, from)
		}
	}
	return days
}

// heldOn is the value of a series on a day. After its last day the last value is taken as a floor, since what is not
// announced yet has never been a step back; before its first day there is none.
func heldOn[T any](s *dated.Series[T], day dated.Date) (held *dated.Value[T], past bool) {
	if v, err := s.On(day); err == nil {
		return v, false
	}
	if len(s.Values) == 0 { // a file that cannot be read; its own problems say so
		return nil, false
	}
	last := &s.Values[len(s.Values)-1]
	if !last.Through.IsZero() && day.After(last.Through) {
		return last, true
	}
	return nil, false
}

func same[T any](local, held T) bool { return reflect.DeepEqual(local, held) }

func atLeast(local, held int) bool { return local >= held }

func atMost(local, held int) bool { return local <= held }

// protectsLike tells whether time is still paid apart where it was.
func (t Treatment) protectsLike(held Treatment) bool { return t == held || t == Separate }

// protectsLike tells whether the test is the same, or by the day where it was by the week.
func (m Makeup) protectsLike(held Makeup) bool {
	return m == held || m.Basis == held.Basis && m.Span == Workday
}

func (m MissedPeriods) protectsLike(held MissedPeriods) bool {
	return m.HourPerDay >= held.HourPerDay && m.ExtraMinutes >= held.ExtraMinutes
}

func (l Limits) protectsLike(held Limits) bool {
	return l.Daily <= held.Daily && l.Weekly <= held.Weekly && l.DoubleDaily <= held.DoubleDaily
}

func (f PremiumFactor) protectsLike(held PremiumFactor) bool {
	return f.Overtime >= held.Overtime && f.DoubleTime >= held.DoubleTime
}

func (r ReportingTime) protectsLike(held ReportingTime) bool {
	return r.FromSize <= held.FromSize && r.ScheduleTenths >= held.ScheduleTenths && r.AtLeast >= held.AtLeast &&
		r.AtMost >= held.AtMost && r.LaterReportLeast >= held.LaterReportLeast
}

func mealsProtectLike(local, held []Meal) bool {
	if len(local) < len(held) {
		return false
	}
	for i, h := range held {
		l := local[i]
		if l.DueOver > h.DueOver || l.Minutes < h.Minutes || l.StartBy > h.StartBy || l.WaivableUpTo > h.WaivableUpTo {
			return false
		}
	}
	return true
}

func (r RestPeriods) protectsLike(held RestPeriods) bool {
	return r.Minutes >= held.Minutes && r.Per <= held.Per && r.NoneUnder <= held.NoneUnder && (r.MajorPart || !held.MajorPart)
}
