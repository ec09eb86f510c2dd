package climbs

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
	"palmero/safety"
)

// What the records say in the words of a clearance.

// Facts are what the records of this package say of a day for some crews and workers.
type Facts struct {
	Checklists []ReviewedChecklist // of the crews, those that stand
	Stops      []models.Stop       // that hold on the day, of whatever they are
	Overrides  []models.RuleOverride
	SignOffs   map[uuid.UUID][]safety.SignOff // by worker; a worker without any is not in it
	by         map[uuid.UUID]string           // names of the accounts that filled the lists
}

// FactsOn reads the facts of a day. It is a fixed number of statements, whatever the number of crews and workers.
func FactsOn(tx *models.Tx, crews, workers []uuid.UUID, day dated.Date) (*Facts, error) {
	f := &Facts{SignOffs: map[uuid.UUID][]safety.SignOff{}, by: map[uuid.UUID]string{}}
	filled, err := models.FilledFor(tx, crews, day)
	if err == nil {
		f.Checklists, err = WithReviews(tx, filled)
	}
	if err == nil {
		f.Stops, err = models.StopsOn(tx, day)
	}
	if err == nil {
		f.Overrides, err = models.OverridesFor(tx, crews, day)
	}
	if err == nil {
		err = f.findNames(tx)
	}
	if err != nil {
		return nil, err
	}
	latest, err := models.LatestSignOffs(tx, append([]uuid.UUID{}, workers...), day)
	for _, s := range latest {
		if card := s.ThroughDate.Date; !card.IsZero() && day.After(card) {
			continue // the card has ended, whatever the rulebook allows
		}
		f.SignOffs[s.WorkerID] = append(f.SignOffs[s.WorkerID], safety.SignOff{Topic: s.Topic, On: s.HeldOn.Date})
	}
	return f, err
}

func (f *Facts) findNames(tx *models.Tx) error {
	ids := make([]uuid.UUID, len(f.Checklists))
	for i := range f.Checklists {
		ids[i] = f.Checklists[i].RecordedBy
	}
	var accounts []models.Account
	err := tx.DB().Where("id IN ?", ids).Find(&accounts).Error
	for _, a := range accounts {
		f.by[a.ID] = a.Content.Name
	}
	return err
}

// Checklist is what the lists of a crew and a way come to, as a clearance asks: failed where one found what stops the climb or was stopped by the safety
// officer; not known where there is none, one was sent back or has items without an answer; passed otherwise. With equipment only the lists count that
// were filled for that equipment or for none.
func (f *Facts) Checklist(crew uuid.UUID, way string, equipment ...uuid.UUID) *safety.Checklist {
	var answer *safety.Checklist
	for i := range f.Checklists {
		l := &f.Checklists[i]
		if l.Content.CrewID != crew || l.Content.Way != way || !l.covers(equipment) {
			continue
		}
		on := l.Content.FilledOn.Date
		said := &safety.Checklist{Passed: l.outcome(), By: f.by[l.RecordedBy], On: &on}
		if answer == nil || worse(said.Passed, answer.Passed) {
			answer = said
		}
	}
	return answer
}

// worse tells whether a is a worse outcome than b: failed, then not known, then passed.
func worse(a, b *bool) bool {
	rank := func(p *bool) int {
		switch {
		case p == nil:
			return 1
		case *p:
			return 2
		}
		return 0
	}
	return rank(a) < rank(b)
}

// covers tells whether a list was filled for one of some pieces of equipment, or for none in particular; with no pieces every list counts.
func (l *ReviewedChecklist) covers(equipment []uuid.UUID) bool {
	if len(equipment) == 0 || len(l.Content.Equipment) == 0 {
		return true
	}
	for _, e := range l.Content.Equipment {
		for _, id := range equipment {
			if e.EquipmentID == id {
				return true
			}
		}
	}
	return false
}

// outcome is whether the list was passed; nil: it cannot be said.
func (l *ReviewedChecklist) outcome() *bool {
	stopped := len(l.Content.Stopped) > 0
	switch {
	case stopped || l.Review != nil && l.Review.Decision == models.StopClimb:
		return new(false)
	case !l.Content.Passed || l.Review != nil && l.Review.Decision == models.SentBack:
		return nil
	}
	return new(true)
}

// Overridden are the overrides that a worker of a crew has for a way, as a clearance asks.
func (f *Facts) Overridden(crew, worker uuid.UUID, way string) (all []safety.Override) {
	for _, o := range f.Overrides {
		c := o.Content
		if c.CrewID == crew && c.Way == way && (c.WorkerID == nil || *c.WorkerID == worker) {
			at := c.Workday.Midnight(o.ReceivedAt.Location())
			all = append(all, safety.Override{Code: c.Code, By: c.CompetentPerson, Reason: c.Grounds, At: &at})
		}
	}
	return all
}

// Stopped returns the stops that keep a crew from a way, from equipment and from palms on the day.
func (f *Facts) Stopped(crew uuid.UUID, way string, equipment, palms []uuid.UUID) (stops []models.Stop) {
	among := func(id *uuid.UUID, ids []uuid.UUID) bool {
		for _, other := range ids {
			if id != nil && *id == other {
				return true
			}
		}
		return false
	}
	for _, s := range f.Stops {
		ofCrew := s.Scope == models.StopCrew && *s.CrewID == crew && (s.Way == "" || s.Way == way)
		if ofCrew || among(s.EquipmentID, equipment) || among(s.PalmID, palms) {
			stops = append(stops, s)
		}
	}
	return stops
}
