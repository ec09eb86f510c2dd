package heatday

import (
	"cmp"
	"slices"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// stretch is a part of a worker's day as it was recorded.
type stretch struct {
	garden     uuid.UUID
	start, end time.Time // zero where only its length is known
	minutes    int64
	rests      bool // a rest, recovery or meal period
	counts     bool // whether it is time at work: all but a meal period free of duty
}

// air tells whether it is hot at a garden at an instant, or with the zero instant at any hour of the day, and whether that is known.
type air func(garden uuid.UUID, at time.Time) (hot, known bool)

// rule is what a book asks of cool-down rests in high heat: so many minutes in each so many of work.
type rule struct {
	minutes, every int64
	duty           rulebook.Duty
}

// CoolDowns is how a worker's cool-down rests of a day stand. One falls due with each so many hours at work that the work goes on past, where it was hot at any time in those hours; a rest, recovery or
// meal period of sufficient length that begins within them is one.
type CoolDowns struct {
	Due      int         `json:"due"`
	Taken    int         `json:"taken"`    // of those due
	Missing  int         `json:"missing"`  // due, and not taken as far as is recorded
	Unknown  int         `json:"unknown"`  // of which it cannot be told, since nobody measured the heat
	DueBy    []time.Time `json:"due_by"`   // until when each missing one was to begin
	NoClock  bool        `json:"no_clock"` // whether lengths of time without clock times were counted
	atGarden map[uuid.UUID]int
}

// coolDowns counts one worker's day.
func coolDowns(day []stretch, r rule, hot air) CoolDowns {
	var total int64
	for _, s := range day {
		if s.start.IsZero() {
			return withoutClock(day, r, hot)
		}
		if s.counts {
			total += s.minutes
		}
	}
	slices.SortStableFunc(day, func(a, b stretch) int { return a.start.Compare(b.start) })
	periods := make(periods, (total+r.every-1)/r.every)
	var worked int64
	for _, s := range day {
		if s.rests && s.minutes >= r.minutes && worked > 0 {
			periods.rest(worked, r)
		}
		for left, at := s.minutes, s.start; s.counts && left > 0; {
			p := &periods[worked/r.every]
			part := min(left, r.every-worked%r.every)
			p.garden, p.end = s.garden, at.Add(time.Duration(part)*time.Minute)
			p.feel(at, hot)
			worked, left, at = worked+part, left-part, p.end
		}
	}
	c := CoolDowns{DueBy: []time.Time{}, atGarden: map[uuid.UUID]int{}}
	for i, p := range periods {
		if int64(i+1)*r.every < total { // the work goes on past it
			c.count(p)
		}
	}
	return c
}

// periods are a worker's hours at work, so many at a time, in each of which a rest falls.
type periods []period

type period struct {
	garden               uuid.UUID
	end                  time.Time
	hot, unknown, rested bool
}

// rest gives a rest that begins after so many minutes of work to the period that it falls in, or to the one before where it comes no later than its own length and that had none.
func (all periods) rest(worked int64, r rule) {
	i := (worked - 1) / r.every
	switch {
	case i > 0 && !all[i-1].rested && worked-i*r.every <= r.minutes:
		i--
	case all[i].rested && worked%r.every == 0:
		i++
	}
	if int(i) < len(all) {
		all[i].rested = true
	}
}

// feel looks at the heat from an instant to the period's end so far, every half hour: there are zones in which the clock's hours begin then.
func (p *period) feel(from time.Time, hot air) {
	for at := from; at.Before(p.end); at = at.Truncate(30 * time.Minute).Add(30 * time.Minute) {
		isHot, known := hot(p.garden, at)
		p.hot = p.hot || isHot
		p.unknown = p.unknown || !known
	}
}

// count counts the rest of a period that is over.
func (c *CoolDowns) count(p period) {
	switch {
	case !p.hot && p.unknown && !p.rested:
		c.Unknown++
	case !p.hot:
	case p.rested:
		c.Due++
		c.Taken++
	default:
		c.Due++
		c.Missing++
		c.DueBy = append(c.DueBy, p.end)
		c.atGarden[p.garden]++
	}
}

// withoutClock counts a day of which only lengths are known: every period counts as hot if the day was hot at any of the worker's gardens at any hour.
func withoutClock(day []stretch, r rule, hot air) CoolDowns {
	c := CoolDowns{NoClock: true, DueBy: []time.Time{}, atGarden: map[uuid.UUID]int{}}
	var worked int64
	var rests int
	isHot, known := false, false
	for _, s := range day {
		if s.counts {
			worked += s.minutes
		}
		if s.rests && s.minutes >= r.minutes {
			rests++
		}
		h, k := hot(s.garden, time.Time{})
		isHot, known = isHot || h, known || k
	}
	due := int(max(worked-1, 0) / r.every)
	switch {
	case isHot:
		c.Due, c.Taken = due, min(due, rests)
		c.Missing = due - c.Taken
		if c.Missing > 0 {
			c.atGarden[day[0].garden] = c.Missing
		}
	case !known:
		c.Unknown = max(due-rests, 0)
	}
	return c
}

// Owed is a worker who had cool-down rests due on a day.
type Owed struct {
	WorkerID    uuid.UUID   `json:"worker_id"`
	Number      int64       `json:"number"`
	Name        string      `json:"name"`
	Gardens     []uuid.UUID `json:"gardens"`      // where the missing ones fell due
	NotProvided bool        `json:"not_provided"` // whether it is on record already that one was not provided
	CoolDowns
}

// Unrecorded tells whether a rest was due that nobody recorded, neither as taken nor as not provided.
func (o *Owed) Unrecorded() bool { return o.Missing > 0 && !o.NotProvided }

// FindOwed lists the workers whose cool-down rests of a day fell due, or of whom it cannot be told: of one garden, or with nil of all. Open time entries count until now. It takes a fixed number of
// statements.
func FindOwed(tx *models.Tx, books *rulebook.Library, day dated.Date, garden *uuid.UUID) ([]Owed, error) {
	d, err := readDay(tx, books, day)
	if err != nil {
		return nil, err
	}
	owed := []Owed{}
	for worker, stretches := range d.stretches {
		if garden != nil && !slices.ContainsFunc(stretches, func(s stretch) bool { return s.garden == *garden }) {
			continue
		}
		c, ok := d.coolDownsOf(stretches)
		if !ok || c.Due == 0 && c.Unknown == 0 || garden != nil && c.Missing > 0 && c.atGarden[*garden] == 0 {
			continue
		}
		o := Owed{WorkerID: worker, NotProvided: d.notProvided[worker], CoolDowns: c, Gardens: []uuid.UUID{}}
		for g := range c.atGarden {
			o.Gardens = append(o.Gardens, g)
		}
		slices.SortFunc(o.Gardens, func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
		owed = append(owed, o)
	}
	if err := nameThem(tx, owed); err != nil {
		return nil, err
	}
	slices.SortFunc(owed, func(a, b Owed) int {
		return cmp.Or(cmp.Compare(b.Missing, a.Missing), cmp.Compare(a.Number, b.Number), slices.Compare(a.WorkerID[:], b.WorkerID[:]))
	})
	return owed, nil
}

func nameThem(tx *models.Tx, owed []Owed) error {
	ids := make([]uuid.UUID, len(owed))
	for i := range owed {
		ids[i] = owed[i].WorkerID
	}
	var workers []models.Worker
	if err := tx.DB().Scopes(tx.Among("id", ids)).Find(&workers).Error; err != nil {
		return err
	}
	byID := models.KeptByID(workers)
	for i := range owed {
		if w := byID[owed[i].WorkerID]; w != nil {
			owed[i].Number, owed[i].Name = w.Content.Number, w.Content.Name
		}
	}
	return nil
}

// day is what was recorded of a day in all gardens.
type day struct {
	stretches   map[uuid.UUID][]stretch // by worker
	notProvided map[uuid.UUID]bool
	rules       map[uuid.UUID]rule // by garden; one without a duty in the book is not there
	heat        heat
}

// coolDownsOf counts a worker's day by the rule of the garden where it began; false where its book asks for no cool-downs.
func (d *day) coolDownsOf(stretches []stretch) (CoolDowns, bool) {
	r, ok := d.rules[stretches[0].garden]
	if !ok {
		return CoolDowns{}, false
	}
	return coolDowns(stretches, r, func(garden uuid.UUID, at time.Time) (bool, bool) {
		if at.IsZero() {
			t, known := d.heat.hottest(garden)
			return known && r.duty.Due(t), known
		}
		t, known, whole := d.heat.at(garden, at)
		hot := known && r.duty.Due(t)
		return hot, hot || whole // one cool neighbor says nothing of the hours beyond it
	}), true
}

func readDay(tx *models.Tx, books *rulebook.Library, on dated.Date) (*day, error) {
	d := &day{stretches: map[uuid.UUID][]stretch{}, notProvided: map[uuid.UUID]bool{}, rules: map[uuid.UUID]rule{}}
	entries, err := models.Read[entry](tx, entriesOf(tx).Where("workday = ? AND superseded_by IS NULL", models.Day(on)).Order("worker_id, started_at, seq"))
	if err != nil {
		return nil, err
	}
	var first, last time.Time
	for i := range entries {
		e := &entries[i]
		s := e.stretch(tx.Now)
		d.stretches[e.WorkerID] = append(d.stretches[e.WorkerID], s)
		if s.start.IsZero() {
			continue
		}
		if first.IsZero() || s.start.Before(first) {
			first = s.start
		}
		if s.end.After(last) {
			last = s.end
		}
	}
	if len(entries) == 0 {
		return d, nil
	}
	if err := d.readRecords(tx, on); err != nil {
		return nil, err
	}
	return d, d.readGround(tx, books, on, first, last)
}

// entry is what is looked at of a time entry.
type entry struct {
	WorkerID, GardenID uuid.UUID
	Kind               payroll.TimeKind
	StartedAt, EndedAt *time.Time
	Minutes            *payroll.Minutes
}

// entriesOf asks for what is looked at of time entries.
func entriesOf(tx *models.Tx) *gorm.DB {
	return tx.DB().Model(&models.TimeEntry{}).Select("worker_id", "garden_id", "kind", "started_at", "ended_at", "minutes")
}

func (e *entry) stretch(now time.Time) stretch {
	s := stretch{garden: e.GardenID, rests: e.Kind == payroll.Rest || e.Kind == payroll.Recovery || e.Kind == payroll.MealPeriod, counts: e.Kind != payroll.MealPeriod}
	if e.Minutes != nil {
		s.minutes = int64(*e.Minutes)
		return s
	}
	s.start, s.end = e.StartedAt.UTC(), now
	if e.EndedAt != nil {
		s.end = e.EndedAt.UTC()
	}
	s.minutes = max(int64(s.end.Sub(s.start)/time.Minute), 0)
	return s
}

// readRecords reads who was not provided with a recovery period.
func (d *day) readRecords(tx *models.Tx, on dated.Date) error {
	var records []models.BreakRecord
	err := tx.DB().Where("workday = ? AND fact = ? AND superseded_by IS NULL", models.Day(on), models.RecoveryNotProvided).Find(&records).Error
	for _, r := range records {
		d.notProvided[r.Content.WorkerID] = true
	}
	return err
}

// readGround reads the rules of the gardens and the heat in them. Where only lengths of time are known all of the civil day counts.
func (d *day) readGround(tx *models.Tx, books *rulebook.Library, on dated.Date, first, last time.Time) error {
	gardens, err := models.All[models.GardenContent](tx)
	if err != nil {
		return err
	}
	var ids []uuid.UUID
	var stale quantity.Number
	for id, g := range gardens {
		book, ok := books.For(g.Content.Rulebook)
		if !ok {
			continue
		}
		ids = append(ids, id)
		r, found, err := coolDownRule(book, on)
		if err != nil {
			return err
		}
		if found {
			d.rules[id] = r
		}
		hours, err := book.Number(rulebook.WeatherHours, on)
		if err != nil {
			return err
		}
		stale = quantity.Max(stale, hours.Value)
	}
	from, before := on.Midnight(time.UTC).Add(-14*time.Hour), on.Midnight(time.UTC).Add(38*time.Hour) // the day in whatever zone
	if !first.IsZero() && first.Before(from) {
		from = first
	}
	if last.After(before) {
		before = last
	}
	d.heat, err = readHeat(tx, ids, from, before, time.Duration(stale.Float()*float64(time.Hour)))
	return err
}

// coolDownRule is what a book asks of cool-downs on a day; false where it lists no such duty.
func coolDownRule(book *rulebook.Book, on dated.Date) (r rule, found bool, err error) {
	duties, err := book.HeatDuties(on)
	if err != nil {
		return r, false, err
	}
	i := slices.IndexFunc(duties.Value, func(d rulebook.Duty) bool { return d.Name == "cool_down" })
	if i < 0 {
		return r, false, nil
	}
	minutes, err := book.Number(rulebook.CoolDownMinutes, on)
	if err != nil {
		return r, false, err
	}
	hours, err := book.Number(rulebook.CoolDownHours, on)
	if err != nil {
		return r, false, err
	}
	return rule{int64(minutes.Value.Float()), int64(hours.Value.Times(quantity.Of(60)).Float()), duties.Value[i]}, true, nil
}
