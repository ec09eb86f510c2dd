package models

import (
	"github.com/google/uuid"
	"gorm.io/gorm"
)

// What was agreed with workers beyond their rates, the last that was entered first.

// LatestContracts returns the contracts of one worker, or of all, that were entered before the one with a sequence number; before the end where it is zero.
func LatestContracts(tx *Tx, worker *uuid.UUID, before int64, limit int) ([]Contract, error) {
	q := latest(tx, before, limit)
	if worker != nil {
		q = q.Where("worker_id = ?", *worker)
	}
	var found []Contract
	err := q.Find(&found).Error
	return found, translate(err)
}

// ContractDaysOf returns what stands recorded of a contract's days, the last day first.
func ContractDaysOf(tx *Tx, contract uuid.UUID) ([]ContractDay, error) {
	var days []ContractDay
	err := tx.DB().Where("contract_id = ? AND superseded_by IS NULL", contract).Order("workday DESC").Find(&days).Error
	return days, translate(err)
}

// LatestBonuses returns the bonuses that stand, as LatestContracts does contracts.
func LatestBonuses(tx *Tx, before int64, limit int) ([]Bonus, error) {
	var found []Bonus
	err := latest(tx, before, limit).Where("superseded_by IS NULL").Find(&found).Error
	return found, translate(err)
}

// LatestSickUses returns what was taken of sick leave and stands, by one worker or by all, the last day first.
func LatestSickUses(tx *Tx, worker *uuid.UUID, limit int) ([]SickUse, error) {
	q := tx.DB().Where("superseded_by IS NULL AND minutes > 0").Order("workday DESC, seq DESC").Limit(limit)
	if worker != nil {
		q = q.Where("worker_id = ?", *worker)
	}
	var found []SickUse
	err := q.Find(&found).Error
	return found, translate(err)
}

// latest asks for records from the last one back, or from before the one with a sequence number.
func latest(tx *Tx, before int64, limit int) *gorm.DB {
	q := tx.DB().Order("seq DESC").Limit(limit)
	if before > 0 {
		q = q.Where("seq < ?", before)
	}
	return q
}
