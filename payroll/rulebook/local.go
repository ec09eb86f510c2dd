package rulebook

import (
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

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

// Jurisdiction is the book itself, or the first forebear of a local book that comes with the program.
func (b *Book) Jurisdiction() *Book {
	for b.IsLocal() && b.parent != nil {
		b = b.parent
	}
	return b
}

// ParentKey names the book that the book's own text names as its parent, "" where it names none.
func (b *Book) ParentKey() string { return b.parentKey }

// seat gives every book its parent. An announcement says what its parent does not say yet, so it comes between the parent and
// everything that adds to it; several of one parent follow each other by key. Every chain of parents must have an end.
func (l *Library) seat() {
	for _, b := range l.books {
		switch before := l.announcedBefore(b); {
		case b.parentKey == "":
		case before != nil:
			b.parent = before
		case b.local == Announcement:
			b.parent = l.books[b.parentKey]
		default:
			b.parent = l.topmost(l.books[b.parentKey])
		}
	}
}

// topmost is the last of the announcements that add to a book, or the book where there is none.
func (l *Library) topmost(b *Book) *Book {
	if all := l.announcements(b.key); len(all) > 0 {
		return all[len(all)-1]
	}
	return b
}

// announcements are those that name a book as their parent, by key.
func (l *Library) announcements(parent string) []*Book {
	var all []*Book
	for _, b := range l.books {
		if b.local == Announcement && b.parentKey == parent {
			all = append(all, b)
		}
	}
	slices.SortFunc(all, func(a, b *Book) int { return strings.Compare(a.key, b.key) })
	return all
}

// announcedBefore is the announcement of the same parent that comes before this one, nil where there is none.
func (l *Library) announcedBefore(b *Book) *Book {
	if b.local != Announcement {
		return nil
	}
	all := l.announcements(b.parentKey)
	if i := slices.Index(all, b); i > 0 {
		return all[i-1]
	}
	return nil
}

// Standing returns a library with local books that were good when they were taken in, and why those are left out that are no
// longer: their parent is gone, their key is that of a book which has come with the program since, or what they say instead of a forebear protects less than
// that does by now. A value that was only overtaken by a higher or stricter one stays, as the more protective governs.
func (l *Library) Standing(texts map[string][]byte) (*Library, map[string]error) {
	left := map[string]error{}
	for {
		all, err := l.standing(texts, left)
		if len(err) == 0 {
			return all, left
		}
		maps.Copy(left, err)
	}
}

// standing is one attempt of [Library.Standing] without the books that were left out, and what it finds wrong with others.
func (l *Library) standing(texts map[string][]byte, left map[string]error) (*Library, map[string]error) {
	all, wrong := l.copied(), faults{}
	var added []*Book
	for _, file := range slices.Sorted(maps.Keys(texts)) {
		key := strings.TrimSuffix(file, ".yaml")
		if left[key] != nil {
			continue
		}
		b, err := read(file, texts[file])
		if err == nil {
			err = all.add(b)
		}
		wrong.note(key, err)
		added = append(added, b)
	}
	for _, b := range added {
		wrong.note(b.key, all.traced(b))
	}
	if len(wrong) > 0 {
		return nil, wrong
	}
	all.seat()
	for _, b := range added {
		if b.IsLocal() {
			wrong.note(b.key, b.displacing()...)
		}
		wrong.note(b.key, b.complete())
	}
	return all, wrong
}

// displacing are the values of a local book that stand in the place of a forebear's which protects more by now.
func (b *Book) displacing() []error {
	var all []error
	for _, l := range b.loosenings() {
		if l.Way == dated.NotComparable {
			all = append(all, l)
		}
	}
	return all
}

// faults are what is wrong with books, by key.
type faults map[string]error

func (f faults) note(key string, errs ...error) {
	if err := errors.Join(append(errs, f[key])...); err != nil {
		f[key] = err
	}
}

// Identity is what the text of a book says of the book itself, whatever else may be wrong with it.
type Identity struct {
	Key, Title, Parent string
	Local              LocalKind
}

// Identify reads the head of a book.
func Identify(text []byte) Identity {
	fields := dated.Open("book.yaml", text).Root().Fields(nil, bookKeys...)
	word := func(name string) string {
		if !fields.Has(name) {
			return ""
		}
		return fields[name].Text()
	}
	return Identity{word("book"), word("title"), word("parent"), LocalKind(word("local"))}
}

// Loosening is a value of a local book that protects workers less than a forebear does.
type Loosening struct {
	Book, Parameter string
	Day             dated.Date // the first day on which it does
	Value           dated.Figure
	Forebear        string // key of the book that protects more
	Held            dated.Figure
	Way             dated.Way
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
func (b *Book) loosenings() []*Loosening {
	var all []*Loosening
	for i := range kinds {
		if kinds[i].guard == nil {
			continue
		}
		all = append(all, kinds[i].guard(b)...)
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
				return &Loosening{own.Book, own.Name, day, v.Given, theirs.Book, held.Given, own.Way, held.From, past}
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
