package payrun

import (
	"github.com/google/uuid"

	"palmero/models"
)

// Listed is a statement on a pay list, with the crew that its worker was in when the week began.
type Listed struct {
	Brief
	CrewNumber int64  // 0: in none
	CrewName   string // "" there
}

// PayList lists a run's statements that stand, crew by crew and by the workers' numbers, those of no crew last.
func PayList(tx *models.Tx, run *Run) ([]Listed, error) {
	var rows []Listed
	err := tx.DB().Raw(`SELECT s.employer_id, s.id, s.seq, s.run_id, s.worker_id, s.week_start, s.gross, s.taxes, s.deductions, s.reimbursements, s.net, s.worked_minutes,
			s.paid_on, s.paid_method, s.paid_reference, w.number AS worker_number, w.name AS worker_name, coalesce(k.number, 0) AS crew_number, coalesce(k.name, '') AS crew_name
		FROM statements s
		JOIN workers w ON w.employer_id = s.employer_id AND w.id = s.worker_id
		LEFT JOIN (SELECT m.worker_id, min(c.number) AS number FROM crew_members m JOIN crews c ON c.employer_id = m.employer_id AND c.id = m.crew_id
			WHERE m.employer_id = @employer AND m.from_date <= @last AND (m.through_date IS NULL OR m.through_date >= @week) GROUP BY m.worker_id) n ON n.worker_id = s.worker_id
		LEFT JOIN crews k ON k.employer_id = s.employer_id AND k.number = n.number
		WHERE s.employer_id = @employer AND s.run_id = @run AND s.voided_at IS NULL ORDER BY CASE WHEN k.number IS NULL THEN 1 ELSE 0 END, k.number, w.number, s.seq`,
		map[string]any{"employer": tx.Employer, "run": run.ID, "week": run.WeekStart, "last": models.Day(run.WeekStart.AddDays(6))}).Scan(&rows).Error
	return rows, err
}

// inCrew is the number by which a pay list knows the crew of a statement's worker: the lowest of those that the worker was in during the week, 0 for none.
const inCrew = `coalesce((SELECT min(c.number) FROM crew_members m JOIN crews c ON c.employer_id = m.employer_id AND c.id = m.crew_id
	WHERE m.employer_id = @employer AND m.worker_id = s.worker_id AND m.from_date <= @last AND (m.through_date IS NULL OR m.through_date >= @week)), 0)`

// RunCrew is a crew of whose people a run has statements; those in no crew have the number 0 and no name.
type RunCrew struct {
	Number     int64
	Name       string
	Statements int
}

// RunCrews lists the crews of a run, as a pay list has them, those of no crew last.
func RunCrews(tx *models.Tx, run *Run) (crews []RunCrew, err error) {
	err = tx.DB().Raw(`SELECT n.number, coalesce(k.name, '') AS name, n.statements FROM
			(SELECT o.number, count(*) AS statements FROM (SELECT `+inCrew+` AS number FROM statements s WHERE s.employer_id = @employer AND s.run_id = @run AND s.voided_at IS NULL) o GROUP BY o.number) n
		LEFT JOIN crews k ON k.employer_id = @employer AND k.number = n.number
		ORDER BY CASE WHEN n.number = 0 THEN 1 ELSE 0 END, n.number`, run.crewTerms(tx)).Scan(&crews).Error
	return crews, err
}

func (r *Run) crewTerms(tx *models.Tx) map[string]any {
	return map[string]any{"employer": tx.Employer, "run": r.ID, "week": r.WeekStart, "last": models.Day(r.WeekStart.AddDays(6))}
}

// ToPay lists a run's statements that are not paid and not void, by the workers' numbers: all of them, or those named.
func ToPay(tx *models.Tx, run uuid.UUID, only []uuid.UUID) ([]Brief, error) {
	where, args := "s.run_id = ? AND s.paid_on IS NULL AND s.voided_at IS NULL", []any{tx.Employer, run}
	if only != nil {
		where, args = where+" AND s.id IN ?", append(args, only)
	}
	var rows []Brief
	err := tx.DB().Raw(inBrief+where+" ORDER BY w.number, s.seq", args...).Scan(&rows).Error
	return rows, err
}

// SheetsOf reads a run's statements that stand in full, by the workers' numbers: those after a number, of a crew where one is named, at most limit, and the number after
// which more follow (0: none do).
func SheetsOf(tx *models.Tx, run *Run, crew *int64, after int64, limit int) (sheets []*Sheet, more int64, err error) {
	var rows []struct {
		Row    StatementRow `gorm:"embedded"`
		Number int64
	}
	terms, ofCrew := with(run.crewTerms(tx), "after", after, "limit", limit+1), ""
	if crew != nil {
		terms, ofCrew = with(terms, "crew", *crew), " AND "+inCrew+" = @crew"
	}
	err = tx.DB().Raw(`SELECT s.*, w.number FROM statements s JOIN workers w ON w.employer_id = s.employer_id AND w.id = s.worker_id
		WHERE s.employer_id = @employer AND s.run_id = @run AND s.voided_at IS NULL AND w.number > @after`+ofCrew+` ORDER BY w.number, s.seq LIMIT @limit`, terms).Scan(&rows).Error
	if err != nil {
		return nil, 0, err
	}
	if len(rows) > limit {
		rows = rows[:limit]
		more = rows[limit-1].Number
	}
	for _, r := range rows {
		s := &Sheet{Row: r.Row, Run: *run}
		if err := s.unpack(); err != nil {
			return nil, 0, err
		}
		sheets = append(sheets, s)
	}
	return sheets, more, nil
}
