package daybook

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/localbooks"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// Working are the kinds of time that one may begin.
var Working = []payroll.TimeKind{payroll.Piece, payroll.Hourly, payroll.Nonproductive, payroll.Rest, payroll.Recovery, payroll.MealPeriod}

// atWork tells whether time of a kind is spent at a place and an operation.
func atWork(kind payroll.TimeKind) bool {
	return kind == payroll.Piece || kind == payroll.Hourly || kind == payroll.Nonproductive
}

// Running is the stretch of a worker's time that has no end yet; nil where there is none.
func (d *Draft) Running(worker uuid.UUID) *intake.TimeLine {
	for i := range d.Time {
		if d.Time[i].WorkerID == worker && d.Time[i].End == nil {
			return &d.Time[i]
		}
	}
	return nil
}

// Start lets time of a kind begin on the workday for some workers where the crew works now; what ran for them ends at that moment.
func (d *Draft) Start(tx *models.Tx, day models.Date, workers []uuid.UUID, kind payroll.TimeKind, at time.Time) error {
	if err := d.placed(); err != nil {
		return err
	}
	if err := d.within(tx, day, at); err != nil {
		return err
	}
	if err := oneOf("/kind", kind, Working); err != nil {
		return err
	}
	if len(workers) == 0 {
		return &models.Error{Kind: models.Conflict, Key: "problem.nobody_there"}
	}
	for _, w := range workers {
		if d.runsAlready(w, kind) {
			continue
		}
		if err := d.end(w, at); err != nil {
			return err
		}
		d.begin(w, kind, at)
	}
	return nil
}

// within wants a moment to lie within the workday in the garden where the crew works.
func (d *Draft) within(tx *models.Tx, day models.Date, at time.Time) error {
	garden, err := models.Get[models.GardenContent](tx, d.Place.GardenID)
	if err != nil {
		return err
	}
	zone, err := models.Zone(garden.Content.TimeZone)
	if err != nil {
		return err
	}
	profile, err := tx.Profile()
	if err != nil {
		return err
	}
	start := int(profile.Content.WorkdayStart)
	if at.Before(models.WorkdayBegin(day.Date, start, zone)) || !at.Before(models.WorkdayBegin(day.AddDays(1), start, zone)) {
		return models.FaultAt("/at", "fault.outside_workday", payroll.Terms{"workday": day.Date})
	}
	return nil
}

// runsAlready tells whether what should begin runs: the second tap of two leads changes nothing.
func (d *Draft) runsAlready(worker uuid.UUID, kind payroll.TimeKind) bool {
	r := d.Running(worker)
	return r != nil && r.Kind == kind && (!atWork(kind) || *r.BlockID == d.Place.BlockID && *r.OperationID == d.Place.OperationID)
}

func (d *Draft) begin(worker uuid.UUID, kind payroll.TimeKind, at time.Time) {
	line := intake.TimeLine{ID: models.NewID(), WorkerID: worker, Kind: kind, Start: &at}
	if atWork(kind) {
		block, operation := d.Place.BlockID, d.Place.OperationID
		line.BlockID, line.OperationID = &block, &operation
	}
	d.Time = append(d.Time, line)
}

// Stop ends what runs for some workers. Whoever has nothing running is passed over.
func (d *Draft) Stop(workers []uuid.UUID, at time.Time) error {
	running := 0
	for _, w := range workers {
		if d.Running(w) == nil {
			continue
		}
		running++
		if err := d.end(w, at); err != nil {
			return err
		}
	}
	if running == 0 {
		return &models.Error{Kind: models.Conflict, Key: "problem.nothing_runs"}
	}
	return nil
}

// end ends what runs for a worker. What began in the same minute is no time at all and goes.
func (d *Draft) end(worker uuid.UUID, at time.Time) error {
	r := d.Running(worker)
	if r == nil {
		return d.after(worker, at)
	}
	switch {
	case at.Before(*r.Start):
		return models.FaultAt("/at", "fault.before_it_began", nil)
	case at.Equal(*r.Start):
		id := r.ID
		d.Time = slices.DeleteFunc(d.Time, func(l intake.TimeLine) bool { return l.ID == id })
	default:
		r.End = &at
	}
	return nil
}

// after wants a moment not to lie within time that was noted before.
func (d *Draft) after(worker uuid.UUID, at time.Time) error {
	for _, l := range d.Time {
		if l.WorkerID == worker && l.End != nil && at.Before(*l.End) {
			return models.FaultAt("/at", "fault.noted_already", nil)
		}
	}
	return nil
}

// RestLength is how long a rest period is by the rulebook of the garden where the crew works; 0 where it names none, or nobody has said where that is.
func (d *Draft) RestLength(tx *models.Tx, books *rulebook.Library, day models.Date) (payroll.Minutes, error) {
	if d.Place == nil {
		return 0, nil
	}
	garden, err := models.Get[models.GardenContent](tx, d.Place.GardenID)
	if err != nil {
		return 0, err
	}
	law, err := localbooks.Of(tx, books)
	if err != nil {
		return 0, err
	}
	book, ok := law.Governing(garden.Content.Rulebook)
	if !ok {
		return 0, nil
	}
	if rules, _ := book.Rules(day.Date); rules.RestPeriods != nil {
		return payroll.Minutes(rules.RestPeriods.Minutes), nil
	}
	return 0, nil
}

// Rest notes that some workers took a rest period as scheduled, of the length that the garden's rulebook names, up to a moment; their work goes on from there. Whoever had not
// been at work for so long is passed over.
func (d *Draft) Rest(tx *models.Tx, books *rulebook.Library, day models.Date, workers []uuid.UUID, at time.Time) error {
	if err := d.placed(); err != nil {
		return err
	}
	length, err := d.RestLength(tx, books, day)
	if err != nil {
		return err
	}
	if length == 0 {
		return &models.Error{Kind: models.Conflict, Key: "problem.no_rest_length"}
	}
	return d.rest(workers, length, at)
}

func (d *Draft) rest(workers []uuid.UUID, length payroll.Minutes, at time.Time) error {
	took := 0
	from := at.Add(-time.Duration(length) * time.Minute)
	for _, w := range workers {
		r := d.Running(w)
		if r == nil || !atWork(r.Kind) || from.Before(*r.Start) {
			continue
		}
		took++
		work := *r
		if err := d.end(w, from); err != nil {
			return err
		}
		begun := from
		ended := at
		d.Time = append(d.Time, intake.TimeLine{ID: models.NewID(), WorkerID: w, Kind: payroll.Rest, Start: &begun, End: &ended})
		work.ID, work.Start, work.End = models.NewID(), &ended, nil
		d.Time = append(d.Time, work)
	}
	if took == 0 {
		return &models.Error{Kind: models.Conflict, Key: "problem.nobody_so_long", Terms: payroll.Terms{"minutes": int(length)}}
	}
	return nil
}
