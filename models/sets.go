package models

import "github.com/google/uuid"

// All returns every record of a kind that an employer has few of (gardens, blocks, operations), by identifier, or those of them that some conditions keep.
func All[C any](tx *Tx, conditions ...Condition) (map[uuid.UUID]*Kept[C], error) {
	var rows []Kept[C]
	if err := tx.DB().Scopes(conditions...).Find(&rows).Error; err != nil {
		return nil, translate(err)
	}
	return KeptByID(rows), nil
}

// KeptByID sorts records by identifier.
func KeptByID[C any](rows []Kept[C]) map[uuid.UUID]*Kept[C] {
	m := make(map[uuid.UUID]*Kept[C], len(rows))
	for i := range rows {
		m[rows[i].ID] = &rows[i]
	}
	return m
}

// RecordedByID sorts records by identifier.
func RecordedByID[C any](rows []Recorded[C]) map[uuid.UUID]*Recorded[C] {
	m := make(map[uuid.UUID]*Recorded[C], len(rows))
	for i := range rows {
		m[rows[i].ID] = &rows[i]
	}
	return m
}
