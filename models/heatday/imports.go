package heatday

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake/spreadsheet"
	"palmero/payroll"
	"palmero/safety/quantity"
)

// Import is readings of one garden that come in together: as rows, or as the text of a CSV file with a heading.
type Import struct {
	ID       uuid.UUID   `json:"id"`
	GardenID uuid.UUID   `json:"garden_id"`
	Rows     []ImportRow `json:"rows,omitempty"`
	CSV      string      `json:"csv,omitempty"`
}

// ImportRow is one reading.
type ImportRow struct {
	ReadAt      time.Time       `json:"read_at"`
	Temperature models.Quantity `json:"temperature_f" twin:"temperature_c"`
	Humidity    *int64          `json:"relative_humidity,omitempty"`
	Source      string          `json:"source,omitempty"`
}

// MostReadings is how many readings one import takes: more than a year of hours.
const MostReadings = 10_000

// mostTold is how many faults one answer tells.
const mostTold = 200

// TakeIn keeps the readings of an import, all or none. The same import again is known by its identifier and what it says. A fault in a CSV file points to its line: /csv/LINE/COLUMN.
func TakeIn(tx *models.Tx, in Import) (*models.HeatImport, bool, error) {
	hash := models.ContentHash(in)
	if kept, err := models.Repeat[models.HeatImport](tx, in.ID, hash); kept != nil || err != nil {
		return kept, kept != nil, err
	}
	garden, err := models.Get[models.GardenContent](tx, in.GardenID)
	if models.KindOf(err) == models.NotFound {
		return nil, false, models.FaultAt("/garden_id", "fault.unknown_reference", nil)
	} else if err != nil {
		return nil, false, err
	}
	rows, at, faults, err := in.rows(garden)
	if err != nil {
		return nil, false, err
	}
	readings, more, err := check(tx, in.GardenID, rows, at)
	if err != nil {
		return nil, false, err
	}
	if faults = append(faults, more...); len(faults) > 0 {
		return nil, false, models.Faulty(faults[:min(len(faults), mostTold)])
	}
	kept := &models.HeatImport{Keyed: models.Keyed{ID: in.ID, ContentHash: hash}, GardenID: in.GardenID, Readings: int64(len(readings)),
		RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
	if err := tx.DB().Create(kept).Error; err != nil {
		return nil, false, err
	}
	for i := range readings {
		readings[i].Content.ImportID = &kept.ID
	}
	if err := models.InsertAll(tx, readings); err != nil {
		return nil, false, err
	}
	return kept, false, tx.Audit(models.Audit{Action: "import", SubjectKind: "heat_imports", SubjectID: kept.ID, After: kept})
}

// check makes readings of rows, whose pointers at tells.
func check(tx *models.Tx, garden uuid.UUID, rows []ImportRow, at []string) ([]models.HeatReading, []payroll.Fault, error) {
	c := models.NewChecker(tx)
	readings := make([]models.HeatReading, len(rows))
	for i, row := range rows {
		content := models.HeatReadingContent{GardenID: garden, ReadAt: row.ReadAt, Temperature: row.Temperature, Humidity: row.Humidity, Source: row.Source}
		content.Check(c, at[i])
		readings[i] = models.HeatReading{Keyed: models.Keyed{ID: tx.NewID(), ContentHash: models.ContentHash(content)}, Content: content, RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
	}
	faults, err := c.Done()
	return readings, faults, err
}

// rows are the readings of an import and where each stands in it.
func (in *Import) rows(garden *models.Garden) (rows []ImportRow, at []string, faults []payroll.Fault, err error) {
	switch {
	case (in.CSV == "") == (len(in.Rows) == 0):
		return nil, nil, []payroll.Fault{{Pointer: "/rows", Key: "fault.rows_or_csv"}}, nil
	case len(in.Rows) > MostReadings:
		return nil, nil, []payroll.Fault{{Pointer: "/rows", Key: "fault.too_many_items", Terms: payroll.Terms{"limit": MostReadings}}}, nil
	case in.CSV != "":
		return readCSV(in.CSV, garden)
	}
	for i := range in.Rows {
		at = append(at, fmt.Sprintf("/rows/%d", i))
	}
	return in.Rows, at, nil, nil
}

// The columns of a file. The temperature is in one of the two.
const (
	columnTime     = "read_at"
	columnF        = "temperature_f"
	columnC        = "temperature_c"
	columnHumidity = "relative_humidity"
	columnSource   = "source"
)

// Heading is the heading of a file that has all columns.
const Heading = columnTime + "," + columnF + "," + columnHumidity + "," + columnSource

// readCSV reads a file by the names in its heading.
func readCSV(text string, garden *models.Garden) (rows []ImportRow, at []string, faults []payroll.Fault, err error) {
	table, err := spreadsheet.Read([]byte(text), "")
	var refused *spreadsheet.Refusal
	switch {
	case errors.As(err, &refused):
		return nil, nil, []payroll.Fault{{Pointer: "/csv", Key: refused.Key, Terms: refused.Terms}}, nil
	case err != nil:
		return nil, nil, nil, err
	case len(table.Rows) < 2:
		return nil, nil, []payroll.Fault{{Pointer: "/csv", Key: "fault.empty"}}, nil
	case len(table.Rows)-1 > MostReadings:
		return nil, nil, []payroll.Fault{{Pointer: "/csv", Key: "fault.too_many_items", Terms: payroll.Terms{"limit": MostReadings}}}, nil
	}
	columns, faults := headingOf(table.Rows[0])
	if len(faults) > 0 {
		return nil, nil, faults, nil
	}
	zone, err := models.Zone(garden.Content.TimeZone)
	if err != nil {
		return nil, nil, nil, err
	}
	for _, line := range table.Rows[1:] {
		pointer := fmt.Sprintf("/csv/%d", line.Line)
		row, wrong := readLine(line, columns, zone, pointer)
		rows, at, faults = append(rows, row), append(at, pointer), append(faults, wrong...)
	}
	if len(faults) > 0 {
		rows, at = nil, nil // what was not understood is not to be looked at any closer
	}
	return rows, at, faults, nil
}

// headingOf finds the columns.
func headingOf(heading spreadsheet.Row) (map[string]int, []payroll.Fault) {
	columns := map[string]int{}
	known := []string{columnTime, columnF, columnC, columnHumidity, columnSource}
	var faults []payroll.Fault
	for i, cell := range heading.Cells {
		name := strings.ToLower(strings.TrimSpace(cell))
		if _, twice := columns[name]; twice || !slices.Contains(known, name) {
			faults = append(faults, payroll.Fault{Pointer: "/csv", Key: "fault.not_one_of", Terms: payroll.Terms{"value": cell, "allowed": known}})
		}
		columns[name] = i
	}
	_, timed := columns[columnTime]
	_, f := columns[columnF]
	_, c := columns[columnC]
	if !timed || f == c {
		faults = append(faults, payroll.Fault{Pointer: "/csv", Key: "fault.heat_columns"})
	}
	return columns, faults
}

// readLine reads a line. A moment without its offset is one of the garden's clock.
func readLine(line spreadsheet.Row, columns map[string]int, zone *time.Location, pointer string) (row ImportRow, faults []payroll.Fault) {
	cell := func(name string) string {
		i, ok := columns[name]
		if !ok {
			return ""
		}
		return strings.TrimSpace(line.Cell(i))
	}
	fault := func(column, key string, terms payroll.Terms) {
		faults = append(faults, payroll.Fault{Pointer: pointer + "/" + column, Key: key, Terms: terms})
	}
	var ok bool
	if row.ReadAt, ok = readMoment(cell(columnTime), zone); !ok {
		fault(columnTime, "fault.heat_moment", payroll.Terms{"value": cell(columnTime)})
	}
	name := columnF
	if _, metric := columns[columnC]; metric {
		name = columnC
	}
	if err := row.Temperature.UnmarshalNumber(name, decimal(cell(name))); err != nil {
		fault(name, "fault.heat_number", payroll.Terms{"value": cell(name)})
	}
	if s := cell(columnHumidity); s != "" {
		n, err := quantity.Parse(decimal(s))
		if err != nil {
			fault(columnHumidity, "fault.heat_number", payroll.Terms{"value": s})
		}
		row.Humidity = new(int64(n.Round(0).Float()))
	}
	row.Source = cell(columnSource)
	return row, faults
}

// decimal reads a comma as the point of a number.
func decimal(s string) string { return strings.Replace(s, ",", ".", 1) }

// readMoment reads a moment as RFC 3339, or as a date and a time of the garden's clock.
func readMoment(s string, zone *time.Location) (time.Time, bool) {
	if t, err := time.Parse(time.RFC3339, s); err == nil {
		return t, true
	}
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(layout, s, zone); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}
