package spreadsheet

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"palmero/payroll"
)

// readWorkbook reads one sheet of an XLSX file: the values of its cells as they are stored, those of formulas as last computed.
func readWorkbook(data []byte, sheet string) (t *Table, err error) {
	if err := checkArchive(data); err != nil {
		return nil, err
	}
	// The file is anybody's, and the reader takes a good deal of it on trust: where it stumbles, the file is refused.
	defer func() {
		if recover() != nil {
			t, err = nil, &Refusal{Key: "fault.file_broken"}
		}
	}()
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{UnzipSizeLimit: maxContent, UnzipXMLSizeLimit: maxContent})
	if err != nil {
		return nil, &Refusal{Key: "fault.file_broken"}
	}
	defer func() {
		if f.Close() != nil && err == nil {
			t, err = nil, &Refusal{Key: "fault.file_broken"}
		}
	}()
	t = &Table{Typed: true, Sheets: f.GetSheetList()}
	if t.Sheet, err = chooseSheet(f, sheet); err != nil {
		return nil, err
	}
	if err := checkFormulas(data, t.Sheet); err != nil {
		return nil, err
	}
	if props, err := f.GetWorkbookProps(); err == nil && props.Date1904 != nil {
		t.From1904 = *props.Date1904
	}
	return t, t.readSheet(f)
}

// checkArchive looks at what a workbook unpacks to, and unpacks it once for its checksums: of a part that is damaged, or longer than it says,
// nobody would learn that only its beginning was read.
func checkArchive(data []byte) error {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return &Refusal{Key: "fault.file_broken"}
	}
	var total uint64
	for _, part := range z.File {
		if total += min(part.UncompressedSize64, maxContent+1); total > maxContent || len(z.File) > maxParts {
			return &Refusal{Key: "fault.file_unpacks_too_large", Terms: payroll.Terms{"limit": maxContent >> 20}}
		}
	}
	for _, part := range z.File {
		if checkPart(part) != nil {
			return &Refusal{Key: "fault.file_broken"}
		}
	}
	return nil
}

func checkPart(part *zip.File) (err error) {
	r, err := part.Open()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	_, err = io.Copy(io.Discard, r)
	return err
}

func chooseSheet(f *excelize.File, wanted string) (string, error) {
	sheets := f.GetSheetList()
	if wanted != "" {
		i := slices.IndexFunc(sheets, func(s string) bool { return strings.EqualFold(s, wanted) })
		if i < 0 {
			return "", &Refusal{Key: "fault.no_such_sheet", Terms: payroll.Terms{"wanted": wanted, "sheets": sheets}}
		}
		return sheets[i], nil
	}
	for _, s := range sheets {
		if visible, err := f.GetSheetVisible(s); err == nil && visible {
			return s, nil
		}
	}
	return "", &Refusal{Key: "fault.file_empty"}
}

func (t *Table) readSheet(f *excelize.File) (err error) {
	rows, err := f.Rows(t.Sheet)
	if err != nil {
		return &Refusal{Key: "fault.file_broken"}
	}
	defer func() {
		if rows.Close() != nil && err == nil {
			err = &Refusal{Key: "fault.file_broken"}
		}
	}()
	for line := 1; rows.Next(); line++ {
		cells, err := rows.Columns(excelize.Options{RawCellValue: true})
		if err != nil {
			return &Refusal{Line: line, Key: "fault.file_broken"}
		}
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if err := t.add(line, cells); err != nil {
			return err
		}
	}
	switch {
	case rows.Error() != nil:
		return &Refusal{Key: "fault.file_broken"}
	case len(t.Rows) == 0:
		return &Refusal{Key: "fault.file_empty"}
	}
	return nil
}
