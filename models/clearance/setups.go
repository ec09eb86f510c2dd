package clearance

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/safety/rulebook"
)

// RecordSetup records how a crew goes up: for the first time on the day in a block by a way, or in place of what was recorded before. The way must be one that the rulebook of the block's garden knows.
func RecordSetup(tx *models.Tx, books *rulebook.Library, id uuid.UUID, c models.ClimbSetupContent, how models.Recording) (*models.ClimbSetup, bool, error) {
	faults, err := checkWay(tx, books, &c)
	if err != nil {
		return nil, false, err
	}
	s, repeated, err := models.Record(tx, id, c, how)
	if repeated || len(faults) == 0 || err != nil && models.KindOf(err) != models.Invalid {
		return s, repeated, err
	}
	for _, own := range models.FaultsOf(err) {
		if own.Pointer != faults[0].Pointer { // one place has one fault
			faults = append(faults, own)
		}
	}
	return nil, false, models.Faulty(faults)
}

// LastSetup is how a crew went up last by a way, or ("") by any, whatever the day; nil where it never said.
func LastSetup(tx *models.Tx, crew uuid.UUID, way string) (*models.ClimbSetup, error) {
	db := tx.DB().Where("crew_id = ? AND superseded_by IS NULL", crew)
	if way != "" {
		db = db.Where("way = ?", way)
	}
	var found []models.ClimbSetup
	if err := db.Order("workday DESC, seq DESC").Limit(1).Find(&found).Error; err != nil || len(found) == 0 {
		return nil, err
	}
	return &found[0], nil
}

// checkWay finds a way that the garden's rulebook does not know. What no block is, is told elsewhere.
func checkWay(tx *models.Tx, books *rulebook.Library, c *models.ClimbSetupContent) ([]payroll.Fault, error) {
	var keys []string
	err := tx.DB().Raw(`SELECT g.rulebook FROM blocks b JOIN gardens g ON g.employer_id = b.employer_id AND g.id = b.garden_id WHERE b.employer_id = ? AND b.id = ?`,
		tx.Employer, c.BlockID).Scan(&keys).Error
	if err != nil || len(keys) == 0 {
		return nil, err
	}
	book, ok := books.For(keys[0])
	if !ok {
		return []payroll.Fault{{Pointer: "/block_id", Key: "fault.no_safety_rulebook", Terms: payroll.Terms{"rulebook": keys[0], "known": books.Keys()}}}, nil
	}
	table, err := book.Clearance(c.Workday.Date)
	if err != nil {
		return []payroll.Fault{{Pointer: "/workday", Key: "fault.no_safety_value", Terms: payroll.Terms{"book": book.Key(), "parameter": "clearance", "date": c.Workday.Date}}}, nil
	}
	if table.Value.Ways[c.Way] == nil {
		return []payroll.Fault{{Pointer: "/way", Key: "fault.not_one_of", Terms: payroll.Terms{"value": c.Way, "allowed": table.Value.WayNames()}}}, nil
	}
	return nil, nil
}
