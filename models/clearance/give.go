package clearance

import (
	"encoding/json"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/rulebook"
)

// Give answers for a crew's day as of now and keeps the answer, in the words of whoever asked, as the clearance that was given. The same identifier for the same crew and day
// returns what was given then and true.
func Give(tx *models.Tx, books *rulebook.Library, id, crew uuid.UUID, day dated.Date, say safety.Say) (*models.Clearance, bool, error) {
	hash := models.ContentHash([]any{crew, day})
	if kept, err := models.Repeat[models.Clearance](tx, id, hash); kept != nil || err != nil {
		return kept, true, err
	}
	answer, err := Look(tx, books, Question{Crew: crew, Day: day})
	if err != nil {
		return nil, false, err
	}
	answer.Speak(say)
	text, err := json.Marshal(answer)
	if err != nil {
		return nil, false, err
	}
	given := &models.Clearance{
		Keyed: models.Keyed{ID: id, ContentHash: hash}, CrewID: crew, Workday: models.Day(day), Answer: text, AskedAt: tx.Now, AskedBy: tx.Actor,
	}
	if err := tx.DB().Create(given).Error; err != nil {
		return nil, false, err
	}
	if err := models.InsertAll(tx, answer.cleared(id)); err != nil {
		return nil, false, err
	}
	return given, false, tx.Audit(models.Audit{Action: "give_clearance", SubjectKind: "clearances", SubjectID: id, After: given})
}

// cleared lists whom the answer clears, once for each way up.
func (a *Answer) cleared(clearance uuid.UUID) (rows []models.ClearedWorker) {
	type key struct {
		worker uuid.UUID
		way    string
	}
	seen := map[key]bool{}
	for i := range a.Ways {
		w := &a.Ways[i]
		for j := range w.Workers {
			if k := (key{w.Workers[j].ID, w.Way}); w.Workers[j].Cleared && !seen[k] {
				seen[k] = true
				rows = append(rows, models.ClearedWorker{
					ClearanceID: clearance, WorkerID: w.Workers[j].ID, Way: w.Way, Workday: models.Day(a.Workday), ValidUntil: w.Workers[j].ValidUntil,
				})
			}
		}
	}
	return rows
}
