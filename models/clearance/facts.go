package clearance

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll/dated"
	"palmero/safety"
)

// facts is everything that the records tell of a crew's day.
type facts struct {
	setups    []setup
	members   []member
	signedOff map[uuid.UUID][]safety.SignOff // by worker
	held      map[uuid.UUID][]gear.Held      // by worker
	pieces    map[uuid.UUID]*gear.Piece
	decisions []decision
}

// setup is one way up of a crew with what there is once for it: the garden, the block, the checklist, the weather.
type setup struct {
	ID         uuid.UUID
	CrewID     uuid.UUID
	Way        string
	BlockID    uuid.UUID
	Block      string
	TallestCM  int64 `gorm:"column:tallest_cm"`
	Operation  string
	Equipment  models.IDs
	Setup      models.SetupFact
	RecordedAt time.Time
	Rulebook   string
	TimeZone   string

	ChecklistID *uuid.UUID
	Passed      *bool
	FilledOn    models.Date
	FilledBy    *string
	Decision    *models.ReviewDecision

	ForecastHigh *models.Quantity `gorm:"column:forecast_high_f"`
	WaterReady   *bool
	ShadeUp      *bool
	HighHeatPlan *bool
	Temperature  *models.Quantity `gorm:"column:temperature_f"`
	ReadAt       *time.Time

	RestrictedUntil *time.Time
	PowerLine       *models.Quantity `gorm:"column:distance_ft"`
}

// member is a worker of a crew.
type member struct {
	ID        uuid.UUID
	CrewID    uuid.UUID
	Number    int64
	Name      string
	Leads     bool
	BirthDate models.Date
	// The first and the last day of work on record, by time entries and by tallies; the last one lies before the day that is asked about.
	FirstTimed, FirstTallied, LastTimed, LastTallied models.Date
}

// decision is a stop that holds, or a rule of the house set aside.
type decision struct {
	What        string // "stop" or "override"
	ID          uuid.UUID
	Way         string     // of a stop "": every way
	CrewID      *uuid.UUID // nil: of whatever crew uses the piece
	EquipmentID *uuid.UUID
	WorkerID    *uuid.UUID // nil: everybody
	Code        string
	Person      string
	Grounds     string
	DecidedAt   time.Time
}

// gather reads the facts that a question asks for, of several crews at once.
func gather(tx *models.Tx, q Question, crews ...uuid.UUID) (*facts, error) {
	f := &facts{signedOff: map[uuid.UUID][]safety.SignOff{}, pieces: map[uuid.UUID]*gear.Piece{}}
	args := map[string]any{"employer": tx.Employer, "crews": crews, "day": models.Day(q.Day), "worker": q.Worker}
	moment := "s.recorded_at"
	if asOf := q.asOf(tx.Now); asOf != nil {
		moment, args["at"] = "@at", asOf.UTC()
	}
	if err := tx.DB().Raw(setupsOf(moment), args).Scan(&f.setups).Error; err != nil {
		return nil, err
	}
	workers, err := f.readMembers(tx, q.Worker, args)
	if err != nil {
		return nil, err
	}
	if f.held, err = gear.HeldOn(tx, workers, q.Day); err != nil {
		return nil, err
	}
	equipment, err := f.readPieces(tx, q.Day)
	if err != nil {
		return nil, err
	}
	args["equipment"] = append(equipment, uuid.Nil) // none is a set as well
	return f, tx.DB().Raw(decisionsOf, args).Scan(&f.decisions).Error
}

// of is the facts of one crew.
func (f *facts) of(crew uuid.UUID) *facts {
	own := *f
	own.setups, own.members, own.decisions = nil, nil, nil
	for _, s := range f.setups {
		if s.CrewID == crew {
			own.setups = append(own.setups, s)
		}
	}
	for _, m := range f.members {
		if m.CrewID == crew {
			own.members = append(own.members, m)
		}
	}
	for _, d := range f.decisions {
		if d.CrewID == nil || *d.CrewID == crew {
			own.decisions = append(own.decisions, d)
		}
	}
	return &own
}

// setupsOf selects the setups that stand for some crews' day, each with the last of everything that its way needs once. Of several checklists one that failed counts, until a
// correction takes its place.
func setupsOf(moment string) string {
	return `SELECT s.id, s.crew_id, s.way, s.block_id, b.code AS block, b.tallest_cm, o.code AS operation, s.equipment, s.setup, s.recorded_at, g.rulebook, g.time_zone,
		f.id AS checklist_id, f.passed, f.filled_on, a.name AS filled_by, r.decision,
		p.forecast_high_f, p.water_ready, p.shade_up, p.high_heat_plan, h.temperature_f, h.read_at, e.restricted_until, l.distance_ft
	FROM climb_setups s
	JOIN blocks b ON b.employer_id = s.employer_id AND b.id = s.block_id
	JOIN gardens g ON g.employer_id = b.employer_id AND g.id = b.garden_id
	JOIN operations o ON o.employer_id = s.employer_id AND o.id = s.operation_id
	LEFT JOIN filled_checklists f ON f.employer_id = s.employer_id AND f.id = (SELECT x.id FROM filled_checklists x
		WHERE x.employer_id = s.employer_id AND x.workday = s.workday AND x.crew_id = s.crew_id AND x.way = s.way AND x.garden_id = b.garden_id AND x.superseded_by IS NULL
		ORDER BY x.passed, x.seq DESC LIMIT 1)
	LEFT JOIN accounts a ON a.employer_id = f.employer_id AND a.id = f.recorded_by
	LEFT JOIN checklist_reviews r ON r.employer_id = f.employer_id AND r.checklist_id = f.id
	LEFT JOIN heat_plans p ON p.employer_id = s.employer_id AND p.id = (SELECT x.id FROM heat_plans x
		WHERE x.employer_id = s.employer_id AND x.garden_id = b.garden_id AND x.workday = s.workday AND x.superseded_by IS NULL ORDER BY x.seq DESC LIMIT 1)
	LEFT JOIN heat_readings h ON h.employer_id = s.employer_id AND h.id = (SELECT x.id FROM heat_readings x
		WHERE x.employer_id = s.employer_id AND x.garden_id = b.garden_id AND x.superseded_by IS NULL AND x.read_at <= ` + moment + ` ORDER BY x.read_at DESC, x.seq DESC LIMIT 1)
	LEFT JOIN entry_restrictions e ON e.employer_id = s.employer_id AND e.id = (SELECT x.id FROM entry_restrictions x
		WHERE x.employer_id = s.employer_id AND x.block_id = s.block_id AND x.superseded_by IS NULL AND x.restricted_from <= ` + moment + `
		ORDER BY x.restricted_until DESC, x.seq DESC LIMIT 1)
	LEFT JOIN power_lines l ON l.employer_id = s.employer_id AND l.id = (SELECT x.id FROM power_lines x
		WHERE x.employer_id = s.employer_id AND x.block_id = s.block_id AND (x.removed_on IS NULL OR x.removed_on > s.workday) ORDER BY x.distance_ft, x.seq LIMIT 1)
	WHERE s.employer_id = @employer AND s.workday = @day AND s.crew_id IN @crews AND s.superseded_by IS NULL ORDER BY s.seq`
}

// membersOf selects some crews' members of the day, or one of them, with when they worked first and last, once for each topic of training that was signed off, with the last day of it: of
// themselves, or of a provisional hand who turned out to be them. A training whose card has run out does not count.
func membersOf(worker *uuid.UUID) string {
	whose := ""
	if worker != nil {
		whose = " AND w.id = @worker"
	}
	day := func(pick, table, before string) string {
		return `(SELECT ` + pick + `(x.workday) FROM ` + table + ` x WHERE x.employer_id = w.employer_id AND x.worker_id = w.id AND x.superseded_by IS NULL` + before + `)`
	}
	return `WITH RECURSIVE ` + models.TopicsSigned + `,
	crew AS MATERIALIZED (SELECT w.employer_id, w.id, m.crew_id, w.number, w.name, m.leads, w.birth_date,
			` + day("min", "time_entries", "") + ` AS first_timed, ` + day("min", "tallies", "") + ` AS first_tallied,
			` + day("max", "time_entries", " AND x.workday < @day") + ` AS last_timed, ` + day("max", "tallies", " AND x.workday < @day") + ` AS last_tallied
		FROM crew_members m JOIN workers w ON w.employer_id = m.employer_id AND w.id = m.worker_id
		WHERE m.employer_id = @employer AND m.crew_id IN @crews AND m.from_date <= @day AND (m.through_date IS NULL OR m.through_date >= @day)` + whose + `),
	hands AS MATERIALIZED (SELECT crew.id AS member, crew.id AS hand FROM crew
		UNION SELECT crew.id, x.id FROM crew JOIN workers x ON x.employer_id = crew.employer_id AND x.same_as = crew.id),
	signed AS MATERIALIZED (SELECT h.member, t.topic, (SELECT x.held_on FROM training_sign_offs x
			WHERE x.employer_id = @employer AND x.worker_id = h.hand AND x.topic = t.topic AND x.superseded_by IS NULL AND NOT x.withdrawn AND x.held_on <= @day
				AND (x.through_date IS NULL OR x.through_date >= @day) ORDER BY x.held_on DESC LIMIT 1) AS held_on
		FROM hands h CROSS JOIN topics t)
	SELECT crew.id, crew.crew_id, crew.number, crew.name, crew.leads, crew.birth_date, crew.first_timed, crew.first_tallied, crew.last_timed, crew.last_tallied, s.topic, s.held_on
	FROM crew LEFT JOIN signed s ON s.member = crew.id AND s.held_on IS NOT NULL
	ORDER BY crew.number, crew.id, crew.crew_id`
}

// trained is a member with a topic of training, or with none.
type trained struct {
	Member member `gorm:"embedded"`
	Topic  *string
	HeldOn models.Date
}

// readMembers reads the members with what they are trained in, and lists them.
func (f *facts) readMembers(tx *models.Tx, worker *uuid.UUID, args map[string]any) (ids []uuid.UUID, err error) {
	rows, err := models.Read[trained](tx, tx.DB().Raw(membersOf(worker), args))
	if err != nil {
		return nil, err
	}
	for i := range rows {
		r := &rows[i]
		if n := len(ids); n == 0 || ids[n-1] != r.Member.ID {
			ids = append(ids, r.Member.ID)
		}
		if n := len(f.members); n == 0 || f.members[n-1].ID != r.Member.ID || f.members[n-1].CrewID != r.Member.CrewID {
			f.members = append(f.members, r.Member)
		}
		if r.Topic != nil {
			if s := (safety.SignOff{Topic: *r.Topic, On: r.HeldOn.Date}); !slices.Contains(f.signedOff[r.Member.ID], s) { // once, though in two crews
				f.signedOff[r.Member.ID] = append(f.signedOff[r.Member.ID], s)
			}
		}
	}
	return ids, nil
}

// readPieces reads the pieces that the setups name and those in the members' own hands, and lists which.
func (f *facts) readPieces(tx *models.Tx, day dated.Date) (ids []uuid.UUID, err error) {
	for i := range f.setups {
		ids = append(ids, f.setups[i].Equipment...)
	}
	for _, held := range f.held {
		for _, h := range held {
			if h.EquipmentID != nil {
				ids = append(ids, *h.EquipmentID)
			}
		}
	}
	if len(ids) == 0 {
		return nil, nil
	}
	pieces, err := gear.PiecesOn(tx, day, models.OneOf("e.id", ids))
	for i := range pieces {
		f.pieces[pieces[i].EquipmentID] = &pieces[i]
	}
	return ids, err
}

// decisionsOf selects the stops that hold for the crews or for one of the pieces, and the rules set aside for the crews' day.
const decisionsOf = `SELECT 'stop' AS what, s.id, s.way, s.crew_id, s.equipment_id, NULL AS worker_id, '' AS code, a.name AS person, s.reason AS grounds, s.stopped_at AS decided_at
	FROM stops s JOIN accounts a ON a.employer_id = s.employer_id AND a.id = s.stopped_by
	WHERE s.employer_id = @employer AND (s.crew_id IN @crews AND s.workday = @day OR s.equipment_id IN @equipment AND s.workday <= @day)
		AND NOT EXISTS (SELECT 1 FROM stop_lifts l WHERE l.employer_id = s.employer_id AND l.stop_id = s.id)
	UNION ALL
	SELECT 'override', o.id, o.way, o.crew_id, NULL, o.worker_id, o.code, o.competent_person, o.grounds, o.recorded_at
	FROM rule_overrides o WHERE o.employer_id = @employer AND o.crew_id IN @crews AND o.workday = @day AND o.superseded_by IS NULL AND NOT o.withdrawn`
