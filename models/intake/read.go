package intake

import (
	"slices"
	"time"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
	"palmero/payroll"
)

// KeptSheet is a sheet with the records that came in on it, those included that a correction has replaced since.
type KeptSheet struct {
	models.CrewSheet
	TimeEntries []models.TimeEntry   `json:"time_entries"`
	Tallies     []models.Tally       `json:"tallies"`
	Lots        []models.Lot         `json:"lots"`
	Breaks      []models.BreakRecord `json:"breaks"`
}

// Sheets lists sheets without their lines. With a lead only those of crews that this worker led on the sheet's day.
func Sheets(tx *models.Tx, p models.Page, lead *uuid.UUID, conditions ...func(*gorm.DB) *gorm.DB) ([]models.CrewSheet, error) {
	return models.List[models.CrewSheet](tx, p, append(conditions, models.LedBy("crew_sheets", lead))...)
}

// ReadSheet reads a sheet with its lines. With a lead it must be one of a crew that this worker led on the sheet's day.
func ReadSheet(tx *models.Tx, id uuid.UUID, lead *uuid.UUID) (*KeptSheet, error) {
	s := KeptSheet{TimeEntries: []models.TimeEntry{}, Tallies: []models.Tally{}, Lots: []models.Lot{}, Breaks: []models.BreakRecord{}}
	if err := tx.DB().Scopes(models.LedBy("crew_sheets", lead)).Where("id = ?", id).Take(&s.CrewSheet).Error; err != nil {
		return nil, err
	}
	for _, lines := range []any{&s.TimeEntries, &s.Tallies, &s.Lots, &s.Breaks} {
		if err := tx.DB().Where("sheet_id = ?", id).Order("seq").Find(lines).Error; err != nil {
			return nil, err
		}
	}
	return &s, nil
}

// OwnTally is a tally as its worker sees it: in words, with who recorded it.
type OwnTally struct {
	ID           uuid.UUID
	Seq          int64
	Workday      models.Date
	Block        string
	Operation    string
	Unit         string
	Pieces       payroll.Pieces // of the lot, where the worker had a part of one
	InLot        bool
	PartMinutes  *payroll.Minutes
	LotMinutes   *payroll.Minutes
	Share        *payroll.Share
	Heads        *int
	RecordedAt   time.Time
	RecordedBy   string // name of the account
	Reason       string // why it took another's place
	SupersededBy *uuid.UUID
}

// WorkerTallies lists a worker's tallies from a day through another, those included that were recorded for a provisional hand who turned out to be
// them, and those that a correction has replaced. They come in the order of arrival, one more than the limit where more follow.
func WorkerTallies(tx *models.Tx, worker uuid.UUID, from, to models.Date, p models.Page) ([]OwnTally, error) {
	var rows []OwnTally
	b := tx.Batch()
	FindWorkerTallies(b, worker, from, to, p, &rows)
	return rows, b.Err()
}

// FindWorkerTallies asks for what WorkerTallies returns.
func FindWorkerTallies(b *models.Batch, worker uuid.UUID, from, to models.Date, p models.Page, into *[]OwnTally) {
	b.Find(b.DB().Raw(`SELECT t.id, t.seq, t.workday, b.code AS block, o.code AS operation, o.unit, coalesce(t.pieces, l.pieces) AS pieces,
			l.id IS NOT NULL AS in_lot, t.part_minutes, t.lot_minutes, t.share, t.heads, t.recorded_at, a.name AS recorded_by, t.reason, t.superseded_by
		FROM tallies t
		JOIN blocks b ON b.employer_id = t.employer_id AND b.id = t.block_id
		JOIN operations o ON o.employer_id = t.employer_id AND o.id = t.operation_id
		JOIN accounts a ON a.employer_id = t.employer_id AND a.id = t.recorded_by
		LEFT JOIN lots l ON l.employer_id = t.employer_id AND l.id = t.lot_id
		WHERE t.employer_id = ? AND t.worker_id IN (SELECT w.id FROM workers w WHERE w.employer_id = ? AND (w.id = ? OR w.same_as = ?))
		  AND t.workday BETWEEN ? AND ? AND t.seq > ?
		ORDER BY t.seq LIMIT ?`, b.Employer, b.Employer, worker, worker, from, to, p.After, p.Limit+1), into)
}

// IDsOf are the identifiers of tallies.
func IDsOf(tallies []OwnTally) []uuid.UUID {
	ids := make([]uuid.UUID, len(tallies))
	for i := range tallies {
		ids[i] = tallies[i].ID
	}
	return ids
}

// OwnChain is the chain of corrections of one of a worker's tallies, oldest first. Where it passed through another worker's hands, that part is left out.
func OwnChain(tx *models.Tx, worker, id uuid.UUID) ([]OwnTally, error) {
	records, err := models.Chain[models.TallyContent](tx, id)
	if err != nil {
		return nil, err
	}
	var own []OwnTally
	for _, record := range records {
		day := record.Content.Workday
		next, err := WorkerTallies(tx, worker, day, day, models.Page{After: record.Seq - 1})
		if err != nil {
			return nil, err
		}
		if len(next) > 0 && next[0].ID == record.ID {
			own = append(own, next[0])
		}
	}
	if !slices.ContainsFunc(own, func(t OwnTally) bool { return t.ID == id }) {
		return nil, &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	return own, nil
}
