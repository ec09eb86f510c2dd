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
	err := tx.DB().Raw(`SELECT workday, block_id, operation_id, CAST(sum(pieces) AS bigint) AS pieces FROM (
			SELECT workday, block_id, operation_id, pieces FROM tallies
			WHERE employer_id = @employer AND workday BETWEEN @first AND @last AND superseded_by IS NULL AND lot_id IS NULL
			UNION ALL
			SELECT workday, block_id, operation_id, pieces FROM lots
			WHERE employer_id = @employer AND workday BETWEEN @first AND @last AND superseded_by IS NULL) c
		GROUP BY workday, block_id, operation_id ORDER BY workday`,
		map[string]any{"employer": tx.Employer, "first": Day(first), "last": Day(last)}).Scan(&sums).Error
	return sums, translate(err)
}
