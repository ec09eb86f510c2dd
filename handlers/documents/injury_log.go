package documents

import (
	"encoding/csv"
	"io"
	"strconv"

	"palmero/handlers/text"
	"palmero/payroll/dated"
)

// InjuryLogRow is a line of the log of injuries and illnesses. Class is the one of Classes that it counts in, Condition the one of Conditions.
type InjuryLogRow struct {
	Number                   int64
	Name                     string // "": a privacy case
	JobTitle                 string
	Date                     dated.Date
	Where, Description       string
	Class                    string
	DaysAway, DaysRestricted int
	Condition                string
}

// InjuryColumns are the columns of the log that are marked: outcomes by their gravity, and kinds of harm.
type InjuryColumns struct{ Classes, Conditions []string }

// InjuryLogCSV writes the log as a spreadsheet takes it, in the manner of [PayListCSV], in the columns that the recordkeeping rule asks for (29 CFR 1904.29): who, what they do, when, where, what, how grave, for
// how many days, and which kind of harm.
func InjuryLogCSV(w io.Writer, rows []InjuryLogRow, columns InjuryColumns, c *text.Catalogue) error {
	heading := sayAll(c, "injury_log.", "number", "name", "job_title", "date", "where", "description")
	heading = append(heading, sayAll(c, "injury_class.", columns.Classes...)...)
	heading = append(heading, sayAll(c, "injury_log.", "days_away", "days_restricted")...)
	heading = append(heading, sayAll(c, "injury_condition.", columns.Conditions...)...)
	records := [][]string{heading}
	for _, r := range rows {
		name := r.Name
		if name == "" {
			name = c.Say("injury_log.privacy", nil)
		}
		record := []string{strconv.FormatInt(r.Number, 10), plainCell(name), plainCell(r.JobTitle), r.Date.String(), plainCell(r.Where), plainCell(r.Description)}
		record = append(record, marks(columns.Classes, r.Class)...)
		record = append(record, strconv.Itoa(r.DaysAway), strconv.Itoa(r.DaysRestricted))
		records = append(records, append(record, marks(columns.Conditions, r.Condition)...))
	}
	return writeCSV(w, records)
}

// marks are the cells of columns of which one is marked.
func marks(columns []string, which string) []string {
	cells := make([]string, len(columns))
	for i, name := range columns {
		if name == which {
			cells[i] = "X"
		}
	}
	return cells
}

func sayAll(c *text.Catalogue, prefix string, names ...string) []string {
	said := make([]string, len(names))
	for i, name := range names {
		said[i] = plainCell(c.Say(prefix+name, nil))
	}
	return said
}

// writeCSV writes records as the other lists are written: UTF-8 behind a byte order mark.
func writeCSV(w io.Writer, records [][]string) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	return out.WriteAll(records)
}

// SummaryItem is a line of a year's summary: what it is called, by a key of the catalogue, and what it says.
type SummaryItem struct{ Key, Value string }

// InjurySummaryCSV writes the yearly summary (29 CFR 1904.32) in two columns: what, and how many.
func InjurySummaryCSV(w io.Writer, items []SummaryItem, c *text.Catalogue) error {
	records := make([][]string, len(items))
	for i, item := range items {
		records[i] = []string{plainCell(c.Say(item.Key, nil)), plainCell(item.Value)}
	}
	return writeCSV(w, records)
}
