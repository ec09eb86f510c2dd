package models

import (
	"github.com/google/uuid"

	"palmero/payroll"
)

// PieceRate is the pay for one piece of an operation from a day on: everywhere, for one variety, or for one block. The most specific
// wins, block before variety; among those of one reach the latest in force; a correction takes the place of what it supersedes.
type PieceRate = Recorded[PieceRateContent]

// PieceRateContent is what a piece rate says.
type PieceRateContent struct {
	OperationID uuid.UUID    `json:"operation_id"`
	BlockID     *uuid.UUID   `json:"block_id,omitempty"`
	Variety     string       `json:"variety,omitempty"`
	Rate        payroll.Rate `json:"rate"`
	EffectiveOn Date         `json:"effective_on"`
}

func (*PieceRateContent) table() string { return "piece_rates" }

func (r *PieceRateContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/operation_id", "operations", r.OperationID)
	if r.BlockID != nil {
		c.Reference("/block_id", "blocks", *r.BlockID)
	}
	c.OptionalText("/variety", &r.Variety, shortText)
	if r.BlockID != nil && r.Variety != "" {
		c.Fault("/variety", "fault.block_or_variety", nil)
	}
	if r.Rate <= 0 {
		c.Fault("/rate", "fault.not_positive", nil)
	}
	c.Planned("/effective_on", r.EffectiveOn.Date)
	return c.Done()
}

// HourlyRate is the pay for an hour from a day on: everybody's, or one worker's, which wins.
type HourlyRate = Recorded[HourlyRateContent]

// HourlyRateContent is what an hourly rate says.
type HourlyRateContent struct {
	WorkerID    *uuid.UUID   `json:"worker_id,omitempty"`
	Rate        payroll.Rate `json:"rate"`
	EffectiveOn Date         `json:"effective_on"`
}

func (*HourlyRateContent) table() string { return "hourly_rates" }

func (r *HourlyRateContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	if r.WorkerID != nil {
		c.Reference("/worker_id", "workers", *r.WorkerID)
	}
	if r.Rate <= 0 {
		c.Fault("/rate", "fault.not_positive", nil)
	}
	c.Planned("/effective_on", r.EffectiveOn.Date)
	return c.Done()
}
