package climbs

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Stopping is a stop of the climb as it is sent in: of a crew on a workday, one way up or ("") all of them, or of a piece of equipment or a palm from a day on.
type Stopping struct {
	ID          uuid.UUID        `json:"id"`
	Scope       models.StopScope `json:"scope"`
	CrewID      *uuid.UUID       `json:"crew_id,omitempty"`
	Workday     models.Date      `json:"workday"`
	Way         string           `json:"way,omitempty"`
	EquipmentID *uuid.UUID       `json:"equipment_id,omitempty"`
	PalmID      *uuid.UUID       `json:"palm_id,omitempty"`
	Reason      string           `json:"reason"`
}

// StopClimb keeps a stop. Repeats are answered as by models.Create.
func StopClimb(tx *models.Tx, books Books, in Stopping) (*models.Stop, bool, error) {
	faults, err := in.check(tx, books)
	if err != nil {
		return nil, false, err
	}
	stop := &models.Stop{
		Scope: in.Scope, CrewID: in.CrewID, Workday: in.Workday, Way: in.Way, EquipmentID: in.EquipmentID, PalmID: in.PalmID, Reason: in.Reason,
	}
	var kept models.Stop
	if known, err := repeatOf(tx, in.ID, stopHash(stop), &kept, &kept.Keyed); known || err != nil {
		return &kept, known, err
	}
	if err := models.Faulty(faults); err != nil {
		return nil, false, err
	}
	if err := keepStop(tx, stop, in.ID); err != nil {
		return nil, false, err
	}
	return stop, false, tx.Audit(models.Audit{Action: "stop", SubjectKind: "stops", SubjectID: stop.ID, After: stop, Reason: stop.Reason})
}

func stopHash(s *models.Stop) string {
	return models.ContentHash([]any{s.Scope, s.CrewID, s.Workday, s.Way, s.EquipmentID, s.PalmID, s.Reason})
}

func keepStop(tx *models.Tx, s *models.Stop, id uuid.UUID) error {
	s.Keyed, s.StoppedAt, s.StoppedBy = models.Keyed{ID: id, ContentHash: stopHash(s)}, tx.Now, tx.Actor
	return tx.DB().Create(s).Error
}

func (in *Stopping) check(tx *models.Tx, books Books) ([]payroll.Fault, error) {
	c := models.NewChecker(tx)
	c.OneOf("/scope", string(in.Scope), string(models.StopCrew), string(models.StopEquipment), string(models.StopPalm))
	c.Day("/workday", in.Workday.Date)
	c.Text("/reason", &in.Reason, models.LongText)
	for _, of := range []struct {
		scope          models.StopScope
		pointer, table string
		unknown, term  string
		id             *uuid.UUID
	}{
		{models.StopCrew, "/crew_id", "crews", "fault.unknown_reference", "crew", in.CrewID},
		{models.StopEquipment, "/equipment_id", "equipment", "fault.unknown_equipment", "equipment", in.EquipmentID},
		{models.StopPalm, "/palm_id", "palms", "fault.unknown_palm", "palm", in.PalmID},
	} {
		switch {
		case (in.Scope == of.scope) != (of.id != nil):
			c.Fault(of.pointer, "fault.stop_scope", nil)
		case of.id != nil:
			missing, err := tx.Missing(of.table, []uuid.UUID{*of.id})
			if err != nil {
				return nil, err
			}
			if missing[*of.id] {
				c.Fault(of.pointer, of.unknown, payroll.Terms{of.term: of.id.String()})
			}
		}
	}
	if known := books.Ways(in.Workday.Date); in.Way != "" && !slices.Contains(known, in.Way) {
		c.OneOf("/way", in.Way, known...)
	}
	if in.Way != "" && in.Scope != models.StopCrew {
		c.Fault("/way", "fault.stop_scope", nil)
	}
	return c.Done()
}

// stopOf is the stop that the review of a filled checklist led to; nil where there is none.
func stopOf(tx *models.Tx, filled uuid.UUID) (*models.Stop, error) {
	stops, err := models.List[models.Stop](tx, models.Page{Limit: 1}, models.Equal("checklist_id", filled))
	if err != nil || len(stops) == 0 {
		return nil, err
	}
	return &stops[0], nil
}

// Lifting ends a stop, on a competent person's word.
type Lifting struct {
	ID              uuid.UUID `json:"id"`
	CompetentPerson string    `json:"competent_person"`
	Reason          string    `json:"reason"`
}

// Lift ends a stop. Repeats are answered as by models.Create; a second end is a conflict.
func Lift(tx *models.Tx, stop uuid.UUID, in Lifting) (*models.StopLift, bool, error) {
	c := models.NewChecker(tx)
	c.Text("/competent_person", &in.CompetentPerson, models.ShortText)
	c.Text("/reason", &in.Reason, models.LongText)
	faults, err := c.Done()
	if err != nil {
		return nil, false, err
	}
	hash := models.ContentHash([]any{stop, in.CompetentPerson, in.Reason})
	var kept models.StopLift
	if known, err := repeatOf(tx, in.ID, hash, &kept, &kept.Keyed); known || err != nil {
		return &kept, known, err
	}
	var held models.Stop
	if err := tx.DB().Where("id = ?", stop).Take(&held).Error; err != nil {
		return nil, false, err
	}
	lifts, err := models.List[models.StopLift](tx, models.Page{Limit: 1}, models.Equal("stop_id", stop))
	if err == nil && len(lifts) > 0 {
		err = &models.Error{Kind: models.Conflict, Key: "problem.stop_lifted", Terms: payroll.Terms{"person": lifts[0].CompetentPerson}}
	}
	if err == nil {
		err = models.Faulty(faults)
	}
	if err != nil {
		return nil, false, err
	}
	lift := &models.StopLift{
		Keyed: models.Keyed{ID: in.ID, ContentHash: hash}, StopID: stop, CompetentPerson: in.CompetentPerson, Reason: in.Reason, LiftedAt: tx.Now, LiftedBy: tx.Actor,
	}
	if err := tx.DB().Create(lift).Error; err != nil {
		return nil, false, err
	}
	return lift, false, tx.Audit(models.Audit{Action: "lift_stop", SubjectKind: "stops", SubjectID: stop, Before: held, After: lift, Reason: in.Reason})
}

// Acknowledging is a crew lead's word that a stop is understood.
type Acknowledging struct {
	ID         uuid.UUID `json:"id"`
	Name       string    `json:"name"`        // as the lead signs
	RecordedAt time.Time `json:"recorded_at"` // by the device's clock
}

// Acknowledge keeps the word of a crew lead, or of a hand, on a stop that concerns their crew, lifted since or not. Who acknowledges has heard. Repeats are answered as by models.Create.
func Acknowledge(tx *models.Tx, lead, stop uuid.UUID, in Acknowledging) (*models.StopAcknowledgement, bool, error) {
	c := models.NewChecker(tx)
	c.Text("/name", &in.Name, models.ShortText)
	if in.RecordedAt.IsZero() {
		c.Fault("/recorded_at", "fault.empty", nil)
	}
	faults, err := c.Done()
	if err != nil {
		return nil, false, err
	}
	hash := models.ContentHash([]any{stop, lead, in.Name})
	var kept models.StopAcknowledgement
	if known, err := repeatOf(tx, in.ID, hash, &kept, &kept.Keyed); known || err != nil {
		return &kept, known, err
	}
	if err := concerned(tx, lead, stop); err != nil {
		return nil, false, err
	}
	before, err := models.List[models.StopAcknowledgement](tx, models.Page{Limit: 1}, models.Equal("stop_id", stop), models.Equal("worker_id", lead))
	if err == nil && len(before) > 0 {
		err = &models.Error{Kind: models.Conflict, Key: "problem.stop_acknowledged"}
	}
	if err == nil {
		err = models.Faulty(faults)
	}
	if err != nil {
		return nil, false, err
	}
	ack := &models.StopAcknowledgement{
		Keyed: models.Keyed{ID: in.ID, ContentHash: hash}, StopID: stop, WorkerID: lead, Name: in.Name, RecordedAt: in.RecordedAt.UTC(), ReceivedAt: tx.Now, AcknowledgedBy: tx.Actor,
	}
	if err := tx.DB().Create(ack).Error; err != nil {
		return nil, false, err
	}
	if _, err := markHeard(tx, lead, []uuid.UUID{stop}); err != nil {
		return nil, false, err
	}
	return ack, false, tx.Audit(models.Audit{Action: "acknowledge_stop", SubjectKind: "stops", SubjectID: stop, After: ack})
}

// concerned wants the stop to concern somebody: a member of its crew on its day, or for equipment and palms of any crew on that day or today. Any
// other stop is none that they can find.
func concerned(tx *models.Tx, lead, stop uuid.UUID) error {
	var s models.Stop
	if err := tx.DB().Where("id = ?", stop).Take(&s).Error; err != nil {
		return err
	}
	days := []dated.Date{s.Workday.Date}
	if s.Scope != models.StopCrew {
		today := dated.DateOf(tx.Now)
		days = append(days, today, today.AddDays(-1)) // it may be yesterday still where the garden is
	}
	for _, day := range days {
		members, err := models.List[models.CrewMember](tx, models.Page{Limit: mostCrews}, models.MembersOn(day), models.Equal("worker_id", lead))
		if err != nil {
			return err
		}
		if slices.ContainsFunc(members, func(m models.CrewMember) bool { return concerns(&s, m.Content.CrewID) }) {
			return nil
		}
	}
	return &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
}

// concerns tells whether a stop concerns a crew.
func concerns(s *models.Stop, crew uuid.UUID) bool { return s.CrewID == nil || *s.CrewID == crew }

// markHeard notes that a crew lead's phone has heard of stops, of those of which it had not, and returns them.
func markHeard(tx *models.Tx, lead uuid.UUID, stops []uuid.UUID) ([]models.StopHearing, error) {
	var known []models.StopHearing
	if err := tx.DB().Where("worker_id = ? AND stop_id IN ?", lead, stops).Find(&known).Error; err != nil {
		return nil, err
	}
	var heard []models.StopHearing
	for _, stop := range stops {
		if !slices.ContainsFunc(known, func(h models.StopHearing) bool { return h.StopID == stop }) {
			heard = append(heard, models.StopHearing{StopID: stop, WorkerID: lead, HeardAt: tx.Now})
		}
	}
	return heard, models.InsertAll(tx, heard)
}

// StandingStop is a stop with who has to know of it, and whether it was lifted.
type StandingStop struct {
	models.Stop
	Lift    *models.StopLift `json:"lift"` // null while it holds
	Notices []Notice         `json:"notices"`
}

// Notice says how far a crew lead has heard of a stop.
type Notice struct {
	WorkerID       uuid.UUID  `json:"worker_id"`
	Worker         string     `json:"worker"`
	CrewID         uuid.UUID  `json:"crew_id"`
	Crew           string     `json:"crew"`
	HeardAt        *time.Time `json:"heard_at"`        // null: their phone has not heard
	AcknowledgedAt *time.Time `json:"acknowledged_at"` // by the server's clock; null: not yet
	AcknowledgedAs string     `json:"acknowledged_as,omitempty"`
}

// Unheard tells whether a crew lead concerned has not heard of the stop, or has not acknowledged it.
func (s *StandingStop) Unheard() bool {
	return slices.ContainsFunc(s.Notices, func(n Notice) bool { return n.HeardAt == nil || n.AcknowledgedAt == nil })
}

// WithNotices adds to stops who leads the crews that they concern on a day, and who of them has heard and acknowledged. A stop of a crew concerns its leads
// on its own workday. It is five statements, however many stops there are.
func WithNotices(tx *models.Tx, stops []models.Stop, day dated.Date) ([]StandingStop, error) {
	ids := make([]uuid.UUID, len(stops))
	days := map[dated.Date]bool{day: true}
	for i := range stops {
		ids[i] = stops[i].ID
		if stops[i].Scope == models.StopCrew {
			days[stops[i].Workday.Date] = true
		}
	}
	f, err := findNotices(tx, ids)
	if err != nil {
		return nil, err
	}
	leads := map[dated.Date][]leader{}
	for d := range days {
		if leads[d], err = leadersOn(tx, d); err != nil {
			return nil, err
		}
	}
	shown := make([]StandingStop, len(stops))
	for i, s := range stops {
		on := day
		if s.Scope == models.StopCrew {
			on = s.Workday.Date
		}
		shown[i] = StandingStop{Stop: s, Lift: f.lifts[s.ID], Notices: f.of(&s, leads[on])}
	}
	return shown, nil
}

// leader is a crew lead by name.
type leader struct {
	WorkerID, CrewID uuid.UUID
	Worker, Crew     string
}

func leadersOn(tx *models.Tx, day dated.Date) (leads []leader, err error) {
	err = tx.DB().Raw(`SELECT m.worker_id, m.crew_id, w.name AS worker, c.name AS crew FROM crew_members m
		JOIN workers w ON w.employer_id = m.employer_id AND w.id = m.worker_id
		JOIN crews c ON c.employer_id = m.employer_id AND c.id = m.crew_id
		WHERE m.employer_id = ? AND m.leads AND m.from_date <= ? AND (m.through_date IS NULL OR m.through_date >= ?) ORDER BY c.name, w.name`,
		tx.Employer, models.Day(day), models.Day(day)).Scan(&leads).Error
	return leads, err
}

// notices are what is known of some stops.
type notices struct {
	lifts map[uuid.UUID]*models.StopLift
	heard map[[2]uuid.UUID]time.Time // by stop and worker
	acks  map[[2]uuid.UUID]models.StopAcknowledgement
}

func findNotices(tx *models.Tx, stops []uuid.UUID) (*notices, error) {
	f := &notices{map[uuid.UUID]*models.StopLift{}, map[[2]uuid.UUID]time.Time{}, map[[2]uuid.UUID]models.StopAcknowledgement{}}
	if len(stops) == 0 {
		return f, nil
	}
	var lifts []models.StopLift
	var heard []models.StopHearing
	var acks []models.StopAcknowledgement
	for _, rows := range []any{&lifts, &heard, &acks} {
		if err := tx.DB().Where("stop_id IN ?", stops).Find(rows).Error; err != nil {
			return nil, err
		}
	}
	for i := range lifts {
		f.lifts[lifts[i].StopID] = &lifts[i]
	}
	for _, h := range heard {
		f.heard[[2]uuid.UUID{h.StopID, h.WorkerID}] = h.HeardAt.UTC()
	}
	for _, a := range acks {
		f.acks[[2]uuid.UUID{a.StopID, a.WorkerID}] = a
	}
	return f, nil
}

// of are the notices of one stop to the leads whom it concerns.
func (f *notices) of(s *models.Stop, leads []leader) []Notice {
	told := []Notice{}
	for _, l := range leads {
		if !concerns(s, l.CrewID) {
			continue
		}
		n := Notice{WorkerID: l.WorkerID, Worker: l.Worker, CrewID: l.CrewID, Crew: l.Crew}
		key := [2]uuid.UUID{s.ID, l.WorkerID}
		if at, ok := f.heard[key]; ok {
			n.HeardAt = &at
		}
		if a, ok := f.acks[key]; ok {
			at := a.ReceivedAt.UTC()
			n.AcknowledgedAt, n.AcknowledgedAs = &at, a.Name
		}
		told = append(told, n)
	}
	return told
}
