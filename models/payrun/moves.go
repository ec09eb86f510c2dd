package payrun

import (
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// What moved from one draft of a run to the next is kept with the draft: the figures of the draft before are gone by then. Why it moved is not kept. It is
// found in the records that came between the two, as far as they tell; see [MovedSince].

// moveRow is what one worker's pay of a kind was and is.
type moveRow struct {
	EmployerID uuid.UUID `gorm:"primaryKey"`
	RunID      uuid.UUID `gorm:"primaryKey"`
	WorkerID   uuid.UUID `gorm:"primaryKey"`
	Kind       PayKind   `gorm:"primaryKey"`
	Was        *payroll.Cents
	Now        *payroll.Cents
}

// TableName tells gorm the table.
func (moveRow) TableName() string { return "draft_moves" }

// drafted is what a run comes to, by worker and kind of pay; whoever stands in it has an entry.
func drafted(tx *models.Tx, run uuid.UUID) (map[uuid.UUID]map[PayKind]payroll.Cents, error) {
	var sums []struct {
		WorkerID uuid.UUID
		Code     payroll.Code
		Amount   payroll.Cents
	}
	err := tx.DB().Raw(`SELECT s.worker_id, coalesce(l.code, '') AS code, coalesce(sum(l.amount), 0) AS amount FROM statements s
		LEFT JOIN statement_lines l ON l.employer_id = s.employer_id AND l.statement_id = s.id
		WHERE s.employer_id = ? AND s.run_id = ? AND s.voided_at IS NULL GROUP BY s.worker_id, l.code`, tx.Employer, run).Scan(&sums).Error
	out := map[uuid.UUID]map[PayKind]payroll.Cents{}
	for _, s := range sums {
		if out[s.WorkerID] == nil {
			out[s.WorkerID] = map[PayKind]payroll.Cents{}
		}
		if kind := PayKindOf(s.Code); kind != "" {
			out[s.WorkerID][kind] += s.Amount
		}
	}
	return out, err
}

// keepMoves keeps what a draft has other than the one before.
func keepMoves(tx *models.Tx, run uuid.UUID, was map[uuid.UUID]map[PayKind]payroll.Cents) error {
	now, err := drafted(tx, run)
	if err != nil {
		return err
	}
	var rows []moveRow
	for _, m := range movesBetween(was, now) {
		m.RunID = run
		rows = append(rows, m)
	}
	return models.InsertAll(tx, rows)
}

// movesBetween are the kinds of pay that differ between two drafts. Who stands in one of them only has all kinds of it, and one at least.
func movesBetween(was, now map[uuid.UUID]map[PayKind]payroll.Cents) (rows []moveRow) {
	for worker, before := range was {
		after, still := now[worker]
		for _, kind := range PayKinds {
			b, a := before[kind], after[kind]
			switch {
			case !still && (b != 0 || kind == PayPieces):
				rows = append(rows, moveRow{WorkerID: worker, Kind: kind, Was: &b})
			case still && a != b:
				rows = append(rows, moveRow{WorkerID: worker, Kind: kind, Was: &b, Now: &a})
			}
		}
	}
	for worker, after := range now {
		if _, already := was[worker]; already {
			continue
		}
		for _, kind := range PayKinds {
			if a := after[kind]; a != 0 || kind == PayPieces {
				rows = append(rows, moveRow{WorkerID: worker, Kind: kind, Now: &a})
			}
		}
	}
	return rows
}

// Move is what a worker's pay of a kind was in the draft before, and is in this one.
type Move struct {
	Kind     PayKind
	Was, Now payroll.Cents
}

// Change is by how much it moved.
func (m Move) Change() payroll.Cents { return m.Now - m.Was }

// Moved is a worker whose pay moved between two drafts.
type Moved struct {
	WorkerID     uuid.UUID
	Number       int64
	Name         string
	Statement    *uuid.UUID // in this draft; nil where the worker does not stand in it
	Joined, Gone bool       // whether the worker stands in this draft only, or in the one before only
	Kinds        []Move
	Was, Now     payroll.Cents // of those kinds together
	Because      []Because     // the records that came between the two drafts, in the order of arrival
}

// Change is by how much the worker's pay moved.
func (m *Moved) Change() payroll.Cents { return m.Now - m.Was }

// MoveSum is what moved between two drafts in all.
type MoveSum struct {
	Workers int
	Change  payroll.Cents
}

// SumMoves adds up what moved since the draft before.
func SumMoves(tx *models.Tx, run uuid.UUID) (sum MoveSum, err error) {
	err = tx.DB().Raw(`SELECT count(DISTINCT worker_id) AS workers, CAST(coalesce(sum(coalesce(now, 0) - coalesce(was, 0)), 0) AS bigint) AS change
		FROM draft_moves WHERE employer_id = ? AND run_id = ?`, tx.Employer, run).Row().Scan(&sum.Workers, &sum.Change)
	return sum, err
}

// MovedSince lists the workers whose pay moved since the draft before, by number, those after a number, at most limit, with the records that came between.
func MovedSince(tx *models.Tx, run *Run, after int64, limit int) ([]*Moved, error) {
	var people []struct {
		ID     uuid.UUID
		Number int64
		Name   string
	}
	err := tx.DB().Raw(`SELECT w.id, w.number, w.name FROM workers w
		WHERE w.employer_id = @employer AND w.number > @after AND w.id IN (SELECT m.worker_id FROM draft_moves m WHERE m.employer_id = @employer AND m.run_id = @run)
		ORDER BY w.number LIMIT @limit`, map[string]any{"employer": tx.Employer, "run": run.ID, "after": after, "limit": limit}).Scan(&people).Error
	if err != nil || len(people) == 0 {
		return nil, err
	}
	all, of, workers := make([]*Moved, len(people)), make(map[uuid.UUID]*Moved, len(people)), make([]uuid.UUID, len(people))
	for i, w := range people {
		all[i] = &Moved{WorkerID: w.ID, Number: w.Number, Name: w.Name}
		of[w.ID], workers[i] = all[i], w.ID
	}
	var moves []moveRow
	if err := tx.DB().Where("run_id = ? AND worker_id IN ?", run.ID, workers).Find(&moves).Error; err != nil {
		return nil, err
	}
	for _, r := range moves {
		m := of[r.WorkerID]
		m.Joined, m.Gone = r.Was == nil, r.Now == nil
		m.add(r.Kind, r.Was, r.Now)
	}
	var statements []StatementRow
	if err := tx.DB().Select("id", "worker_id").Where("run_id = ? AND worker_id IN ? AND voided_at IS NULL", run.ID, workers).Find(&statements).Error; err != nil {
		return nil, err
	}
	for i := range statements {
		of[statements[i].WorkerID].Statement = &statements[i].ID
	}
	for _, m := range all {
		slices.SortFunc(m.Kinds, func(a, b Move) int { return slices.Index(PayKinds, a.Kind) - slices.Index(PayKinds, b.Kind) })
	}
	return all, findBecause(tx, run, of)
}

func (m *Moved) add(kind PayKind, was, now *payroll.Cents) {
	move := Move{Kind: kind}
	if was != nil {
		move.Was = *was
	}
	if now != nil {
		move.Now = *now
	}
	m.Was, m.Now = m.Was+move.Was, m.Now+move.Now
	if move.Was != move.Now {
		m.Kinds = append(m.Kinds, move)
	}
}
