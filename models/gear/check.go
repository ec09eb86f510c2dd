package gear

import (
	"strconv"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Longest texts, in characters.
const (
	nameLimit = 100
	noteLimit = 500
)

// Stamp is what every event is sent in with: the identifier that its author made, and when it happened by the author's clock; nil: now.
type Stamp struct {
	ID         uuid.UUID  `json:"id"`
	HappenedAt *time.Time `json:"happened_at,omitempty"`
}

// at is when it happened.
func (s *Stamp) at(tx *models.Tx) time.Time {
	if s.HappenedAt == nil {
		return tx.Now
	}
	return s.HappenedAt.UTC().Truncate(time.Microsecond)
}

// checkStamp wants an identifier that somebody made and a time that can be.
func (s *Stamp) checkStamp(c *models.Checker) {
	checkID(c, "/id", s.ID)
	if s.HappenedAt != nil {
		c.Day("/happened_at", dated.DateOf(s.HappenedAt.UTC()))
	}
}

// done ends a check.
func done(c *models.Checker) error {
	faults, err := c.Done()
	if err != nil {
		return err
	}
	return models.Faulty(faults)
}

// unknown is the fault of naming what is not there.
func unknown(pointer, key, term string, id uuid.UUID) error {
	return models.FaultAt(pointer, key, payroll.Terms{term: id.String()})
}

// locked reads a record of the set-up and holds it until the transaction ends.
func locked[C any](tx *models.Tx, id uuid.UUID) (*models.Kept[C], error) {
	var found []models.Kept[C]
	if err := tx.Locking().Where("id = ?", id).Limit(1).Find(&found).Error; err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return nil, &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	return &found[0], nil
}

// moved wants the version that somebody looked at to be the one that stands.
func moved(seen, stands int64) error {
	if seen != stands {
		return &models.Error{Kind: models.Stale, Key: "problem.stale_version"}
	}
	return nil
}

// byID sorts what has identifiers.
func byID[R any](rows []R, id func(*R) uuid.UUID) map[uuid.UUID]*R {
	sorted := make(map[uuid.UUID]*R, len(rows))
	for i := range rows {
		sorted[id(&rows[i])] = &rows[i]
	}
	return sorted
}

// pointer points to an element of a list.
func pointer(list string, i int) string { return list + "/" + strconv.Itoa(i) }

// checkID wants an identifier that somebody made.
func checkID(c *models.Checker, pointer string, id uuid.UUID) {
	if id.Variant() != uuid.RFC4122 || id.Version() < 1 || id.Version() > 8 {
		c.Fault(pointer, "fault.id_not_made", nil)
	}
}
