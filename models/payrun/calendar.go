package payrun

import (
	"time"

	"palmero/models"
	"palmero/payroll/dated"
)

// Calendar is by which days, weeks and clocks an employer's people live.
type Calendar struct {
	WeekStart    time.Weekday
	WorkdayStart int64  // minutes after midnight
	TimeZone     string // of the garden with the lowest number
}

// CalendarOf is the calendar of the batch's employer. It moves so seldom that what depends on it goes along in the same batch.
func CalendarOf(b *models.Batch) (Calendar, error) {
	all, err := models.Known[Calendar](b, b.DB().Raw(`SELECT p.week_start, p.workday_start,
			coalesce((SELECT g.time_zone FROM gardens g WHERE g.employer_id = p.employer_id ORDER BY g.number LIMIT 1), '') AS time_zone
		FROM employer_profiles p WHERE p.employer_id = ?`, b.Employer), nil)
	if err != nil {
		return Calendar{}, err
	}
	if len(all) == 0 {
		return Calendar{}, &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	return all[0], nil
}

// Zone is where the clocks show the time by which the employer's people live; UTC where there is no garden yet.
func (c Calendar) Zone() *time.Location {
	if c.TimeZone == "" {
		return time.UTC
	}
	if zone, err := models.Zone(c.TimeZone); err == nil {
		return zone
	}
	return time.UTC
}

// Today is the workday that an instant falls in.
func (c Calendar) Today(now time.Time) dated.Date {
	return dated.DateOf(now.In(c.Zone()).Add(-time.Duration(c.WorkdayStart) * time.Minute))
}

// WeekOf is the first day of the workweek that a day falls in.
func (c Calendar) WeekOf(day dated.Date) dated.Date { return models.WeekOf(day, c.WeekStart) }

// CurrentWeek is the first day of the workweek that today falls in for an employer.
func CurrentWeek(tx *models.Tx) (dated.Date, error) {
	c, err := CalendarOf(tx.Batch())
	return c.WeekOf(c.Today(tx.Now)), err
}

// Today is the workday that it is now for an employer.
func Today(tx *models.Tx) (dated.Date, error) {
	c, err := CalendarOf(tx.Batch())
	return c.Today(tx.Now), err
}

// HomeZone is where the clocks show the time by which an employer's people live.
func HomeZone(tx *models.Tx) (*time.Location, error) {
	c, err := CalendarOf(tx.Batch())
	return c.Zone(), err
}
