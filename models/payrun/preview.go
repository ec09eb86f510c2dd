package payrun

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// SoFar is one worker's week as the records are now.
type SoFar struct {
	Statement *payroll.Statement // nil where nothing is recorded yet, or something holds it
	Detail    []Detail           // the worker's days, held or not
	Problems  []Problem
}

// Held tells whether something keeps the week's pay back.
func (s *SoFar) Held() bool {
	for _, p := range s.Problems {
		if p.Kind == Holds {
			return true
		}
	}
	return false
}

// Preview reckons one worker's week, paid or not, without keeping anything.
func Preview(tx *models.Tx, books *rulebook.Library, worker uuid.UUID, weekStart dated.Date) (*SoFar, error) {
	var so SoFar
	sel := selection{weekStart: weekStart, only: map[uuid.UUID]bool{worker: true}, paidToo: true, heldToo: true}
	res, err := reckon(tx, books, sel, func(s *statement) error {
		so.Statement, so.Detail = s.figures, s.details
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, p := range res.problems {
		if p.WorkerID == worker { // what else there is concerns the office
			so.Problems = append(so.Problems, p)
		}
	}
	return &so, nil
}
