package imports

import (
	"cmp"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// recorded is what the books hold already for the workers of a sheet on its day, what was corrected included.
type recorded struct {
	time    map[uuid.UUID][]models.TimeEntry // by worker
	tallies map[uuid.UUID][]models.Tally
	breaks  map[uuid.UUID][]models.BreakRecord
	lots    []models.Lot
	before  map[uuid.UUID]uuid.UUID // by record: the one that it took the place of
	exists  map[uuid.UUID]bool
	own     map[uuid.UUID]bool   // the records that the file's rows make
	replace map[string]uuid.UUID // by lot of the file: the lot that it is to take the place of
}

func (j *job) recordedFor(rows []*work) (*recorded, error) {
	rec := &recorded{
		time: map[uuid.UUID][]models.TimeEntry{}, tallies: map[uuid.UUID][]models.Tally{}, breaks: map[uuid.UUID][]models.BreakRecord{},
		before: map[uuid.UUID]uuid.UUID{}, exists: map[uuid.UUID]bool{}, own: j.own, replace: map[string]uuid.UUID{},
	}
	var workers []uuid.UUID
	for _, w := range rows {
		workers = append(workers, w.worker)
	}
	slices.SortFunc(workers, func(a, b uuid.UUID) int { return cmp.Compare(a.String(), b.String()) })
	workers = slices.Compact(workers)
	day := rows[0].day
	var times []models.TimeEntry
	var tallies []models.Tally
	var breaks []models.BreakRecord
	for _, into := range []any{&times, &tallies, &breaks} {
		if err := j.tx.DB().Where("workday = ? AND worker_id IN ?", day, workers).Order("seq").Find(into).Error; err != nil {
			return nil, err
		}
	}
	if err := j.tx.DB().Where("workday = ?", day).Order("seq").Find(&rec.lots).Error; err != nil {
		return nil, err
	}
	byWorker(rec, times, rec.time, func(c *models.TimeEntryContent) uuid.UUID { return c.WorkerID })
	byWorker(rec, tallies, rec.tallies, func(c *models.TallyContent) uuid.UUID { return c.WorkerID })
	byWorker(rec, breaks, rec.breaks, func(c *models.BreakContent) uuid.UUID { return c.WorkerID })
	byWorker(rec, rec.lots, map[uuid.UUID][]models.Lot{}, func(*models.LotContent) uuid.UUID { return uuid.Nil })
	return rec, nil
}

func byWorker[C any](rec *recorded, rows []models.Recorded[C], into map[uuid.UUID][]models.Recorded[C], worker func(*C) uuid.UUID) {
	for _, r := range rows {
		rec.exists[r.ID] = true
		if r.SupersededBy != nil {
			rec.before[*r.SupersededBy] = r.ID
		}
		id := worker(&r.Content)
		into[id] = append(into[id], r)
	}
}

// stored tells whether everything that a row makes is in the books already.
func (rec *recorded) stored(w *work) bool {
	return !slices.ContainsFunc(w.ids(), func(id uuid.UUID) bool { return !rec.exists[id] })
}

// ids are those of the records that a row makes, its part of a lot included.
func (w *work) ids() []uuid.UUID {
	var ids []uuid.UUID
	for i := range w.time {
		ids = append(ids, w.timeID(i))
	}
	for i := range w.breaks {
		ids = append(ids, w.breakID(i))
	}
	switch {
	case w.lot != "":
		ids = append(ids, w.partID())
	case w.pieces != nil:
		ids = append(ids, w.tallyID())
	}
	return ids
}

// plan says which recorded work the lines of a row take the place of.
type plan struct {
	time, breaks map[int]*uuid.UUID
	tally        *uuid.UUID
}

// settle decides what is to be done with a row: lines stored before say again what they said; a row that matches other recorded work follows
// the answer, or asks. It tells whether the row is to be submitted.
func (j *job) settle(w *work, rec *recorded) (plan, bool) {
	p := plan{time: map[int]*uuid.UUID{}, breaks: map[int]*uuid.UUID{}, tally: rec.replaced(w.tallyID())}
	for i := range w.time {
		p.time[i] = rec.replaced(w.timeID(i))
	}
	for i := range w.breaks {
		p.breaks[i] = rec.replaced(w.breakID(i))
	}
	m := rec.match(w)
	if m.none() {
		return p, true
	}
	switch j.order.OnMatch.to(w.line) {
	case Add:
		return p, true
	case Skip:
		j.report.Skipped++
		return p, false
	case Replace:
		return p, m.replace(w, rec, &p)
	}
	w.ask(m.field(w), "fault.import_matches", payroll.Terms{"recorded": m.words()})
	return p, false
}

func (rec *recorded) replaced(id uuid.UUID) *uuid.UUID {
	if old, ok := rec.before[id]; ok {
		return &old
	}
	return nil
}

// lotBefore is the lot that a row's lot takes, or took, the place of.
func (rec *recorded) lotBefore(w *work) *uuid.UUID {
	if old := rec.replaced(w.lotID); old != nil {
		return old
	}
	if old, ok := rec.replace[w.lot]; ok {
		return &old
	}
	return nil
}

// matches is the recorded work that a row may be another record of.
type matches struct {
	time    []models.TimeEntry
	tallies []models.Tally
	breaks  []models.BreakRecord
	lots    []models.Lot
}

func (m *matches) none() bool { return len(m.time)+len(m.tallies)+len(m.breaks)+len(m.lots) == 0 }

// match finds standing work of the row's worker and day that did not come in with this file: time at the same time or without one, a
// count in the same block and operation, the same break.
func (rec *recorded) match(w *work) *matches {
	m := &matches{}
	for _, e := range rec.time[w.worker] {
		meets := func(i int) bool { return !rec.exists[w.timeID(i)] && w.time[i].meets(&e.Content) }
		if e.SupersededBy == nil && !rec.own[e.ID] && slices.ContainsFunc(indices(w.time), meets) {
			m.time = append(m.time, e)
		}
	}
	for _, t := range rec.tallies[w.worker] {
		c := &t.Content
		counts := w.pieces != nil && w.lot == "" && !rec.exists[w.tallyID()]
		if counts && t.SupersededBy == nil && !rec.own[t.ID] && c.LotID == nil && c.BlockID == *w.block && c.OperationID == *w.operation {
			m.tallies = append(m.tallies, t)
		}
	}
	for _, b := range rec.breaks[w.worker] {
		same := func(i int) bool { return !rec.exists[w.breakID(i)] && w.breaks[i].fact == b.Content.Fact }
		if b.SupersededBy == nil && !rec.own[b.ID] && slices.ContainsFunc(indices(w.breaks), same) {
			m.breaks = append(m.breaks, b)
		}
	}
	m.lots = rec.matchLots(w)
	return m
}

func indices[T any](list []T) []int {
	all := make([]int, len(list))
	for i := range list {
		all[i] = i
	}
	return all
}

// matchLots finds standing lots of the same day, block and operation that the worker has a part of.
func (rec *recorded) matchLots(w *work) (found []models.Lot) {
	if w.lot == "" || rec.exists[w.lotID] {
		return nil
	}
	for _, l := range rec.lots {
		c := &l.Content
		if l.SupersededBy != nil || c.BlockID != *w.block || c.OperationID != *w.operation {
			continue
		}
		if slices.ContainsFunc(rec.tallies[w.worker], func(t models.Tally) bool {
			return t.Content.LotID != nil && *t.Content.LotID == l.ID && t.SupersededBy == nil && !rec.own[t.ID]
		}) {
			found = append(found, l)
		}
	}
	return found
}

// meets tells whether a stretch and a recorded entry may be the same time: they overlap, or one has no clock times and is of the same kind.
func (s stretch) meets(e *models.TimeEntryContent) bool {
	if s.start == nil || e.StartedAt == nil {
		return s.kind == e.Kind
	}
	end := e.EndedAt
	if end == nil {
		day := e.StartedAt.Add(24 * time.Hour)
		end = &day
	}
	return s.start.Before(*end) && e.StartedAt.Before(*s.end)
}

// replace lets the row take the place of what it matches, entry by entry in their order. It cannot where more is recorded than the row has lines for.
func (m *matches) replace(w *work, rec *recorded, p *plan) bool {
	lots := len(m.lots)
	if old, ok := rec.replace[w.lot]; ok && lots == 1 && m.lots[0].ID == old {
		lots = 0
	}
	if len(m.time) > len(w.time) || len(m.tallies) > 1 || len(m.breaks) > len(w.breaks) || lots > 1 {
		w.fault(m.field(w), "fault.import_matches_more", payroll.Terms{"recorded": m.words()})
		return false
	}
	slices.SortStableFunc(m.time, func(a, b models.TimeEntry) int {
		if a.Content.StartedAt == nil || b.Content.StartedAt == nil {
			return cmp.Compare(a.Seq, b.Seq)
		}
		return a.Content.StartedAt.Compare(*b.Content.StartedAt)
	})
	for i := range m.time {
		p.time[i] = &m.time[i].ID
	}
	for i := range m.breaks {
		at := slices.IndexFunc(w.breaks, func(f fact) bool { return f.fact == m.breaks[i].Content.Fact })
		for p.breaks[at] != nil && at+1 < len(w.breaks) {
			at++
		}
		p.breaks[at] = &m.breaks[i].ID
	}
	if len(m.tallies) == 1 {
		p.tally = &m.tallies[0].ID
	}
	if len(m.lots) == 1 {
		rec.replace[w.lot] = m.lots[0].ID
	}
	return true
}

// field is where a match shows.
func (m *matches) field(w *work) string {
	switch {
	case len(m.tallies)+len(m.lots) > 0:
		return "pieces"
	case len(m.time) > 0:
		return cmp.Or(w.time[0].startField, w.time[0].from)
	}
	return w.breaks[0].field
}

// words tell what is recorded.
func (m *matches) words() []string {
	var out []string
	for _, t := range m.tallies {
		out = append(out, t.Content.Pieces.String())
	}
	for _, l := range m.lots {
		out = append(out, l.Content.Pieces.String())
	}
	for _, e := range m.time {
		c := &e.Content
		switch {
		case c.Minutes != nil:
			out = append(out, string(c.Kind)+" "+itoa(int(*c.Minutes))+" min")
		case c.EndedAt != nil:
			out = append(out, string(c.Kind)+" "+itoa(int(c.EndedAt.Sub(*c.StartedAt)/time.Minute))+" min")
		default:
			out = append(out, string(c.Kind)+" …")
		}
	}
	for _, b := range m.breaks {
		out = append(out, string(b.Content.Fact))
	}
	return out
}
