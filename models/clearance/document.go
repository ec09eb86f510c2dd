package clearance

import (
	"reflect"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// drafter turns the facts of one setup into the documents of its workers.
type drafter struct {
	*facts
	*setup
	day   dated.Date
	at    time.Time // on the garden's clock
	fresh time.Duration
	kinds []*gear.Piece // the ladders and lifts in use, one of each kind of rating
}

// drafting prepares the documents of a setup.
func (f *facts) drafting(s *setup, book *rulebook.Book, q Question, now time.Time) (*drafter, error) {
	zone, err := models.Zone(s.TimeZone)
	if err != nil {
		return nil, err
	}
	hours, err := book.Number(rulebook.WeatherHours, q.Day)
	if err != nil {
		return nil, err
	}
	moment := s.RecordedAt
	if asOf := q.asOf(now); asOf != nil && (q.At != nil || dated.DateOf(asOf.In(zone)) == q.Day) {
		moment = *asOf
	}
	d := &drafter{facts: f, setup: s, day: q.Day, at: moment.In(zone), fresh: time.Duration(hours.Value.Float() * float64(time.Hour))}
	d.kinds = d.rated()
	return d, nil
}

// stale tells whether what was seen at an instant says nothing of the moment, either because it is too old or because it came later.
func (d *drafter) stale(seen time.Time) bool { return d.at.Sub(seen) > d.fresh || seen.After(d.at) }

// document is what the records tell of a member's way up, with the ladder or lift of one piece; nil: of none.
func (d *drafter) document(m *member, book string, rated *gear.Piece) *safety.Clearance {
	c := &safety.Clearance{
		Rulebook: book, Workday: d.day, At: &d.at, Operation: d.Operation,
		Worker: d.worker(m), Access: safety.Access{Way: d.Way, Height: tallest(d.TallestCM)}, FallProtection: &safety.FallProtection{},
		Equipment: d.equipmentOf(m), Checklist: d.checklist(), Site: d.site(), Weather: d.weather(), Overrides: d.overrides(m),
	}
	for _, p := range d.inUse(m) {
		if p == rated || p.Ratings.Ladder == nil && p.Ratings.Lift == nil {
			p.Ratings.Into(&c.Access, c.FallProtection)
		}
	}
	safety.Setup(d.Setup).Into(c, d.stale(d.RecordedAt))
	return c
}

// tallest is the height of a block's tallest palm up to its crown: nobody's feet are higher.
func tallest(cm int64) *quantity.Number {
	const mmPerFoot = 304.8
	return new(quantity.Near(float64(cm)*10/mmPerFoot, 2))
}

func (d *drafter) worker(m *member) *safety.Worker {
	first, last := earlier(m.FirstTimed, m.FirstTallied), later(m.LastTimed, m.LastTallied)
	if first.IsZero() || first.After(d.day) {
		first = d.day // today is the first day
	}
	w := &safety.Worker{ID: m.Name, FirstWorkday: &first, BirthDate: known(m.BirthDate), SignOffs: append([]safety.SignOff{}, d.signedOff[m.ID]...), Gear: []safety.Gear{}}
	if !last.IsZero() {
		w.LastWorkedOn = &last
	}
	for _, h := range d.held[m.ID] {
		w.Gear = append(w.Gear, h.Gear)
	}
	return w
}

func known(d models.Date) *dated.Date {
	if d.IsZero() {
		return nil
	}
	return &d.Date
}

func earlier(a, b models.Date) dated.Date {
	if a.IsZero() || !b.IsZero() && b.Before(a.Date) {
		return b.Date
	}
	return a.Date
}

func later(a, b models.Date) dated.Date {
	if b.After(a.Date) {
		return b.Date
	}
	return a.Date
}

// inUse lists the pieces that the setup names and those in the member's own hands.
func (d *drafter) inUse(m *member) (all []*gear.Piece) {
	add := func(id uuid.UUID) {
		if p := d.pieces[id]; p != nil {
			all = append(all, p)
		}
	}
	for _, id := range d.setup.Equipment {
		add(id)
	}
	for _, h := range d.held[m.ID] {
		if h.EquipmentID != nil {
			add(*h.EquipmentID)
		}
	}
	return all
}

// rated lists the ladders and lifts of the setup, each of which has to be in order, once for all that are rated alike; one nil where there are none.
func (d *drafter) rated() (all []*gear.Piece) {
	for _, id := range d.setup.Equipment {
		p := d.pieces[id]
		if p == nil || p.Ratings.Ladder == nil && p.Ratings.Lift == nil {
			continue
		}
		alike := func(other *gear.Piece) bool { return reflect.DeepEqual(other.Ratings, p.Ratings) }
		if !slices.ContainsFunc(all, alike) {
			all = append(all, p)
		}
	}
	if len(all) == 0 {
		return []*gear.Piece{nil}
	}
	return all
}

// retired tells whether the setup names a piece that the register has retired by the day.
func (d *drafter) retired() bool {
	return slices.ContainsFunc(d.setup.Equipment, func(id uuid.UUID) bool { return d.pieces[id] == nil })
}

func (d *drafter) equipmentOf(m *member) []safety.Equipment {
	all := []safety.Equipment{}
	for _, p := range d.inUse(m) {
		all = append(all, p.Equipment)
	}
	return all
}

// checklist is the last one of the way that stands. One that the safety officer sent back has to be gone through again; one whose review stopped the climb has failed.
func (d *drafter) checklist() *safety.Checklist {
	if d.ChecklistID == nil {
		return nil
	}
	l := &safety.Checklist{Passed: d.Passed, On: known(d.FilledOn)}
	if d.FilledBy != nil {
		l.By = *d.FilledBy
	}
	if d.Decision != nil {
		switch *d.Decision {
		case models.SentBack:
			l.Passed = nil
		case models.StopClimb:
			l.Passed = new(false)
		}
	}
	return l
}

func (d *drafter) site() *safety.Site {
	s := &safety.Site{PowerLine: d.PowerLine.Known()}
	if d.RestrictedUntil != nil {
		s.EntryRestricted = safety.Restriction{Known: true, Until: new(d.RestrictedUntil.In(d.at.Location()))}
	}
	return s
}

func (d *drafter) weather() *safety.Weather {
	w := &safety.Weather{ForecastHigh: d.ForecastHigh.Known(), ShadeUp: d.ShadeUp, WaterReady: d.WaterReady, HighHeatPlan: d.HighHeatPlan}
	if d.ReadAt != nil && !d.stale(*d.ReadAt) {
		w.Temperature = d.Temperature.Known()
	}
	return w
}

func (d *drafter) overrides(m *member) (all []safety.Override) {
	for i := range d.decisions {
		o := &d.decisions[i]
		if o.What == "override" && o.Way == d.Way && (o.WorkerID == nil || *o.WorkerID == m.ID) {
			at := o.DecidedAt.In(d.at.Location())
			if dated.DateOf(at) != d.day { // decided the evening before, for this day
				at = d.day.Midnight(d.at.Location())
			}
			all = append(all, safety.Override{Code: o.Code, By: o.Person, Reason: o.Grounds, At: &at})
		}
	}
	return all
}

// stops lists the stops that keep people from going up this way: of the crew, or of a piece in use.
func (d *drafter) stops(m *member) (all []*decision) {
	for i := range d.decisions {
		s := &d.decisions[i]
		if s.What != "stop" {
			continue
		}
		if s.EquipmentID == nil && (s.Way == "" || s.Way == d.Way) {
			all = append(all, s)
		}
		for _, p := range d.inUse(m) {
			if s.EquipmentID != nil && p.EquipmentID == *s.EquipmentID {
				all = append(all, s)
			}
		}
	}
	return all
}
