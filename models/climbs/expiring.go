package climbs

import (
	"cmp"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Expiry is a worker's training that ends soon, or has ended.
type Expiry struct {
	WorkerID     uuid.UUID
	WorkerNumber int64
	Worker       string
	Topic        *Topic
	HeldOn       dated.Date
	End
	DaysLeft int // negative: it has ended
}

// MostDays is how many days ahead somebody may look.
const MostDays = 3660

// Expiring lists the trainings of everybody employed on a day that have ended or end within some days, what has ended longest first. It is a handful of
// statements whatever the number of workers.
func Expiring(tx *models.Tx, books Books, day dated.Date, within int) ([]Expiry, error) {
	if within < 0 || within > MostDays {
		return nil, models.FaultAt("/within", "fault.not_between", payroll.Terms{"low": 0, "high": MostDays})
	}
	topics, err := FindTopics(tx, books, day)
	if err != nil {
		return nil, err
	}
	latest, err := models.LatestSignOffs(tx, nil, day)
	if err != nil {
		return nil, err
	}
	var all []Expiry
	for _, s := range latest {
		topic := topics.Find(s.Topic)
		if topic == nil {
			continue // no longer asked for
		}
		end := topic.End(s.HeldOn.Date, s.ThroughDate.Date)
		if left := end.Through.DaysSince(day); !end.Through.IsZero() && left <= within {
			all = append(all, Expiry{WorkerID: s.WorkerID, Topic: topic, HeldOn: s.HeldOn.Date, End: end, DaysLeft: left})
		}
	}
	slices.SortFunc(all, func(a, b Expiry) int {
		return cmp.Or(cmp.Compare(a.DaysLeft, b.DaysLeft), cmp.Compare(a.Topic.Key, b.Topic.Key), cmp.Compare(a.WorkerID.String(), b.WorkerID.String()))
	})
	return all, nameWorkers(tx, all)
}

// nameWorkers adds the workers' names, in one statement.
func nameWorkers(tx *models.Tx, all []Expiry) error {
	ids := make([]uuid.UUID, len(all))
	for i := range all {
		ids[i] = all[i].WorkerID
	}
	var rows []models.Worker
	if err := tx.DB().Where("id IN ?", ids).Find(&rows).Error; err != nil {
		return err
	}
	workers := models.KeptByID(rows)
	for i := range all {
		if w := workers[all[i].WorkerID]; w != nil {
			all[i].WorkerNumber, all[i].Worker = w.Content.Number, w.Content.Name
		}
	}
	return nil
}

// OwnTraining is a worker's own record of training.
type OwnTraining struct {
	Worker   *models.Worker
	Employer *models.EmployerProfile
	On       dated.Date
	Entries  []TrainingEntry // the latest first
}

// TrainingEntry is one training of a worker's record.
type TrainingEntry struct {
	models.SignOff
	Topic *Topic // nil: no longer known
	End
	KeptUntil dated.Date // zero: for as long as it is the latest of its topic
}

// Ended tells whether the training no longer holds on a day.
func (e *TrainingEntry) Ended(on dated.Date) bool { return !e.Through.IsZero() && on.After(e.Through) }

// TrainingOf returns a worker's own record as it stands on a day.
func TrainingOf(tx *models.Tx, books Books, worker uuid.UUID, day dated.Date) (*OwnTraining, error) {
	w, err := models.Get[models.WorkerContent](tx, worker)
	if err != nil {
		return nil, err
	}
	profile, err := tx.Profile()
	if err != nil {
		return nil, err
	}
	topics, err := FindTopics(tx, books, day)
	if err != nil {
		return nil, err
	}
	signed, err := models.SignOffsOf(tx, worker)
	if err != nil {
		return nil, err
	}
	given, err := models.AcknowledgedOf(tx, worker)
	if err != nil {
		return nil, err
	}
	own := &OwnTraining{w, profile, day, make([]TrainingEntry, len(signed))}
	for i, s := range signed {
		s.Content.Acknowledged = s.Content.Acknowledged || given[s.ID]
		topic, held := topics.Find(s.Content.Topic), s.Content.HeldOn.Date
		own.Entries[i] = TrainingEntry{s, topic, topic.End(held, s.Content.ThroughDate.Date), topic.KeepUntil(held)}
	}
	return own, nil
}
