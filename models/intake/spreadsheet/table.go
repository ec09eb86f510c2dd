package spreadsheet

import (
	"bytes"
	"fmt"
	"slices"
	"unicode/utf8"

	"palmero/payroll"
)

// Table is what a file holds: its rows that are not empty, in order.
type Table struct {
	Encoding  string   // of a CSV file: "utf-8", "utf-16" or "windows-1252"
	Separator string   // of a CSV file
	Sheet     string   // of a workbook: the sheet that was read
	Sheets    []string // of a workbook: all that it has
	Typed     bool     // whether numbers, dates and times stand as a workbook keeps them: with a point, as days since its epoch
	From1904  bool     // whether that epoch is 1904
	Rows      []Row
}

// Row is one row: its cells as text, without trailing empty ones.
type Row struct {
	Line  int // as an editor or the spreadsheet program counts, from 1
	Cells []string
}

// Cell returns a cell's text, "" beyond the last.
func (r Row) Cell(i int) string {
	if i < len(r.Cells) {
		return r.Cells[i]
	}
	return ""
}

// Bounds of what is read.
const (
	MaxBytes   = 32 << 20 // of a file
	MaxRows    = 50_000
	MaxColumns = 200
	maxCell    = 1_000    // characters of a cell
	maxContent = 64 << 20 // bytes of everything in a workbook, unpacked
	maxParts   = 1_000    // files in a workbook
)

// Refusal says why a file cannot be read, as a message key with its terms.
type Refusal struct {
	Line  int // 0 where it is about the whole file
	Key   string
	Terms payroll.Terms
}

// Error tells the key, for a log.
func (r *Refusal) Error() string { return fmt.Sprintf("%s %v (line %d)", r.Key, r.Terms, r.Line) }

// Read reads a file, a workbook or CSV by what is in it. Sheet names the sheet of a workbook; "" is its first. Its error is a *Refusal.
func Read(data []byte, sheet string) (*Table, error) {
	switch {
	case len(data) > MaxBytes:
		return nil, &Refusal{Key: "fault.file_too_large", Terms: payroll.Terms{"limit": MaxBytes >> 20}}
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return readWorkbook(data, sheet)
	case bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")): // the container of .xls, and of a workbook with a password
		return nil, &Refusal{Key: "fault.file_old_or_locked"}
	}
	return readCSV(data)
}

// add appends a row, within bounds.
func (t *Table) add(line int, cells []string) error {
	for len(cells) > 0 && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	switch {
	case len(cells) == 0:
		return nil
	case len(cells) > MaxColumns:
		return &Refusal{Line: line, Key: "fault.file_too_wide", Terms: payroll.Terms{"limit": MaxColumns}}
	case len(t.Rows) == MaxRows:
		return &Refusal{Line: line, Key: "fault.file_too_long", Terms: payroll.Terms{"limit": MaxRows}}
	case slices.ContainsFunc(cells, func(c string) bool { return len(c) > maxCell && utf8.RuneCountInString(c) > maxCell }):
		return &Refusal{Line: line, Key: "fault.cell_too_long", Terms: payroll.Terms{"limit": maxCell}}
	}
	t.Rows = append(t.Rows, Row{line, slices.Clone(cells)})
	return nil
}

// ColumnName is a column as spreadsheet programs name it: A for 0, AA for 26.
func ColumnName(i int) string {
	name := ""
	for i++; i > 0; i = (i - 1) / 26 {
		name = string(rune('A'+(i-1)%26)) + name
	}
	return name
}
