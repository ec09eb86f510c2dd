package synthetic

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// stretches is what a worker does on a day, one after the other from six in the morning.
var stretches = []struct {
	kind   payroll.TimeKind
	length time.Duration
}{
	{payroll.Nonproductive, 20 * time.Minute}, {payroll.Piece, 2 * time.Hour}, {payroll.Rest, 10 * time.Minute}, {payroll.Piece, 110 * time.Minute},
	{payroll.MealPeriod, 30 * time.Minute}, {payroll.Piece, 2 * time.Hour}, {payroll.Rest, 10 * time.Minute}, {payroll.Piece, 90 * time.Minute},
}

const (
	beginsAt    = 6 * 60 // minutes after midnight
	daysAWeek   = 5
	talliesADay = 3
)

// DayRows is how many rows a worker's day comes to, and WeekRows how many a week does: time entries and tallies.
const (
	DayRows  = 8 + talliesADay
	WeekRows = daysAWeek * DayRows
)

// pieces is the nth tally of a day.
func pieces(n int) payroll.Pieces { return payroll.Pieces(50_000 + 1000*n) }

// eachStretch hands on the clock times of a day's stretches.
func (e *Employer) eachStretch(day dated.Date, do func(kind payroll.TimeKind, start, end time.Time)) {
	at := models.WorkdayBegin(day, beginsAt, e.zone).UTC()
	for _, s := range stretches {
		end := at.Add(s.length)
		do(s.kind, at, end)
		at = end
	}
}

// Sheet is a crew's day as the lead's phone sends it.
func (e *Employer) Sheet(crew Crew, day dated.Date) intake.Sheet {
	s := intake.Sheet{ID: models.NewID(), CrewID: crew.ID, GardenID: e.Garden, Workday: models.Day(day), RecordedAt: e.evening(day), Roll: crew.Workers}
	for _, w := range crew.Workers {
		e.eachStretch(day, func(kind payroll.TimeKind, start, end time.Time) {
			s.Time = append(s.Time, intake.TimeLine{ID: models.NewID(), WorkerID: w, Kind: kind, BlockID: &e.Block, OperationID: &e.Operation, Start: &start, End: &end})
		})
		for n := range talliesADay {
			s.Tallies = append(s.Tallies, intake.TallyLine{ID: models.NewID(), WorkerID: w, BlockID: e.Block, OperationID: e.Operation, Pieces: pieces(n)})
		}
	}
	return s
}

func (e *Employer) evening(day dated.Date) time.Time {
	return models.WorkdayBegin(day, 15*60, e.zone).UTC()
}

// Record puts five days of work of the first so many workers into a week, in bulk and checked by nobody: the sheets and the rows that came in on them, without audit entries.
func (e *Employer) Record(ctx context.Context, weekStart dated.Date, workers int) error {
	return e.Store.In(ctx, e.Lead, func(tx *models.Tx) error {
		for day := 1; day <= daysAWeek; day++ {
			for crews := range slices.Chunk(e.crewsOf(workers), 25) { // a thousand workers at a time: memory stays where it is
				if err := e.recordDay(tx, crews, weekStart.AddDays(day)); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// crewsOf are the crews of the first so many workers; the last one may be cut short.
func (e *Employer) crewsOf(workers int) (crews []Crew) {
	for _, c := range e.Crews {
		if workers <= 0 {
			break
		}
		c.Workers = c.Workers[:min(workers, len(c.Workers))]
		workers -= len(c.Workers)
		crews = append(crews, c)
	}
	return crews
}

func (e *Employer) recordDay(tx *models.Tx, crews []Crew, day dated.Date) error {
	var sheets []models.CrewSheet
	var entries []models.TimeEntry
	var tallies []models.Tally
	for _, c := range crews {
		sheet, err := e.envelope(tx, c, day)
		if err != nil {
			return err
		}
		sheets = append(sheets, sheet)
		for _, w := range c.Workers {
			e.eachStretch(day, func(kind payroll.TimeKind, start, end time.Time) {
				entries = append(entries, recorded(tx, &sheet, models.TimeEntryContent{SheetID: &sheet.ID, WorkerID: w, Workday: sheet.Workday, Kind: kind, GardenID: e.Garden,
					BlockID: &e.Block, OperationID: &e.Operation, StartedAt: &start, EndedAt: &end}))
			})
			for n := range talliesADay {
				count := pieces(n)
				tallies = append(tallies, recorded(tx, &sheet, models.TallyContent{SheetID: &sheet.ID, WorkerID: w, Workday: sheet.Workday, BlockID: e.Block, OperationID: e.Operation, Pieces: &count}))
			}
		}
	}
	if err := models.InsertAll(tx, sheets); err != nil {
		return err
	}
	return models.KeepWork(tx, models.Work{Time: entries, Tallies: tallies}, models.Work{})
}

func (e *Employer) envelope(tx *models.Tx, c Crew, day dated.Date) (models.CrewSheet, error) {
	roll, err := json.Marshal(c.Workers)
	id := models.NewID()
	return models.CrewSheet{Keyed: models.Keyed{ID: id, ContentHash: models.ContentHash(id)}, CrewID: c.ID, Workday: models.Day(day), RecordedAt: e.evening(day), ReceivedAt: tx.Now,
		Roll: roll, RecordedBy: tx.Actor}, err
}

// recorded is a record that came in on a sheet. Its hash is over its identifier alone: as long as a true one, and no line will be held against it.
func recorded[C any](tx *models.Tx, sheet *models.CrewSheet, c C) models.Recorded[C] {
	id := models.NewID()
	return models.Recorded[C]{Keyed: models.Keyed{ID: id, ContentHash: models.ContentHash(id)}, Content: c, RecordedAt: sheet.RecordedAt, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
}

// Worker is one of the employer's workers, by index.
func (e *Employer) Worker(i int) uuid.UUID { return e.Crews[i/CrewSize].Workers[i%CrewSize] }
