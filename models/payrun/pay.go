package payrun

import (
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
	events := make([]PaymentEvent, len(fresh))
	for i, p := range fresh {
		set := map[string]any{"paid_on": p.PaidOn, "paid_method": p.Method, "paid_reference": p.Reference, "paid_by": tx.Actor}
		if err := tx.DB().Model(&StatementRow{}).Where("id = ?", p.StatementID).Updates(set).Error; err != nil {
			return nil, err
		}
		events[i] = PaymentEvent{ID: tx.NewID(), StatementID: p.StatementID, Outcome: PaymentPaid, HappenedOn: p.PaidOn, Method: p.Method, Reference: p.Reference,
			RecordedAt: tx.Now, RecordedBy: tx.Actor}
	}
	if err := models.InsertAll(tx, events); err != nil {
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
