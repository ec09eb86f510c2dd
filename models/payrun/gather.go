package payrun

import (
	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
	"palmero/payroll/dated"
)

// records are all that bears on the pay of one week, fetched in a fixed number of statements whatever the number of workers.
type records struct {
	profile    *models.EmployerProfile
	gardens    map[uuid.UUID]*models.Garden
	blocks     map[uuid.UUID]*models.Block
	operations map[uuid.UUID]*models.Operation
	workers    map[uuid.UUID]*models.Worker

	time        []models.TimeEntry
	tallies     []models.Tally
	lots        map[uuid.UUID]*models.Lot
	breaks      []models.BreakRecord
	sheets      []models.CrewSheet
	pieceRates  []models.PieceRate
	hourlyRates []models.HourlyRate

	paid map[uuid.UUID]bool // the workers whose week already stands on a statement of an approved run
}

// gather reads a week's records, of one worker or (with uuid.Nil) of all. Time recorded for the day before the week is read too, since work
// across the start of a workday belongs to both.
func gather(tx *models.Tx, weekStart dated.Date, worker uuid.UUID) (*records, error) {
	r := &records{}
	var err error
	if r.profile, err = tx.Profile(); err != nil {
		return nil, err
	}
	first, last := models.Day(weekStart), models.Day(weekStart.AddDays(6))
	ids, err := aliases(tx, worker)
	if err != nil {
		return nil, err
	}
	standing := func(from models.Date) *gorm.DB {
		return tx.DB().Where("superseded_by IS NULL AND workday BETWEEN ? AND ?", from, last).Order("seq")
	}
	ofWorker := func(from models.Date) *gorm.DB {
		if worker == uuid.Nil {
			return standing(from)
		}
		return standing(from).Where("worker_id IN ?", ids)
	}
	for _, step := range []func() error{
		func() error { return ofWorker(models.Day(weekStart.AddDays(-1))).Find(&r.time).Error },
		func() error { return ofWorker(first).Find(&r.tallies).Error },
		func() error { return ofWorker(first).Find(&r.breaks).Error },
		func() error {
			var lots []models.Lot
			err := standing(first).Find(&lots).Error
			r.lots = models.RecordedByID(lots)
			return err
		},
		func() error {
			return tx.DB().Where("workday BETWEEN ? AND ?", first, last).Order("seq").Find(&r.sheets).Error
		},
		func() error {
			return tx.DB().Where("superseded_by IS NULL AND effective_on <= ?", last).Order("seq").Find(&r.pieceRates).Error
		},
		func() error {
			return tx.DB().Where("superseded_by IS NULL AND effective_on <= ?", last).Order("seq").Find(&r.hourlyRates).Error
		},
		// What the records name is read after them, so that nothing that came in meanwhile names what was not there yet.
		func() error { return all(tx, &r.gardens) },
		func() error { return all(tx, &r.blocks) },
		func() error { return all(tx, &r.operations) },
		func() error { return r.findWorkers(tx, first, last) },
		func() error { return r.findPaid(tx, first) },
	} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// aliases are the identifiers under which a worker was recorded: their own, and those of provisional hands who turned out to be them.
func aliases(tx *models.Tx, worker uuid.UUID) ([]uuid.UUID, error) {
	if worker == uuid.Nil {
		return nil, nil
	}
	var ids []uuid.UUID
	err := tx.DB().Raw("SELECT id FROM workers WHERE employer_id = ? AND (id = ? OR same_as = ?)", tx.Employer, worker, worker).Scan(&ids).Error
	return ids, err
}

func all[C any](tx *models.Tx, into *map[uuid.UUID]*models.Kept[C]) (err error) {
	*into, err = models.All[C](tx)
	return err
}

// findWorkers reads the workers who have records in the week, and those whom they turned out to be. A join keeps the statement short
// however many they are.
func (r *records) findWorkers(tx *models.Tx, first, last models.Date) error {
	const recorded = `SELECT worker_id FROM time_entries WHERE employer_id = @employer AND workday BETWEEN @from AND @last
		UNION SELECT worker_id FROM tallies WHERE employer_id = @employer AND workday BETWEEN @first AND @last
		UNION SELECT worker_id FROM break_records WHERE employer_id = @employer AND workday BETWEEN @first AND @last`
	var rows []models.Worker
	err := tx.DB().Raw(`SELECT w.* FROM workers w WHERE w.employer_id = @employer AND (
			w.id IN (`+recorded+`) OR w.id IN (
			SELECT p.same_as FROM workers p WHERE p.employer_id = @employer AND p.same_as IS NOT NULL AND p.id IN (`+recorded+`)))`,
		map[string]any{"employer": tx.Employer, "from": models.Day(first.AddDays(-1)), "first": first, "last": last}).Scan(&rows).Error
	r.workers = models.KeptByID(rows)
	return err
}

func (r *records) findPaid(tx *models.Tx, weekStart models.Date) error {
	var ids []uuid.UUID
	err := tx.DB().Raw(`SELECT s.worker_id FROM statements s JOIN pay_runs p ON p.employer_id = s.employer_id AND p.id = s.run_id
		WHERE s.employer_id = ? AND s.week_start = ? AND p.state <> 'draft'`, tx.Employer, weekStart).Scan(&ids).Error
	r.paid = make(map[uuid.UUID]bool, len(ids))
	for _, id := range ids {
		r.paid[id] = true
	}
	return err
}

// settled is the worker whose pay a record belongs to: the one it names, or whom that one turned out to be.
func (r *records) settled(id uuid.UUID) uuid.UUID {
	if w := r.workers[id]; w != nil && w.Content.SameAs != nil {
		return *w.Content.SameAs
	}
	return id
}
