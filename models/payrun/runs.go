package payrun

import (
	"math"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// RunBrief is a run in a list, with what it comes to and who made it.
type RunBrief struct {
	Run
	DraftedByName  string
	ApprovedByName string // "" while nobody has approved
	Statements     int
	Unpaid         int
	Gross          payroll.Cents
}

// LatestRuns lists runs from the latest back, at most limit: all of them, or with before those that came before that place in the order of arrival.
func LatestRuns(tx *models.Tx, before int64, limit int) ([]RunBrief, error) {
	if before <= 0 {
		before = math.MaxInt64
	}
	return runBriefs(tx, "r.seq < ? ORDER BY r.seq DESC LIMIT ?", before, limit)
}

// ReadRun reads one run as a list has it.
func ReadRun(tx *models.Tx, id uuid.UUID) (*RunBrief, error) {
	runs, err := runBriefs(tx, "r.id = ?", id)
	if err == nil && len(runs) == 0 {
		err = &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	if err != nil {
		return nil, err
	}
	return &runs[0], nil
}

// runBriefs reads the runs that a condition names, in two statements.
func runBriefs(tx *models.Tx, condition string, args ...any) ([]RunBrief, error) {
	var runs []RunBrief
	err := tx.DB().Raw(`SELECT r.*, d.name AS drafted_by_name, coalesce(a.name, '') AS approved_by_name FROM pay_runs r
		JOIN accounts d ON d.employer_id = r.employer_id AND d.id = r.drafted_by
		LEFT JOIN accounts a ON a.employer_id = r.employer_id AND a.id = r.approved_by
		WHERE r.employer_id = ? AND `+condition, append([]any{tx.Employer}, args...)...).Scan(&runs).Error
	if err != nil || len(runs) == 0 {
		return nil, err
	}
	ids := make([]uuid.UUID, len(runs))
	for i := range runs {
		ids[i] = runs[i].ID
	}
	var sums []struct {
		RunID              uuid.UUID
		Statements, Unpaid int
		Gross              payroll.Cents
	}
	err = tx.DB().Raw(`SELECT run_id, count(*) AS statements, sum(CASE WHEN paid_on IS NULL THEN 1 ELSE 0 END) AS unpaid, sum(gross) AS gross
		FROM statements WHERE employer_id = ? AND run_id IN ? AND voided_at IS NULL GROUP BY run_id`, tx.Employer, ids).Scan(&sums).Error
	for _, s := range sums {
		for i := range runs {
			if runs[i].ID == s.RunID {
				runs[i].Statements, runs[i].Unpaid, runs[i].Gross = s.Statements, s.Unpaid, s.Gross
			}
		}
	}
	return runs, err
}
