package injuries

import (
	"errors"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// Deadline is something that has to be done by an instant.
type Deadline struct {
	Code      string         `json:"code"`              // report_death, …, record_case, post_summary, keep_posted
	CaseID    *uuid.UUID     `json:"case_id"`           // null: of a year's summary
	Number    int64          `json:"number"`            // of the case; 0: of a year's summary
	Year      int            `json:"year"`              // of the summary; 0: of a case
	Due       time.Time      `json:"due"`               // UTC
	DueOn     dated.Date     `json:"due_on"`            // on the clock of the place
	DueAt     string         `json:"due_at"`            // the hour there, such as "14:30"
	TimeZone  string         `json:"time_zone"`         // of the place
	Remaining int64          `json:"remaining_minutes"` // below zero: it is over
	Authority string         `json:"authority"`
	Standing  dated.Standing `json:"standing"`
}

// Deadlines lists what is still to be done, the soonest first. What was settled long ago does not slow it.
func Deadlines(tx *models.Tx, books *rulebook.Library) ([]Deadline, error) {
	incidents, err := models.IncidentsOf(tx, models.Page{Limit: everyCase}, models.OpenCases(tx))
	if err != nil {
		return nil, err
	}
	cases, err := Assess(tx, books, incidents)
	if err != nil {
		return nil, err
	}
	all := []Deadline{}
	for i := range cases {
		own, err := cases[i].Deadlines(tx.Now)
		if err != nil {
			return nil, err
		}
		all = append(all, own...)
	}
	posting, err := summaryDeadlines(tx, books)
	return countDown(append(all, posting...), tx.Now), noValue(err)
}

// Deadlines lists what is still to be done about the case, the soonest first.
func (c *Case) Deadlines(now time.Time) ([]Deadline, error) {
	reports, err := c.reports()
	if err != nil {
		return nil, noValue(err)
	}
	recording, err := c.recording()
	return countDown(append(reports, recording...), now), noValue(err)
}

// countDown tells how long is left of each, the soonest first.
func countDown(all []Deadline, now time.Time) []Deadline {
	for i := range all {
		all[i].Remaining = int64(all[i].Due.Sub(now) / time.Minute)
	}
	slices.SortStableFunc(all, func(a, b Deadline) int { return a.Due.Compare(b.Due) })
	return all
}

// deadline makes one on the clock of a place.
func (g *ground) deadline(code string, due time.Time, rests *dated.Value[quantity.Number]) Deadline {
	local := due.In(g.zone)
	return Deadline{
		Code: code, Due: due.UTC(), DueOn: dated.DateOf(local), DueAt: local.Format("15:04"), TimeZone: g.garden.Content.TimeZone, Authority: rests.Source.Section, Standing: rests.Standing,
	}
}

// serious are the outcomes that an agency is told of, with their hours.
var serious = []struct {
	code  string
	hours rulebook.Number
	is    func(models.CaseFacts) *bool
}{
	{"report_death", rulebook.DeathHours, func(f models.CaseFacts) *bool { return f.Death }},
	{"report_inpatient", rulebook.InpatientHours, func(f models.CaseFacts) *bool { return f.Inpatient }},
	{"report_amputation", rulebook.AmputationHrs, func(f models.CaseFacts) *bool { return f.Amputation }},
	{"report_eye_loss", rulebook.EyeLossHours, func(f models.CaseFacts) *bool { return f.EyeLoss }},
	{"report_disfigurement", rulebook.DisfigureHours, func(f models.CaseFacts) *bool { return f.Disfigurement }},
}

// reports are the reports to an agency that nobody has made since the outcome was known: one for each outcome, counted from when it was first known.
func (c *Case) reports() (due []Deadline, err error) {
	for _, s := range serious {
		if now := s.is(c.Facts); now == nil || !*now {
			continue
		}
		known, reported := c.since(s.is)
		if reported {
			continue
		}
		hours, err := c.ground.book.Number(s.hours, c.Incident.Content.HappenedOn.Date)
		var silent *dated.NoValueError
		if s.hours == rulebook.DisfigureHours && errors.As(err, &silent) {
			continue // a book that names no hours asks for no report
		}
		if err != nil {
			return nil, err
		}
		due = append(due, c.named(c.ground.deadline(s.code, known.Add(time.Duration(hours.Value.Float()*float64(time.Hour))), hours)))
	}
	return due, nil
}

// since tells when an outcome was first known, and whether a report was made then or later.
func (c *Case) since(is func(models.CaseFacts) *bool) (known time.Time, reported bool) {
	for _, e := range c.Events {
		if fact := is(e.Content.CaseFacts); fact != nil && *fact && (known.IsZero() || e.Content.HappenedAt.Before(known)) {
			known = e.Content.HappenedAt
		}
	}
	reported = slices.ContainsFunc(c.Events, func(e models.IncidentEvent) bool {
		return e.Content.Kind == models.AgencyEvent && !e.Content.HappenedAt.Before(known)
	})
	return known, reported
}

// recording is the decision on a case that may belong into the log.
func (c *Case) recording() ([]Deadline, error) {
	if c.Decision != nil || c.Assessment == nil || c.Assessment.Recordable != nil && !*c.Assessment.Recordable {
		return nil, nil
	}
	days, err := c.ground.book.Number(rulebook.RecordDays, c.Incident.Content.HappenedOn.Date)
	if err != nil {
		return nil, err
	}
	known := c.Incident.Content.HappenedOn.Date // whoever leads a crew is the employer's eye: what they saw is known
	return []Deadline{c.named(c.ground.deadline("record_case", c.ground.endOf(known.AddDays(int(days.Value.Float()))), days))}, nil
}

func (c *Case) named(d Deadline) Deadline {
	d.CaseID, d.Number = &c.Incident.Content.CaseID, c.Incident.Content.Number
	return d
}

// summaryDeadlines are those of last year's summary: to be posted by the end of the first day of its season, and to stay posted through the last.
func summaryDeadlines(tx *models.Tx, books *rulebook.Library) ([]Deadline, error) {
	g, err := homeGround(tx, books, nil)
	if err != nil || g == nil {
		return nil, err
	}
	today := dated.DateOf(tx.Now.In(g.zone))
	year := today.Year() - 1
	needed, err := g.logNeeded(tx, year)
	if err != nil || !needed {
		return nil, err
	}
	posted, err := models.PostedOf(tx, year)
	if err != nil {
		return nil, err
	}
	code, month, day := "post_summary", rulebook.SummaryMonth, rulebook.SummaryDay
	if posted {
		code, month, day = "keep_posted", rulebook.SummaryToMonth, rulebook.SummaryToDay
	}
	last, d, err := g.seasonDay(month, day, year+1)
	if err != nil {
		return nil, err
	}
	if posted && today.After(last) {
		return nil, nil
	}
	deadline := g.deadline(code, g.endOf(last), d)
	deadline.Year = year
	return []Deadline{deadline}, nil
}

// logNeeded tells whether an employer of this size had to keep a log of a year in which anybody worked.
func (g *ground) logNeeded(tx *models.Tx, year int) (bool, error) {
	exempt, err := g.book.Number(rulebook.LogExempt, dated.NewDate(year, 12, 31))
	if err != nil {
		return false, err
	}
	profile, err := tx.Profile()
	if err != nil || !quantity.Of(profile.Content.Size).Over(exempt.Value) {
		return false, err
	}
	worked, err := models.AnyWorkIn(tx, dated.NewDate(year, 1, 1), dated.NewDate(year, 12, 31))
	return worked, err
}
