package daybook

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
)

// Draft is a crew's day as far as it was not sent yet: the lines of a crew sheet, and where the crew works now.
type Draft struct {
	Place      *Place             `json:"place,omitempty"`
	Roll       []uuid.UUID        `json:"roll,omitempty"` // who is there, hands from elsewhere among them
	NewWorkers []intake.NewWorker `json:"new_workers,omitempty"`
	Time       []intake.TimeLine  `json:"time,omitempty"`
	Tallies    []intake.TallyLine `json:"tallies,omitempty"`
	Lots       []intake.LotLine   `json:"lots,omitempty"`
	Breaks     []intake.BreakLine `json:"breaks,omitempty"`

	Undo []step `json:"undo,omitempty"` // what counts stood at before the last changes

	command uuid.UUID // that is being carried out
	sent    *Sent     // what became of it, where it is a sending
}

// Place is where the crew works now, and at what.
type Place struct {
	GardenID    uuid.UUID `json:"garden_id"`
	BlockID     uuid.UUID `json:"block_id"`
	OperationID uuid.UUID `json:"operation_id"`
}

// Key names a crew's day.
type Key struct {
	Crew uuid.UUID
	Day  models.Date
}

// Read returns the draft of a crew's day, an empty one where none was begun.
func Read(tx *models.Tx, k Key) (*Draft, error) {
	row, err := find(tx, k, false)
	if err != nil {
		return nil, err
	}
	return parse(row)
}

func find(tx *models.Tx, k Key, hold bool) (*models.SheetDraft, error) {
	db := tx.DB()
	if hold {
		db = tx.Locking()
	}
	var rows []models.SheetDraft
	err := db.Where("id = ?", models.DraftID(k.Crew, k.Day)).Limit(1).Find(&rows).Error
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	return &rows[0], nil
}

func parse(row *models.SheetDraft) (*Draft, error) {
	d := &Draft{}
	if row == nil {
		return d, nil
	}
	if err := json.Unmarshal(row.Draft, d); err != nil {
		return nil, fmt.Errorf("read the draft %s: %w", row.ID, err)
	}
	return d, nil
}

func (d *Draft) keep(tx *models.Tx, k Key, row *models.SheetDraft) error {
	text, err := json.Marshal(d)
	if err != nil {
		return err
	}
	if row == nil {
		id := models.DraftID(k.Crew, k.Day)
		return tx.DB().Create(&models.SheetDraft{
			Keyed: models.Keyed{ID: id, ContentHash: models.ContentHash([]any{k.Crew, k.Day})}, CrewID: k.Crew, Workday: k.Day,
			Draft: text, Waiting: d.Waiting(), Version: 1, CreatedAt: tx.Now, UpdatedAt: tx.Now,
		}).Error
	}
	return tx.DB().Model(&models.SheetDraft{}).Where("id = ?", row.ID).
		Updates(map[string]any{"draft": models.Document(text), "waiting": d.Waiting(), "version": row.Version + 1, "updated_at": tx.Now}).Error
}

// Waiting is how many lines wait to be sent, time that still runs included.
func (d *Draft) Waiting() int64 {
	return int64(len(d.NewWorkers) + len(d.Time) + len(d.Tallies) + len(d.Lots) + len(d.Breaks))
}

// SetRoll says who is there. New hands stay on it until they are taken out by name.
func (d *Draft) SetRoll(there []uuid.UUID) {
	d.Roll = slices.Clone(there)
	for _, w := range d.NewWorkers {
		if !slices.Contains(d.Roll, w.ID) {
			d.Roll = append(d.Roll, w.ID)
		}
	}
}

// Join puts a known hand on the roll.
func (d *Draft) Join(worker uuid.UUID) {
	if !slices.Contains(d.Roll, worker) {
		d.Roll = append(d.Roll, worker)
	}
}

// AddHand puts a hand on the roll who is in no list yet, by name.
func (d *Draft) AddHand(tx *models.Tx, w intake.NewWorker) error {
	c := models.NewChecker(tx)
	c.Text("/name", &w.Name, models.ShortText)
	c.Language("/language", &w.Language)
	faults, err := c.Done()
	if err == nil {
		err = models.Faulty(faults)
	}
	if err != nil {
		return err
	}
	d.NewWorkers = append(d.NewWorkers, w)
	d.Join(w.ID)
	return nil
}

// MoveTo says where the crew works from now on. What runs goes on where it began.
func (d *Draft) MoveTo(tx *models.Tx, block, operation uuid.UUID) error {
	c := models.NewChecker(tx)
	c.Reference("/block", "blocks", block)
	c.Reference("/operation", "operations", operation)
	faults, err := c.Done()
	if err == nil {
		err = models.Faulty(faults)
	}
	if err != nil {
		return err
	}
	b, err := models.Get[models.BlockContent](tx, block)
	if err != nil {
		return err
	}
	d.Place = &Place{b.Content.GardenID, block, operation}
	return nil
}

// placed wants the crew to be somewhere.
func (d *Draft) placed() error {
	if d.Place == nil {
		return &models.Error{Kind: models.Conflict, Key: "problem.no_place"}
	}
	return nil
}

// AddBreak notes that a break was not provided, or was waived.
func (d *Draft) AddBreak(worker uuid.UUID, fact models.BreakFact) error {
	if err := oneOf("/fact", fact, models.BreakFacts); err != nil {
		return err
	}
	if !slices.Contains(d.Roll, worker) {
		return models.FaultAt("/worker", "fault.not_on_the_roll", nil)
	}
	d.Breaks = append(d.Breaks, intake.BreakLine{ID: models.NewID(), WorkerID: worker, Fact: fact})
	return nil
}

// oneOf wants one of a few words.
func oneOf[S ~string](pointer string, given S, words []S) error {
	if slices.Contains(words, given) {
		return nil
	}
	if given == "" {
		return models.FaultAt(pointer, "fault.empty", nil)
	}
	allowed := make([]string, len(words))
	for i, w := range words {
		allowed[i] = string(w)
	}
	return models.FaultAt(pointer, "fault.not_one_of", payroll.Terms{"value": string(given), "allowed": allowed})
}

// AddLot notes a count that several made together.
func (d *Draft) AddLot(pieces payroll.Pieces, parting string, parts []intake.LotPart) error {
	if err := d.placed(); err != nil {
		return err
	}
	var faults []payroll.Fault
	if pieces <= 0 {
		faults = append(faults, payroll.Fault{Pointer: "/pieces", Key: "fault.not_positive"})
	}
	if len(parts) < 2 {
		faults = append(faults, payroll.Fault{Pointer: "/who", Key: "fault.lot_of_two"})
	} else {
		faults = append(faults, intake.PartFaults(parting, parts)...)
	}
	if err := models.Faulty(faults); err != nil {
		return err
	}
	d.Lots = append(d.Lots, intake.LotLine{ID: models.NewID(), BlockID: d.Place.BlockID, OperationID: d.Place.OperationID, Pieces: pieces, Parting: parting, Parts: parts})
	return nil
}

// Drop takes a line out that was not sent. With a new hand goes everything that was noted for them.
func (d *Draft) Drop(line uuid.UUID) error {
	before := d.Waiting()
	if slices.ContainsFunc(d.NewWorkers, func(w intake.NewWorker) bool { return w.ID == line }) {
		d.forget(line)
	}
	d.Time = slices.DeleteFunc(d.Time, func(l intake.TimeLine) bool { return l.ID == line })
	d.Tallies = slices.DeleteFunc(d.Tallies, func(l intake.TallyLine) bool { return l.ID == line })
	d.Lots = slices.DeleteFunc(d.Lots, func(l intake.LotLine) bool { return l.ID == line })
	d.Breaks = slices.DeleteFunc(d.Breaks, func(l intake.BreakLine) bool { return l.ID == line })
	d.Undo = nil
	if d.Waiting() == before {
		return &models.Error{Kind: models.Conflict, Key: "problem.line_gone"}
	}
	return nil
}

// forget takes a new hand out with all that was noted for them. A lot in which they have a part is parted anew by whoever wrote it.
func (d *Draft) forget(worker uuid.UUID) {
	d.NewWorkers = slices.DeleteFunc(d.NewWorkers, func(w intake.NewWorker) bool { return w.ID == worker })
	d.Roll = slices.DeleteFunc(d.Roll, func(id uuid.UUID) bool { return id == worker })
	d.Time = slices.DeleteFunc(d.Time, func(l intake.TimeLine) bool { return l.WorkerID == worker })
	d.Tallies = slices.DeleteFunc(d.Tallies, func(l intake.TallyLine) bool { return l.WorkerID == worker })
	d.Breaks = slices.DeleteFunc(d.Breaks, func(l intake.BreakLine) bool { return l.WorkerID == worker })
	d.Lots = slices.DeleteFunc(d.Lots, func(l intake.LotLine) bool {
		return slices.ContainsFunc(l.Parts, func(p intake.LotPart) bool { return p.WorkerID == worker })
	})
}

// Overdue is a draft of an earlier day with lines that nobody has sent.
type Overdue struct {
	CrewID  uuid.UUID   `json:"crew_id"`
	Crew    string      `json:"crew"`
	Lead    string      `json:"lead"` // of the crew on the day, by name; "": nobody in particular
	Workday models.Date `json:"workday"`
	Waiting int64       `json:"waiting"`
	Since   time.Time   `json:"since"` // when it was last written in
}

// OverdueBefore lists the drafts of days before one that have lines which nobody has sent, oldest first. With a lead only those of crews that this worker led on their day.
func OverdueBefore(tx *models.Tx, day models.Date, lead *uuid.UUID) ([]Overdue, error) {
	var all []Overdue
	err := tx.DB().Table("sheet_drafts").Select(`sheet_drafts.crew_id, c.name AS crew, sheet_drafts.workday, sheet_drafts.waiting, sheet_drafts.updated_at AS since,
			coalesce((SELECT min(w.name) FROM crew_members m JOIN workers w ON w.employer_id = m.employer_id AND w.id = m.worker_id
				WHERE m.employer_id = sheet_drafts.employer_id AND m.crew_id = sheet_drafts.crew_id AND m.leads
				  AND m.from_date <= sheet_drafts.workday AND (m.through_date IS NULL OR m.through_date >= sheet_drafts.workday)), '') AS lead`).
		Joins("JOIN crews c ON c.employer_id = sheet_drafts.employer_id AND c.id = sheet_drafts.crew_id").
		Where("sheet_drafts.employer_id = ? AND sheet_drafts.waiting > 0 AND sheet_drafts.workday < ?", tx.Employer, day).
		Scopes(models.LedBy("sheet_drafts", lead)).Order("sheet_drafts.workday, c.name").Limit(mostOverdue).Scan(&all).Error
	return all, err
}

// mostOverdue is more than anybody looks through.
const mostOverdue = 100
