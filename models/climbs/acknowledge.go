package climbs

import (
	"github.com/google/uuid"

	"palmero/models"
)

// AcknowledgeTraining keeps a worker's own word, from the own account, that a training which was signed off took place as it says. A training of somebody else is none that they can
// find, and one that was acknowledged is a conflict. Repeats are answered as by models.Create.
func AcknowledgeTraining(tx *models.Tx, worker, signOff, id uuid.UUID) (*models.SignOffAcknowledgement, bool, error) {
	hash := models.ContentHash([]any{signOff, worker})
	if kept, err := models.Repeat[models.SignOffAcknowledgement](tx, id, hash); kept != nil || err != nil {
		return kept, kept != nil, err
	}
	signed, err := models.SignOffsOf(tx, worker)
	if err != nil {
		return nil, false, err
	}
	given, err := models.AcknowledgedOf(tx, worker)
	if err != nil {
		return nil, false, err
	}
	for i := range signed {
		s := &signed[i]
		switch {
		case s.ID != signOff:
			continue
		case s.Content.Acknowledged || given[s.ID]:
			return nil, false, &models.Error{Kind: models.Conflict, Key: "problem.training_acknowledged"}
		}
		ack := &models.SignOffAcknowledgement{Keyed: models.Keyed{ID: id, ContentHash: hash}, SignOffID: signOff, WorkerID: worker, ReceivedAt: tx.Now, AcknowledgedBy: tx.Actor}
		if err := tx.DB().Create(ack).Error; err != nil {
			return nil, false, err
		}
		return ack, false, tx.Audit(models.Audit{Action: "acknowledge_training", SubjectKind: "training_sign_offs", SubjectID: signOff, After: ack})
	}
	return nil, false, &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
}

// OwnStops lists the stops that hold on a day and concern the crews that a worker belongs to, with whether the worker has acknowledged them.
func OwnStops(tx *models.Tx, worker uuid.UUID, day models.Date) ([]LeadStop, error) {
	members, err := models.List[models.CrewMember](tx, models.Page{Limit: mostCrews}, models.MembersOn(day.Date), models.Equal("worker_id", worker))
	if err != nil || len(members) == 0 {
		return nil, err
	}
	d := &Day{Workday: day}
	for _, m := range members {
		d.Crews = append(d.Crews, m.Content.CrewID)
	}
	err = d.findStops(tx, worker, day.Date)
	return d.Stops, err
}

// mostCrews is more crews than anybody belongs to on a day.
const mostCrews = 50
