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
	Book      *rulebook.Book // in which the provisions of the statement's lines can be looked up; nil where it is not in use any more
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

// Preview reckons one worker's week, paid or not, without keeping anything. It is there once the batch was answered.
func Preview(b *models.Batch, books *rulebook.Library, worker uuid.UUID, weekStart dated.Date) (*SoFar, error) {
	sel := selection{weekStart: weekStart, only: map[uuid.UUID]bool{worker: true}, paidToo: true, heldToo: true}
	if err := sel.narrow(b); err != nil {
		return nil, err
	}
	g := findGround(b, books, sel)
	r := findRecords(b, g, sel, []uuid.UUID{worker}, sel.hands)
	var so SoFar
	b.Then(func() error {
		so.reckon(g, r, sel)
		return nil
	})
	return &so, b.Err()
}

func (s *SoFar) reckon(g *ground, r *records, sel selection) {
	res := newResult(g)
	for _, own := range res.takeAll(r, sel) {
		s.Statement, s.Detail = own.figures, own.details
	}
	for _, p := range res.problems {
		if sel.only[p.WorkerID] { // what else there is concerns the office
			s.Problems = append(s.Problems, p)
		}
	}
	if s.Statement != nil {
		s.Book, _ = g.books.Governing(g.books.Current(s.Statement.Rulebook))
	}
}
