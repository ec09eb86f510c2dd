package clearance

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Exception is a worker's day of work that no clearance covers and that nobody has spoken on yet. The work is paid all the same.
type Exception struct {
	WorkerID uuid.UUID   `json:"worker_id"`
	Number   int64       `json:"worker"`
	Name     string      `json:"name"`
	Workday  models.Date `json:"workday"`
	CrewID   *uuid.UUID  `json:"crew_id"` // with which the work was recorded
	Crew     *int64      `json:"crew"`
	Asked    bool        `json:"asked"` // whether a clearance was asked for the crew's day, and denied to this worker
}

// exceptionDays is how far back open exceptions are looked for: beyond that they are history, and are asked for by their days.
const exceptionDays = 60

// Exceptions lists the open exceptions of the workdays from one through another, oldest first, after a place that the last page ended at; one more than the limit where more follow. A day
// counts where pieces or time were recorded in it; a clearance counts for its day, from whatever crew the worker went out with.
func Exceptions(tx *models.Tx, from, through dated.Date, after *Exception, limit int) ([]Exception, error) {
	args := map[string]any{"employer": tx.Employer, "from": models.Day(from), "through": models.Day(through), "limit": limit + 1}
	beyond := ""
	if after != nil {
		beyond = " AND (d.workday > @day OR d.workday = @day AND d.worker_id > @worker)"
		args["day"], args["worker"] = after.Workday, after.WorkerID
	}
	var open []Exception
	err := tx.DB().Raw(`WITH unspoken AS MATERIALIZED (
			SELECT workday, worker_id FROM time_ledger WHERE employer_id = @employer AND workday BETWEEN @from AND @through
			EXCEPT SELECT workday, worker_id FROM cleared_workers WHERE employer_id = @employer AND workday BETWEEN @from AND @through
			EXCEPT SELECT workday, worker_id FROM clearance_exceptions WHERE employer_id = @employer AND workday BETWEEN @from AND @through),
		uncleared AS MATERIALIZED (SELECT d.worker_id, d.workday FROM unspoken d
			WHERE (EXISTS (SELECT 1 FROM tallies t WHERE t.employer_id = @employer AND t.worker_id = d.worker_id AND t.workday = d.workday AND t.superseded_by IS NULL)
				OR EXISTS (SELECT 1 FROM time_entries e WHERE e.employer_id = @employer AND e.worker_id = d.worker_id AND e.workday = d.workday AND e.superseded_by IS NULL
					AND e.kind IN ('piece', 'hourly', 'nonproductive')))`+beyond+`
			ORDER BY d.workday, d.worker_id LIMIT @limit),
		came AS (SELECT u.worker_id, u.workday, (SELECT min(CAST(s.crew_id AS text)) FROM crew_sheets s WHERE s.employer_id = @employer AND s.workday = u.workday AND s.id IN (
				SELECT t.sheet_id FROM tallies t WHERE t.employer_id = @employer AND t.worker_id = u.worker_id AND t.workday = u.workday AND t.superseded_by IS NULL
				UNION SELECT e.sheet_id FROM time_entries e WHERE e.employer_id = @employer AND e.worker_id = u.worker_id AND e.workday = u.workday AND e.superseded_by IS NULL)) AS crew FROM uncleared u)
		SELECT d.worker_id, w.number, w.name, d.workday, k.id AS crew_id, k.number AS crew,
			EXISTS (SELECT 1 FROM clearances g WHERE g.employer_id = @employer AND g.workday = d.workday AND g.crew_id = k.id) AS asked
		FROM came d JOIN workers w ON w.employer_id = @employer AND w.id = d.worker_id
		LEFT JOIN crews k ON k.employer_id = @employer AND CAST(k.id AS text) = d.crew
		ORDER BY d.workday, d.worker_id`, args).Scan(&open).Error
	return open, err
}

// Recent is from which workday on exceptions are looked for where nobody names one.
func Recent(now time.Time) dated.Date { return dated.DateOf(now).AddDays(-exceptionDays) }

// Settlement is the safety officer's word on a worker's day of work without clearance.
type Settlement struct {
	ID       uuid.UUID               `json:"id"`
	WorkerID uuid.UUID               `json:"worker_id"`
	Workday  models.Date             `json:"workday"`
	Finding  models.ExceptionFinding `json:"finding"`
	Reason   string                  `json:"reason"`
}

// Settle records the officer's word. Repeats are answered as elsewhere; a day that somebody spoke on already stays as it is.
func Settle(tx *models.Tx, in Settlement) (*models.ClearanceException, bool, error) {
	c := models.NewChecker(tx)
	c.Reference("/worker_id", "workers", in.WorkerID)
	c.Day("/workday", in.Workday.Date)
	words := make([]string, len(models.ExceptionFindings))
	for i, f := range models.ExceptionFindings {
		words[i] = string(f)
	}
	c.OneOf("/finding", string(in.Finding), words...)
	c.Text("/reason", &in.Reason, models.LongText)
	faults, err := c.Done()
	if err != nil {
		return nil, false, err
	}
	hash := models.ContentHash([]any{in.WorkerID, in.Workday, in.Finding, in.Reason})
	if kept, err := models.Repeat[models.ClearanceException](tx, in.ID, hash); kept != nil || err != nil {
		return kept, true, err
	}
	if err := models.Faulty(faults); err != nil {
		return nil, false, err
	}
	settled, err := SettledOn(tx, in.WorkerID, in.Workday.Date)
	if err != nil {
		return nil, false, err
	}
	if settled != nil {
		return nil, false, &models.Error{Kind: models.Conflict, Key: "problem.exception_settled", Terms: payroll.Terms{"date": in.Workday.Date}}
	}
	x := &models.ClearanceException{
		Keyed: models.Keyed{ID: in.ID, ContentHash: hash}, WorkerID: in.WorkerID, Workday: in.Workday, Finding: in.Finding, Reason: in.Reason, SettledAt: tx.Now, SettledBy: tx.Actor,
	}
	if err := tx.DB().Create(x).Error; err != nil {
		return nil, false, err
	}
	return x, false, tx.Audit(models.Audit{Action: "settle_exception", SubjectKind: "clearance_exceptions", SubjectID: x.ID, After: x, Reason: in.Reason})
}

// SettledOn returns the officer's word on a worker's day, nil where there is none.
func SettledOn(tx *models.Tx, worker uuid.UUID, day dated.Date) (*models.ClearanceException, error) {
	var settled []models.ClearanceException
	err := tx.DB().Where("workday = ? AND worker_id = ?", models.Day(day), worker).Limit(1).Find(&settled).Error
	if err != nil || len(settled) == 0 {
		return nil, err
	}
	return &settled[0], nil
}
