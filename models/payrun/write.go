package payrun

import (
	"encoding/json"

	"github.com/google/uuid"
	"gorm.io/gorm/clause"

	"palmero/models"
	"palmero/payroll"
)

// writer keeps a run's statements as they come, in set-sized statements.
type writer struct {
	tx     *models.Tx
	run    *Run
	rows   []StatementRow
	lines  []lineRow
	paying []statementAdjustment
}

// take keeps one statement, sooner or later.
func (w *writer) take(s *statement) error {
	row, err := s.row(w.tx, w.run)
	if err != nil {
		return err
	}
	w.rows = append(w.rows, row)
	for _, id := range s.owed {
		w.paying = append(w.paying, statementAdjustment{StatementID: row.ID, AdjustmentID: id})
	}
	if w.lines, err = appendLines(w.lines, row.ID, s.figures); err != nil {
		return err
	}
	if len(w.rows) < workersAtOnce {
		return nil
	}
	return w.flush()
}

func (w *writer) flush() error {
	if err := models.InsertAll(w.tx, w.rows); err != nil {
		return err
	}
	if err := models.InsertAll(w.tx, w.lines); err != nil {
		return err
	}
	err := models.InsertAll(w.tx, w.paying)
	w.rows, w.lines, w.paying = w.rows[:0], w.lines[:0], w.paying[:0]
	return err
}

// finish keeps what is left, the problems, and the rulebooks, whose texts are kept once.
func (w *writer) finish(res *result) error {
	if err := w.flush(); err != nil {
		return err
	}
	problems, err := problemRows(w.run.ID, res.problems)
	if err != nil {
		return err
	}
	if err := models.InsertAll(w.tx, problems); err != nil {
		return err
	}
	var books []runBook
	for key, b := range res.books {
		books = append(books, runBook{RunID: w.run.ID, BookKey: key, Digest: b.Digest()})
		text := bookText{Digest: b.Digest(), BookKey: key, Body: string(b.Text())}
		if err := w.tx.DB().Clauses(clause.OnConflict{DoNothing: true}).Create(&text).Error; err != nil {
			return err
		}
	}
	return models.InsertAll(w.tx, books)
}

func (s *statement) row(tx *models.Tx, run *Run) (StatementRow, error) {
	id := tx.NewID()
	s.figures.ID = id.String()
	figures, err := json.Marshal(s.figures)
	if err != nil {
		return StatementRow{}, err
	}
	t := s.figures.Totals
	return StatementRow{
		ID: id, RunID: run.ID, WorkerID: s.worker.ID, WeekStart: run.WeekStart, Heading: s.papers.heading, Detail: s.papers.details, Figures: figures, Week: s.papers.week,
		ReissueOf:    s.reissueOf,
		StraightTime: t.StraightTime, Premiums: t.Premiums, Other: t.Other, Gross: t.Gross, Taxes: t.Taxes, Deductions: t.Deductions,
		Reimbursements: t.Reimbursements, Net: t.Net, WorkedMinutes: s.figures.Minutes.Worked,
	}, nil
}

func appendLines(rows []lineRow, statement uuid.UUID, figures *payroll.Statement) ([]lineRow, error) {
	for i, l := range figures.Lines {
		terms, err := json.Marshal(l.Basis.Terms)
		if err != nil {
			return nil, err
		}
		rows = append(rows, lineRow{
			StatementID: statement, LineNo: i + 1, Code: string(l.Code), Operation: l.Operation, Quantity: l.Quantity, Unit: l.Unit, Rate: l.Rate,
			Amount: l.Amount, BasisKey: l.Basis.Key, BasisTerms: terms, Authority: l.Authority,
		})
	}
	return rows, nil
}

func problemRows(run uuid.UUID, problems []Problem) ([]problemRow, error) {
	rows := make([]problemRow, 0, len(problems))
	for i, p := range problems {
		terms, err := json.Marshal(p.Terms)
		if err != nil {
			return nil, err
		}
		question, err := questionText(&p)
		if err != nil {
			return nil, err
		}
		row := problemRow{RunID: run, ProblemNo: i + 1, Kind: p.Kind, Code: p.Code, OnDate: models.Day(p.Date), Terms: terms, Subject: p.subject(), Question: question}
		if p.WorkerID != uuid.Nil {
			row.WorkerID = &p.WorkerID
		}
		rows = append(rows, row)
	}
	return rows, nil
}
