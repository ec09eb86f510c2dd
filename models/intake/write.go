package intake

import (
	"encoding/json"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// write keeps the good lines: corrections mark what they replace first, then everything goes in in a handful of statements, with one audit entry.
func (b *batch) write() error {
	if b.nothingNew() {
		return nil
	}
	steps := []func() error{
		b.writeSheet,
		b.writeWorkers,
		b.writeMarks,
		b.writeWork,
		func() error { return models.InsertAll(b.tx, b.breakRows) },
		b.audit,
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

func (b *batch) nothingNew() bool {
	return len(b.workers)+len(b.timeEntries)+len(b.lotRows)+len(b.tallyRows)+len(b.breakRows) == 0 && (b.sheet == nil || b.sheet.Seq != 0)
}

func (b *batch) writeSheet() error {
	if b.sheet == nil || b.sheet.Seq != 0 {
		return nil
	}
	roll, err := json.Marshal(append([]uuid.UUID{}, b.roll...))
	if err != nil {
		return err
	}
	b.sheet.Roll = roll
	return b.tx.DB().Create(b.sheet).Error
}

func (b *batch) writeWorkers() error {
	if len(b.workers) == 0 {
		return nil
	}
	next, err := b.tx.NextNumber("workers")
	if err != nil {
		return err
	}
	for i := range b.workers {
		b.workers[i].Content.Number = next + int64(i)
	}
	return models.InsertAll(b.tx, b.workers)
}

// writeMarks marks what corrections replace. A lot's parts go with it: each old part is superseded by the same worker's new part, or by the first one.
func (b *batch) writeMarks() error {
	for _, m := range b.marks {
		if err := b.mark(m); err != nil {
			return err
		}
		if m.table == "lots" {
			if err := b.markParts(m); err != nil {
				return err
			}
		}
	}
	return nil
}

func (b *batch) mark(m mark) error {
	result := b.tx.DB().Exec("UPDATE "+m.table+" SET superseded_by = ? WHERE employer_id = ? AND id = ? AND superseded_by IS NULL", m.by, b.tx.Employer, m.old)
	if result.Error == nil && result.RowsAffected == 0 {
		return b.corrected(m)
	}
	return result.Error
}

// corrected tells that somebody else corrected a record in the meantime, and with what.
func (b *batch) corrected(m mark) error {
	var by uuid.UUID
	err := b.tx.DB().Raw("SELECT superseded_by FROM "+m.table+" WHERE employer_id = ? AND id = ?", b.tx.Employer, m.old).Scan(&by).Error
	if err != nil {
		return err
	}
	return &models.Error{Kind: models.Conflict, Key: "problem.superseded", Terms: payroll.Terms{"by": by.String()}}
}

func (b *batch) markParts(m mark) error {
	successors := map[uuid.UUID]uuid.UUID{}
	var first uuid.UUID
	for _, t := range b.tallyRows {
		if t.Content.LotID != nil && *t.Content.LotID == m.by {
			if first == uuid.Nil {
				first = t.ID
			}
			successors[t.Content.WorkerID] = t.ID
		}
	}
	var old []models.Tally
	if err := b.tx.DB().Where("lot_id = ? AND superseded_by IS NULL", m.old).Find(&old).Error; err != nil {
		return err
	}
	for _, t := range old {
		by, ok := successors[t.Content.WorkerID]
		if !ok {
			by = first
		}
		if err := b.mark(mark{"tallies", t.ID, by}); err != nil {
			return err
		}
	}
	return nil
}

// writeWork writes time, lots and tallies in place of those that corrections replace. What a lot's old parts added, the lot did.
func (b *batch) writeWork() error {
	var replaced models.Work
	for _, m := range b.marks {
		switch m.table {
		case "time_entries":
			replaced.Time = append(replaced.Time, *b.ground.timeEntries[m.old])
		case "lots":
			replaced.Lots = append(replaced.Lots, *b.ground.lots[m.old])
		case "tallies":
			replaced.Tallies = append(replaced.Tallies, *b.ground.tallies[m.old])
		}
	}
	return models.KeepWork(b.tx, models.Work{Time: b.timeEntries, Lots: b.lotRows, Tallies: b.tallyRows, Blocks: b.ground.blocks}, replaced)
}

// audit writes the command's one entry: what came in, by identifier and hash.
func (b *batch) audit() error {
	kept := map[string]map[uuid.UUID]string{}
	for _, w := range b.workers {
		note(kept, "workers", w.Keyed)
	}
	for _, r := range b.timeEntries {
		note(kept, "time_entries", r.Keyed)
	}
	for _, r := range b.lotRows {
		note(kept, "lots", r.Keyed)
	}
	for _, r := range b.tallyRows {
		note(kept, "tallies", r.Keyed)
	}
	for _, r := range b.breakRows {
		note(kept, "break_records", r.Keyed)
	}
	marks := map[uuid.UUID]uuid.UUID{}
	for _, m := range b.marks {
		marks[m.old] = m.by
	}
	a := models.Audit{Action: "record", SubjectKind: "crew_sheets", After: kept}
	switch {
	case b.sheet != nil:
		a.SubjectID = b.sheet.ID
	case len(b.timeEntries) == 1:
		a.SubjectKind, a.SubjectID, a.Reason = "time_entries", b.timeEntries[0].ID, b.timeEntries[0].Reason
	default:
		a.SubjectKind, a.SubjectID, a.Reason = "tallies", b.tallyRows[0].ID, b.tallyRows[0].Reason
	}
	if len(marks) > 0 {
		a.Action, a.Before = "correct", marks
	}
	return b.tx.Audit(a)
}

func note(kept map[string]map[uuid.UUID]string, table string, k models.Keyed) {
	if kept[table] == nil {
		kept[table] = map[uuid.UUID]string{}
	}
	kept[table][k.ID] = k.ContentHash
}
