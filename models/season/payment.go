package season

import (
	"strconv"

	"palmero/models"
	"palmero/models/payrun"
)

// Who does what with the pay: the numbers of their accounts.
const (
	owner = 1
	clerk = 2
)

// planPayment has each week drafted by the clerk, approved by the owner, and paid.
func (s *seeding) planPayment() {
	for i, p := range s.Runs {
		run := id(ofRun, i+1)
		s.plan(p.Drafted, func() error {
			return s.in(id(ofAccount, clerk), func(tx *models.Tx) error {
				_, _, err := payrun.DraftRun(tx, s.books, payrun.DraftRequest{ID: run, Kind: payrun.Regular, WeekStart: models.Day(p.Week)})
				return err
			})
		})
		if p.Decision != "" {
			s.plan(p.Drafted, func() error { return s.decide(i+1, p.Decision) })
		}
		s.plan(p.Approved, func() error {
			return s.in(id(ofAccount, owner), func(tx *models.Tx) error {
				_, err := payrun.Approve(tx, s.books, run, 1)
				return err
			})
		})
		s.plan(p.Paid, func() error { return s.pay(i+1, p) })
	}
}

// decide answers every problem of a draft that somebody should decide.
func (s *seeding) decide(n int, text string) error {
	var problems []payrun.KeptProblem
	err := s.in(id(ofAccount, clerk), func(tx *models.Tx) (err error) {
		problems, err = payrun.Problems(tx, id(ofRun, n))
		return err
	})
	for _, p := range problems {
		if err == nil && p.Kind == payrun.Decide {
			err = s.in(id(ofAccount, clerk), func(tx *models.Tx) error { return payrun.DecideProblem(tx, id(ofRun, n), p.No, text) })
		}
	}
	return err
}

// pay pays everybody by check on the payday.
func (s *seeding) pay(n int, p payment) error {
	return s.in(id(ofAccount, clerk), func(tx *models.Tx) error {
		run, err := payrun.Summarize(tx, id(ofRun, n))
		if err != nil {
			return err
		}
		statements, err := payrun.RunStatements(tx, run.ID, models.Page{Limit: run.Statements})
		if err != nil {
			return err
		}
		var payments []payrun.Payment
		for i, statement := range statements {
			payments = append(payments, payrun.Payment{StatementID: statement.ID, PaidOn: run.Payday, Method: "check", Reference: strconv.Itoa(p.FirstCheck + i)})
		}
		_, err = payrun.Pay(tx, run.ID, payments)
		return err
	})
}
