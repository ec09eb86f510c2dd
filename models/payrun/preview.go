package payrun

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// Preview reckons one worker's week as the records are now, paid or not, without keeping anything. The statement is nil where something holds it.
func Preview(tx *models.Tx, books *rulebook.Library, worker uuid.UUID, weekStart dated.Date) (*payroll.Statement, []Problem, error) {
	var figures *payroll.Statement
	sel := selection{weekStart: weekStart, only: map[uuid.UUID]bool{worker: true}, paidToo: true}
	res, err := reckon(tx, books, sel, func(s *statement) error {
		figures = s.figures
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	return figures, res.problems, nil
}
