package models

import (
	"github.com/google/uuid"
	"gorm.io/gorm"
)

// EndBlocks ends every block of a garden that goes on after a day with that day, as where its lease ends. Said twice it changes nothing more.
func EndBlocks(tx *Tx, garden uuid.UUID, last Date) error {
	c := NewChecker(tx)
	Ending{EndedOn: last}.checkEnding(c)
	c.Reference("/garden_id", "gardens", garden)
	faults, err := c.Done()
	if err == nil {
		err = Faulty(faults)
	}
	if err != nil {
		return err
	}
	ended, err := moveEnds(tx, last, Equal("garden_id", garden), Where("(ended_on IS NULL OR ended_on > ?)", last))
	if err != nil || len(ended) == 0 {
		return err
	}
	return tx.Audit(Audit{Action: "end", SubjectKind: "gardens", SubjectID: garden, After: blocksEnded{ended, last}})
}

// ResumeBlocks takes the end of a garden back: of its blocks those go on that ended on the last day of all. Said twice it takes back no more than once, as long as one goes on.
func ResumeBlocks(tx *Tx, garden uuid.UUID) error {
	var ends []Date
	if err := tx.Locking().Model(&Block{}).Scopes(Equal("garden_id", garden)).Pluck("ended_on", &ends).Error; err != nil {
		return translate(err)
	}
	var last Date
	for _, end := range ends {
		if end.IsZero() {
			return nil
		}
		if end.After(last.Date) {
			last = end
		}
	}
	resumed, err := moveEnds(tx, Date{}, Equal("garden_id", garden), Equal("ended_on", last))
	if err != nil || len(resumed) == 0 {
		return err
	}
	return tx.Audit(Audit{Action: "resume", SubjectKind: "gardens", SubjectID: garden, Before: blocksEnded{resumed, last}})
}

// blocksEnded is what the audit trail is told.
type blocksEnded struct {
	Blocks  []uuid.UUID `json:"blocks"`
	EndedOn Date        `json:"ended_on"`
}

// moveEnds gives some blocks another last day, or none, and returns them.
func moveEnds(tx *Tx, last Date, which ...Condition) (ids []uuid.UUID, err error) {
	if err := tx.Locking().Model(&Block{}).Scopes(which...).Order("seq").Pluck("id", &ids).Error; err != nil || len(ids) == 0 {
		return nil, translate(err)
	}
	change := map[string]any{"ended_on": last, "version": gorm.Expr("version + 1"), "updated_at": tx.Now}
	return ids, translate(tx.DB().Model(&Block{}).Scopes(tx.Among("id", ids)).Updates(change).Error)
}

// GardensInUse keeps the gardens in which there may be work on a day: those with a block that goes on, or without blocks.
func GardensInUse(day Date) Condition {
	const blocks = "SELECT 1 FROM blocks b WHERE b.employer_id = gardens.employer_id AND b.garden_id = gardens.id"
	return Where("(NOT EXISTS ("+blocks+") OR EXISTS ("+blocks+" AND (b.ended_on IS NULL OR b.ended_on >= ?)))", day)
}
