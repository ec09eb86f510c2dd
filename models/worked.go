package models

import (
	"github.com/google/uuid"

	"palmero/payroll/dated"
)

// Worked says on which days a worker worked first and last, before a day.
type Worked struct{ First, Last dated.Date }

// WorkedBefore tells of some workers when they first worked since they started, and when last, before a day: one statement, which looks at the ends of each worker's records and not at the years
// between. Who has not worked is not in the answer.
func WorkedBefore(tx *Tx, workers []uuid.UUID, day dated.Date) (map[uuid.UUID]Worked, error) {
	var rows []struct {
		ID          uuid.UUID
		First, Last Date
	}
	mine := "FROM time_entries t WHERE t.employer_id = w.employer_id AND t.worker_id = w.id AND t.superseded_by IS NULL AND t.workday >= w.started_on AND t.workday < ?"
	err := tx.DB().Table("workers AS w").Scopes(tx.Among("w.id", workers)).
		Select("w.id, (SELECT min(t.workday) "+mine+") AS first, (SELECT max(t.workday) "+mine+") AS last", Day(day), Day(day)).Scan(&rows).Error
	worked := make(map[uuid.UUID]Worked, len(rows))
	for _, r := range rows {
		if !r.Last.IsZero() {
			worked[r.ID] = Worked{r.First.Date, r.Last.Date}
		}
	}
	return worked, translate(err)
}

// MinutesWorked adds up the time at work that was recorded from a day through another, by garden: everything but meal periods free of duty, leave and what is still open.
func MinutesWorked(tx *Tx, first, last dated.Date) (map[uuid.UUID]int64, error) {
	var rows []struct {
		GardenID uuid.UUID
		Minutes  int64
	}
	err := tx.DB().Model(&timeLedger{}).Select("garden_id, CAST(sum(minutes) AS bigint) AS minutes").
		Where("workday BETWEEN ? AND ?", Day(first), Day(last)).Group("garden_id").Scan(&rows).Error
	minutes := make(map[uuid.UUID]int64, len(rows))
	for _, r := range rows {
		minutes[r.GardenID] = r.Minutes
	}
	return minutes, translate(err)
}

// AnyWorkIn tells whether any time was recorded from a day through another.
func AnyWorkIn(tx *Tx, first, last dated.Date) (bool, error) {
	var found []uuid.UUID
	err := tx.DB().Model(&TimeEntry{}).Where("workday BETWEEN ? AND ?", Day(first), Day(last)).Limit(1).Pluck("id", &found).Error
	return len(found) > 0, translate(err)
}
