package localbooks

import (
	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// Named finds fault, at a pointer, with a key that is neither a book's of the program nor one of the employer's own. An empty key is left to others.
func Named(tx *models.Tx, shipped *rulebook.Library, pointer, key string) ([]payroll.Fault, error) {
	if _, ok := shipped.Book(key); ok || key == "" {
		return nil, nil
	}
	law, err := Of(tx, shipped)
	if err != nil {
		return nil, err
	}
	if _, ok := law.Book(key); ok {
		return nil, nil
	}
	return []payroll.Fault{{Pointer: pointer, Key: "fault.not_one_of", Terms: payroll.Terms{"value": key, "allowed": law.Keys()}}}, nil
}

// ForGardens lists the books that a garden can name as the one that governs work in it: those of the program and the employer's ordinances, by key. Announcements
// and contracts apply by themselves.
func ForGardens(tx *models.Tx, shipped *rulebook.Library) ([]*rulebook.Book, error) {
	law, err := Of(tx, shipped)
	if err != nil {
		return nil, err
	}
	var books []*rulebook.Book
	for _, key := range law.Keys() {
		if b, ok := law.Book(key); ok && (!b.IsLocal() || b.Local() == rulebook.Ordinance) {
			books = append(books, b)
		}
	}
	return books, nil
}
