package intake

import (
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// batch is what is taken in together: the lines of a sheet, or one line by itself.
type batch struct {
	tx         *models.Tx
	mode       Acceptance
	ownCrew    bool              // whether only records of the sheet's own crew may be corrected
	sheet      *models.CrewSheet // nil where a line comes by itself
	roll       []uuid.UUID
	workday    models.Date
	noDay      bool      // whether the workday cannot be, so that no clock time can be held against it
	garden     uuid.UUID // zero where no line needs it
	recordedAt time.Time
	prefix     func(list string, i int) string

	newWorkers []NewWorker
	time       []TimeLine
	tallies    []TallyLine
	lots       []LotLine
	breaks     []BreakLine

	ground *ground
	faults []payroll.Fault
	lines  []LineReceipt

	// what is to be written
	workers     []models.Worker
	timeEntries []models.TimeEntry
	tallyRows   []models.Tally
	lotRows     []models.Lot
	breakRows   []models.BreakRecord
	marks       []mark
}

// mark is a record that a correction takes the place of.
type mark struct {
	table   string
	old, by uuid.UUID
}

// skewTolerance is how far a device's clock may be off before the sheet is flagged.
const skewTolerance = 2 * time.Minute

// Submit takes in a sheet. In mode Whole any fault refuses all of it; in mode GoodLines the good lines are kept and the faults of the others returned
// in the receipt.
func Submit(tx *models.Tx, s Sheet, mode Acceptance) (*Receipt, error) {
	return submit(tx, s, mode, false)
}

// SubmitAsLead is Submit for a crew lead, who may correct what came in on the crew's sheets and nothing else.
func SubmitAsLead(tx *models.Tx, s Sheet, mode Acceptance) (*Receipt, error) {
	return submit(tx, s, mode, true)
}

func submit(tx *models.Tx, s Sheet, mode Acceptance, ownCrew bool) (*Receipt, error) {
	b := &batch{
		tx: tx, mode: mode, ownCrew: ownCrew, roll: s.Roll, workday: s.Workday, garden: s.GardenID, recordedAt: s.RecordedAt,
		prefix:     func(list string, i int) string { return "/" + list + "/" + itoa(i) },
		newWorkers: s.NewWorkers, time: s.Time, tallies: s.Tallies, lots: s.Lots, breaks: s.Breaks,
	}
	if err := b.checkEnvelope(&s); err != nil {
		return nil, err
	}
	kept := b.sheet.Seq != 0
	if err := b.takeIn(); err != nil {
		return nil, err
	}
	r := &Receipt{
		ID: s.ID, Lines: b.lines, Faults: b.faults, Repeated: kept && len(b.faults) == 0 && b.nothingNew(),
		Skewed: time.Duration(max(b.sheet.ClockSkew, -b.sheet.ClockSkew))*time.Second > skewTolerance,
	}
	r.count(tx)
	return r, nil
}

// RecordTime takes in one time entry.
func RecordTime(tx *models.Tx, s SingleTime) (*models.TimeEntry, bool, error) {
	b := single(tx, s.Workday, s.GardenID, s.RecordedAt)
	b.time = []TimeLine{s.TimeLine}
	return taken[models.TimeEntryContent](b, s.ID)
}

// RecordTally takes in one tally.
func RecordTally(tx *models.Tx, s SingleTally) (*models.Tally, bool, error) {
	b := single(tx, s.Workday, uuid.Nil, s.RecordedAt)
	b.tallies = []TallyLine{s.TallyLine}
	return taken[models.TallyContent](b, s.ID)
}

func single(tx *models.Tx, workday models.Date, garden uuid.UUID, recordedAt time.Time) *batch {
	return &batch{tx: tx, mode: Whole, workday: workday, garden: garden, recordedAt: recordedAt, prefix: func(string, int) string { return "" }}
}

// taken takes in a batch of one line and returns the record as it stands, and whether it stood before.
func taken[C any](b *batch, id uuid.UUID) (*models.Recorded[C], bool, error) {
	if err := b.takeIn(); err != nil {
		return nil, false, err
	}
	var r models.Recorded[C]
	if err := b.tx.DB().Where("id = ?", id).Take(&r).Error; err != nil {
		return nil, false, err
	}
	return &r, b.lines[0].Outcome == Repeated, nil
}

// checkEnvelope checks what the sheet says of itself. A sheet that came before may come again with other lines, but for the same crew and day.
func (b *batch) checkEnvelope(s *Sheet) error {
	var stored models.CrewSheet
	err := b.tx.DB().Where("id = ?", s.ID).Limit(1).Find(&stored).Error
	if err != nil {
		return err
	}
	if s.ID != uuid.Nil && stored.ID == s.ID {
		if stored.CrewID != s.CrewID || stored.Workday != s.Workday {
			return &models.Error{Kind: models.Conflict, Key: "problem.sheet_reused"}
		}
		b.sheet = &stored
		return nil
	}
	c := models.NewChecker(b.tx)
	c.Reference("/crew_id", "crews", s.CrewID)
	if b.faults, err = c.Done(); err != nil {
		return err
	}
	b.sheet = &models.CrewSheet{CrewID: s.CrewID, Workday: s.Workday, RecordedAt: s.RecordedAt.UTC(), ReceivedAt: b.tx.Now, RecordedBy: b.tx.Actor}
	b.sheet.ID = s.ID
	b.sheet.ContentHash = models.ContentHash([]any{s.CrewID, s.Workday, s.Roll})
	if s.SentAt != nil {
		b.sheet.ClockSkew = int64(s.SentAt.Sub(b.tx.Now).Seconds())
	}
	return nil
}

// takeIn checks every line, then writes what is good, or nothing.
func (b *batch) takeIn() error {
	var err error
	if b.ground, err = survey(b); err != nil {
		return err
	}
	b.checkDay()
	envelope := len(b.faults)
	if err := b.checkLines(); err != nil {
		return err
	}
	if len(b.faults) > 0 && (b.mode == Whole || envelope > 0) {
		return models.Faulty(b.faults) // no line is kept without the day and the crew that it stands on
	}
	return b.write()
}

func (b *batch) checkDay() {
	c := models.NewChecker(b.tx)
	b.noDay = !c.Day("/workday", b.workday.Date)
	if (b.sheet != nil || len(b.time) > 0) && b.ground.gardens[b.garden] == nil {
		c.Fault("/garden_id", "fault.unknown_reference", nil)
	}
	if b.recordedAt.IsZero() || b.recordedAt.After(b.tx.Now.Add(48*time.Hour)) || b.recordedAt.Year() < 1990 {
		c.Fault("/recorded_at", "fault.instant_implausible", nil)
	}
	faults, _ := c.Done()
	b.faults = append(b.faults, faults...)
}
