package payrun

import (
	"github.com/google/uuid"

	"palmero/models"
)

// OwnBonus is a bonus of a worker's, own or by a crew, with the statement that pays it.
type OwnBonus struct {
	models.Bonus
	StatementID *uuid.UUID // nil as long as none is approved
}

// BonusesOf returns a worker's bonuses that stand, the last that was recorded first, at most limit. One that was taken back is not among them.
func BonusesOf(tx *models.Tx, worker uuid.UUID, limit int) ([]OwnBonus, error) {
	var found []models.Bonus
	err := tx.DB().Where(`superseded_by IS NULL AND amount > 0 AND (worker_id = ? OR crew_id IN (SELECT m.crew_id FROM crew_members m WHERE m.employer_id = bonuses.employer_id AND m.worker_id = ?
		AND m.from_date <= bonuses.earned_through AND (m.through_date IS NULL OR m.through_date >= bonuses.earned_from)))`, worker, worker).
		Order("seq DESC").Limit(limit).Find(&found).Error
	if err != nil || len(found) == 0 {
		return nil, err
	}
	weeks := make([]models.Date, len(found))
	for i := range found {
		weeks[i] = found[i].Content.PayWeek
	}
	var paid []struct {
		ID        uuid.UUID
		WeekStart models.Date
	}
	err = tx.DB().Raw(`SELECT s.id, s.week_start FROM statements s JOIN pay_runs p ON p.employer_id = s.employer_id AND p.id = s.run_id
		WHERE s.employer_id = ? AND s.worker_id = ? AND s.week_start IN ? AND s.voided_at IS NULL AND p.state <> 'draft' AND p.kind <> 'correction'`, tx.Employer, worker, weeks).Scan(&paid).Error
	all := make([]OwnBonus, len(found))
	for i := range found {
		all[i] = OwnBonus{Bonus: found[i]}
		for k := range paid {
			if paid[k].WeekStart == found[i].Content.PayWeek {
				all[i].StatementID = &paid[k].ID
			}
		}
	}
	return all, err
}
