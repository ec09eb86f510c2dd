package climbs

import (
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
)

// Day is a climbing day as a crew lead's phone fetches it.
type Day struct {
	Workday    models.Date           `json:"workday"`
	Crews      []uuid.UUID           `json:"crews"`      // that the lead leads on the day
	Checklists []ReviewedChecklist   `json:"checklists"` // filled for these crews, those that stand
	Stops      []LeadStop            `json:"stops"`      // that concern these crews and hold
	Overrides  []models.RuleOverride `json:"overrides"`
}

// ReviewedChecklist is a filled checklist with what the safety officer said of it.
type ReviewedChecklist struct {
	models.FilledChecklist
	Review *models.ChecklistReview // nil: not yet
}

// LeadStop is a stop as one crew lead has it to acknowledge.
type LeadStop struct {
	models.Stop
	Heard        bool `json:"-"`
	Acknowledged bool `json:"acknowledged"`
}

// MarshalJSON writes the list's own fields, its content's and its review as one object.
func (r ReviewedChecklist) MarshalJSON() ([]byte, error) {
	return models.Joined(r.FilledChecklist, struct {
		Review *models.ChecklistReview `json:"review"`
	}{r.Review})
}

// DayOf returns a crew lead's climbing day. It marks nothing: see Hear.
func DayOf(tx *models.Tx, lead uuid.UUID, day dated.Date) (*Day, error) {
	d := &Day{Workday: models.Day(day), Crews: []uuid.UUID{}, Stops: []LeadStop{}}
	leads, err := models.LeadsOn(tx, day)
	if err != nil {
		return nil, err
	}
	for _, m := range leads {
		if m.Content.WorkerID == lead && !slices.Contains(d.Crews, m.Content.CrewID) {
			d.Crews = append(d.Crews, m.Content.CrewID)
		}
	}
	filled, err := models.FilledFor(tx, d.Crews, day)
	if err == nil {
		d.Checklists, err = WithReviews(tx, filled)
	}
	if err == nil {
		d.Overrides, err = models.OverridesFor(tx, d.Crews, day)
	}
	if err == nil {
		err = d.findStops(tx, lead, day)
	}
	return d, err
}

func (d *Day) findStops(tx *models.Tx, lead uuid.UUID, day dated.Date) error {
	stops, err := models.StopsOn(tx, day)
	if err != nil || len(d.Crews) == 0 {
		return err
	}
	stops = slices.DeleteFunc(stops, func(s models.Stop) bool {
		return !slices.ContainsFunc(d.Crews, func(crew uuid.UUID) bool { return concerns(&s, crew) })
	})
	ids := make([]uuid.UUID, len(stops))
	for i := range stops {
		ids[i] = stops[i].ID
	}
	f, err := findNotices(tx, ids)
	for _, s := range stops {
		key := [2]uuid.UUID{s.ID, lead}
		_, heard := f.heard[key]
		_, acknowledged := f.acks[key]
		d.Stops = append(d.Stops, LeadStop{s, heard, acknowledged})
	}
	return err
}

// Unheard lists the stops of the day of which the lead's phone hears for the first time.
func (d *Day) Unheard() (ids []uuid.UUID) {
	for _, s := range d.Stops {
		if !s.Heard {
			ids = append(ids, s.ID)
		}
	}
	return ids
}

// Hear notes that a crew lead's phone has been told of stops; those that it was told of before stay as they are. It does not acknowledge them.
func Hear(tx *models.Tx, lead uuid.UUID, stops []uuid.UUID) error {
	heard, err := markHeard(tx, lead, stops)
	if err != nil || len(heard) == 0 {
		return err
	}
	return tx.Audit(models.Audit{Action: "hear_stop", SubjectKind: "workers", SubjectID: lead, After: heard})
}

// WithReviews adds to filled checklists their equipment and their reviews, in two statements.
func WithReviews(tx *models.Tx, filled []models.FilledChecklist) ([]ReviewedChecklist, error) {
	shown := make([]ReviewedChecklist, len(filled))
	ids := make([]uuid.UUID, len(filled))
	for i := range filled {
		ids[i] = filled[i].ID
	}
	reviews, err := models.ReviewsOf(tx, ids)
	if err != nil {
		return nil, err
	}
	equipment, err := models.EquipmentOf(tx, ids)
	for i, f := range filled {
		f.Content.Equipment = append([]models.ChecklistEquipment{}, equipment[f.ID]...)
		shown[i] = ReviewedChecklist{f, reviews[f.ID]}
	}
	return shown, err
}
