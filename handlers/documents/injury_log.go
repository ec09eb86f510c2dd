package documents

import (
	"encoding/csv"
	"io"
	"strconv"

	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/injuries"
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

// InjuryColumnsOf are the columns of the log that hold sums.
func InjuryColumnsOf() InjuryColumns {
	columns := InjuryColumns{Conditions: models.Conditions}
	for _, class := range injuries.Classes {
		columns.Classes = append(columns.Classes, string(class))
	}
	return columns
}

// InjuryLogOf are the lines of a year's log.
func InjuryLogOf(log *injuries.Log, c *text.Catalogue) []InjuryLogRow {
	rows := make([]InjuryLogRow, len(log.Entries))
	for i, e := range log.Entries {
		rows[i] = InjuryLogRow{
			Number: e.Number, Name: e.Name, JobTitle: c.Operation(e.JobTitle), Date: e.HappenedOn.Date, Where: e.Where, Description: e.Description,
			Class: string(e.Class), DaysAway: e.DaysAway, DaysRestricted: e.DaysRestricted, Condition: e.Condition,
		}
	}
	return rows
}

// InjurySummaryOf are the lines of a year's summary. What nobody has certified yet stays empty.
func InjurySummaryOf(log *injuries.Log) []SummaryItem {
	number := strconv.Itoa
	items := []SummaryItem{{Key: "injury_summary.year", Value: number(log.Year)}, {Key: "injury_summary.employer", Value: log.Employer}, {Key: "injury_summary.address", Value: log.Address}}
	for _, class := range injuries.Classes {
		items = append(items, SummaryItem{Key: "injury_class." + string(class), Value: number(log.Totals.Classes[class])})
	}
	items = append(items, SummaryItem{Key: "injury_log.days_away", Value: number(log.Totals.DaysAway)}, SummaryItem{Key: "injury_log.days_restricted", Value: number(log.Totals.DaysRestricted)})
	for _, condition := range models.Conditions {
		items = append(items, SummaryItem{Key: "injury_condition." + condition, Value: number(log.Totals.Conditions[condition])})
	}
	items = append(items, SummaryItem{Key: "injury_summary.hours", Value: strconv.FormatInt((log.Minutes+30)/60, 10)})
	if log.Rates != nil {
		items = append(items, SummaryItem{Key: "injury_summary.total_rate", Value: log.Rates.TotalRecordable.String()},
			SummaryItem{Key: "injury_summary.away_or_restricted_rate", Value: log.Rates.AwayOrRestricted.String()}, SummaryItem{Key: "injury_summary.days_away_rate", Value: log.Rates.DaysAway.String()})
	}
	var employees, by, title, on, posted string
	if log.Certified != nil {
		s := log.Certified.Content
		employees, by, title, on = strconv.FormatInt(s.AverageEmployees, 10), s.CertifiedBy, s.CertifiedTitle, s.CertifiedOn.String()
		if !s.PostedOn.IsZero() {
			posted = s.PostedOn.String()
		}
	}
	return append(items, SummaryItem{Key: "injury_summary.employees", Value: employees}, SummaryItem{Key: "injury_summary.certified_by", Value: by},
		SummaryItem{Key: "injury_summary.certified_title", Value: title}, SummaryItem{Key: "injury_summary.certified_on", Value: on},
		SummaryItem{Key: "injury_summary.posted_on", Value: posted}, SummaryItem{Key: "injury_summary.keep_until", Value: log.KeepUntil.String()})
}
