package payrun

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// Payment says how a statement's net amount was paid.
type Payment struct {
	StatementID uuid.UUID   `json:"statement_id"`
	PaidOn      models.Date `json:"paid_on"`
	Method      string      `json:"method"`              // check, transfer, cash, or the farm's own word
	Reference   string      `json:"reference,omitempty"` // such as a check number; never a bank account
}

// Pay marks statements of an approved run as paid; when the last one is, so is the run. A payment that is already recorded the same way is taken as
// repeated; one that differs is a conflict.
func Pay(tx *models.Tx, id uuid.UUID, payments []Payment) (*Run, error) {
	var run Run
	if err := tx.Locking().Where("id = ?", id).Take(&run).Error; err != nil {
		return nil, err
	}
	if run.State == Draft {
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.run_state", Terms: payroll.Terms{"state": string(run.State)}}
	}
	var rows []StatementRow
	if err := tx.DB().Omit("heading", "detail", "figures", "week").Where("run_id = ?", id).Find(&rows).Error; err != nil {
		return nil, err
	}
	fresh, err := checkPayments(tx, &run, rows, payments)
	if err != nil || len(fresh) == 0 {
		return &run, err
	}
	if err := recordPayments(tx, fresh); err != nil {
		return nil, err
	}
	before := run
	if err := settleState(tx, &run); err != nil {
		return nil, err
	}
	return &run, tx.Audit(models.Audit{Action: "pay", SubjectKind: "pay_runs", SubjectID: id, Before: before, After: struct {
		Run      Run       `json:"run"`
		Payments []Payment `json:"payments"`
	}{run, fresh}})
}

// recordPayments keeps payments as events, and marks the statements by them, in set-sized statements.
func recordPayments(tx *models.Tx, payments []Payment) error {
	events, ids := make([]PaymentEvent, len(payments)), make([]uuid.UUID, len(payments))
	for i, p := range payments {
		ids[i] = tx.NewID()
		events[i] = PaymentEvent{ID: ids[i], StatementID: p.StatementID, Outcome: PaymentPaid, HappenedOn: p.PaidOn, Method: p.Method, Reference: p.Reference,
			RecordedAt: tx.Now, RecordedBy: tx.Actor}
	}
	if err := models.InsertAll(tx, events); err != nil {
		return err
	}
	for some := range slices.Chunk(ids, workersAtOnce) {
		err := tx.DB().Exec(`UPDATE statements SET paid_on = e.happened_on, paid_method = e.method, paid_reference = e.reference, paid_by = e.recorded_by
			FROM payment_events e WHERE statements.employer_id = @employer AND e.employer_id = @employer AND e.statement_id = statements.id AND e.id IN @events`,
			map[string]any{"employer": tx.Employer, "events": some}).Error
		if err != nil {
			return err
		}
	}
	return nil
}

// checkPayments returns the payments that are not recorded yet, or every fault in them.
func checkPayments(tx *models.Tx, run *Run, rows []StatementRow, payments []Payment) ([]Payment, error) {
	byID := make(map[uuid.UUID]*StatementRow, len(rows))
	for i := range rows {
		byID[rows[i].ID] = &rows[i]
	}
	c := models.NewChecker(tx)
	seen := map[uuid.UUID]bool{}
	var fresh []Payment
	for i, p := range payments {
		at := "/payments/" + itoa(int64(i))
		c.Text(at+"/method", &p.Method, 40)
		p.Reference = strings.TrimSpace(p.Reference)
		c.OptionalText(at+"/reference", &p.Reference, 100)
		c.DayUntil(at+"/paid_on", p.PaidOn.Date, run.Payday.AddDays(366))
		if p.PaidOn.Before(run.WeekStart.Date) {
			c.Fault(at+"/paid_on", "fault.paid_before_week", nil)
		}
		row := byID[p.StatementID]
		switch {
		case row == nil:
			c.Fault(at+"/statement_id", "fault.unknown_reference", nil)
		case row.VoidedAt != nil:
			c.Fault(at+"/statement_id", "fault.statement_void", nil)
		case seen[p.StatementID]:
			c.Fault(at+"/statement_id", "fault.payment_twice", nil)
		case row.PaidOn.IsZero():
			fresh = append(fresh, p)
		case row.PaidOn != p.PaidOn || row.PaidMethod != p.Method || row.PaidReference != p.Reference:
			c.Fault(at+"/statement_id", "fault.paid_otherwise", payroll.Terms{"on": row.PaidOn.Date, "method": row.PaidMethod})
		}
		seen[p.StatementID] = true
	}
	faults, err := c.Done()
	if err == nil {
		err = models.Faulty(faults)
	}
	return fresh, err
}
