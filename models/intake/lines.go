package intake

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// line is one line in the course of being checked.
type line struct {
	b       *batch
	pointer string
	id      uuid.UUID
	bad     bool
}

func (l *line) fault(member, key string, terms payroll.Terms) {
	l.bad = true
	l.b.faults = append(l.b.faults, payroll.Fault{Pointer: l.pointer + member, Key: key, Terms: terms})
}

func (l *line) done(outcome Outcome, supersededBy *uuid.UUID) {
	l.b.lines = append(l.b.lines, LineReceipt{ID: l.id, Pointer: l.pointer, Outcome: outcome, SupersededBy: supersededBy})
}

// checkLines judges every line. The new hands come first, since the others may name them.
func (b *batch) checkLines() error {
	seen := map[uuid.UUID]bool{}
	begin := func(list string, i int, id uuid.UUID) *line {
		l := &line{b: b, pointer: b.prefix(list, i), id: id}
		if id == uuid.Nil || seen[id] {
			l.fault("/id", "fault.id_twice", nil)
		}
		seen[id] = true
		return l
	}
	for i := range b.newWorkers {
		b.checkNewWorker(begin("new_workers", i, b.newWorkers[i].ID), &b.newWorkers[i])
	}
	b.checkRoll()
	for i := range b.time {
		b.checkTime(begin("time", i, b.time[i].ID), &b.time[i])
	}
	for i := range b.tallies {
		b.checkTally(begin("tallies", i, b.tallies[i].ID), &b.tallies[i])
	}
	for i := range b.lots {
		l := begin("lots", i, b.lots[i].ID)
		for j, p := range b.lots[i].Parts {
			if p.ID == uuid.Nil || seen[p.ID] {
				l.fault("/parts/"+itoa(j)+"/id", "fault.id_twice", nil)
			}
			seen[p.ID] = true
		}
		b.checkLot(l, &b.lots[i])
	}
	for i := range b.breaks {
		b.checkBreak(begin("breaks", i, b.breaks[i].ID), &b.breaks[i])
	}
	return nil
}

// repeated tells whether a record is already kept, noting it as a repeat, or as a fault where the content differs. It comes before every other rule: what was
// accepted once stays accepted.
func repeated[C any](l *line, kept *models.Recorded[C], hash string) bool {
	if kept == nil {
		return false
	}
	if kept.ContentHash != hash {
		l.fault("/id", "fault.id_reused", nil)
		l.done(Refused, nil)
		return true
	}
	if !l.bad {
		l.done(Repeated, kept.SupersededBy)
	} else {
		l.done(Refused, nil)
	}
	return true
}

// checkRoll wants whoever is on the roll to be a worker. In mode GoodLines the others are struck off.
func (b *batch) checkRoll() {
	for i, id := range b.roll {
		if !b.ground.workers[id] {
			b.faults = append(b.faults, payroll.Fault{Pointer: "/roll/" + itoa(i), Key: "fault.unknown_reference"})
		}
	}
	b.roll = slices.DeleteFunc(slices.Clone(b.roll), func(id uuid.UUID) bool { return !b.ground.workers[id] })
}

// longestReason is how many characters the reason of a correction has at most.
const longestReason = 500

// checkCorrection checks what a line says it takes the place of.
func checkCorrection[C any](l *line, c Correction, old map[uuid.UUID]*models.Recorded[C], sheetOf func(*C) *uuid.UUID) {
	check := models.NewChecker(l.b.tx)
	check.OptionalText(l.pointer+"/reason", &c.Reason, longestReason)
	if faults, _ := check.Done(); len(faults) > 0 {
		l.bad = true
		l.b.faults = append(l.b.faults, faults...)
	}
	if c.Supersedes == nil {
		return
	}
	if c.Reason == "" {
		l.fault("/reason", "fault.reason_needed", nil)
	}
	target := old[*c.Supersedes]
	switch {
	case target == nil:
		l.fault("/supersedes", "fault.unknown_reference", nil)
	case l.b.ownCrew && !l.b.ofCrew(sheetOf(&target.Content)):
		l.fault("/supersedes", "fault.not_this_crews", nil)
	case target.SupersededBy != nil:
		l.fault("/supersedes", "fault.superseded_already", payroll.Terms{"by": target.SupersededBy.String()})
	}
	if other := l.b.markOf(*c.Supersedes); other != nil {
		l.fault("/supersedes", "fault.superseded_already", payroll.Terms{"by": other.by.String()})
	}
}

// ofCrew tells whether a record came in on a sheet of the same crew as this one.
func (b *batch) ofCrew(sheet *uuid.UUID) bool {
	return sheet != nil && b.ground.crewOf[*sheet] == b.sheet.CrewID
}

func hashOf(content any, c Correction) string {
	return models.ContentHash([]any{content, c.Supersedes})
}

func (b *batch) checkNewWorker(l *line, w *NewWorker) {
	w.Name = strings.TrimSpace(w.Name)
	if w.Language == "" {
		w.Language = "es"
	}
	content := models.WorkerContent{Name: w.Name, Language: w.Language, StartedOn: b.workday, Provisional: true}
	hash := models.ContentHash([]any{"new hand", w.Name, w.Language})
	if kept := b.ground.newWorkers[w.ID]; kept != nil {
		if kept.ContentHash != hash {
			l.fault("/id", "fault.id_reused", nil)
			l.done(Refused, nil)
			return
		}
		l.done(Repeated, kept.Content.SameAs)
		return
	}
	c := models.NewChecker(b.tx)
	c.Text(l.pointer+"/name", &w.Name, 100)
	c.Language(l.pointer+"/language", &content.Language)
	faults, _ := c.Done()
	if b.faults = append(b.faults, faults...); len(faults) > 0 || l.bad {
		l.done(Refused, nil)
		return
	}
	b.ground.workers[w.ID] = true
	b.workers = append(b.workers, models.Worker{
		Keyed: models.Keyed{ID: w.ID, ContentHash: hash}, CreatedAt: b.tx.Now, UpdatedAt: b.tx.Now, Version: 1, Content: content,
	})
	l.done(Recorded, nil)
}

func (l *line) checkWorker(member string, id uuid.UUID) {
	if !l.b.ground.workers[id] {
		l.fault(member, "fault.unknown_reference", nil)
	}
}

func (l *line) checkPlace(block, operation *uuid.UUID) {
	if block != nil && l.b.ground.blocks[*block] == nil {
		l.fault("/block_id", "fault.unknown_reference", nil)
	}
	if operation != nil && l.b.ground.operations[*operation] == nil {
		l.fault("/operation_id", "fault.unknown_reference", nil)
	}
}

// keep fills in what every record of the batch shares.
func keep[C any](b *batch, id uuid.UUID, hash string, content C, c Correction) models.Recorded[C] {
	return models.Recorded[C]{
		Keyed: models.Keyed{ID: id, ContentHash: hash}, Content: content, RecordedAt: b.recordedAt.UTC(), ReceivedAt: b.tx.Now,
		RecordedBy: b.tx.Actor, Reason: strings.TrimSpace(c.Reason),
	}
}

func (b *batch) supersede(table string, c Correction, by uuid.UUID) {
	if c.Supersedes != nil {
		b.marks = append(b.marks, mark{table, *c.Supersedes, by})
	}
}

// longestEntry is the longest stretch that one entry may record; a longer one is a clock that somebody forgot.
const longestEntry = 16 * time.Hour

var timeKinds = []payroll.TimeKind{payroll.Piece, payroll.Hourly, payroll.Nonproductive, payroll.Rest, payroll.Recovery, payroll.MealPeriod, payroll.MealOnDuty}

func (b *batch) checkTime(l *line, t *TimeLine) {
	content := models.TimeEntryContent{
		WorkerID: t.WorkerID, Workday: b.workday, Kind: t.Kind, BlockID: t.BlockID, OperationID: t.OperationID,
		StartedAt: toMinute(t.Start), EndedAt: toMinute(t.End), Minutes: t.Minutes,
	}
	if t.BlockID == nil {
		content.GardenID = b.garden
	}
	hash := hashOf(content, t.Correction) // over what was sent: the garden follows from the block, and a block may move to another
	content.GardenID = b.gardenOf(t.BlockID)
	if repeated(l, b.ground.timeEntries[t.ID], hash) {
		return
	}
	if !slices.Contains(timeKinds, t.Kind) {
		l.fault("/kind", "fault.not_one_of", payroll.Terms{"value": string(t.Kind), "allowed": words(timeKinds)})
	}
	l.checkWorker("/worker_id", t.WorkerID)
	l.checkPlace(t.BlockID, t.OperationID)
	checkCorrection(l, t.Correction, b.ground.timeEntries, func(c *models.TimeEntryContent) *uuid.UUID { return c.SheetID })
	if l.checkLength(&content); !l.bad {
		l.checkOverlap(content, t.Supersedes)
	}
	if l.bad {
		l.done(Refused, nil)
		return
	}
	if b.sheet != nil {
		content.SheetID = &b.sheet.ID
	}
	b.supersede("time_entries", t.Correction, t.ID)
	b.timeEntries = append(b.timeEntries, keep(b, t.ID, hash, content, t.Correction))
	l.done(Recorded, nil)
}

// gardenOf is the garden of the block, or the batch's own.
func (b *batch) gardenOf(block *uuid.UUID) uuid.UUID {
	if block != nil && b.ground.blocks[*block] != nil {
		return b.ground.blocks[*block].Content.GardenID
	}
	return b.garden
}

// toMinute cuts an instant down to the minute.
func toMinute(t *time.Time) *time.Time {
	if t == nil {
		return nil
	}
	cut := t.UTC().Truncate(time.Minute)
	return &cut
}

func words[S ~string](list []S) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = string(s)
	}
	return out
}

// checkLength wants either a bare length or clock times that begin within the workday and run forwards.
func (l *line) checkLength(t *models.TimeEntryContent) {
	switch {
	case t.Minutes != nil && (t.StartedAt != nil || t.EndedAt != nil), t.Minutes == nil && t.StartedAt == nil:
		l.fault("", "fault.minutes_or_clock", nil)
	case t.Minutes != nil:
		if *t.Minutes < 1 || *t.Minutes > payroll.Minutes(longestEntry.Minutes()) {
			l.fault("/minutes", "fault.not_between", payroll.Terms{"low": 1, "high": int(longestEntry.Minutes())})
		}
	default:
		l.checkClock(t)
	}
}

func (l *line) checkClock(t *models.TimeEntryContent) {
	// Without a garden, which is told at its own place, nobody knows when the workday begins.
	begin, end, ok := l.b.ground.workday(t.GardenID, l.b.workday)
	if ok && !l.b.noDay && (t.StartedAt.Before(begin) || !t.StartedAt.Before(end)) {
		l.fault("/start", "fault.outside_workday", payroll.Terms{"workday": l.b.workday.Date})
	}
	if t.StartedAt.After(l.b.tx.Now.Add(skewTolerance)) {
		l.fault("/start", "fault.in_the_future", nil)
	}
	if t.EndedAt == nil {
		return
	}
	switch length := t.EndedAt.Sub(*t.StartedAt); {
	case length <= 0:
		l.fault("/end", "fault.ends_before_start", nil)
	case length > longestEntry:
		l.fault("/end", "fault.entry_too_long", payroll.Terms{"limit": payroll.Minutes(longestEntry.Minutes())})
	}
}

// workday is the stretch of time that a workday names in a garden: from the employer's start hour on that civil date to the same hour of the next.
func (g *ground) workday(garden uuid.UUID, day models.Date) (begin, end time.Time, ok bool) {
	place := g.gardens[garden]
	if place == nil {
		return
	}
	loc, err := models.Zone(place.Content.TimeZone)
	if err != nil {
		return
	}
	start := int(g.profile.Content.WorkdayStart)
	return models.WorkdayBegin(day.Date, start, loc), models.WorkdayBegin(day.AddDays(1), start, loc), true
}

// checkOverlap wants the worker free at that time, and no second entry left open.
func (l *line) checkOverlap(t models.TimeEntryContent, supersedes *uuid.UUID) {
	if t.StartedAt == nil {
		return
	}
	own := span{id: l.id, start: *t.StartedAt, pointer: l.pointer}
	if t.EndedAt != nil {
		own.end = *t.EndedAt
	}
	for _, other := range l.b.ground.standing[t.WorkerID] {
		if supersedes != nil && other.id == *supersedes || l.b.markOf(other.id) != nil || l.b.mode == Whole && l.b.ground.superseded[other.id] {
			continue
		}
		if other.id == l.id {
			continue // this very entry came in through another connection meanwhile; writing it will tell
		}
		if own.overlaps(other) {
			l.fault("/start", "fault.overlap", payroll.Terms{"other": cmpPointer(other)})
			return
		}
		if own.end.IsZero() && other.end.IsZero() {
			l.fault("/end", "fault.open_already", payroll.Terms{"other": cmpPointer(other)})
			return
		}
	}
	l.b.ground.standing[t.WorkerID] = append(l.b.ground.standing[t.WorkerID], own)
}

// markOf is the correction of a record by an earlier line of the batch; nil where there is none.
func (b *batch) markOf(id uuid.UUID) *mark {
	for i := range b.marks {
		if b.marks[i].old == id {
			return &b.marks[i]
		}
	}
	return nil
}

// cmpPointer names the other entry: by its place in the same sheet, or by its identifier.
func cmpPointer(s span) string {
	if s.pointer != "" {
		return s.pointer
	}
	return s.id.String()
}

// absurdTimes is how many times an operation's daily limit a count may reach before it is refused as a slip of the finger; above the limit itself it is
// kept, and the clerk is asked about it.
const absurdTimes = 10

func (l *line) checkPieces(pieces payroll.Pieces, operation uuid.UUID, workers int) {
	o := l.b.ground.operations[operation]
	switch {
	case pieces < 0:
		l.fault("/pieces", "fault.negative", nil)
	case o != nil && pieces > o.Content.DailyLimit*absurdTimes*payroll.Pieces(workers):
		l.fault("/pieces", "fault.absurd_count", payroll.Terms{"limit": o.Content.DailyLimit})
	}
}

func (b *batch) checkTally(l *line, t *TallyLine) {
	pieces := t.Pieces
	content := models.TallyContent{WorkerID: t.WorkerID, Workday: b.workday, BlockID: t.BlockID, OperationID: t.OperationID, Pieces: &pieces}
	hash := hashOf(content, t.Correction)
	if repeated(l, b.ground.tallies[t.ID], hash) {
		return
	}
	l.checkWorker("/worker_id", t.WorkerID)
	l.checkPlace(&t.BlockID, &t.OperationID)
	l.checkPieces(t.Pieces, t.OperationID, 1)
	checkCorrection(l, t.Correction, b.ground.tallies, func(c *models.TallyContent) *uuid.UUID { return c.SheetID })
	if t.Supersedes != nil && b.ground.tallies[*t.Supersedes] != nil && b.ground.tallies[*t.Supersedes].Content.LotID != nil {
		l.fault("/supersedes", "fault.part_of_lot", nil)
	}
	if l.bad {
		l.done(Refused, nil)
		return
	}
	if b.sheet != nil {
		content.SheetID = &b.sheet.ID
	}
	b.supersede("tallies", t.Correction, t.ID)
	b.tallyRows = append(b.tallyRows, keep(b, t.ID, hash, content, t.Correction))
	l.done(Recorded, nil)
}

func (b *batch) checkBreak(l *line, k *BreakLine) {
	content := models.BreakContent{WorkerID: k.WorkerID, Workday: b.workday, Fact: k.Fact}
	hash := hashOf(content, k.Correction)
	if repeated(l, b.ground.breaks[k.ID], hash) {
		return
	}
	if !slices.Contains(models.BreakFacts, k.Fact) {
		l.fault("/fact", "fault.not_one_of", payroll.Terms{"value": string(k.Fact), "allowed": words(models.BreakFacts)})
	}
	l.checkWorker("/worker_id", k.WorkerID)
	checkCorrection(l, k.Correction, b.ground.breaks, func(c *models.BreakContent) *uuid.UUID { return c.SheetID })
	if l.bad {
		l.done(Refused, nil)
		return
	}
	if b.sheet != nil {
		content.SheetID = &b.sheet.ID
	}
	b.supersede("break_records", k.Correction, k.ID)
	b.breakRows = append(b.breakRows, keep(b, k.ID, hash, content, k.Correction))
	l.done(Recorded, nil)
}
