package payrun

import (
	"encoding/json"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/localbooks"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// contracts are some workers' contracts that guarantee hours: those that the week falls in, and those that its statement settles.
type contracts struct {
	of   map[uuid.UUID][]*contractRecords
	bare bool // without what is for other weeks
}

// contractRecords are a contract with what was offered, and, where it is to be settled, what was worked and earned in it through a day.
type contractRecords struct {
	models.Contract
	days    map[dated.Date]models.ContractDayContent
	worked  map[dated.Date]payroll.Minutes
	paid    map[dated.Date]bool // weeks, by first day, with an approved statement
	earned  payroll.Cents       // by the piece, in those weeks
	pieces  payroll.Minutes
	through dated.Date
}

func (r *records) findContracts(b *models.Batch, sel selection, workers []uuid.UUID) {
	r.contracts = contracts{of: map[uuid.UUID][]*contractRecords{}, bare: sel.bare}
	const inWeek = "(first_day <= ? AND last_day >= ? OR settle_week = ?)"
	var rows []models.Contract
	b.Find(b.DB().Scopes(b.Among("worker_id", workers)).Where(inWeek, sel.last(), sel.first(), sel.first()).Order("number"), &rows)
	var days []models.ContractDay
	b.Find(b.DB().Where(`superseded_by IS NULL AND contract_id IN (SELECT id FROM contracts c WHERE c.employer_id = ? AND c.worker_id IN ? AND `+inWeek+`)`,
		b.Employer, workers, sel.last(), sel.first(), sel.first()), &days)
	b.Then(func() error {
		offered := byContract(days)
		for i := range rows {
			c := &contractRecords{Contract: rows[i], through: rows[i].Content.LastDay.Date, days: offered[rows[i].ID]}
			if c.Content.SettleWeek == sel.first() {
				if err := c.readWork(b.Tx, sel.weekStart); err != nil {
					return err
				}
			}
			r.contracts.of[c.Content.WorkerID] = append(r.contracts.of[c.Content.WorkerID], c)
		}
		return nil
	})
}

// byContract sorts what was offered by contract and day.
func byContract(rows []models.ContractDay) map[uuid.UUID]map[dated.Date]models.ContractDayContent {
	days := map[uuid.UUID]map[dated.Date]models.ContractDayContent{}
	for i := range rows {
		d := &rows[i].Content
		if days[d.ContractID] == nil {
			days[d.ContractID] = map[dated.Date]models.ContractDayContent{}
		}
		days[d.ContractID][d.Workday.Date] = *d
	}
	return days
}

// readDays reads what was offered.
func (c *contractRecords) readDays(tx *models.Tx) error {
	var rows []models.ContractDay
	err := tx.DB().Where("contract_id = ? AND superseded_by IS NULL", c.ID).Find(&rows).Error
	c.days = byContract(rows)[c.ID]
	return err
}

// readAll reads the whole contract through its day: one worker's, at most a contract long.
func (c *contractRecords) readAll(tx *models.Tx, weekStart dated.Date) error {
	if err := c.readDays(tx); err != nil {
		return err
	}
	return c.readWork(tx, weekStart)
}

// readWork reads what was worked and earned in the contract through its day.
func (c *contractRecords) readWork(tx *models.Tx, weekStart dated.Date) error {
	k := c.Content
	times, err := models.OfWorkers[models.TimeEntryContent](tx, []uuid.UUID{k.WorkerID}, k.FirstDay, models.Day(c.through))
	if err != nil {
		return err
	}
	c.worked, c.paid = map[dated.Date]payroll.Minutes{}, map[dated.Date]bool{}
	for i := range times {
		t := &times[i].Content
		switch {
		case t.Kind == payroll.MealPeriod:
		case t.Minutes != nil:
			c.worked[t.Workday.Date] += *t.Minutes
		case t.EndedAt != nil:
			c.worked[t.Workday.Date] += payroll.Minutes(t.EndedAt.Sub(*t.StartedAt).Minutes())
		}
	}
	var rows []struct {
		WeekStart models.Date
		Figures   models.Document
	}
	err = tx.DB().Raw(`SELECT s.week_start, s.figures FROM statements s JOIN pay_runs p ON p.employer_id = s.employer_id AND p.id = s.run_id
		WHERE s.employer_id = ? AND s.worker_id = ? AND s.week_start BETWEEN ? AND ? AND s.voided_at IS NULL AND p.state <> 'draft' AND p.kind <> 'correction'`,
		tx.Employer, k.WorkerID, models.Day(models.WeekOf(k.FirstDay.Date, weekStart.Weekday())), models.Day(c.through)).Scan(&rows).Error
	for _, row := range rows {
		var s payroll.Statement
		if err := json.Unmarshal(row.Figures, &s); err != nil {
			return err
		}
		c.paid[row.WeekStart.Date] = true
		c.addPieces(&s)
	}
	return err
}

// addPieces adds what a week earned by the piece, and how long that took.
func (c *contractRecords) addPieces(s *payroll.Statement) {
	for _, l := range s.Lines {
		if l.Code == payroll.PieceLine || l.Code == payroll.SharedPieceLine {
			c.earned += l.Amount
		}
	}
	c.pieces += s.Minutes.Piece
}

// hours are the contract's hours through the day, for the guarantee. What was worked was offered.
func (c *contractRecords) hours() *payroll.ContractHours {
	k := c.Content
	h := &payroll.ContractHours{DayMinutes: k.DayMinutes, RequiredRate: k.OfferedRate, PieceEarned: c.earned, PieceTime: c.pieces}
	for day := k.FirstDay.Date; !day.After(c.through); day = day.AddDays(1) {
		record := c.days[day]
		if k.WorksOn(day) {
			h.Workdays++
			if record.Kind == models.HolidayDay {
				h.Holiday += k.DayMinutes
			}
		}
		if offered := max(record.OfferedMinutes, c.worked[day]); offered > 0 {
			h.Days = append(h.Days, payroll.ContractDay{Date: day, Offered: offered, Worked: c.worked[day]})
		}
	}
	return h
}

// addContracts puts the offered rate on the days of a contract, and sees that a week which settles one is there.
func (r *records) addContracts(of func(uuid.UUID) *workerWeek, weekStart dated.Date) {
	for id, all := range r.contracts.of {
		for _, c := range all {
			if c.Content.SettleWeek.Date == weekStart {
				of(id)
			}
			for day, d := range of(id).days {
				if rate := c.Content.OfferedRate; !day.Before(c.Content.FirstDay.Date) && !day.After(c.Content.LastDay.Date) && (d.OfferedRate == nil || *d.OfferedRate < rate) {
					d.OfferedRate = &rate
				}
			}
		}
	}
}

// settles tells whether the worker's statement of the week pays what a contract guaranteed.
func (r *records) settles(w *workerWeek) bool {
	for _, c := range r.contracts.of[w.worker.ID] {
		if c.Content.SettleWeek.Date == w.week.WeekStart {
			return true
		}
	}
	return false
}

// payGuarantees owes what contracts that end guaranteed and did not offer (20 CFR 655.122(i)). All weeks of work in them must be paid, but for this one.
func (w *workerWeek) payGuarantees(r *records, book *governing) {
	if r.contracts.bare {
		return
	}
	for _, kept := range r.contracts.of[w.worker.ID] {
		if kept.Content.SettleWeek.Date != w.week.WeekStart {
			continue
		}
		c := *kept
		for day := range c.worked {
			if start := models.WeekOf(day, w.week.WeekStart.Weekday()); start != w.week.WeekStart && !c.paid[start] {
				w.problem(Problem{Kind: Holds, Code: "pay_problem.contract_week_open", Date: start, Subject: c.ID.String(), Terms: payroll.Terms{"job_order": c.Content.JobOrder, "week": start}})
				return
			}
		}
		own := w.week
		own.Adjustments = nil
		if s, faults := payroll.Reckon(r.books.Library, &own); len(faults) == 0 && !w.week.WeekStart.After(c.Content.LastDay.Date) && !c.paid[w.week.WeekStart] {
			c.addPieces(s)
		}
		g, faults := c.hours().Guarantee(book.GuaranteedShare(c.Content.LastDay.Date))
		for _, f := range faults {
			w.problem(Problem{Kind: Holds, Code: f.Key, Terms: f.Terms, Subject: c.ID.String() + f.Pointer})
		}
		if len(faults) == 0 && g.Pay > 0 {
			w.week.Adjustments = append(w.week.Adjustments, payroll.Adjustment{ForWeek: w.week.WeekStart, Amount: g.Pay, Reason: c.Content.JobOrder,
				Authority: book.Authority("hours_guarantee", string(w.week.Coverage)), Guarantee: &payroll.HoursGuaranteed{Guaranteed: g.Guaranteed, Counted: g.Counted, Rate: g.Rate}})
		}
	}
}

// offeredHours is what contracts offered in the week; nil outside of every contract.
func (r *records) offeredHours(w *workerWeek) *payroll.Minutes {
	var sum payroll.Minutes
	under := false
	for _, c := range r.contracts.of[w.worker.ID] {
		for n := range 7 {
			day := w.week.WeekStart.AddDays(n)
			if day.Before(c.Content.FirstDay.Date) || day.After(c.Content.LastDay.Date) {
				continue
			}
			under = true
			sum += max(c.days[day].OfferedMinutes, w.workedOn(day))
		}
	}
	if !under {
		return nil
	}
	return &sum
}

// workedOn is the time worked on a day of the week, meal periods left out.
func (w *workerWeek) workedOn(day dated.Date) (sum payroll.Minutes) {
	for i := range w.details {
		if d := &w.details[i]; d.Date == day && isWorked(d) {
			sum += *d.Minutes
		}
	}
	return sum
}

// ContractStanding is how a contract's guarantee stands on a day, by the records and the approved statements.
type ContractStanding struct {
	ContractID uuid.UUID       `json:"contract_id"`
	Through    models.Date     `json:"through"`
	Over       bool            `json:"over"` // whether that is the contract's last day
	Workdays   int             `json:"workdays"`
	Holiday    payroll.Minutes `json:"holiday_minutes"`
	Guaranteed payroll.Minutes `json:"guaranteed_minutes"`
	Offered    payroll.Minutes `json:"offered_minutes"`
	Worked     payroll.Minutes `json:"worked_minutes"`
	Counted    payroll.Minutes `json:"counted_minutes"`
	Shortfall  payroll.Minutes `json:"shortfall_minutes"`
	Rate       payroll.Rate    `json:"rate"`
	Pay        payroll.Cents   `json:"pay"`
}

// StandingOfContract reckons how a contract stands on a day, or on its last where that is earlier.
func StandingOfContract(tx *models.Tx, books *rulebook.Library, id uuid.UUID, on dated.Date) (*ContractStanding, error) {
	kept, err := models.Get[models.ContractContent](tx, id)
	if err != nil {
		return nil, err
	}
	profile, err := tx.Profile()
	if err != nil {
		return nil, err
	}
	c := &contractRecords{Contract: *kept, through: kept.Content.LastDay.Date}
	if on.Before(c.through) {
		c.through = on
	}
	if err := c.readAll(tx, models.WeekOf(on, profile.Content.WeekStart)); err != nil {
		return nil, err
	}
	garden, err := lastGarden(tx, kept.Content.WorkerID)
	if err != nil {
		return nil, err
	}
	g, err := models.Get[models.GardenContent](tx, garden)
	if err != nil {
		return nil, err
	}
	law, err := localbooks.Of(tx, books)
	if err != nil {
		return nil, err
	}
	book, ok := bookOf(law, law.For(garden, g.Content.Rulebook, kept.Content.WorkerID)[0])
	if !ok {
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.unknown_rulebook", Terms: payroll.Terms{"rulebook": g.Content.Rulebook}}
	}
	hours := c.hours()
	share, faults := hours.Guarantee(book.GuaranteedShare(c.through))
	if err := models.Faulty(faults); err != nil {
		return nil, err
	}
	return &ContractStanding{ContractID: id, Through: models.Day(c.through), Over: c.through == kept.Content.LastDay.Date, Workdays: hours.Workdays, Holiday: hours.Holiday, Guaranteed: share.Guaranteed,
		Offered: share.Offered, Worked: share.Worked, Counted: share.Counted, Shortfall: share.Shortfall, Rate: share.Rate, Pay: share.Pay}, nil
}
