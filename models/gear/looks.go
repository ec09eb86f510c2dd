package gear

import (
	"fmt"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
	"palmero/payroll/dated"
)

// Look is a look at one piece of equipment before use, with what was found that stops its use.
type Look struct {
	EquipmentID uuid.UUID
	Stopping    []string // what was found; none: it may be used
}

// LookOver keeps that equipment was looked over before use at one time, in a handful of statements whatever the number of pieces. A stopping finding takes a piece out
// of service at once; finding nothing never brings it back. It is part of a greater command, which writes the audit entry and answers repeats.
func LookOver(tx *models.Tx, at time.Time, looks []Look) error {
	pieces, err := lockedPieces(tx, looks)
	if err != nil || len(looks) == 0 {
		return err
	}
	var events []models.EquipmentEvent
	var findings []models.EquipmentFinding
	days := map[uuid.UUID]models.Date{}
	passed := map[dated.Date][]uuid.UUID{}
	for _, look := range looks {
		piece := pieces[look.EquipmentID]
		if piece == nil {
			return fmt.Errorf("equipment %s was looked over and is not there", look.EquipmentID)
		}
		garden := piece.Content.GardenID
		if _, known := days[garden]; !known {
			if days[garden], err = workday(tx, garden, at); err != nil {
				return err
			}
		}
		stops := len(look.Stopping) > 0
		e := models.EquipmentEvent{
			Keyed: models.Keyed{ID: tx.NewID()}, EquipmentID: piece.ID, Kind: models.PreUseInspection, HappenedOn: days[garden], Passed: new(!stops), HappenedAt: at.UTC(),
			ReceivedAt: tx.Now, RecordedBy: tx.Actor,
		}
		e.ContentHash = models.ContentHash([]any{e.EquipmentID, e.Kind, look.Stopping, e.HappenedAt})
		if stops && piece.Content.State != models.Retired {
			e.State = models.OutOfService
		}
		if !stops {
			passed[e.HappenedOn.Date] = append(passed[e.HappenedOn.Date], piece.ID)
		}
		for _, note := range look.Stopping {
			findings = append(findings, models.EquipmentFinding{ID: tx.NewID(), EventID: e.ID, EquipmentID: piece.ID, Severity: models.Stopping, Note: note})
		}
		events = append(events, e)
	}
	if err := models.InsertAll(tx, events); err != nil {
		return err
	}
	if err := models.InsertAll(tx, findings); err != nil {
		return err
	}
	return followLooks(tx, events, passed)
}

func lockedPieces(tx *models.Tx, looks []Look) (map[uuid.UUID]*models.Equipment, error) {
	ids := make([]uuid.UUID, len(looks))
	for i := range looks {
		ids[i] = looks[i].EquipmentID
	}
	var rows []models.Equipment
	err := tx.Locking().Where("id IN ?", ids).Order("id").Find(&rows).Error
	return models.KeptByID(rows), err
}

// followLooks brings the pieces' own columns up to the events: those that passed together, those that stop one by one, of which there are few.
func followLooks(tx *models.Tx, events []models.EquipmentEvent, passed map[dated.Date][]uuid.UUID) error {
	for day, ids := range passed {
		err := tx.DB().Model(&models.Equipment{}).Where("id IN ? AND (pre_use_on IS NULL OR pre_use_on < ?)", ids, models.Day(day)).
			Updates(map[string]any{"version": gorm.Expr("version + 1"), "updated_at": tx.Now, "pre_use_on": models.Day(day)}).Error
		if err != nil {
			return err
		}
	}
	for i := range events {
		if events[i].State == "" {
			continue
		}
		err := tx.DB().Model(&models.Equipment{}).Where("id = ?", events[i].EquipmentID).
			Updates(map[string]any{"version": gorm.Expr("version + 1"), "updated_at": tx.Now, "state": events[i].State, "state_event": events[i].ID}).Error
		if err != nil {
			return err
		}
	}
	return nil
}
