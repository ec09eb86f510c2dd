package gear

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Event is something that happened to equipment, with what was found then and what the equipment is now.
type Event struct {
	models.EquipmentEvent
	Findings []models.EquipmentFinding `json:"findings"`
}

// Inspection is a look at equipment: before use, by a competent person from time to time, or after something happened to it.
type Inspection struct {
	Stamp
	Kind     models.EquipmentEventKind `json:"kind"`
	Person   string                    `json:"person,omitempty"` // who looked; a competent person's name for a periodic one
	Findings []Finding                 `json:"findings,omitempty"`
	Note     string                    `json:"note,omitempty"`
}

// Finding is one thing that was found.
type Finding struct {
	ID       uuid.UUID       `json:"id"`
	Severity models.Severity `json:"severity"`
	Note     string          `json:"note"`
}

var inspections = []models.EquipmentEventKind{models.PreUseInspection, models.PeriodicInspection, models.AfterInspection}

// mostFindings is how many findings one look has at the most.
const mostFindings = 100

// trim takes the blanks around the texts away, so that they do not tell a repeat from the first.
func (in *Inspection) trim() {
	in.Person, in.Note = strings.TrimSpace(in.Person), strings.TrimSpace(in.Note)
	in.Findings = slices.Clone(in.Findings)
	for i := range in.Findings {
		in.Findings[i].Note = strings.TrimSpace(in.Findings[i].Note)
	}
}

func (in *Inspection) check(tx *models.Tx) error {
	c := models.NewChecker(tx)
	in.checkStamp(c)
	c.OneOf("/kind", string(in.Kind), models.Words(inspections)...)
	if c.OptionalText("/person", &in.Person, nameLimit); in.Kind == models.PeriodicInspection && in.Person == "" {
		c.Fault("/person", "fault.competent_person", nil)
	}
	c.OptionalText("/note", &in.Note, noteLimit)
	c.Range("/findings", int64(len(in.Findings)), 0, mostFindings)
	seen := map[uuid.UUID]bool{}
	for i := range in.Findings {
		f, at := &in.Findings[i], pointer("/findings", i)
		if seen[f.ID] {
			c.Fault(at+"/id", "fault.id_twice", nil)
		}
		seen[f.ID] = true
		checkID(c, at+"/id", f.ID)
		c.OneOf(at+"/severity", string(f.Severity), models.Words(models.Severities)...)
		c.Text(at+"/note", &f.Note, noteLimit)
	}
	return done(c)
}

// stops tells whether something was found that takes the equipment out of service.
func (in *Inspection) stops() bool {
	return slices.ContainsFunc(in.Findings, func(f Finding) bool { return f.Severity == models.Stopping })
}

// Inspect records a look at equipment. A stopping finding takes it out of service at once; finding nothing never brings it back. A periodic inspection is for
// those who may say that somebody is competent.
func Inspect(tx *models.Tx, equipment uuid.UUID, in Inspection) (*Event, bool, error) {
	in.trim()
	return record(tx, equipment, in.ID, models.ContentHash([]any{equipment, in}), in.Findings, func(*models.Equipment) (*models.EquipmentEvent, error) {
		if err := in.check(tx); err != nil {
			return nil, err
		}
		e := &models.EquipmentEvent{Kind: in.Kind, Passed: new(!in.stops()), Person: in.Person, Note: in.Note, HappenedAt: in.at(tx)}
		if in.stops() {
			e.State = models.OutOfService
		}
		return e, nil
	})
}

// Withdrawal takes equipment out of service: it arrested a fall, or somebody says why nobody is to use it.
type Withdrawal struct {
	Stamp
	Kind models.EquipmentEventKind `json:"kind"` // arrested_fall or withdrawn
	Note string                    `json:"note"`
}

// Withdraw takes equipment out of service at once.
func Withdraw(tx *models.Tx, equipment uuid.UUID, in Withdrawal) (*Event, bool, error) {
	in.Note = strings.TrimSpace(in.Note)
	return record(tx, equipment, in.ID, models.ContentHash([]any{equipment, in}), nil, func(*models.Equipment) (*models.EquipmentEvent, error) {
		c := models.NewChecker(tx)
		in.checkStamp(c)
		c.OneOf("/kind", string(in.Kind), string(models.ArrestedFall), string(models.Withdrawn))
		c.Text("/note", &in.Note, noteLimit)
		return &models.EquipmentEvent{Kind: in.Kind, State: models.OutOfService, Note: in.Note, HappenedAt: in.at(tx)}, done(c)
	})
}

// Return is a competent person's word that equipment may be used again.
type Return struct {
	Stamp
	CompetentPerson string `json:"competent_person"`
	Note            string `json:"note"` // why
}

// PutBack brings equipment back into service, provided that the version looked at is still the one that stands. The stopping findings are settled by it.
func PutBack(tx *models.Tx, equipment uuid.UUID, version int64, in Return) (*Event, bool, error) {
	in.CompetentPerson, in.Note = strings.TrimSpace(in.CompetentPerson), strings.TrimSpace(in.Note)
	return record(tx, equipment, in.ID, models.ContentHash([]any{equipment, in}), nil, func(kept *models.Equipment) (*models.EquipmentEvent, error) {
		if err := moved(version, kept.Version); err != nil {
			return nil, err
		}
		c := models.NewChecker(tx)
		in.checkStamp(c)
		c.Text("/competent_person", &in.CompetentPerson, nameLimit)
		c.Text("/note", &in.Note, noteLimit)
		if err := done(c); err != nil {
			return nil, err
		}
		if kept.Content.State != models.OutOfService {
			return nil, &models.Error{Kind: models.Conflict, Key: "problem.equipment_not_out", Terms: payroll.Terms{"code": kept.Content.Code}}
		}
		return &models.EquipmentEvent{Kind: models.Returned, State: models.InService, Person: in.CompetentPerson, Note: in.Note, HappenedAt: in.at(tx)}, nil
	})
}

// Retirement ends the life of equipment.
type Retirement struct {
	Stamp
	Note string `json:"note"` // why
}

// Retire takes equipment out of service for good, provided that the version looked at is still the one that stands.
func Retire(tx *models.Tx, equipment uuid.UUID, version int64, in Retirement) (*Event, bool, error) {
	in.Note = strings.TrimSpace(in.Note)
	return record(tx, equipment, in.ID, models.ContentHash([]any{equipment, in}), nil, func(kept *models.Equipment) (*models.EquipmentEvent, error) {
		if err := moved(version, kept.Version); err != nil {
			return nil, err
		}
		c := models.NewChecker(tx)
		in.checkStamp(c)
		c.Text("/note", &in.Note, noteLimit)
		if err := done(c); err != nil {
			return nil, err
		}
		if kept.Content.State == models.Retired {
			return nil, &models.Error{Kind: models.Conflict, Key: "problem.equipment_retired", Terms: payroll.Terms{"code": kept.Content.Code}}
		}
		return &models.EquipmentEvent{Kind: models.RetiredEvent, State: models.Retired, Note: in.Note, HappenedAt: in.at(tx)}, nil
	})
}

// Mending says that what was found to be mended is.
type Mending struct {
	Stamp
	Person string `json:"person"` // who mended it
	Note   string `json:"note,omitempty"`
}

// Mend settles a finding that asked for mending. What stops a piece is settled by the competent person who puts it back.
func Mend(tx *models.Tx, finding uuid.UUID, in Mending) (*Event, bool, error) {
	in.Person, in.Note = strings.TrimSpace(in.Person), strings.TrimSpace(in.Note)
	var f models.EquipmentFinding
	found := tx.DB().Where("id = ?", finding).Limit(1).Find(&f)
	if found.Error != nil {
		return nil, false, found.Error
	}
	if found.RowsAffected == 0 {
		return nil, false, &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	e, repeated, err := record(tx, f.EquipmentID, in.ID, models.ContentHash([]any{finding, in}), nil, func(*models.Equipment) (*models.EquipmentEvent, error) {
		c := models.NewChecker(tx)
		in.checkStamp(c)
		c.Text("/person", &in.Person, nameLimit)
		c.OptionalText("/note", &in.Note, noteLimit)
		if err := done(c); err != nil {
			return nil, err
		}
		var open int64
		err := tx.DB().Model(&f).Where("id = ? AND settled_by IS NULL AND severity = ?", finding, models.ToMend).Count(&open).Error
		if err == nil && open == 0 {
			err = &models.Error{Kind: models.Conflict, Key: "problem.finding_settled"}
		}
		return &models.EquipmentEvent{Kind: models.Mended, Person: in.Person, Note: in.Note, HappenedAt: in.at(tx)}, err
	})
	if err == nil && !repeated {
		err = settle(tx, e.ID, models.Equal("id", finding))
	}
	return e, repeated, err
}

// record keeps an event of a piece of equipment, which is held meanwhile, and what follows from it. tell looks at the piece and says what happened.
func record(tx *models.Tx, equipment, id uuid.UUID, hash string, findings []Finding, tell func(kept *models.Equipment) (*models.EquipmentEvent, error)) (*Event, bool, error) {
	if kept, err := models.Repeat[models.EquipmentEvent](tx, id, hash); kept != nil || err != nil {
		if err != nil {
			return nil, kept != nil, err
		}
		told, err := withFindings(tx, []models.EquipmentEvent{*kept})
		if err != nil {
			return nil, true, err
		}
		return &told[0], true, nil
	}
	piece, err := locked[models.EquipmentContent](tx, equipment)
	if err != nil {
		return nil, false, err
	}
	e, err := tell(piece)
	if err != nil {
		return nil, false, err
	}
	told, err := keepEvent(tx, piece, id, hash, findings, e)
	if err != nil {
		return nil, false, err
	}
	before := map[string]any{"state": piece.Content.State, "pre_use_on": piece.Content.PreUseOn, "periodic_on": piece.Content.PeriodicOn}
	return told, false, tx.Audit(models.Audit{Action: string(e.Kind), SubjectKind: "equipment", SubjectID: equipment, Before: before, After: told, Reason: e.Note})
}

// keepEvent writes an event of a piece that is held, and what follows from it.
func keepEvent(tx *models.Tx, piece *models.Equipment, id uuid.UUID, hash string, findings []Finding, e *models.EquipmentEvent) (*Event, error) {
	if piece.Content.State == models.Retired {
		e.State = "" // what was retired stays so, whatever is told of it
	}
	e.Keyed, e.EquipmentID = models.Keyed{ID: id, ContentHash: hash}, piece.ID
	e.ReceivedAt, e.RecordedBy = tx.Now, tx.Actor
	var err error
	if e.HappenedOn, err = workday(tx, piece.Content.GardenID, e.HappenedAt); err != nil {
		return nil, err
	}
	if err := tx.DB().Create(e).Error; err != nil {
		return nil, err
	}
	told := &Event{EquipmentEvent: *e, Findings: findingsOf(e, findings)}
	if err := models.InsertAll(tx, told.Findings); err != nil {
		return nil, err
	}
	return told, follow(tx, piece, e)
}

// HeldFall takes equipment that held a fall out of service at once, as a part of the command that reports the fall: the audit trail is told by that. Pieces that this fall took out before are
// left as they are. It returns those that it took out.
func HeldFall(tx *models.Tx, equipment []uuid.UUID, at time.Time, note string) (taken []uuid.UUID, err error) {
	for _, id := range equipment {
		piece, err := locked[models.EquipmentContent](tx, id)
		if err != nil {
			return nil, err
		}
		var told int64
		err = tx.DB().Model(&models.EquipmentEvent{}).Where("equipment_id = ? AND kind = ? AND happened_at = ?", id, models.ArrestedFall, at).Count(&told).Error
		if err != nil {
			return nil, err
		}
		if told > 0 {
			continue
		}
		e := &models.EquipmentEvent{Kind: models.ArrestedFall, State: models.OutOfService, Note: note, HappenedAt: at}
		if _, err := keepEvent(tx, piece, tx.NewID(), models.ContentHash([]any{id, at, note}), nil, e); err != nil {
			return nil, err
		}
		taken = append(taken, id)
	}
	return taken, nil
}

// findingsOf makes the findings of an event.
func findingsOf(e *models.EquipmentEvent, findings []Finding) []models.EquipmentFinding {
	rows := make([]models.EquipmentFinding, len(findings))
	for i, f := range findings {
		rows[i] = models.EquipmentFinding{ID: f.ID, EventID: e.ID, EquipmentID: e.EquipmentID, Severity: f.Severity, Note: f.Note}
	}
	return rows
}

// follow brings the piece's own columns up to the event, and settles what the event settles.
func follow(tx *models.Tx, piece *models.Equipment, e *models.EquipmentEvent) error {
	change := map[string]any{"version": gorm.Expr("version + 1"), "updated_at": tx.Now}
	if e.State != "" {
		change["state"], change["state_event"] = e.State, e.ID
	}
	if e.Passed != nil && *e.Passed {
		switch c := piece.Content; {
		case e.Kind == models.PreUseInspection && e.HappenedOn.After(c.PreUseOn.Date):
			change["pre_use_on"] = e.HappenedOn
		case e.Kind == models.PeriodicInspection && e.HappenedOn.After(c.PeriodicOn.Date):
			change["periodic_on"] = e.HappenedOn
		}
	}
	if err := tx.DB().Model(&models.Equipment{}).Where("id = ?", piece.ID).Updates(change).Error; err != nil {
		return err
	}
	switch e.Kind {
	case models.Returned:
		return settle(tx, e.ID, models.Where("equipment_id = ? AND severity = ?", piece.ID, models.Stopping))
	case models.RetiredEvent:
		return settle(tx, e.ID, models.Where("equipment_id = ? AND severity <> ?", piece.ID, models.Noted))
	}
	return nil
}

// settle marks open findings as settled by an event.
func settle(tx *models.Tx, event uuid.UUID, which models.Condition) error {
	return tx.DB().Model(&models.EquipmentFinding{}).Scopes(which).Where("settled_by IS NULL").UpdateColumn("settled_by", event).Error
}

// workday is the workday of an instant on a garden's clock.
func workday(tx *models.Tx, garden uuid.UUID, at time.Time) (models.Date, error) {
	g, err := models.Get[models.GardenContent](tx, garden)
	if err != nil {
		return models.Date{}, err
	}
	zone, err := models.Zone(g.Content.TimeZone)
	if err != nil {
		return models.Date{}, err
	}
	profile, err := tx.Profile()
	if err != nil {
		return models.Date{}, err
	}
	return models.Day(models.WorkdayOf(at, int(profile.Content.WorkdayStart), zone)), nil
}

// Events lists what happened to a piece of equipment, oldest first, one more than the page's limit where more follow.
func Events(tx *models.Tx, equipment uuid.UUID, page models.Page) ([]Event, error) {
	if missing, err := tx.Missing("equipment", []uuid.UUID{equipment}); err != nil || missing[equipment] {
		if err == nil {
			err = &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
		}
		return nil, err
	}
	events, err := models.List[models.EquipmentEvent](tx, page, models.Equal("equipment_id", equipment))
	if err != nil {
		return nil, err
	}
	return withFindings(tx, events)
}

// LatestEvents lists what happened last to a piece of equipment, the latest first.
func LatestEvents(tx *models.Tx, equipment uuid.UUID, most int) ([]Event, error) {
	var events []models.EquipmentEvent
	if err := tx.DB().Where("equipment_id = ?", equipment).Order("seq DESC").Limit(most).Find(&events).Error; err != nil {
		return nil, err
	}
	return withFindings(tx, events)
}

func withFindings(tx *models.Tx, events []models.EquipmentEvent) ([]Event, error) {
	ids := make([]uuid.UUID, len(events))
	told := make([]Event, len(events))
	for i := range events {
		ids[i], told[i] = events[i].ID, Event{EquipmentEvent: events[i], Findings: []models.EquipmentFinding{}}
	}
	var findings []models.EquipmentFinding
	if err := tx.DB().Scopes(tx.Among("event_id", ids)).Order("seq").Find(&findings).Error; err != nil {
		return nil, err
	}
	at := byID(told, func(e *Event) uuid.UUID { return e.ID })
	for _, f := range findings {
		at[f.EventID].Findings = append(at[f.EventID].Findings, f)
	}
	return told, nil
}

// through is the last day on which something that was done on a day still counts, where it is done again every so many months.
func through(last dated.Date, months int) dated.Date {
	year, month, day := last.Civil()
	return dated.NewDate(year, month+time.Month(months), day)
}
