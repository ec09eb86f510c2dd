package payrun

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// PayKind is a kind of pay as whoever looks over a run thinks of it: some lines of a statement taken together.
type PayKind string

// The kinds of pay. Together they are gross pay.
const (
	PayPieces   PayKind = "pieces"
	PayHours    PayKind = "hours" // by the hour, other nonproductive time included
	PayRest     PayKind = "rest"
	PayMakeup   PayKind = "makeup" // to the minimum wage, or to the rate that was offered
	PayOvertime PayKind = "overtime"
	PayBreaks   PayKind = "breaks" // premiums for periods that were not provided
	PayOther    PayKind = "other"  // bonuses, leave, and money for other weeks among them
)

// PayKinds lists them in the order of a statement.
var PayKinds = []PayKind{PayPieces, PayHours, PayRest, PayMakeup, PayOvertime, PayBreaks, PayOther}

// PayKindOf is the kind to which a line belongs; "" where it is no part of gross pay.
func PayKindOf(code payroll.Code) PayKind {
	switch code {
	case payroll.PieceLine, payroll.SharedPieceLine:
		return PayPieces
	case payroll.HourlyLine, payroll.NonproductiveLine:
		return PayHours
	case payroll.RestRecoveryLine:
		return PayRest
	case payroll.MinimumMakeupLine, payroll.GuaranteeMakeupLine:
		return PayMakeup
	case payroll.OvertimePremiumLine, payroll.DoubleTimePremiumLine:
		return PayOvertime
	case payroll.MealPremiumLine, payroll.RestPremiumLine:
		return PayBreaks
	case payroll.ReimbursementLine:
		return ""
	}
	return PayOther
}

// Across is a worker's statement laid out by kinds of pay, beside what the week before came to.
type Across struct {
	Brief
	Kinds      map[PayKind]payroll.Cents
	WeekBefore *payroll.Cents // gross of the approved statements of the week before; nil where there are none
}

// AcrossRun lays a run's statements out, by the numbers of their workers: those after a number, at most limit.
func AcrossRun(tx *models.Tx, run uuid.UUID, after int64, limit int) ([]Across, error) {
	var briefs []Brief
	err := tx.DB().Raw(inBrief+`s.run_id = ? AND w.number > ? ORDER BY w.number, s.seq LIMIT ?`, tx.Employer, run, after, limit).Scan(&briefs).Error
	if err != nil {
		return nil, err
	}
	return across(tx, briefs)
}

// AcrossFound lays the statements of those of a run's workers out whom a few words mean, as [models.FindWorkers] takes them: at most limit, by the numbers of the workers.
func AcrossFound(tx *models.Tx, run uuid.UUID, words string, limit int) ([]Across, error) {
	found, err := models.FindWorkers(tx, models.Page{Limit: limit}, words,
		models.Where("id IN (SELECT s.worker_id FROM statements s WHERE s.employer_id = ? AND s.run_id = ?)", tx.Employer, run))
	if err != nil || len(found) == 0 {
		return nil, err
	}
	ids := make([]uuid.UUID, len(found))
	for i := range found {
		ids[i] = found[i].ID
	}
	var briefs []Brief
	err = tx.DB().Raw(inBrief+`s.run_id = ? AND s.worker_id IN ? ORDER BY w.number, s.seq LIMIT ?`, tx.Employer, run, ids, limit).Scan(&briefs).Error
	if err != nil {
		return nil, err
	}
	return across(tx, briefs)
}

func across(tx *models.Tx, briefs []Brief) ([]Across, error) {
	if len(briefs) == 0 {
		return nil, nil
	}
	statements, workers := make([]uuid.UUID, len(briefs)), make([]uuid.UUID, len(briefs))
	for i := range briefs {
		statements[i], workers[i] = briefs[i].ID, briefs[i].WorkerID
	}
	kinds, err := kindsOf(tx, statements)
	if err != nil {
		return nil, err
	}
	before, err := grossOf(tx, workers, models.Day(briefs[0].WeekStart.AddDays(-7)))
	if err != nil {
		return nil, err
	}
	rows := make([]Across, len(briefs))
	for i, b := range briefs {
		rows[i] = Across{Brief: b, Kinds: kinds[b.ID]}
		if gross, ok := before[b.WorkerID]; ok {
			rows[i].WeekBefore = &gross
		}
	}
	return rows, nil
}

// kindsOf adds the lines of statements up by kinds of pay.
func kindsOf(tx *models.Tx, statements []uuid.UUID) (map[uuid.UUID]map[PayKind]payroll.Cents, error) {
	var sums []struct {
		StatementID uuid.UUID
		Code        payroll.Code
		Amount      payroll.Cents
	}
	err := tx.DB().Raw(`SELECT statement_id, code, sum(amount) AS amount FROM statement_lines WHERE employer_id = ? AND statement_id IN ?
		GROUP BY statement_id, code`, tx.Employer, statements).Scan(&sums).Error
	out := make(map[uuid.UUID]map[PayKind]payroll.Cents, len(statements))
	for _, s := range sums {
		if out[s.StatementID] == nil {
			out[s.StatementID] = map[PayKind]payroll.Cents{}
		}
		out[s.StatementID][PayKindOf(s.Code)] += s.Amount
	}
	return out, err
}

// grossOf is what workers' approved statements of a week come to.
func grossOf(tx *models.Tx, workers []uuid.UUID, week models.Date) (map[uuid.UUID]payroll.Cents, error) {
	var sums []struct {
		WorkerID uuid.UUID
		Gross    payroll.Cents
	}
	err := tx.DB().Raw(`SELECT s.worker_id, sum(s.gross) AS gross FROM statements s
		JOIN pay_runs r ON r.employer_id = s.employer_id AND r.id = s.run_id
		WHERE s.employer_id = ? AND s.week_start = ? AND s.worker_id IN ? AND s.voided_at IS NULL AND r.state <> 'draft' GROUP BY s.worker_id`,
		tx.Employer, week, workers).Scan(&sums).Error
	out := make(map[uuid.UUID]payroll.Cents, len(sums))
	for _, s := range sums {
		out[s.WorkerID] = s.Gross
	}
	return out, err
}

// RunTotals is what a run comes to by kinds of pay, without what was voided, beside the week before.
type RunTotals struct {
	Kinds      map[PayKind]payroll.Cents
	Gross, Net payroll.Cents
	Worked     payroll.Minutes
	WeekBefore payroll.Cents
}

// TotalsOf adds a run up. The join is written so that SQLite, which keeps no statistics, goes from the statements to their lines.
func TotalsOf(tx *models.Tx, run *Run) (*RunTotals, error) {
	t := RunTotals{Kinds: map[PayKind]payroll.Cents{}}
	var sums []struct {
		Code   payroll.Code
		Amount payroll.Cents
	}
	err := tx.DB().Raw(`SELECT l.code, sum(l.amount) AS amount FROM statements s
		CROSS JOIN statement_lines l
		WHERE s.employer_id = ? AND s.run_id = ? AND s.voided_at IS NULL AND l.employer_id = s.employer_id AND l.statement_id = s.id GROUP BY l.code`, tx.Employer, run.ID).Scan(&sums).Error
	if err != nil {
		return nil, err
	}
	for _, s := range sums {
		t.Kinds[PayKindOf(s.Code)] += s.Amount
	}
	err = tx.DB().Raw(`SELECT coalesce(sum(gross), 0), coalesce(sum(net), 0), coalesce(sum(worked_minutes), 0) FROM statements
		WHERE employer_id = ? AND run_id = ? AND voided_at IS NULL`, tx.Employer, run.ID).Row().Scan(&t.Gross, &t.Net, &t.Worked)
	if err != nil {
		return nil, err
	}
	err = tx.DB().Raw(`SELECT coalesce(sum(s.gross), 0) FROM statements s JOIN pay_runs r ON r.employer_id = s.employer_id AND r.id = s.run_id
		WHERE s.employer_id = ? AND s.week_start = ? AND s.voided_at IS NULL AND r.state <> 'draft'`, tx.Employer, models.Day(run.WeekStart.AddDays(-7))).Row().Scan(&t.WeekBefore)
	return &t, err
}

// Change is how gross pay differs from the week before; 0 where there was none.
func (a *Across) Change() payroll.Cents {
	if a.WeekBefore == nil {
		return 0
	}
	return a.Gross - *a.WeekBefore
}
