package payrun

import (
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// Approve freezes a draft for payment. Whoever drafted it may not approve it, unless the employer has switched that off. The week is reckoned once more:
// where anything that it follows from has moved since the draft, the approval is refused as stale.
func Approve(tx *models.Tx, books *rulebook.Library, id uuid.UUID, version int64) (*Run, error) {
	var profile models.EmployerProfile
	if err := tx.Locking().Take(&profile).Error; err != nil { // two runs of a week are approved one after the other
		return nil, err
	}
	run, err := locked(tx, id, version, Draft)
	if err != nil {
		return nil, err
	}
	if profile.Content.SecondApprover && run.DraftedBy == tx.Actor {
		return nil, &models.Error{Kind: models.Forbidden, Key: "problem.same_person"}
	}
	res, err := reckonRun(tx, books, run, func(*statement) error { return nil })
	if err != nil {
		return nil, err
	}
	if res.digest() != run.InputDigest {
		return nil, &models.Error{Kind: models.Stale, Key: "problem.inputs_moved"}
	}
	if res.statements == 0 {
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.nothing_to_approve"}
	}
	before := *run
	run.State, run.ApprovedBy, run.ApprovedAt = Approved, &tx.Actor, &tx.Now
	if err := postStatements(tx, run); err != nil {
		return nil, err
	}
	if err := enterCosts(tx, run); err != nil {
		return nil, err
	}
	return change(tx, run, before, "approve", "")
}

// Withdraw takes an approval back, as long as nobody has been paid. The run is a draft again.
func Withdraw(tx *models.Tx, id uuid.UUID, version int64, reason string) (*Run, error) {
	reason = strings.TrimSpace(reason)
	if reason == "" {
		return nil, models.FaultAt("/reason", "fault.reason_needed", nil)
	}
	run, err := locked(tx, id, version, Approved)
	if err != nil {
		return nil, err
	}
	if err := mayWithdraw(tx, id); err != nil {
		return nil, err
	}
	if err := checkNoDraft(tx, run); err != nil {
		return nil, err
	}
	if err := reverseStatements(tx, "run_id", id, reason); err != nil {
		return nil, err
	}
	if err := takeCosts(tx, run); err != nil {
		return nil, err
	}
	before := *run
	run.State, run.ApprovedBy, run.ApprovedAt = Draft, nil, nil
	return change(tx, run, before, "withdraw", reason)
}

// mayWithdraw wants a run of which nothing has left the house: a redraft would take its statements away, and what was voided or paid, even in vain, is kept.
func mayWithdraw(tx *models.Tx, id uuid.UUID) error {
	var touched int64
	err := tx.DB().Raw(`SELECT count(*) FROM statements s WHERE s.employer_id = @employer AND s.run_id = @run AND (s.paid_on IS NOT NULL OR s.voided_at IS NOT NULL
		OR EXISTS (SELECT 1 FROM payment_events e WHERE e.employer_id = s.employer_id AND e.statement_id = s.id))`,
		map[string]any{"employer": tx.Employer, "run": id}).Scan(&touched).Error
	if err == nil && touched > 0 {
		err = &models.Error{Kind: models.Conflict, Key: "problem.paid_already", Terms: payroll.Terms{"count": int(touched)}}
	}
	return err
}

func change(tx *models.Tx, run *Run, before Run, action, reason string) (*Run, error) {
	run.Version++
	run.UpdatedAt = tx.Now
	if err := save(tx, run); err != nil {
		return nil, err
	}
	return run, tx.Audit(models.Audit{Action: action, SubjectKind: "pay_runs", SubjectID: run.ID, Before: before, After: run, Reason: reason})
}
