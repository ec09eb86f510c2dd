package localbooks

import (
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// Withdrawal takes a local book out of use without another in its place.
type Withdrawal struct {
	ID     uuid.UUID `json:"id"`
	Reason string    `json:"reason"`
}

// Withdraw takes a local book out of use. It stays on record, and pay that was approved by it stays as it is. A book that a garden or another local book
// names cannot be withdrawn before those name another.
func Withdraw(tx *models.Tx, book uuid.UUID, w Withdrawal, only rulebook.LocalKind) (*models.LocalBook, bool, error) {
	if err := hold(tx); err != nil {
		return nil, false, err
	}
	found, err := models.List[models.LocalBook](tx, models.Page{Limit: 1}, models.Equal("id", book))
	if err != nil {
		return nil, false, err
	}
	if len(found) == 0 {
		return nil, false, &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	old := found[0].Content
	if only != "" && old.Kind != only {
		return nil, false, &models.Error{Kind: models.Forbidden, Key: "problem.local_book_kind", Terms: payroll.Terms{"kind": string(only)}}
	}
	content := models.LocalBookContent{Key: old.Key, Kind: old.Kind, Parent: old.Parent, Title: old.Title, Withdrawn: true}
	record, repeated, err := models.Record(tx, w.ID, content, models.Recording{RecordedAt: tx.Now, Supersedes: &book, Reason: w.Reason})
	if err != nil || repeated {
		return record, repeated, err
	}
	if old.Withdrawn {
		return nil, false, &models.Error{Kind: models.Conflict, Key: "problem.local_book_withdrawn"}
	}
	return record, false, unused(tx, old.Key)
}

// unused wants nothing to name a book.
func unused(tx *models.Tx, key string) error {
	books, err := standing(tx)
	if err != nil {
		return err
	}
	gardens, err := models.All[models.GardenContent](tx)
	if err != nil {
		return err
	}
	var users []string
	for _, b := range books {
		if b.Content.Parent == key {
			users = append(users, b.Content.Title)
		}
	}
	for _, g := range gardens {
		if g.Content.Rulebook == key {
			users = append(users, g.Content.Name)
		}
	}
	if slices.Sort(users); len(users) > 0 {
		return &models.Error{Kind: models.Conflict, Key: "problem.local_book_in_use", Terms: payroll.Terms{"users": users}}
	}
	return nil
}
