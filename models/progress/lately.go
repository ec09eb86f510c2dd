package progress

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Workday is what came in of a day.
type Workday struct {
	Day     dated.Date
	Crews   []string // those that sent a sheet, by name
	Counted []Counted
}

// Counted is what was counted at an operation, in all blocks together.
type Counted struct {
	Operation, Unit string // its code, and what its pieces are
	Pieces          payroll.Pieces
}

// Lately tells what came in of a day and of the days before it, that day first; days of which nothing came in are told too, with nothing in them. Three statements, whatever the number of workers.
func Lately(tx *models.Tx, last dated.Date, days int) ([]Workday, error) {
	first := last.AddDays(1 - days)
	lately := make([]Workday, days)
	for i := range lately {
		lately[i].Day = last.AddDays(-i)
	}
	var sheets []struct {
		Workday models.Date
		Name    string
	}
	err := tx.DB().Table("crew_sheets AS s").Joins("JOIN crews AS c ON c.employer_id = s.employer_id AND c.id = s.crew_id").
		Where("s.workday BETWEEN ? AND ?", models.Day(first), models.Day(last)).Distinct("s.workday, c.name").Order("c.name").Scan(&sheets).Error
	if err != nil {
		return nil, err
	}
	for _, s := range sheets {
		at := &lately[last.DaysSince(s.Workday.Date)]
		at.Crews = append(at.Crews, s.Name)
	}
	var operations []models.Operation
	if err := tx.DB().Order("seq").Find(&operations).Error; err != nil {
		return nil, err
	}
	sums, err := models.CountedBetween(tx, first, last)
	if err != nil {
		return nil, err
	}
	pieces := map[dated.Date]map[uuid.UUID]payroll.Pieces{}
	for _, s := range sums {
		if pieces[s.Workday.Date] == nil {
			pieces[s.Workday.Date] = map[uuid.UUID]payroll.Pieces{}
		}
		pieces[s.Workday.Date][s.OperationID] += s.Pieces
	}
	for i := range lately {
		for _, o := range operations {
			if n := pieces[lately[i].Day][o.ID]; n > 0 {
				lately[i].Counted = append(lately[i].Counted, Counted{o.Content.Code, o.Content.Unit, n})
			}
		}
	}
	return lately, nil
}
