package models

import (
	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// Summed is how many pieces were counted on a workday, in a block, at an operation.
type Summed struct {
	Workday     Date
	BlockID     uuid.UUID
	OperationID uuid.UUID
	Pieces      payroll.Pieces
}

// CountedBetween sums the counts that stand, tallies and lots, of the workdays from first through last. A lot counts once, however many shared it.
func CountedBetween(tx *Tx, first, last dated.Date) ([]Summed, error) {
	var sums []Summed
	err := tx.DB().Model(&countLedger{}).Select("workday, block_id, operation_id, CAST(sum(pieces) AS bigint) AS pieces").
		Where("workday BETWEEN ? AND ?", Day(first), Day(last)).Group("workday, block_id, operation_id").Order("workday").Scan(&sums).Error
	return sums, translate(err)
}
