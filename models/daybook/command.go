package daybook

import (
	"encoding/json"
	"fmt"

	"github.com/google/uuid"

	"palmero/models"
)

// Command is one change of a draft: its identifier, made before it is sent, and a hash of all that it says, the crew and the day included.
type Command struct {
	ID   uuid.UUID
	Hash string
}

// Done is what a command led to.
type Done struct {
	Draft    *Draft // as it is now
	Sent     *Sent  // of a sending what became of it; else nil
	Repeated bool   // whether it was carried out before
}

// Change carries out one command on a draft and keeps what became of it. The same command again does nothing, and tells what it led to the first time; the same
// identifier with other content is a conflict.
func Change(tx *models.Tx, k Key, command Command, do func(*Draft) error) (*Done, error) {
	row, err := find(tx, k, true)
	if err != nil {
		return nil, err
	}
	d, err := parse(row)
	if err != nil {
		return nil, err
	}
	if sent, repeated, err := carriedOut(tx, command); err != nil || repeated {
		return &Done{d, sent, true}, err
	}
	d.command = command.ID
	if err := do(d); err != nil {
		return nil, err
	}
	if err := d.keep(tx, k, row); err != nil {
		return nil, err
	}
	return &Done{Draft: d, Sent: d.sent}, d.remember(tx, k, command)
}

// carriedOut tells whether a command was carried out before, and to what it led.
func carriedOut(tx *models.Tx, command Command) (sent *Sent, repeated bool, err error) {
	var rows []models.DraftCommand
	err = tx.DB().Where("id = ?", command.ID).Limit(1).Find(&rows).Error
	if err != nil || len(rows) == 0 {
		return nil, false, err
	}
	if rows[0].ContentHash != command.Hash {
		return nil, true, &models.Error{Kind: models.Conflict, Key: "problem.id_reused"}
	}
	if err := json.Unmarshal(rows[0].Outcome, &sent); err != nil {
		return nil, true, fmt.Errorf("read the outcome of the command %s: %w", command.ID, err)
	}
	return sent, true, nil
}

// remember notes that a command was carried out.
func (d *Draft) remember(tx *models.Tx, k Key, command Command) error {
	outcome, err := json.Marshal(d.sent)
	if err != nil {
		return err
	}
	return tx.DB().Create(&models.DraftCommand{
		Keyed: models.Keyed{ID: command.ID, ContentHash: command.Hash}, DraftID: models.DraftID(k.Crew, k.Day), Outcome: outcome,
		ReceivedAt: tx.Now, RecordedBy: tx.Actor,
	}).Error
}
