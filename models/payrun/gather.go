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

	disputes  map[uuid.UUID]models.TallyAnswer // by tally, where the worker's last word on it is a dispute
	decisions map[string]string                // by the subject of a problem of this week
	accepted  map[uuid.UUID][]Adjustment       // by worker, what is owed for other weeks and on no approved statement yet
	paid      map[uuid.UUID]bool               // the workers whose week already stands on a statement of an approved run
	voided    map[uuid.UUID]uuid.UUID          // by worker, the last voided statement of the week
}

// selection says which records of a week are gathered, and whose statements are made of them.
type selection struct {
	weekStart dated.Date
	through   dated.Date         // the last day that counts; the week's last where zero
	worker    uuid.UUID          // read this worker's records alone
	only      map[uuid.UUID]bool // make these workers' statements alone; everybody's where nil
	paidToo   bool               // also of workers whose week stands on an approved statement
	bare      bool               // the week by itself, without what is owed for other weeks
}

func (s selection) last() dated.Date {
	if s.through.IsZero() {
		return s.weekStart.AddDays(6)
	}
	return s.through
}

// gather reads a week's records. Time recorded for the day before the week is read too, since work across the start of a workday belongs
// to both.
func gather(tx *models.Tx, sel selection) (*records, error) {
	r := &records{}
	var err error
	if r.profile, err = tx.Profile(); err != nil {
		return nil, err
	}
	first, last := models.Day(sel.weekStart), models.Day(sel.last())
	ids, err := aliases(tx, sel.worker)
	if err != nil {
		return nil, err
	}
	standing := func(from models.Date) *gorm.DB {
		return tx.DB().Where("superseded_by IS NULL AND workday BETWEEN ? AND ?", from, last).Order("seq")
	}
	ofWorker := func(from models.Date) *gorm.DB {
		if sel.worker == uuid.Nil {
			return standing(from)
		}
		return standing(from).Where("worker_id IN ?", ids)
	}
	for _, step := range []func() error{
		func() error { return ofWorker(models.Day(sel.weekStart.AddDays(-1))).Find(&r.time).Error },
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
		func() error { return r.findStatements(tx, first) },
		func() error { return r.findDisputes(tx, first, last) },
		func() error { return r.findDecisions(tx, first) },
		func() error { return r.findAccepted(tx, sel) },
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

// findStatements reads who already stands on a statement of an approved run of the week, and whose was voided.
func (r *records) findStatements(tx *models.Tx, weekStart models.Date) error {
	var rows []struct {
		ID, WorkerID uuid.UUID
		Voided       bool
	}
	err := tx.DB().Raw(`SELECT s.id, s.worker_id, s.voided_at IS NOT NULL AS voided
		FROM statements s JOIN pay_runs p ON p.employer_id = s.employer_id AND p.id = s.run_id
		WHERE s.employer_id = ? AND s.week_start = ? AND p.state <> 'draft' AND p.kind <> 'correction' ORDER BY s.seq`, tx.Employer, weekStart).Scan(&rows).Error
	r.paid, r.voided = map[uuid.UUID]bool{}, map[uuid.UUID]uuid.UUID{}
	for _, row := range rows {
		if row.Voided {
			r.voided[row.WorkerID] = row.ID
		} else {
			r.paid[row.WorkerID] = true
		}
	}
	return err
}

// findDisputes reads the tallies of the week on which the worker's last word is a dispute.
func (r *records) findDisputes(tx *models.Tx, first, last models.Date) error {
	var rows []models.TallyAnswer
	err := tx.DB().Raw(`SELECT a.* FROM tally_answers a JOIN tallies t ON t.employer_id = a.employer_id AND t.id = a.tally_id
		WHERE a.employer_id = ? AND t.workday BETWEEN ? AND ? AND t.superseded_by IS NULL ORDER BY a.seq`, tx.Employer, first, last).Scan(&rows).Error
	r.disputes = map[uuid.UUID]models.TallyAnswer{}
	for _, a := range rows {
		if a.Answer == models.Disputed {
			r.disputes[a.TallyID] = a
		} else {
			delete(r.disputes, a.TallyID)
		}
	}
	return err
}

func (r *records) findDecisions(tx *models.Tx, weekStart models.Date) error {
	var rows []decisionRow
	err := tx.DB().Where("week_start = ?", weekStart).Find(&rows).Error
	r.decisions = make(map[string]string, len(rows))
	for _, d := range rows {
		r.decisions[d.Subject] = d.Decision
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
