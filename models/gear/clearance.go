package gear

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
	"palmero/safety"
)

// Piece is equipment as a clearance looks at it.
type Piece struct {
	EquipmentID uuid.UUID
	GardenID    uuid.UUID
	PalmID      *uuid.UUID
	Equipment   safety.Equipment // its identifier there is the code painted on it
	Ratings     safety.Ratings   // what goes into the parts of a clearance, by its Into
}

// standing is a piece with what its events up to a day make of it.
type standing struct {
	ID         uuid.UUID
	GardenID   uuid.UUID
	Kind       string
	Code       string
	PalmID     *uuid.UUID
	Ratings    models.Ratings
	RetireBy   models.Date
	State      string
	Person     string
	Fallen     bool
	PreUseOn   models.Date
	PeriodicOn models.Date
}

// PiecesOn returns equipment as it stood on a day by what is known now, in one statement that looks up the last events of each piece by index, however many
// there are. The conditions name its columns as e.id, e.garden_id, e.kind and so on; none: everything that is not retired by the day.
func PiecesOn(tx *models.Tx, day dated.Date, conditions ...models.Condition) ([]Piece, error) {
	const last = "FROM equipment_events x WHERE x.employer_id = e.employer_id AND x.equipment_id = e.id AND x.happened_on <= ?"
	on := models.Day(day)
	var rows []standing
	err := tx.DB().Table("equipment AS e").Select("e.id, e.garden_id, e.kind, e.code, e.palm_id, e.ratings, e.retire_by, "+
		"coalesce((SELECT x.state "+last+" AND x.state <> '' ORDER BY x.seq DESC LIMIT 1), 'in_service') AS state, "+
		"coalesce((SELECT x.person "+last+" AND x.state <> '' ORDER BY x.seq DESC LIMIT 1), '') AS person, "+
		"EXISTS (SELECT 1 "+last+" AND x.state <> '' AND x.kind = 'arrested_fall') AS fallen, "+
		"(SELECT max(x.happened_on) "+last+" AND x.passed AND x.kind = 'pre_use') AS pre_use_on, "+
		"(SELECT max(x.happened_on) "+last+" AND x.passed AND x.kind = 'periodic') AS periodic_on", on, on, on, on, on).
		Scopes(conditions...).Order("e.seq").Find(&rows).Error
	if err != nil {
		return nil, err
	}
	pieces := make([]Piece, 0, len(rows))
	for i := range rows {
		if rows[i].State != string(models.Retired) {
			pieces = append(pieces, rows[i].piece(day))
		}
	}
	return pieces, nil
}

// piece puts what is known of a piece into the words of a clearance. One that is past its last day of use is out of service.
func (s *standing) piece(day dated.Date) Piece {
	in := s.State == string(models.InService) && (s.RetireBy.IsZero() || !day.After(s.RetireBy.Date))
	e := safety.Equipment{ID: s.Code, Kind: s.Kind, InService: &in, ImpactLoaded: new(s.Fallen)}
	if s.State == string(models.InService) {
		e.ReturnedBy = s.Person
	}
	if !s.PreUseOn.IsZero() {
		e.PreUseOn = new(s.PreUseOn.Date)
	}
	if !s.PeriodicOn.IsZero() {
		e.PeriodicOn = new(s.PeriodicOn.Date)
	}
	return Piece{s.ID, s.GardenID, s.PalmID, e, safety.Ratings(s.Ratings)}
}

// Held is gear in a worker's hands as a clearance looks at it, and which piece of the register it is, where it is one.
type Held struct {
	Gear        safety.Gear
	EquipmentID *uuid.UUID
}

type heldRow struct {
	WorkerID      uuid.UUID
	EquipmentID   *uuid.UUID
	Kind          string
	PunctureLevel *int64
	EN388         string `gorm:"column:en388"`
	Sheathed      *bool
}

// HeldOn returns the gear in the hands of some workers on a day, in one statement. A worker without any is not among them.
func HeldOn(tx *models.Tx, workers []uuid.UUID, day dated.Date) (map[uuid.UUID][]Held, error) {
	on := models.Day(day)
	rows, err := models.Read[heldRow](tx, tx.DB().Table("gear_issues AS i").Select("i.worker_id, i.equipment_id, k.kind, k.puncture_level, k.en388, k.sheathed").
		Joins("JOIN gear_kinds k ON k.employer_id = i.employer_id AND k.id = i.gear_kind_id").
		Joins("LEFT JOIN gear_issue_events c ON c.employer_id = i.employer_id AND c.id = i.closed_by").
		Scopes(tx.Among("i.worker_id", workers)).
		Where("i.issued_on <= ? AND (i.closed_by IS NULL OR c.happened_at >= ?)", on, day.AddDays(1).Midnight(time.UTC)).
		Order("i.seq"))
	held := map[uuid.UUID][]Held{}
	for _, r := range rows {
		g := safety.Gear{Kind: r.Kind, PunctureLevel: puncture(r.PunctureLevel, r.EN388), TetheredOrSheathed: r.Sheathed}
		held[r.WorkerID] = append(held[r.WorkerID], Held{g, r.EquipmentID})
	}
	return held, err
}

// puncture is the level by the scale of EN 388, which the safety rulebooks use: the mark's fourth sign where it was tested, else one below that of ANSI/ISEA 105,
// whose first level, 10 N, EN 388 does not have.
func puncture(ansi *int64, mark string) *int {
	if len(mark) > 3 && mark[3] != 'X' {
		return new(int(mark[3] - '0'))
	}
	if ansi == nil {
		return nil
	}
	return new(max(int(*ansi)-1, 0))
}
