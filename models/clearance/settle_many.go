package clearance

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Settlements are the safety officer's one word on many workers' days of work without clearance, such as a crew's day.
type Settlements struct {
	ID      uuid.UUID               `json:"id"`
	Days    []WorkerDay             `json:"days"`
	Finding models.ExceptionFinding `json:"finding"`
	Reason  string                  `json:"reason"`
}

// WorkerDay is a worker's workday.
type WorkerDay struct {
	WorkerID uuid.UUID   `json:"worker_id"`
	Workday  models.Date `json:"workday"`
}

// MostSettled is how many days one word settles.
const MostSettled = 500

// SettleMany records the officer's word on each of the days, all or none, in a handful of statements whatever their number. The first record has the identifier of the command, the others' follow
// from it. The same command again returns what is kept; a day that somebody spoke on already refuses all, and is told by its pointer.
func SettleMany(tx *models.Tx, in Settlements) ([]models.ClearanceException, bool, error) {
	faults, err := in.check(tx)
	if err != nil {
		return nil, false, err
	}
	hash := models.ContentHash([]any{in.sorted(), in.Finding, in.Reason})
	first, err := models.Repeat[models.ClearanceException](tx, in.ID, hash)
	if err != nil {
		return nil, first != nil, err
	}
	if first != nil {
		kept, err := in.kept(tx)
		return kept, true, err
	}
	if err := models.Faulty(faults); err != nil {
		return nil, false, err
	}
	if err := in.open(tx); err != nil {
		return nil, false, err
	}
	rows := make([]models.ClearanceException, len(in.Days))
	for i, d := range in.sorted() {
		rows[i] = models.ClearanceException{Keyed: models.Keyed{ID: in.id(i), ContentHash: hash}, WorkerID: d.WorkerID, Workday: d.Workday, Finding: in.Finding, Reason: in.Reason, SettledAt: tx.Now, SettledBy: tx.Actor}
	}
	if err := models.InsertAll(tx, rows); err != nil {
		return nil, false, err
	}
	return rows, false, tx.Audit(models.Audit{Action: "settle_exceptions", SubjectKind: "clearance_exceptions", SubjectID: in.ID, After: map[string]any{"exceptions": rows}, Reason: in.Reason})
}

// sorted are the days in an order that does not depend on that in which they were sent.
func (in *Settlements) sorted() []WorkerDay {
	days := slices.Clone(in.Days)
	slices.SortFunc(days, func(a, b WorkerDay) int {
		return cmp.Or(a.Workday.Compare(b.Workday.Date), slices.Compare(a.WorkerID[:], b.WorkerID[:]))
	})
	return days
}

// id identifies the record of the nth of the sorted days.
func (in *Settlements) id(n int) uuid.UUID {
	if n == 0 {
		return in.ID
	}
	return uuid.NewSHA1(in.ID, fmt.Appendf(nil, "%d", n))
}

func (in *Settlements) check(tx *models.Tx) ([]payroll.Fault, error) {
	c := models.NewChecker(tx)
	c.OneOf("/finding", string(in.Finding), models.Words(models.ExceptionFindings)...)
	c.Text("/reason", &in.Reason, models.LongText)
	c.Range("/days", int64(len(in.Days)), 1, MostSettled)
	if len(in.Days) > MostSettled {
		return c.Done()
	}
	workers := make([]uuid.UUID, len(in.Days))
	seen := map[WorkerDay]bool{}
	for i, d := range in.Days {
		workers[i] = d.WorkerID
		c.Day(dayPointer(i)+"/workday", d.Workday.Date)
		if seen[d] {
			c.Fault(dayPointer(i), "fault.worker_day_twice", nil)
		}
		seen[d] = true
	}
	missing, err := tx.Missing("workers", workers)
	if err != nil {
		return nil, err
	}
	for i, id := range workers {
		if missing[id] {
			c.Fault(dayPointer(i)+"/worker_id", "fault.unknown_reference", nil)
		}
	}
	return c.Done()
}

func dayPointer(i int) string { return fmt.Sprintf("/days/%d", i) }

// open wants nobody to have spoken on any of the days.
func (in *Settlements) open(tx *models.Tx) error {
	settled, err := SettledAmong(tx, in.Days)
	if err != nil || len(settled) == 0 {
		return err
	}
	var days []dated.Date
	var faults []payroll.Fault
	for i, d := range in.Days {
		if settled[d] != nil {
			if !slices.Contains(days, d.Workday.Date) {
				days = append(days, d.Workday.Date)
			}
			faults = append(faults, payroll.Fault{Pointer: dayPointer(i), Key: "fault.exception_settled", Terms: payroll.Terms{"date": d.Workday.Date}})
		}
	}
	return &models.Error{Kind: models.Conflict, Key: "problem.exceptions_settled", Terms: payroll.Terms{"dates": days}, Faults: faults}
}

// SettledAmong returns the officer's words on some days, by the day, in one statement.
func SettledAmong(tx *models.Tx, days []WorkerDay) (map[WorkerDay]*models.ClearanceException, error) {
	var dates []models.Date
	workers := make([]uuid.UUID, len(days))
	asked := map[WorkerDay]bool{}
	for i, d := range days {
		workers[i], asked[d] = d.WorkerID, true
		if !slices.Contains(dates, d.Workday) {
			dates = append(dates, d.Workday)
		}
	}
	var rows []models.ClearanceException
	err := tx.DB().Where("workday IN ?", dates).Scopes(tx.Among("worker_id", workers)).Find(&rows).Error
	settled := map[WorkerDay]*models.ClearanceException{}
	for i := range rows {
		if d := (WorkerDay{rows[i].WorkerID, rows[i].Workday}); asked[d] {
			settled[d] = &rows[i]
		}
	}
	return settled, err
}

// kept are the records of the command as they were kept, in order.
func (in *Settlements) kept(tx *models.Tx) ([]models.ClearanceException, error) {
	ids := make([]uuid.UUID, len(in.Days))
	for i := range ids {
		ids[i] = in.id(i)
	}
	return models.List[models.ClearanceException](tx, models.Page{Limit: len(ids)}, models.OneOf("id", ids))
}
