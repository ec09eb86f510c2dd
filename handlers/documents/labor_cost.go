package documents

import (
	"encoding/csv"
	"io"

	"palmero/handlers/text"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// LaborCostRow is what labor cost in one block of a garden, at one operation, on one day.
type LaborCostRow struct {
	Date                                 dated.Date // zero: of no day
	Garden, Block, Operation             string     // "": of none
	Worked                               payroll.Minutes
	StraightTime, Premiums, Other, Total payroll.Cents
}

// LaborCostCSV writes labor cost as a spreadsheet takes it, in the manner of [PayListCSV]: a heading, a row for each in the order given, and one of totals.
func LaborCostCSV(w io.Writer, rows []LaborCostRow, c *text.Catalogue) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	var heading []string
	for _, name := range []string{"date", "garden", "block", "operation", "hours", "straight_time", "premiums", "other", "total"} {
		heading = append(heading, plainCell(c.Say("labor_cost."+name, nil)))
	}
	records := [][]string{heading}
	var sum LaborCostRow
	for _, r := range rows {
		date := ""
		if !r.Date.IsZero() {
			date = r.Date.String()
		}
		operation := ""
		if r.Operation != "" {
			operation = c.Operation(r.Operation)
		}
		records = append(records, laborCostRecord(date, r.Garden, r.Block, operation, r))
		sum.Worked += r.Worked
		sum.StraightTime += r.StraightTime
		sum.Premiums += r.Premiums
		sum.Other += r.Other
		sum.Total += r.Total
	}
	return out.WriteAll(append(records, laborCostRecord(c.Say("labor_cost.total", nil), "", "", "", sum)))
}

func laborCostRecord(date, garden, block, operation string, r LaborCostRow) []string {
	record := []string{plainCell(date), plainCell(garden), plainCell(block), plainCell(operation), hours(r.Worked)}
	for _, amount := range []payroll.Cents{r.StraightTime, r.Premiums, r.Other, r.Total} {
		record = append(record, amount.String())
	}
	return record
}
