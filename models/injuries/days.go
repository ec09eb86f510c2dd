package injuries

import (
	"cmp"
	"slices"

	"palmero/models"
	"palmero/payroll/dated"
)

// Days are the days that a case counts.
type Days struct {
	Away       int `json:"away"`
	Restricted int `json:"restricted"`
}

// Stretch is a run of days on which a worker could work in one way, as far as a case counts them.
type Stretch struct {
	From, Through dated.Date
	Status        string // models.Away, models.Restricted or models.Back
	Days          int
}

// stretchesOf are the stretches of a case through a day: from the day after it happened, weekends and days off included; a day on which somebody is back counts
// no more (29 CFR 1904.7(b)(3)). Of two words on the same day the later one holds.
func stretchesOf(happened dated.Date, events []models.IncidentEvent, through dated.Date) (all []Stretch) {
	turns := turnsOf(events)
	for i, turn := range turns {
		s := Stretch{From: turn.FromDate.Date, Through: through, Status: turn.WorkStatus}
		if first := happened.AddDays(1); s.From.Before(first) {
			s.From = first
		}
		if i+1 < len(turns) && turns[i+1].FromDate.AddDays(-1).Before(s.Through) {
			s.Through = turns[i+1].FromDate.AddDays(-1)
		}
		if s.Days = s.Through.DaysSince(s.From) + 1; s.Days > 0 {
			all = append(all, s)
		}
	}
	return all
}

// countDays adds up the days away and restricted.
func countDays(stretches []Stretch) (d Days) {
	for _, s := range stretches {
		switch s.Status {
		case models.Away:
			d.Away += s.Days
		case models.Restricted:
			d.Restricted += s.Days
		}
	}
	return d
}

// turnsOf are the words on a worker's work in the order of their days, one for each day.
func turnsOf(events []models.IncidentEvent) (turns []models.IncidentEventContent) {
	for _, e := range events {
		if e.Content.Kind == models.WorkEvent {
			turns = append(turns, e.Content)
		}
	}
	slices.SortStableFunc(turns, func(a, b models.IncidentEventContent) int {
		return cmp.Compare(a.FromDate.DaysSince(b.FromDate.Date), 0)
	})
	for i := len(turns) - 2; i >= 0; i-- {
		if turns[i].FromDate == turns[i+1].FromDate {
			turns = slices.Delete(turns, i, i+1)
		}
	}
	return turns
}

// statusOn is how a worker can work on a day; "" where nobody has said.
func statusOn(events []models.IncidentEvent, day dated.Date) (status string) {
	for _, turn := range turnsOf(events) {
		if !turn.FromDate.After(day) {
			status = turn.WorkStatus
		}
	}
	return status
}

// capped are the days as the log shows them: no more for one case, away and restricted together, than the rule counts.
func (d Days) capped(limit int) Days {
	away := min(d.Away, limit)
	return Days{away, min(d.Restricted, limit-away)}
}
