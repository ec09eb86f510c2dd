package heatday

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
)

// Hour is an hour of a garden's workday.
type Hour struct {
	Begin  time.Time        // on the garden's clock
	Air    *models.HeatHour // what was measured; nil: nobody did
	People int              // who were at work in it, as far as their clock times are on record
	Duties []string         // the codes of what is owed at its temperature; nil where that is unknown
}

// Span is when the workday begins and ends.
func (p *Plan) Span() (begin, end time.Time) { return p.begin, p.end }

// ByHour lists the hours of the day from the first in which somebody measured or worked through the last, those that nobody measured among them: what is not known is shown as that.
func (p *Plan) ByHour(tx *models.Tx) ([]Hour, error) {
	people, err := p.atWork(tx)
	if err != nil {
		return nil, err
	}
	air := map[time.Time]*models.HeatHour{}
	var first, last time.Time
	reach := func(hour time.Time) {
		if first.IsZero() || hour.Before(first) {
			first = hour
		}
		if hour.After(last) {
			last = hour
		}
	}
	for i := range p.Hours {
		air[p.Hours[i].Hour.UTC()] = &p.Hours[i]
		reach(p.Hours[i].Hour.UTC())
	}
	for hour := range people {
		reach(hour)
	}
	var hours []Hour
	for at := first; !first.IsZero() && !at.After(last); at = at.Add(time.Hour) {
		h := Hour{Begin: at.In(p.zone), Air: air[at], People: len(people[at])}
		if h.Air != nil {
			h.Duties = p.owedAt(h.Air)
		}
		hours = append(hours, h)
	}
	return hours, nil
}

// owedAt lists what is owed in an hour that was measured.
func (p *Plan) owedAt(h *models.HeatHour) []string {
	codes := []string{}
	for i := range p.Asked {
		if p.Asked[i].due(h.Temperature.Number) {
			codes = append(codes, p.Asked[i].Code)
		}
	}
	return codes
}

// atWork are the workers who were at work in the garden by the hour, in UTC.
func (p *Plan) atWork(tx *models.Tx) (map[time.Time]map[uuid.UUID]bool, error) {
	entries, err := models.Read[entry](tx, entriesOf(tx).Where("workday = ? AND garden_id = ? AND superseded_by IS NULL AND started_at IS NOT NULL", models.Day(p.Workday), p.GardenID))
	people := map[time.Time]map[uuid.UUID]bool{}
	for i := range entries {
		s := entries[i].stretch(tx.Now)
		for at := models.HourOf(s.start, p.zone); at.Before(s.end); at = at.Add(time.Hour) {
			if people[at] == nil {
				people[at] = map[uuid.UUID]bool{}
			}
			people[at][entries[i].WorkerID] = true
		}
	}
	return people, err
}
