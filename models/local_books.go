package models

import (
	"bytes"
	"regexp"
	"slices"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/rulebook"
)

// LocalBook is an employer's own rulebook: an ordinance, a contract, or a value that was announced. A newer text takes the place of an
// older one, and so does a withdrawal, which has no text; both say why.
type LocalBook = Recorded[LocalBookContent]

// LocalBookContent is what a local book says and to whom it applies. All but the text and the places is what the text says of itself.
type LocalBookContent struct {
	Key       string             `gorm:"column:book_key" json:"key"`
	Kind      rulebook.LocalKind `json:"kind"`
	Parent    string             `json:"parent"`
	Title     string             `json:"title"`
	Body      string             `json:"text"`
	Digest    string             `json:"digest"`     // hex SHA-256 of the text
	GardenIDs IDs                `json:"garden_ids"` // of a contract: the gardens where it applies
	WorkerIDs IDs                `json:"worker_ids"` // of a contract: the workers to whom it applies
	Withdrawn bool               `json:"withdrawn"`

	Faults []payroll.Fault `gorm:"-" json:"-"` // what the rulebooks find wrong with the text
}

func (*LocalBookContent) table() string { return "local_books" }

// bookKey is what a local book may be called: it stands in paths and names a file.
var bookKey = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,63}$`)

// mostNamed is how many gardens or workers a contract may name.
const mostNamed = 5000

func (b *LocalBookContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	if !bookKey.MatchString(b.Key) && len(b.Faults) == 0 {
		c.Fault("/text", "fault.book_key", payroll.Terms{"value": b.Key})
	}
	for _, named := range []struct {
		at, table string
		ids       *IDs
	}{{"/garden_ids", "gardens", &b.GardenIDs}, {"/worker_ids", "workers", &b.WorkerIDs}} {
		named.ids.sort()
		if len(*named.ids) > 0 && b.Kind != rulebook.Contract {
			c.Fault(named.at, "fault.contract_only", nil)
		}
		c.Range(named.at, int64(len(*named.ids)), 0, mostNamed)
		missing, err := tx.Missing(named.table, *named.ids)
		if err != nil {
			return nil, err
		}
		if len(missing) > 0 {
			c.Fault(named.at, "fault.unknown_reference", nil)
		}
	}
	faults, err := c.Done()
	return append(slices.Clone(b.Faults), faults...), err
}

// sort puts the identifiers in order, each once, so that the same ones are the same list.
func (ids *IDs) sort() {
	slices.SortFunc(*ids, func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	*ids = slices.Compact(*ids)
	if *ids == nil {
		*ids = IDs{}
	}
}

// StandingBooks keeps the local books that are in use: neither superseded nor withdrawn.
func StandingBooks(stand bool) Condition {
	if stand {
		return Where("superseded_by IS NULL AND NOT withdrawn")
	}
	return Where("superseded_by IS NOT NULL OR withdrawn")
}
