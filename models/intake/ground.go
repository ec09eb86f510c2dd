package intake

import (
	"bytes"
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"

	"palmero/models"
)

func itoa(i int) string { return strconv.Itoa(i) }

// ground is all that the lines are checked against, fetched in a fixed number of statements whatever the number of lines.
type ground struct {
	profile    *models.EmployerProfile
	gardens    map[uuid.UUID]*models.Garden
	blocks     map[uuid.UUID]*models.Block
	operations map[uuid.UUID]*models.Operation
	workers    map[uuid.UUID]bool

	// the records that lines may repeat or supersede, by identifier
	timeEntries map[uuid.UUID]*models.TimeEntry
	tallies     map[uuid.UUID]*models.Tally
	lots        map[uuid.UUID]*models.Lot
	breaks      map[uuid.UUID]*models.BreakRecord
	newWorkers  map[uuid.UUID]*models.Worker

	crewOf map[uuid.UUID]uuid.UUID // of the sheets on which what is superseded came in; only where the batch asks for it

	superseded map[uuid.UUID]bool // time entries that lines supersede, so that where all lines are taken or none, none of these is in the way

	// the time entries that stand, of the workers of the lines, around the workday
	standing map[uuid.UUID][]span
}

// span is a stretch of clock time that a worker is already recorded for; a zero end is an entry still open.
type span struct {
	id         uuid.UUID
	start, end time.Time
	pointer    string // of the line it comes from, "" where it was recorded before
}

func (s span) overlaps(o span) bool {
	return !s.end.IsZero() && !o.end.IsZero() && s.start.Before(o.end) && o.start.Before(s.end)
}

func survey(b *batch) (*ground, error) {
	g := &ground{}
	var err error
	if g.profile, err = b.tx.Profile(); err != nil {
		return nil, err
	}
	steps := []func() error{
		func() error { return all(b.tx, &g.gardens) },
		func() error { return all(b.tx, &g.blocks) },
		func() error { return all(b.tx, &g.operations) },
		func() error { return g.findWorkers(b) },
		func() error { return g.findRecords(b) },
		func() error { return g.findCrews(b) },
		func() error { return g.findStanding(b) },
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return g, nil
}

func all[C any](tx *models.Tx, into *map[uuid.UUID]*models.Kept[C]) (err error) {
	*into, err = models.All[C](tx)
	return err
}

// workerIDs are the workers that the lines and the roll name.
func (b *batch) workerIDs() []uuid.UUID {
	seen := map[uuid.UUID]bool{}
	var ids []uuid.UUID
	add := func(id uuid.UUID) {
		if !seen[id] {
			seen[id] = true
			ids = append(ids, id)
		}
	}
	for _, l := range b.time {
		add(l.WorkerID)
	}
	for _, l := range b.tallies {
		add(l.WorkerID)
	}
	for _, l := range b.lots {
		for _, p := range l.Parts {
			add(p.WorkerID)
		}
	}
	for _, l := range b.breaks {
		add(l.WorkerID)
	}
	for _, id := range b.roll {
		add(id)
	}
	return ids
}

func (g *ground) findWorkers(b *batch) error {
	ids := b.workerIDs()
	missing, err := b.tx.Missing("workers", ids)
	if err != nil {
		return err
	}
	g.workers = make(map[uuid.UUID]bool, len(ids))
	for _, id := range ids {
		g.workers[id] = !missing[id]
	}
	var fresh []uuid.UUID
	for _, w := range b.newWorkers {
		fresh = append(fresh, w.ID)
	}
	var rows []models.Worker
	if len(fresh) > 0 {
		if err := b.tx.DB().Where("id IN ?", fresh).Find(&rows).Error; err != nil {
			return err
		}
	}
	g.newWorkers = models.KeptByID(rows)
	return nil
}

func (g *ground) findRecords(b *batch) error {
	var times, tallies, lots, breaks []uuid.UUID
	with := func(list *[]uuid.UUID, id uuid.UUID, c Correction) {
		*list = append(*list, id)
		if c.Supersedes != nil {
			*list = append(*list, *c.Supersedes)
		}
	}
	g.superseded = map[uuid.UUID]bool{}
	for _, l := range b.time {
		with(&times, l.ID, l.Correction)
		if l.Supersedes != nil {
			g.superseded[*l.Supersedes] = true
		}
	}
	for _, l := range b.tallies {
		with(&tallies, l.ID, l.Correction)
	}
	for _, l := range b.lots {
		with(&lots, l.ID, l.Correction)
		for _, p := range l.Parts {
			tallies = append(tallies, p.ID)
		}
	}
	for _, l := range b.breaks {
		with(&breaks, l.ID, l.Correction)
	}
	for _, step := range []func() error{
		func() error { return recorded(b.tx, times, &g.timeEntries) },
		func() error { return recorded(b.tx, tallies, &g.tallies) },
		func() error { return recorded(b.tx, lots, &g.lots) },
		func() error { return recorded(b.tx, breaks, &g.breaks) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// findCrews finds out for a crew lead's sheet which crews' sheets the records came in on.
func (g *ground) findCrews(b *batch) error {
	if !b.ownCrew {
		return nil
	}
	var ids []uuid.UUID
	add := func(id *uuid.UUID) {
		if id != nil {
			ids = append(ids, *id)
		}
	}
	for _, r := range g.timeEntries {
		add(r.Content.SheetID)
	}
	for _, r := range g.tallies {
		add(r.Content.SheetID)
	}
	for _, r := range g.lots {
		add(r.Content.SheetID)
	}
	for _, r := range g.breaks {
		add(r.Content.SheetID)
	}
	var sheets []models.CrewSheet
	if len(ids) > 0 {
		if err := b.tx.DB().Where("id IN ?", ids).Find(&sheets).Error; err != nil {
			return err
		}
	}
	g.crewOf = make(map[uuid.UUID]uuid.UUID, len(sheets))
	for _, s := range sheets {
		g.crewOf[s.ID] = s.CrewID
	}
	return nil
}

func recorded[C any](tx *models.Tx, ids []uuid.UUID, into *map[uuid.UUID]*models.Recorded[C]) error {
	var rows []models.Recorded[C]
	if len(ids) > 0 {
		if err := tx.DB().Scopes(tx.Among("id", ids)).Find(&rows).Error; err != nil {
			return err
		}
	}
	*into = models.RecordedByID(rows)
	return nil
}

// findStanding fetches what the workers are already recorded for from two days before the workday to two days after, since no entry is longer than a day, and what stands open
// of any day. Each is looked up by an index of its own: the years behind cost nothing.
func (g *ground) findStanding(b *batch) error {
	g.standing = map[uuid.UUID][]span{}
	ids := make([]uuid.UUID, 0, len(b.time))
	for _, l := range b.time {
		ids = append(ids, l.WorkerID)
	}
	if ids = distinct(ids); len(ids) == 0 {
		return nil
	}
	near, err := models.OfWorkers[models.TimeEntryContent](b.tx, ids, models.Day(b.workday.AddDays(-2)), models.Day(b.workday.AddDays(2)))
	if err != nil {
		return err
	}
	var open []models.TimeEntry
	err = b.tx.DB().Scopes(b.tx.Among("worker_id", ids)).Where("superseded_by IS NULL AND started_at IS NOT NULL AND ended_at IS NULL").Find(&open).Error
	for _, r := range append(near, open...) {
		g.stands(&r)
	}
	return err
}

// stands notes a stretch of clock time that is recorded already, once.
func (g *ground) stands(r *models.TimeEntry) {
	spans := g.standing[r.Content.WorkerID]
	if r.Content.StartedAt == nil || slices.ContainsFunc(spans, func(s span) bool { return s.id == r.ID }) {
		return
	}
	s := span{id: r.ID, start: *r.Content.StartedAt}
	if r.Content.EndedAt != nil {
		s.end = *r.Content.EndedAt
	}
	g.standing[r.Content.WorkerID] = append(spans, s)
}

// distinct keeps each identifier once, in order.
func distinct(ids []uuid.UUID) []uuid.UUID {
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	return slices.Compact(ids)
}
