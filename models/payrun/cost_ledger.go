package payrun

import (
	"cmp"
	"encoding/json"
	"slices"

	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// costEntry is an entry of the ledger of labor cost: what an approved run cost in a block at an operation. Entries are only ever added; what is void
// or withdrawn is entered once more, taken away. So a season is summed from some entries a week, and no statement is opened.
type costEntry struct {
	EmployerID    uuid.UUID `gorm:"primaryKey"`
	RunID         uuid.UUID `gorm:"primaryKey"`
	EntryNo       int64     `gorm:"primaryKey"`
	WeekStart     models.Date
	Garden        string // "" in entries from before gardens were told apart
	Block         string
	Operation     string
	WorkedMinutes payroll.Minutes
	StraightTime  payroll.Cents
	Premiums      payroll.Cents
	Other         payroll.Cents
}

// TableName tells gorm the table.
func (costEntry) TableName() string { return "labor_costs" }

// enterCosts enters what a run that has been approved cost.
func enterCosts(tx *models.Tx, run *Run) error {
	costs, err := costsOf(tx, []uuid.UUID{run.ID})
	if err != nil {
		return err
	}
	return addCosts(tx, run, undated(costs), 1)
}

// takeCosts takes away what was entered of a run whose approval is withdrawn.
func takeCosts(tx *models.Tx, run *Run) error {
	var sums []WeekCost
	err := costSums(tx, "run_id = ?", run.ID).Scan(&sums).Error
	if err != nil {
		return err
	}
	costs := make([]Cost, len(sums))
	for i := range sums {
		costs[i] = sums[i].cost()
	}
	return addCosts(tx, run, costs, -1)
}

// takeCostOf takes away what one statement cost. A run from before there was this ledger has no entries, and gets none.
func takeCostOf(tx *models.Tx, run *Run, statement uuid.UUID) error {
	entered, err := lastCostEntry(tx, run.ID)
	if err != nil || entered == 0 {
		return err
	}
	var row StatementRow
	if err := tx.DB().Select("heading", "figures", "detail").Where("id = ?", statement).Take(&row).Error; err != nil {
		return err
	}
	costs, err := row.cost()
	if err != nil {
		return err
	}
	return addCosts(tx, run, undated(costs), -1)
}

// cost is what a statement's labor cost.
func (row *StatementRow) cost() ([]Cost, error) {
	var figures payroll.Statement
	var detail []Detail
	if err := json.Unmarshal(row.Detail, &detail); err != nil {
		return nil, err
	}
	if err := json.Unmarshal(row.Figures, &figures); err != nil {
		return nil, err
	}
	if err := row.placeDetail(detail); err != nil {
		return nil, err
	}
	return LaborCost(&figures, detail), nil
}

// placeDetail names the garden where a statement from before gardens were told apart does not, provided that the work was in one only.
func (row *StatementRow) placeDetail(detail []Detail) error {
	var heading Heading
	if err := json.Unmarshal(row.Heading, &heading); err != nil || len(heading.Gardens) != 1 {
		return err
	}
	for i := range detail {
		detail[i].Garden = cmp.Or(detail[i].Garden, heading.Gardens[0])
	}
	return nil
}

// undated adds costs up over the days.
func undated(costs []Cost) []Cost {
	for i := range costs {
		costs[i].Date = dated.Date{}
	}
	return SumCosts(costs)
}

func lastCostEntry(tx *models.Tx, run uuid.UUID) (last int64, err error) {
	err = tx.DB().Raw("SELECT coalesce(max(entry_no), 0) FROM labor_costs WHERE employer_id = ? AND run_id = ?", tx.Employer, run).Scan(&last).Error
	return last, err
}

// addCosts adds entries to those of a run, each as often as said: 1, or -1 to take them away. The run is held.
func addCosts(tx *models.Tx, run *Run, costs []Cost, times int64) error {
	last, err := lastCostEntry(tx, run.ID)
	if err != nil {
		return err
	}
	var entries []costEntry
	for _, c := range costs {
		if c.Worked == 0 && c.StraightTime == 0 && c.Premiums == 0 && c.Other == 0 {
			continue
		}
		last++
		by := payroll.Cents(times)
		entries = append(entries, costEntry{
			RunID: run.ID, EntryNo: last, WeekStart: run.WeekStart, Garden: c.Garden, Block: c.Block, Operation: c.Operation,
			WorkedMinutes: c.Worked * payroll.Minutes(times), StraightTime: c.StraightTime * by, Premiums: c.Premiums * by, Other: c.Other * by,
		})
	}
	return models.InsertAll(tx, entries)
}

// WeekCost is what labor cost in a week, in one block of a garden and at one operation; what belongs to none has those empty. So has the garden of what was entered before gardens were told apart.
type WeekCost struct {
	WeekStart     models.Date
	Garden        string
	Block         string
	Operation     string
	WorkedMinutes payroll.Minutes
	StraightTime  payroll.Cents
	Premiums      payroll.Cents
	Other         payroll.Cents
}

func (w *WeekCost) cost() Cost {
	return Cost{Garden: w.Garden, Block: w.Block, Operation: w.Operation, Worked: w.WorkedMinutes, StraightTime: w.StraightTime, Premiums: w.Premiums, Other: w.Other, Total: w.Total()}
}

// Total is all of it.
func (w *WeekCost) Total() payroll.Cents { return w.StraightTime + w.Premiums + w.Other }

// costSums sums the entries of a condition by week, garden, block and operation.
func costSums(tx *models.Tx, condition string, args ...any) *gorm.DB {
	return tx.DB().Raw(`SELECT week_start, garden, block, operation, CAST(sum(worked_minutes) AS bigint) AS worked_minutes, CAST(sum(straight_time) AS bigint) AS straight_time,
		CAST(sum(premiums) AS bigint) AS premiums, CAST(sum(other) AS bigint) AS other
		FROM labor_costs WHERE employer_id = ? AND `+condition+` GROUP BY week_start, garden, block, operation ORDER BY week_start, garden, block, operation`, append([]any{tx.Employer}, args...)...)
}

// WeekCosts is what labor cost in the approved runs of the weeks that begin from first through last, in order.
func WeekCosts(tx *models.Tx, first, last dated.Date) ([]WeekCost, error) {
	var sums []WeekCost
	if err := costSums(tx, "week_start BETWEEN ? AND ?", models.Day(first), models.Day(last)).Scan(&sums).Error; err != nil {
		return nil, err
	}
	older, err := costsBeforeLedger(tx, first, last)
	if err != nil {
		return nil, err
	}
	sums = append(slices.DeleteFunc(sums, func(w WeekCost) bool { return w.WorkedMinutes == 0 && w.Total() == 0 }), older...)
	slices.SortStableFunc(sums, func(a, b WeekCost) int {
		return cmp.Or(a.WeekStart.Compare(b.WeekStart.Date), cmp.Compare(a.Garden, b.Garden), cmp.Compare(a.Block, b.Block), cmp.Compare(a.Operation, b.Operation))
	})
	return sums, nil
}

// costsBeforeLedger reads the statements of runs that were approved before there was the ledger.
func costsBeforeLedger(tx *models.Tx, first, last dated.Date) (all []WeekCost, err error) {
	var runs []Run
	err = tx.DB().Where(`week_start BETWEEN ? AND ? AND state <> ? AND NOT EXISTS (SELECT 1 FROM labor_costs c WHERE c.employer_id = pay_runs.employer_id AND c.run_id = pay_runs.id)`,
		models.Day(first), models.Day(last), Draft).Find(&runs).Error
	for _, r := range runs {
		costs, err := costsOf(tx, []uuid.UUID{r.ID})
		if err != nil {
			return nil, err
		}
		for _, c := range undated(costs) {
			all = append(all, WeekCost{r.WeekStart, c.Garden, c.Block, c.Operation, c.Worked, c.StraightTime, c.Premiums, c.Other})
		}
	}
	return all, err
}
