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

// countDays counts the calendar days away and restricted through a day: from the day after it happened, weekends and days off included; a day on which somebody is back counts
// no more (29 CFR 1904.7(b)(3)). Of two words on the same day the later one holds.
func countDays(happened dated.Date, events []models.IncidentEvent, through dated.Date) (d Days) {
	turns := turnsOf(events)
	for i, turn := range turns {
		from, end := turn.FromDate.Date, through
		if first := happened.AddDays(1); from.Before(first) {
			from = first
		}
		if i+1 < len(turns) && turns[i+1].FromDate.AddDays(-1).Before(end) {
			end = turns[i+1].FromDate.AddDays(-1)
		}
		n := max(end.DaysSince(from)+1, 0)
		switch turn.WorkStatus {
		case models.Away:
			d.Away += n
		case models.Restricted:
			d.Restricted += n
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
