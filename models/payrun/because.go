package payrun

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Because is a record that came between two drafts and bears on a worker's week.
type Because struct {
	Kind      BecauseKind
	Date      dated.Date // the workday, or the day from which a rate holds; zero where it is of none
	Operation string     // of a count, of time, of a rate; "" where it names none
	Block     string
	Pieces    *payroll.Pieces // of a count
	Unit      string
	Rate      *payroll.Rate
	Name      string // the hand who turned out to be the worker, the garden of a reading, or the title of a book
	Reason    string // as it was given, "" where none was
	By        string // who recorded it; "" where that stands in the audit trail only
	At        time.Time
}

// BecauseKind says what a record is.
type BecauseKind string

// The records that move pay. Those from [PieceRateGiven] on bear on more than one worker.
const (
	CountAdded      BecauseKind = "count_added"
	CountCorrected  BecauseKind = "count_corrected"
	TimeAdded       BecauseKind = "time_added"
	TimeCorrected   BecauseKind = "time_corrected"
	BreakAdded      BecauseKind = "break_added"
	BreakCorrected  BecauseKind = "break_corrected"
	BreakAnswered   BecauseKind = "break_answered"
	Decided         BecauseKind = "decided"
	WorkerChanged   BecauseKind = "worker_changed"
	HandSettled     BecauseKind = "hand_settled"
	HourlyRateGiven BecauseKind = "hourly_rate"
	SickTaken       BecauseKind = "sick_leave"
	BonusRecorded   BecauseKind = "bonus"
	Reviewed        BecauseKind = "adjustment"

	PieceRateGiven BecauseKind = "piece_rate"
	GeneralRate    BecauseKind = "general_rate"
	HeatRead       BecauseKind = "heat_reading"
	BookEntered    BecauseKind = "local_book"
	GardenChanged  BecauseKind = "garden_changed"
)

// BecauseKinds lists them all.
var BecauseKinds = []BecauseKind{CountAdded, CountCorrected, TimeAdded, TimeCorrected, BreakAdded, BreakCorrected, BreakAnswered, Decided, WorkerChanged, HandSettled, HourlyRateGiven,
	SickTaken, BonusRecorded, Reviewed, PieceRateGiven, GeneralRate, HeatRead, BookEntered, GardenChanged}

// between are the records of some workers that came between two drafts. Each part yields the same columns; a correction is found by its own worker and day, and by those
// of what it corrects.
const between = `
	SELECT n.worker_id, n.id, CASE WHEN n.reason <> '' THEN 'count_corrected' ELSE 'count_added' END AS kind, n.workday AS date, n.operation_id, n.block_id, n.pieces, n.reason, n.recorded_by, n.received_at AS at
		FROM tallies n WHERE n.employer_id = @employer AND n.worker_id IN @hands AND n.workday BETWEEN @first AND @last AND n.received_at > @from AND n.received_at <= @to
	UNION SELECT o.worker_id, n.id, CASE WHEN n.reason <> '' THEN 'count_corrected' ELSE 'count_added' END, n.workday, n.operation_id, n.block_id, n.pieces, n.reason, n.recorded_by, n.received_at
		FROM tallies o JOIN tallies n ON n.employer_id = o.employer_id AND n.id = o.superseded_by
		WHERE o.employer_id = @employer AND n.employer_id = @employer AND o.worker_id IN @hands AND o.workday BETWEEN @first AND @last AND o.superseded_by IS NOT NULL AND n.received_at > @from AND n.received_at <= @to
	UNION SELECT n.worker_id, n.id, CASE WHEN n.reason <> '' THEN 'time_corrected' ELSE 'time_added' END, n.workday, n.operation_id, n.block_id, NULL, n.reason, n.recorded_by, n.received_at
		FROM time_entries n WHERE n.employer_id = @employer AND n.worker_id IN @hands AND n.workday BETWEEN @before AND @last AND n.received_at > @from AND n.received_at <= @to
	UNION SELECT o.worker_id, n.id, CASE WHEN n.reason <> '' THEN 'time_corrected' ELSE 'time_added' END, n.workday, n.operation_id, n.block_id, NULL, n.reason, n.recorded_by, n.received_at
		FROM time_entries o JOIN time_entries n ON n.employer_id = o.employer_id AND n.id = o.superseded_by
		WHERE o.employer_id = @employer AND n.employer_id = @employer AND o.worker_id IN @hands AND o.workday BETWEEN @before AND @last AND o.superseded_by IS NOT NULL AND n.received_at > @from AND n.received_at <= @to
	UNION SELECT n.worker_id, n.id, CASE WHEN n.reason <> '' THEN 'break_corrected' ELSE 'break_added' END, n.workday, NULL, NULL, NULL, n.reason, n.recorded_by, n.received_at
		FROM break_records n WHERE n.employer_id = @employer AND n.worker_id IN @hands AND n.workday BETWEEN @first AND @last AND n.received_at > @from AND n.received_at <= @to
	UNION SELECT o.worker_id, n.id, CASE WHEN n.reason <> '' THEN 'break_corrected' ELSE 'break_added' END, n.workday, NULL, NULL, NULL, n.reason, n.recorded_by, n.received_at
		FROM break_records o JOIN break_records n ON n.employer_id = o.employer_id AND n.id = o.superseded_by
		WHERE o.employer_id = @employer AND n.employer_id = @employer AND o.worker_id IN @hands AND o.workday BETWEEN @first AND @last AND o.superseded_by IS NOT NULL AND n.received_at > @from AND n.received_at <= @to
	UNION SELECT n.worker_id, n.id, 'sick_leave', n.workday, NULL, NULL, NULL, n.reason, n.recorded_by, n.received_at
		FROM sick_uses n WHERE n.employer_id = @employer AND n.worker_id IN @hands AND n.workday BETWEEN @first AND @last AND n.received_at > @from AND n.received_at <= @to
	UNION SELECT o.worker_id, n.id, 'sick_leave', n.workday, NULL, NULL, NULL, n.reason, n.recorded_by, n.received_at
		FROM sick_uses o JOIN sick_uses n ON n.employer_id = o.employer_id AND n.id = o.superseded_by
		WHERE o.employer_id = @employer AND n.employer_id = @employer AND o.worker_id IN @hands AND o.workday BETWEEN @first AND @last AND o.superseded_by IS NOT NULL AND n.received_at > @from AND n.received_at <= @to
	UNION SELECT b.worker_id, a.id, 'break_answered', b.workday, NULL, NULL, NULL, a.note, a.answered_by, a.answered_at
		FROM answered_breaks b JOIN break_answers a ON a.employer_id = b.employer_id AND a.id = b.answer_id
		WHERE b.employer_id = @employer AND a.employer_id = @employer AND b.worker_id IN @hands AND b.workday BETWEEN @first AND @last AND a.answered_at > @from AND a.answered_at <= @to
	UNION SELECT r.worker_id, r.id, 'hourly_rate', r.effective_on, NULL, NULL, NULL, r.reason, r.recorded_by, r.received_at
		FROM hourly_rates r WHERE r.employer_id = @employer AND r.worker_id IN @hands AND r.effective_on <= @last AND r.received_at > @from AND r.received_at <= @to
	UNION SELECT b.worker_id, b.id, 'bonus', NULL, NULL, NULL, NULL, b.what_for, b.recorded_by, b.received_at
		FROM bonuses b WHERE b.employer_id = @employer AND b.worker_id IN @hands AND b.pay_week = @first AND b.received_at > @from AND b.received_at <= @to
	UNION SELECT j.worker_id, j.id, 'adjustment', j.for_week, NULL, NULL, NULL, j.reason, j.decided_by, j.decided_at
		FROM adjustments j WHERE j.employer_id = @employer AND j.worker_id IN @hands AND j.decided_at > @from AND j.decided_at <= @to
	UNION SELECT t.worker_id, r.id, 'piece_rate', r.effective_on, r.operation_id, r.block_id, NULL, r.reason, r.recorded_by, r.received_at
		FROM piece_rates r JOIN tallies t ON t.employer_id = r.employer_id AND t.operation_id = r.operation_id JOIN blocks b ON b.employer_id = t.employer_id AND b.id = t.block_id
		WHERE r.employer_id = @employer AND t.employer_id = @employer AND t.worker_id IN @hands AND t.workday BETWEEN @first AND @last AND t.workday >= r.effective_on
			AND (r.block_id = t.block_id OR r.block_id IS NULL AND (r.variety = '' OR r.variety = b.variety)) AND r.received_at > @from AND r.received_at <= @to`

// findBecause finds the records that came between two drafts, for the workers of whom something moved.
func findBecause(tx *models.Tx, run *Run, of map[uuid.UUID]*Moved) error {
	if run.EarlierDraftAt == nil || len(of) == 0 {
		return nil
	}
	workers := make([]uuid.UUID, 0, len(of))
	for id := range of {
		workers = append(workers, id)
	}
	people, err := handsOf(tx, workers)
	if err != nil {
		return err
	}
	settled, hands := map[uuid.UUID]*Moved{}, make([]uuid.UUID, 0, len(people))
	for i := range people {
		p := &people[i]
		hands = append(hands, p.ID)
		settled[p.ID] = of[p.ID]
		if p.Content.SameAs != nil {
			settled[p.ID] = of[*p.Content.SameAs]
		}
		settled[p.ID].changed(p, run)
	}
	var rows []struct {
		WorkerID   uuid.UUID
		Kind       BecauseKind
		Date       models.Date
		Pieces     *payroll.Pieces
		Reason, By string
		At         time.Time
		Operation  string
		Unit       string
		Block      string
		Rate       *payroll.Rate
	}
	err = tx.DB().Raw(`SELECT r.worker_id, r.kind, r.date, r.pieces, r.reason, a.name AS by, r.at, coalesce(o.code, '') AS operation, coalesce(o.unit, '') AS unit,
			coalesce(b.code, '') AS block, coalesce(p.rate, h.rate) AS rate
		FROM (`+between+`) r JOIN accounts a ON a.employer_id = @employer AND a.id = r.recorded_by
		LEFT JOIN operations o ON o.employer_id = @employer AND o.id = r.operation_id
		LEFT JOIN blocks b ON b.employer_id = @employer AND b.id = r.block_id
		LEFT JOIN piece_rates p ON p.employer_id = @employer AND p.id = r.id
		LEFT JOIN hourly_rates h ON h.employer_id = @employer AND h.id = r.id
		ORDER BY r.at, r.id`, with(run.window(hands), "employer", tx.Employer)).Scan(&rows).Error
	if err != nil {
		return err
	}
	for _, r := range rows {
		m := settled[r.WorkerID]
		m.Because = append(m.Because, Because{Kind: r.Kind, Date: r.Date.Date, Operation: r.Operation, Unit: r.Unit, Block: r.Block, Pieces: r.Pieces, Rate: r.Rate,
			Reason: r.Reason, By: r.By, At: r.At})
	}
	if err := decidedBetween(tx, run, of); err != nil {
		return err
	}
	for _, m := range of {
		slices.SortStableFunc(m.Because, func(a, b Because) int { return a.At.Compare(b.At) })
		m.Because = slices.CompactFunc(m.Because, func(a, b Because) bool { return sameBecause(&a, &b) })
	}
	return nil
}

// sameBecause tells whether two say the same to whoever reads them, as the records of a sheet that came at once may.
func sameBecause(a, b *Because) bool {
	return a.Kind == b.Kind && a.Date == b.Date && a.Operation == b.Operation && a.Block == b.Block && a.Reason == b.Reason && a.By == b.By && a.At.Equal(b.At) &&
		(a.Pieces == nil) == (b.Pieces == nil) && (a.Pieces == nil || *a.Pieces == *b.Pieces)
}

// window are the terms of what came between two drafts of a run.
func (r *Run) window(hands []uuid.UUID) map[string]any {
	return map[string]any{"hands": hands, "from": *r.EarlierDraftAt, "to": r.DraftedAt, "before": models.Day(r.WeekStart.AddDays(-1)), "first": r.WeekStart, "last": models.Day(r.WeekStart.AddDays(6))}
}

// changed notes that a worker's own record, or that of a hand who turned out to be the worker, was changed between the drafts.
func (m *Moved) changed(p *models.Worker, run *Run) {
	if !p.UpdatedAt.After(*run.EarlierDraftAt) || p.UpdatedAt.After(run.DraftedAt) {
		return
	}
	b := Because{Kind: WorkerChanged, At: p.UpdatedAt}
	if p.ID != m.WorkerID {
		b.Kind, b.Name = HandSettled, p.Content.Name
	}
	m.Because = append(m.Because, b)
}

// decidedBetween adds what was decided about problems of the week that had to be decided before anything was paid.
func decidedBetween(tx *models.Tx, run *Run, of map[uuid.UUID]*Moved) error {
	var rows []struct {
		Subject, Decision, By string
		DecidedAt             time.Time
	}
	err := tx.DB().Raw(`SELECT d.subject, d.decision, a.name AS by, d.decided_at FROM problem_decisions d JOIN accounts a ON a.employer_id = d.employer_id AND a.id = d.decided_by
		WHERE d.employer_id = @employer AND d.week_start = @first AND d.decided_at > @from AND d.decided_at <= @to AND d.subject LIKE @about`,
		with(run.window(nil), "employer", tx.Employer, "about", "%|"+twoRulebooks+"|%")).Scan(&rows).Error
	for _, r := range rows {
		worker, _, _ := strings.Cut(r.Subject, "|")
		id, err := uuid.Parse(worker)
		if err != nil {
			return err
		}
		if m := of[id]; m != nil {
			m.Because = append(m.Because, Because{Kind: Decided, Reason: r.Decision, By: r.By, At: r.DecidedAt})
		}
	}
	return err
}

func with(terms map[string]any, pairs ...any) map[string]any {
	for i := 0; i < len(pairs); i += 2 {
		terms[pairs[i].(string)] = pairs[i+1]
	}
	return terms
}

// ForEverybody are the records that came between two drafts and may bear on anybody's week: hourly rates without a worker, readings of the heat, local books, gardens.
func ForEverybody(tx *models.Tx, run *Run) ([]Because, error) {
	if run.EarlierDraftAt == nil {
		return nil, nil
	}
	var rows []struct {
		Kind             BecauseKind
		Date             models.Date
		Rate             *payroll.Rate
		Name, Reason, By string
		At               time.Time
	}
	err := tx.DB().Raw(`SELECT 'general_rate' AS kind, r.effective_on AS date, r.rate, '' AS name, r.reason, a.name AS by, r.received_at AS at
			FROM hourly_rates r JOIN accounts a ON a.employer_id = r.employer_id AND a.id = r.recorded_by
			WHERE r.employer_id = @employer AND a.employer_id = @employer AND r.worker_id IS NULL AND r.effective_on <= @last AND r.received_at > @from AND r.received_at <= @to
		UNION ALL SELECT 'local_book', NULL, NULL, b.title, b.reason, a.name, b.received_at
			FROM local_books b JOIN accounts a ON a.employer_id = b.employer_id AND a.id = b.recorded_by
			WHERE b.employer_id = @employer AND a.employer_id = @employer AND b.received_at > @from AND b.received_at <= @to
		UNION ALL SELECT 'heat_reading', NULL, NULL, g.name, '', a.name, max(h.received_at)
			FROM heat_readings h JOIN gardens g ON g.employer_id = h.employer_id AND g.id = h.garden_id JOIN accounts a ON a.employer_id = h.employer_id AND a.id = h.recorded_by
			WHERE h.employer_id = @employer AND g.employer_id = @employer AND a.employer_id = @employer AND h.received_at > @from AND h.received_at <= @to GROUP BY g.name, a.name
		UNION ALL SELECT 'garden_changed', NULL, NULL, g.name, '', '', g.updated_at
			FROM gardens g WHERE g.employer_id = @employer AND g.updated_at > @from AND g.updated_at <= @to`, with(run.window(nil), "employer", tx.Employer)).Scan(&rows).Error
	all := make([]Because, len(rows))
	for i, r := range rows {
		all[i] = Because{Kind: r.Kind, Date: r.Date.Date, Rate: r.Rate, Name: r.Name, Reason: r.Reason, By: r.By, At: r.At}
	}
	slices.SortStableFunc(all, func(a, b Because) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Name, b.Name)) })
	return all, err
}
