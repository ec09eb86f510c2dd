package payrun

import (
	"encoding/json"
	"maps"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// bonuses are what some workers are paid this week for what they earned over one or several.
type bonuses struct {
	of     map[uuid.UUID][]models.BonusContent        // by worker, in the order in which they were recorded
	frozen map[uuid.UUID]map[dated.Date]*payroll.Week // by worker and first day, the weeks of those bonuses as they were paid
	open   map[uuid.UUID][]dated.Date                 // by worker, weeks of those bonuses with work that is not paid yet
	first  dated.Date                                 // of the week that pays
	bare   bool                                       // without what is for other weeks
}

// bonusWorkers selects who is paid a bonus by a week's statement: the worker named, or each who belonged to the crew on one of the days.
const bonusWorkers = `SELECT b.worker_id FROM bonuses b WHERE b.employer_id = @employer AND b.pay_week = @first AND b.superseded_by IS NULL AND b.amount > 0 AND b.worker_id IS NOT NULL
	UNION SELECT m.worker_id FROM bonuses b JOIN crew_members m ON m.employer_id = b.employer_id AND m.crew_id = b.crew_id
		AND m.from_date <= b.earned_through AND (m.through_date IS NULL OR m.through_date >= b.earned_from)
		WHERE b.employer_id = @employer AND b.pay_week = @first AND b.superseded_by IS NULL AND b.amount > 0`

// findBonuses reads them with the weeks that they were earned in.
func (r *records) findBonuses(b *models.Batch, sel selection, workers []uuid.UUID) {
	r.bonuses = bonuses{of: map[uuid.UUID][]models.BonusContent{}, frozen: map[uuid.UUID]map[dated.Date]*payroll.Week{}, open: map[uuid.UUID][]dated.Date{},
		first: sel.weekStart, bare: sel.bare}
	var rows []struct {
		Bonus    models.BonusContent `gorm:"embedded"`
		Receiver uuid.UUID
	}
	b.Find(b.DB().Raw(`SELECT b.*, coalesce(b.worker_id, m.worker_id) AS receiver FROM bonuses b LEFT JOIN (
			SELECT DISTINCT x.id, c.worker_id FROM bonuses x JOIN crew_members c ON c.employer_id = x.employer_id AND c.crew_id = x.crew_id
			AND c.from_date <= x.earned_through AND (c.through_date IS NULL OR c.through_date >= x.earned_from) WHERE x.employer_id = @employer AND x.pay_week = @first) m ON m.id = b.id
		WHERE b.employer_id = @employer AND b.pay_week = @first AND b.superseded_by IS NULL AND b.amount > 0 ORDER BY b.seq`,
		map[string]any{"employer": b.Employer, "first": sel.first()}), &rows)
	b.Then(func() error {
		mine := make(map[uuid.UUID]bool, len(workers))
		for _, id := range workers {
			mine[id] = true
		}
		from := sel.weekStart
		for _, row := range rows {
			id := r.settled(row.Receiver)
			if !mine[id] {
				continue
			}
			r.bonuses.of[id] = append(r.bonuses.of[id], row.Bonus)
			if first := models.WeekOf(row.Bonus.EarnedFrom.Date, sel.weekStart.Weekday()); first.Before(from) {
				from = first
			}
		}
		if from == sel.weekStart {
			return nil
		}
		return r.findWeeksPaid(b.Tx, slices.Collect(maps.Keys(r.bonuses.of)), from)
	})
}

// findWeeksPaid reads the weeks from a day on up to the one that pays: as approved statements were made of them, and those with work and without such a statement.
func (r *records) findWeeksPaid(tx *models.Tx, workers []uuid.UUID, from dated.Date) error {
	first := r.bonuses.first
	var rows []struct {
		WorkerID uuid.UUID
		Week     models.Document
	}
	err := tx.DB().Raw(`SELECT s.worker_id, s.week FROM statements s JOIN pay_runs p ON p.employer_id = s.employer_id AND p.id = s.run_id
		WHERE s.employer_id = ? AND s.worker_id IN ? AND s.week_start >= ? AND s.week_start < ? AND s.voided_at IS NULL AND p.state <> 'draft' AND p.kind <> 'correction' ORDER BY s.seq`,
		tx.Employer, workers, models.Day(from), models.Day(first)).Scan(&rows).Error
	if err != nil {
		return err
	}
	for _, row := range rows {
		var week payroll.Week
		if err := json.Unmarshal(row.Week, &week); err != nil {
			return err
		}
		week.Adjustments = nil
		if r.bonuses.frozen[row.WorkerID] == nil {
			r.bonuses.frozen[row.WorkerID] = map[dated.Date]*payroll.Week{}
		}
		r.bonuses.frozen[row.WorkerID][week.WeekStart] = &week
	}
	worked, err := models.OfWorkers[models.TimeEntryContent](tx, workers, models.Day(from), models.Day(first.AddDays(-1)))
	for i := range worked {
		id := worked[i].Content.WorkerID
		start := models.WeekOf(worked[i].Content.Workday.Date, first.Weekday())
		if r.bonuses.frozen[id][start] == nil && !slices.Contains(r.bonuses.open[id], start) {
			r.bonuses.open[id] = append(r.bonuses.open[id], start)
		}
	}
	return err
}

// payBonuses pays what the week's statement owes in bonuses. One that is discretionary stands by itself. Any other is spread back over the weeks in which it was earned: the
// week's own share is earned in it, those of other weeks are owed for these, with what they come to more in overtime and other pay.
func (w *workerWeek) payBonuses(r *records, book *governing) {
	w.week.Bonuses = nil
	all := r.bonuses.of[w.worker.ID]
	if len(all) == 0 {
		return
	}
	weeks := map[dated.Date]*payroll.Week{}
	for start, week := range r.bonuses.frozen[w.worker.ID] {
		as := *week
		as.Rulebook = r.books.Current(as.Rulebook)
		weeks[start] = &as
	}
	own := w.week
	own.Adjustments, own.Bonuses = nil, nil
	weeks[own.WeekStart] = &own
	for i := range all {
		w.payBonus(r, book, &all[i], weeks)
	}
}

func (w *workerWeek) payBonus(r *records, book *governing, b *models.BonusContent, weeks map[dated.Date]*payroll.Week) {
	if b.Discretionary() {
		w.oweFor(r, payroll.Adjustment{ForWeek: w.week.WeekStart, Amount: b.Amount, Reason: b.WhatFor, Authority: book.Authority("discretionary_bonus", string(w.week.Coverage))})
		return
	}
	var span []*payroll.Week
	last := models.WeekOf(b.EarnedThrough.Date, w.week.WeekStart.Weekday())
	for start := models.WeekOf(b.EarnedFrom.Date, w.week.WeekStart.Weekday()); !start.After(last); start = start.AddDays(7) {
		if slices.Contains(r.bonuses.open[w.worker.ID], start) {
			w.problem(Problem{Kind: Holds, Code: "pay_problem.bonus_week_open", Date: start, Subject: "bonus", Terms: payroll.Terms{"what": b.WhatFor, "week": start}})
			return
		}
		if week := weeks[start]; week != nil {
			span = append(span, week)
		}
	}
	shares, faults := payroll.SpreadBonus(r.books.Library, payroll.Bonus{Kind: b.Kind, Amount: b.Amount}, span)
	for _, f := range faults {
		w.problem(Problem{Kind: Holds, Code: f.Key, Terms: f.Terms, Subject: "bonus " + b.WhatFor + f.Pointer})
	}
	for i, s := range shares {
		part := payroll.Bonus{Kind: b.Kind, Amount: s.Share}
		span[i].Bonuses = append(slices.Clone(span[i].Bonuses), part) // what the next bonus finds
		switch {
		case s.Share+s.More == 0:
		case s.Week == w.week.WeekStart:
			w.week.Bonuses = append(w.week.Bonuses, part)
		default:
			w.oweFor(r, s.Adjustment(b.WhatFor))
		}
	}
}

// oweFor adds what is not of this week, unless the week is looked at by itself.
func (w *workerWeek) oweFor(r *records, a payroll.Adjustment) {
	if !r.bonuses.bare {
		w.week.Adjustments = append(w.week.Adjustments, a)
	}
}

// RecordBonus records a bonus, on its own or in place of one that no approved statement pays yet. The week that pays it must not be paid.
func RecordBonus(tx *models.Tx, id uuid.UUID, c models.BonusContent, how models.Recording) (*models.Bonus, bool, error) {
	b, repeated, err := models.Record(tx, id, c, how)
	if err != nil || repeated {
		return b, repeated, err
	}
	if how.Supersedes != nil {
		var old models.Bonus
		if err := tx.DB().Where("id = ?", *how.Supersedes).Take(&old).Error; err != nil {
			return nil, false, err
		}
		if err := notPaid(tx, &old, "/supersedes"); err != nil {
			return nil, false, err
		}
	}
	return b, false, notPaid(tx, b, "/pay_week")
}

// notPaid wants no approved statement of a receiver's in the week that pays a bonus.
func notPaid(tx *models.Tx, b *models.Bonus, at string) error {
	var paid int64
	err := tx.DB().Raw(`SELECT count(*) FROM statements s JOIN pay_runs p ON p.employer_id = s.employer_id AND p.id = s.run_id
		WHERE s.employer_id = @employer AND s.week_start = @week AND s.voided_at IS NULL AND p.state <> 'draft' AND p.kind <> 'correction' AND (s.worker_id = @worker
			OR s.worker_id IN (SELECT m.worker_id FROM crew_members m WHERE m.employer_id = @employer AND m.crew_id = @crew AND m.from_date <= @through
				AND (m.through_date IS NULL OR m.through_date >= @from)))`,
		map[string]any{"employer": tx.Employer, "week": b.Content.PayWeek, "worker": b.Content.WorkerID, "crew": b.Content.CrewID, "from": b.Content.EarnedFrom, "through": b.Content.EarnedThrough}).Scan(&paid).Error
	if err == nil && paid > 0 {
		err = models.FaultAt(at, "fault.bonus_week_paid", payroll.Terms{"week": b.Content.PayWeek.Date})
	}
	return err
}
