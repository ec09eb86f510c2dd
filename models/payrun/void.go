package payrun

import (
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// Void takes a statement of an approved run back before it is paid. It is kept, marked, with the reason; the worker's week is then open again, and the next
// draft of it makes the statement that stands in its place.
func Void(tx *models.Tx, id uuid.UUID, reason string) (*StatementRow, error) {
	if reason = strings.TrimSpace(reason); reason == "" {
		return nil, models.FaultAt("/reason", "fault.reason_needed", nil)
	}
	row, run, err := lockedStatement(tx, id)
	if err != nil {
		return nil, err
	}
	switch {
	case run.State == Draft:
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.run_state", Terms: payroll.Terms{"state": string(run.State)}}
	case !row.PaidOn.IsZero():
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.statement_paid"}
	case row.VoidedAt != nil && row.VoidReason == reason:
		return row, nil
	case row.VoidedAt != nil:
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.statement_void"}
	}
	before := statementFacts(row)
	row.VoidedAt, row.VoidedBy, row.VoidReason = &tx.Now, &tx.Actor, reason
	if err := tx.DB().Select("voided_at", "voided_by", "void_reason").Where("id = ?", id).Updates(row).Error; err != nil {
		return nil, err
	}
	if err := reverseStatements(tx, "id", id, reason); err != nil {
		return nil, err
	}
	if err := takeCostOf(tx, run, id); err != nil {
		return nil, err
	}
	if err := settleState(tx, run); err != nil {
		return nil, err
	}
	return row, tx.Audit(models.Audit{Action: "void", SubjectKind: "statements", SubjectID: id, Before: before, After: statementFacts(row), Reason: reason})
}

// Unpaid says that a payment did not reach the worker.
type Unpaid struct {
	ID         uuid.UUID      `json:"id"`      // of the event, made by whoever records it
	Outcome    PaymentOutcome `json:"outcome"` // failed or unclaimed
	HappenedOn models.Date    `json:"happened_on"`
	Reason     string         `json:"reason"`
}

// PaymentOutcome is what became of a payment.
type PaymentOutcome string

// A payment reached the worker, or it failed (a transfer came back, a check bounced), or nobody came for it.
const (
	PaymentPaid      PaymentOutcome = "paid"
	PaymentFailed    PaymentOutcome = "failed"
	PaymentUnclaimed PaymentOutcome = "unclaimed"
)

// PaymentEvent is one thing that happened to a statement's payment, in order.
type PaymentEvent struct {
	EmployerID  uuid.UUID      `gorm:"primaryKey" json:"-"`
	ID          uuid.UUID      `gorm:"primaryKey" json:"id"`
	Seq         int64          `gorm:"->" json:"-"`
	StatementID uuid.UUID      `json:"statement_id"`
	Outcome     PaymentOutcome `json:"outcome"`
	HappenedOn  models.Date    `json:"happened_on"`
	Method      string         `json:"method"`
	Reference   string         `json:"reference,omitempty"`
	Reason      string         `json:"reason,omitempty"`
	RecordedAt  time.Time      `json:"recorded_at"`
	RecordedBy  uuid.UUID      `json:"recorded_by"`
}

// TableName tells gorm the table.
func (PaymentEvent) TableName() string { return "payment_events" }

// TakeBackPayment records that a payment failed or was not claimed: the statement is unpaid again, and what happened stays on record. The same
// event again is returned as it was kept, and true, also after the statement was paid anew.
func TakeBackPayment(tx *models.Tx, id uuid.UUID, u Unpaid) (*PaymentEvent, bool, error) {
	row, run, err := lockedStatement(tx, id)
	if err != nil {
		return nil, false, err
	}
	if stored, err := keptEvent(tx, id, u); stored != nil || err != nil {
		return stored, true, err
	}
	if err := u.check(tx); err != nil {
		return nil, false, err
	}
	if row.PaidOn.IsZero() {
		return nil, false, &models.Error{Kind: models.Conflict, Key: "problem.statement_unpaid"}
	}
	before := statementFacts(row)
	event := PaymentEvent{ID: u.ID, StatementID: id, Outcome: u.Outcome, HappenedOn: u.HappenedOn, Method: row.PaidMethod, Reference: row.PaidReference,
		Reason: u.Reason, RecordedAt: tx.Now, RecordedBy: tx.Actor}
	if err := tx.DB().Create(&event).Error; err != nil {
		return nil, false, err
	}
	row.PaidOn, row.PaidMethod, row.PaidReference, row.PaidBy = models.Date{}, "", "", nil
	if err := tx.DB().Select("paid_on", "paid_method", "paid_reference", "paid_by").Where("id = ?", id).Updates(row).Error; err != nil {
		return nil, false, err
	}
	if err := settleState(tx, run); err != nil {
		return nil, false, err
	}
	return &event, false, tx.Audit(models.Audit{Action: string(u.Outcome), SubjectKind: "statements", SubjectID: id, Before: before, After: event, Reason: u.Reason})
}

// keptEvent returns the event under an identifier, if there is one; with other content it is a conflict.
func keptEvent(tx *models.Tx, statement uuid.UUID, u Unpaid) (*PaymentEvent, error) {
	var stored PaymentEvent
	if err := tx.DB().Where("id = ?", u.ID).Limit(1).Find(&stored).Error; err != nil || stored.StatementID == uuid.Nil {
		return nil, err
	}
	same := stored.StatementID == statement && stored.Outcome == u.Outcome && stored.HappenedOn == u.HappenedOn && stored.Reason == strings.TrimSpace(u.Reason)
	if !same {
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.id_reused"}
	}
	return &stored, nil
}

func (u *Unpaid) check(tx *models.Tx) error {
	c := models.NewChecker(tx)
	c.OneOf("/outcome", string(u.Outcome), string(PaymentFailed), string(PaymentUnclaimed))
	c.Text("/reason", &u.Reason, 500)
	c.Day("/happened_on", u.HappenedOn.Date)
	faults, err := c.Done()
	if err != nil {
		return err
	}
	return models.Faulty(faults)
}

// PaymentEvents lists what happened to a statement's payment.
func PaymentEvents(tx *models.Tx, statement uuid.UUID) ([]PaymentEvent, error) {
	var events []PaymentEvent
	err := tx.DB().Where("statement_id = ?", statement).Order("seq").Find(&events).Error
	return events, err
}

// statementFacts is what an audit entry says of a statement: not its figures, which never change.
func statementFacts(r *StatementRow) map[string]any {
	return map[string]any{"run_id": r.RunID, "worker_id": r.WorkerID, "week_start": r.WeekStart, "gross": r.Gross, "net": r.Net, "paid_on": r.PaidOn.String(),
		"voided_at": r.VoidedAt, "void_reason": r.VoidReason}
}

// lockedStatement reads a statement and holds its run until the transaction ends.
func lockedStatement(tx *models.Tx, id uuid.UUID) (*StatementRow, *Run, error) {
	var row StatementRow
	if err := tx.DB().Where("id = ?", id).Take(&row).Error; err != nil {
		return nil, nil, err
	}
	var run Run
	if err := tx.Locking().Where("id = ?", row.RunID).Take(&run).Error; err != nil {
		return nil, nil, err
	}
	err := tx.DB().Where("id = ?", id).Take(&row).Error // as it is now that the run is held
	return &row, &run, err
}

// settleState sets a run's state by its statements: paid when every one that is not void is paid, approved before.
func settleState(tx *models.Tx, run *Run) error {
	var counts struct{ Standing, Unpaid int }
	err := tx.DB().Raw(`SELECT count(*) AS standing, coalesce(sum(CASE WHEN paid_on IS NULL THEN 1 ELSE 0 END), 0) AS unpaid
		FROM statements WHERE employer_id = ? AND run_id = ? AND voided_at IS NULL`, tx.Employer, run.ID).Scan(&counts).Error
	if err != nil {
		return err
	}
	run.State = Approved
	if counts.Standing > 0 && counts.Unpaid == 0 {
		run.State = Paid
	}
	run.Version++
	run.UpdatedAt = tx.Now
	return save(tx, run)
}
