package imports

import (
	"encoding/json"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// work is a row of a crew sheet, understood.
type work struct {
	*row
	worker           uuid.UUID
	newName          string // of a hand who is in no book
	day              models.Date
	crew, garden     uuid.UUID
	block, operation *uuid.UUID
	pieces           *payroll.Pieces
	time             []stretch
	breaks           []fact
	lot              string // rows with the same one are parts of one count
	lotMinutes       *payroll.Minutes
	share            *payroll.Share
	id               uuid.UUID // what the identifiers of its records follow from
	lotID            uuid.UUID // likewise, of the lot that it is a part of
}

// stretch is a stretch of time, by the clock or as a bare length, with the fields that said so.
type stretch struct {
	kind                       payroll.TimeKind
	start, end                 *time.Time
	minutes                    *payroll.Minutes
	from, startField, endField string // from: the field of the length
}

type fact struct {
	fact  models.BreakFact
	field string
}

// isWork tells rows of work from those that spreadsheets have besides: empty ones, and totals.
func (r *row) isWork() bool {
	if r.has("date") {
		return true
	}
	who := fold(r.text(r.whoField()))
	return who != "" && !slices.Contains([]string{"total", "totals", "totales", "subtotal", "sum", "suma"}, who)
}

// understand reads a row of a crew sheet; every fault in it is noted.
func (r *row) understand() *work {
	w := &work{row: r, lot: r.lotKey()}
	w.worker, w.newName, _ = r.worker()
	if !r.has("date") {
		r.fault("date", "fault.cell_needed", nil)
	} else if day, ok := r.date("date"); ok && r.plausible(day) {
		w.day = day
	}
	w.crew, _ = r.crew()
	w.readPlace()
	w.readCount()
	w.readTime()
	w.readBreaks()
	if !r.bad[r.line] && w.pieces == nil && len(w.time) == 0 && len(w.breaks) == 0 && w.lot == "" {
		r.fault("", "fault.row_says_nothing", nil)
	}
	return w
}

func (r *row) plausible(day models.Date) bool {
	c := models.NewChecker(r.tx)
	ok := c.Day("", day.Date)
	faults, _ := c.Done()
	for _, f := range faults {
		r.fault("date", f.Key, f.Terms)
	}
	return ok
}

// lotKey is what the rows of one shared count have in common, as the file says it.
func (r *row) lotKey() string {
	if !r.has("lot") {
		return ""
	}
	return strings.Join([]string{fold(r.text("lot")), r.text("date"), fold(r.text("block")), fold(r.text("operation"))}, "\x00")
}

// readPlace finds the block, the operation and the garden: the block's, or the one that the row, the mapping or the books name.
func (w *work) readPlace() {
	if w.has("block") {
		if id, ok := w.row.block(); ok {
			w.block, w.garden = &id, w.known.blocks[id].Content.GardenID
		}
	} else {
		w.garden, _ = w.row.garden()
	}
	if w.has("operation") {
		if id, ok := w.row.operation(); ok {
			w.operation = &id
		}
	}
}

func (w *work) readCount() {
	if w.has("pieces") {
		if n, ok := read(w.row, "pieces", payroll.ParsePieces); ok {
			w.pieces = &n
		}
	}
	if !w.has("pieces") && w.lot == "" {
		return
	}
	for _, field := range []string{"block", "operation"} {
		if !w.has(field) {
			w.fault(field, "fault.cell_needed", nil)
		}
	}
	if w.has("lot_minutes") {
		if n, ok := w.minutes("lot_minutes"); ok {
			w.lotMinutes = &n
		}
	}
	if w.has("share") {
		if s, ok := read(w.row, "share", payroll.ParseShare); ok {
			w.share = &s
		}
	}
}

// kindWords are how files name the kinds of working time.
var kindWords = map[string]payroll.TimeKind{
	"piece": payroll.Piece, "piecework": payroll.Piece, "piece rate": payroll.Piece, "destajo": payroll.Piece, "a destajo": payroll.Piece,
	"hourly": payroll.Hourly, "hour": payroll.Hourly, "hours": payroll.Hourly, "por hora": payroll.Hourly, "hora": payroll.Hourly,
	"nonproductive": payroll.Nonproductive, "waiting": payroll.Nonproductive, "no productivo": payroll.Nonproductive, "espera": payroll.Nonproductive,
}

// mainKind is the kind of the row's working time: as it says, else piece time where there are pieces and hourly time where there are none.
func (w *work) mainKind() payroll.TimeKind {
	switch {
	case w.has("kind"):
		kind, ok := kindWords[fold(w.text("kind"))]
		if !ok {
			w.fault("kind", "fault.not_one_of", payroll.Terms{"value": w.text("kind"), "allowed": []string{"piece", "hourly", "nonproductive"}})
		}
		return kind
	case w.has("pieces"), w.lot != "":
		return payroll.Piece
	}
	return payroll.Hourly
}

// lengths are the columns of bare minutes, with what they are of.
var lengths = []struct {
	field string
	kind  payroll.TimeKind
}{
	{"piece_minutes", payroll.Piece}, {"hourly_minutes", payroll.Hourly}, {"nonproductive_minutes", payroll.Nonproductive}, {"rest_minutes", payroll.Rest},
	{"recovery_minutes", payroll.Recovery}, {"meal_minutes", payroll.MealPeriod}, {"meal_on_duty_minutes", payroll.MealOnDuty},
}

// readTime reads the clock times and the lengths. Within clock times, time of another kind that has a length only cannot be placed: then the lengths are
// kept and the clock times are not.
func (w *work) readTime() {
	kind := w.mainKind()
	bare, sum, ok := w.readLengths()
	clock, okClock := w.readClock(kind)
	hours, okHours := payroll.Minutes(0), true
	if w.has("hours") {
		hours, okHours = w.minutes("hours")
	}
	main := w.has("piece_minutes") || w.has("hourly_minutes")
	switch {
	case !ok || !okClock || !okHours:
		return
	case main && (len(clock) > 0 || w.has("hours")):
		w.fault("piece_minutes", "fault.time_told_twice", nil)
		return
	case len(clock) > 0:
		w.time = w.merge(kind, clock, bare, sum, hours)
	default:
		if hours > 0 {
			bare = append(bare, stretch{kind: kind, minutes: &hours, from: "hours"})
		}
		w.time = bare
	}
	if slices.ContainsFunc(w.time, func(s stretch) bool { return s.minutes != nil }) && len(clock) == 0 {
		w.note(w.time[0].from, "note.import_minutes_only", nil)
	}
}

func (w *work) readLengths() (bare []stretch, sum payroll.Minutes, ok bool) {
	ok = true
	for _, l := range lengths {
		if !w.has(l.field) {
			continue
		}
		n, good := w.minutes(l.field)
		if ok = ok && good; good && n > 0 {
			sum += n
			bare = append(bare, stretch{kind: l.kind, minutes: &n, from: l.field})
		}
	}
	return bare, sum, ok
}

// merge puts clock times and lengths together, and holds the hours that the row tells against them.
func (w *work) merge(kind payroll.TimeKind, clock, bare []stretch, sum, hours payroll.Minutes) []stretch {
	var worked, unpaid payroll.Minutes
	for _, s := range clock {
		if s.kind != payroll.MealPeriod {
			worked += payroll.Minutes(s.end.Sub(*s.start) / time.Minute)
		}
	}
	for _, s := range bare {
		if s.kind == payroll.MealPeriod {
			unpaid += *s.minutes
		}
	}
	switch {
	case sum > worked:
		w.fault(bare[0].from, "fault.more_than_clock", payroll.Terms{"given": sum, "clock": worked})
		return nil
	case w.has("hours") && hours != worked-unpaid:
		w.fault("hours", "fault.hours_not_as_clock", payroll.Terms{"given": hours, "clock": worked - unpaid})
		return nil
	case len(bare) == 0:
		return clock
	}
	w.note("start", "note.import_clock_not_kept", nil)
	rest := worked - sum
	kept := slices.DeleteFunc(clock, func(s stretch) bool { return s.kind != payroll.MealPeriod })
	if rest > 0 {
		kept = append(kept, stretch{kind: kind, minutes: &rest, from: "start"})
	}
	return append(kept, bare...)
}

// readClock reads the clock times, each after the one before.
func (w *work) readClock(kind payroll.TimeKind) ([]stretch, bool) {
	var points []time.Time
	var names []string
	ok := true
	for _, field := range []string{"start", "meal_start", "meal_end", "end"} {
		if !w.has(field) {
			continue
		}
		minute, good := w.clock(field)
		if ok = ok && good; good {
			points, names = append(points, w.instant(minute)), append(names, field)
		}
	}
	if !ok || len(points) == 0 {
		return nil, ok
	}
	for _, pair := range [][2]string{{"start", "end"}, {"end", "start"}, {"meal_start", "meal_end"}, {"meal_end", "meal_start"}} {
		if w.has(pair[0]) && !w.has(pair[1]) {
			w.fault(pair[1], "fault.clock_half", payroll.Terms{"other": w.text(pair[0])})
			return nil, false
		}
	}
	if !w.has("start") {
		w.fault("start", "fault.cell_needed", nil)
		return nil, false
	}
	for i := 1; i < len(points); i++ {
		if points[i].After(points[i-1]) {
			continue
		}
		if points[i] = points[i].AddDate(0, 0, 1); !w.mapping.Overnight || !points[i].After(points[i-1]) {
			w.fault(names[i], "fault.clock_backwards", payroll.Terms{"given": w.text(names[i]), "before": w.text(names[i-1])})
			return nil, false
		}
	}
	at := func(s stretch, i int) stretch {
		s.start, s.end, s.startField, s.endField = &points[i], &points[i+1], names[i], names[i+1]
		return s
	}
	if len(points) == 2 {
		return []stretch{at(stretch{kind: kind}, 0)}, true
	}
	return []stretch{at(stretch{kind: kind}, 0), at(stretch{kind: payroll.MealPeriod}, 1), at(stretch{kind: kind}, 2)}, true
}

// instant is a time of the row's day on its garden's clock. Where either is not known the row is out anyway.
func (w *work) instant(minute int) time.Time {
	loc := time.UTC
	if g := w.known.gardens[w.garden]; g != nil {
		if l, err := time.LoadLocation(g.Content.TimeZone); err == nil {
			loc = l
		}
	}
	y, m, d := w.day.Civil()
	return time.Date(y, m, d, minute/60, minute%60, 0, 0, loc)
}

var breakWords = map[string]map[string]models.BreakFact{
	"not_provided": {
		"meal": models.MealNotProvided, "lunch": models.MealNotProvided, "comida": models.MealNotProvided,
		"rest": models.RestNotProvided, "break": models.RestNotProvided, "descanso": models.RestNotProvided,
		"recovery": models.RecoveryNotProvided, "shade": models.RecoveryNotProvided, "recuperacion": models.RecoveryNotProvided, "sombra": models.RecoveryNotProvided,
	},
	"waived": {
		"first": models.FirstMealWaived, "1": models.FirstMealWaived, "primera": models.FirstMealWaived,
		"second": models.SecondMealWaived, "2": models.SecondMealWaived, "segunda": models.SecondMealWaived,
	},
}

// readBreaks reads which periods were not provided and which meals were waived, several parted by commas.
func (w *work) readBreaks() {
	for _, field := range []string{"not_provided", "waived"} {
		for part := range strings.FieldsFuncSeq(w.text(field), func(r rune) bool { return strings.ContainsRune(",;+/&", r) }) {
			word := fold(part)
			if slices.Contains([]string{"", "no", "none", "0", "ninguno", "ninguna"}, word) {
				continue
			}
			f, ok := breakWords[field][word]
			if !ok {
				w.fault(field, "fault.unknown_word", payroll.Terms{"given": strings.TrimSpace(part)})
				continue
			}
			w.breaks = append(w.breaks, fact{f, field})
		}
	}
}

// content is what the row says, in the records' terms, whatever the file's notation and order.
func (w *work) content() string {
	type entry struct {
		Kind       payroll.TimeKind
		Start, End *time.Time
		Minutes    *payroll.Minutes
	}
	var entries []entry
	for _, s := range w.time {
		e := entry{Kind: s.kind, Minutes: s.minutes}
		if s.start != nil {
			start, end := s.start.UTC(), s.end.UTC()
			e.Start, e.End = &start, &end
		}
		entries = append(entries, e)
	}
	var facts []models.BreakFact
	for _, f := range w.breaks {
		facts = append(facts, f.fact)
	}
	document, err := json.Marshal([]any{w.worker, w.day, w.block, w.operation, w.pieces, entries, facts, fold(w.text("lot")), w.lotMinutes, w.share})
	if err != nil {
		panic(err) // plain values
	}
	return string(document)
}
