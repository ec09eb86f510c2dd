package payrun

import (
	"maps"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
)

// SettledSince tells which problems of a draft were settled by records that came after it, by the problem: they go with the next draft. It knows open
// entries, hands known by name only, missing piece rates, counts that were questioned or were too high, days without time or counts, days outside of employment,
// and blocks and operations of which it was taken back that they had ended.
func SettledSince(tx *models.Tx, run *Run, problems []KeptProblem) (map[string]bool, error) {
	settled := map[string]bool{}
	if run.State != Draft {
		return settled, nil
	}
	rates, err := ratesSince(tx, run)
	if err != nil {
		return nil, err
	}
	came := map[workerDay]bool{}
	if slices.ContainsFunc(problems, func(p KeptProblem) bool { return recordedFor[p.Code] != "" }) {
		if came, err = recordedSince(tx, run); err != nil {
			return nil, err
		}
	}
	about := map[uuid.UUID][]string{} // the problems about a record
	for _, p := range problems {
		id, err := uuid.Parse(p.Subject)
		switch {
		case p.Code == "pay_problem.worker_provisional":
			about[p.WorkerID] = append(about[p.WorkerID], p.ID())
		case recordedFor[p.Code] != "":
			if came[workerDay{recordedFor[p.Code], p.WorkerID, p.Date}] {
				settled[p.ID()] = true
			}
		case p.Code == "pay_problem.no_piece_rate":
			if from, ok := rates[p.Subject]; ok && !p.Date.Before(from.Date) {
				settled[p.ID()] = true
			}
		case err == nil:
			about[id] = append(about[id], p.ID())
		}
	}
	for some := range slices.Chunk(slices.Collect(maps.Keys(about)), workersAtOnce) {
		var found []struct{ ID uuid.UUID }
		err := tx.DB().Raw(`SELECT t.id FROM time_entries t WHERE t.employer_id = @employer AND t.id IN @ids AND t.superseded_by IS NOT NULL
			UNION ALL SELECT w.id FROM workers w WHERE w.employer_id = @employer AND w.id IN @ids AND (w.same_as IS NOT NULL OR NOT w.provisional)
			UNION ALL SELECT b.id FROM blocks b WHERE b.employer_id = @employer AND b.id IN @ids AND b.ended_on IS NULL
			UNION ALL SELECT o.id FROM operations o WHERE o.employer_id = @employer AND o.id IN @ids AND o.ended_on IS NULL
			UNION ALL SELECT a.id FROM tally_answers a JOIN tallies t ON t.employer_id = a.employer_id AND t.id = a.tally_id
				WHERE a.employer_id = @employer AND a.id IN @ids AND t.superseded_by IS NOT NULL`,
			map[string]any{"employer": tx.Employer, "ids": some}).Scan(&found).Error
		if err != nil {
			return nil, err
		}
		for _, f := range found {
			for _, problem := range about[f.ID] {
				settled[problem] = true
			}
		}
	}
	return settled, nil
}

// ratesSince reads where piece rates hold that came after a draft, and from which day.
func ratesSince(tx *models.Tx, run *Run) (map[string]models.Date, error) {
	var rows []struct {
		OperationID, BlockID uuid.UUID
		EffectiveOn          models.Date
	}
	err := tx.DB().Raw(`SELECT r.operation_id, b.id AS block_id, r.effective_on FROM piece_rates r
		JOIN blocks b ON b.employer_id = r.employer_id AND (r.block_id = b.id OR r.block_id IS NULL AND (r.variety = '' OR r.variety = b.variety))
		WHERE r.employer_id = ? AND r.superseded_by IS NULL AND r.recorded_at > ? ORDER BY r.effective_on DESC`, tx.Employer, run.DraftedAt).Scan(&rows).Error
	rates := make(map[string]models.Date, len(rows))
	for _, r := range rows {
		rates[r.OperationID.String()+r.BlockID.String()] = r.EffectiveOn
	}
	return rates, err
}

// recordedFor says what kind of record settles problems of a code, where it is one of the worker's day.
var recordedFor = map[string]string{
	"pay_problem.on_roll_without_time": "time",
	"note.no_time":                     "time",
	"note.no_pieces":                   "tally",
	"pay_problem.over_daily_limit":     "tally",
	"pay_problem.not_employed":         "worker",
}

// workerDay is a kind of record and the worker and day that it is of; a worker's own record is of no day.
type workerDay struct {
	kind   string
	worker uuid.UUID
	day    dated.Date
}

// recordedSince reads of which workers and days something came after a draft. A worker's own record bears on every day of the week.
func recordedSince(tx *models.Tx, run *Run) (map[workerDay]bool, error) {
	var rows []struct {
		Kind     string
		WorkerID uuid.UUID
		Workday  models.Date
	}
	err := tx.DB().Raw(`SELECT DISTINCT 'time' AS kind, worker_id, workday FROM time_entries WHERE employer_id = @employer AND workday BETWEEN @first AND @last AND received_at > @drafted
		UNION SELECT 'tally', worker_id, workday FROM tallies WHERE employer_id = @employer AND workday BETWEEN @first AND @last AND received_at > @drafted
		UNION SELECT 'worker', w.id, @first FROM workers w WHERE w.employer_id = @employer AND w.updated_at > @drafted`,
		map[string]any{"employer": tx.Employer, "first": run.WeekStart, "last": models.Day(run.WeekStart.AddDays(6)), "drafted": run.DraftedAt}).Scan(&rows).Error
	came := make(map[workerDay]bool, len(rows))
	for _, r := range rows {
		if r.Kind != "worker" {
			came[workerDay{r.Kind, r.WorkerID, r.Workday.Date}] = true
			continue
		}
		for n := range 7 {
			came[workerDay{r.Kind, r.WorkerID, run.WeekStart.AddDays(n)}] = true
		}
	}
	return came, err
}
