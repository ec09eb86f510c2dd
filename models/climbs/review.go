package climbs

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// Reviewing is the safety officer's word on a filled checklist as it is sent in.
type Reviewing struct {
	ID       uuid.UUID             `json:"id"`
	Decision models.ReviewDecision `json:"decision"`
	Reason   string                `json:"reason"`
}

// Reviewed is a review, with the stop that went with it.
type Reviewed struct {
	models.ChecklistReview
	Stop *models.Stop `json:"stop"` // null unless the climb was stopped
}

// Review keeps what the safety officer says of a filled checklist: only of the last one of a chain, and only once. Stopping the climb stops the crew on that day and
// way. Repeats are answered as by models.Create.
func Review(tx *models.Tx, filled uuid.UUID, in Reviewing) (*Reviewed, bool, error) {
	faults, err := in.check(tx)
	if err != nil {
		return nil, false, err
	}
	hash := models.ContentHash([]any{filled, in.Decision, in.Reason})
	var kept models.ChecklistReview
	if known, err := repeatOf(tx, in.ID, hash, &kept, &kept.Keyed); known || err != nil {
		if err != nil {
			return nil, known, err
		}
		stop, err := stopOf(tx, kept.ChecklistID)
		return &Reviewed{kept, stop}, true, err
	}
	list, err := reviewable(tx, filled)
	if err == nil {
		err = models.Faulty(faults)
	}
	if err != nil {
		return nil, false, err
	}
	r := &Reviewed{ChecklistReview: models.ChecklistReview{
		Keyed: models.Keyed{ID: in.ID, ContentHash: hash}, ChecklistID: filled, Decision: in.Decision, Reason: in.Reason, ReviewedAt: tx.Now, ReviewedBy: tx.Actor,
	}}
	if err := tx.DB().Create(&r.ChecklistReview).Error; err != nil {
		return nil, false, err
	}
	if in.Decision == models.StopClimb {
		c := list.Content
		r.Stop = &models.Stop{Scope: models.StopCrew, CrewID: &c.CrewID, Workday: c.Workday, Way: c.Way, ChecklistID: &filled, Reason: in.Reason}
		if err := keepStop(tx, r.Stop, tx.NewID()); err != nil {
			return nil, false, err
		}
	}
	return r, false, tx.Audit(models.Audit{Action: "review", SubjectKind: "filled_checklists", SubjectID: filled, After: r, Reason: in.Reason})
}

func (in *Reviewing) check(tx *models.Tx) ([]payroll.Fault, error) {
	c := models.NewChecker(tx)
	c.OneOf("/decision", string(in.Decision), string(models.Accepted), string(models.SentBack), string(models.StopClimb))
	c.Text("/reason", &in.Reason, models.LongText)
	return c.Done()
}

// reviewable returns the filled checklist, held, where it stands and nobody has spoken on it yet.
func reviewable(tx *models.Tx, id uuid.UUID) (*models.FilledChecklist, error) {
	var list models.FilledChecklist
	if err := tx.Locking().Where("id = ?", id).Take(&list).Error; err != nil {
		return nil, err
	}
	if list.SupersededBy != nil {
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.superseded", Terms: payroll.Terms{"by": list.SupersededBy.String()}}
	}
	reviews, err := models.ReviewsOf(tx, []uuid.UUID{id})
	if err == nil && reviews[id] != nil {
		err = &models.Error{Kind: models.Conflict, Key: "problem.reviewed", Terms: payroll.Terms{"decision": string(reviews[id].Decision)}}
	}
	return &list, err
}

// repeatOf reads the record of an identifier and tells whether it is there; with other content it is a conflict.
func repeatOf(tx *models.Tx, id uuid.UUID, hash string, record any, key *models.Keyed) (bool, error) {
	if id == uuid.Nil {
		return false, nil
	}
	found := tx.DB().Where("id = ?", id).Limit(1).Find(record)
	switch {
	case found.Error != nil || found.RowsAffected == 0:
		return false, found.Error
	case key.ContentHash != hash:
		return true, &models.Error{Kind: models.Conflict, Key: "problem.id_reused"}
	}
	return true, nil
}
