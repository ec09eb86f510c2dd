package spreadsheet

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"path"
	"strconv"
	"strings"
)

// checkFormulas refuses a sheet with a formula that nobody has computed: its cell would be read as empty. Programs that write workbooks without
// being able to compute leave such cells.
func checkFormulas(data []byte, sheet string) (err error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return &Refusal{Key: "fault.file_broken"}
	}
	name := partOf(z, sheet)
	if name == "" {
		return nil
	}
	part, err := z.Open(name)
	if err != nil {
		return nil // a name of another spelling, which the reader finds and this does not
	}
	defer func() { err = errors.Join(err, part.Close()) }()
	if line := uncomputed(part); line > 0 {
		return &Refusal{Line: line, Key: "fault.formula_without_value"}
	}
	return nil
}

// partOf is the name of the part that holds a sheet, by the workbook's list of sheets and its list of relations; "" where they do not tell.
func partOf(z *zip.Reader, sheet string) string {
	id, target := "", ""
	eachElement(z, "xl/workbook.xml", "sheet", func(e xml.StartElement) {
		if attribute(e, "name") == sheet {
			id = attribute(e, "id")
		}
	})
	eachElement(z, "xl/_rels/workbook.xml.rels", "Relationship", func(e xml.StartElement) {
		if id != "" && attribute(e, "Id") == id {
			target = attribute(e, "Target")
		}
	})
	if target == "" {
		return ""
	}
	if absolute, ok := strings.CutPrefix(target, "/"); ok {
		return path.Clean(absolute)
	}
	return path.Join("xl", target)
}

func eachElement(z *zip.Reader, part, element string, do func(xml.StartElement)) {
	f, err := z.Open(part)
	if err != nil {
		return
	}
	defer func() { _ = f.Close() }() // it is only read
	for d := xml.NewDecoder(f); ; {
		token, err := d.Token()
		if err != nil {
			return
		}
		if e, ok := token.(xml.StartElement); ok && e.Name.Local == element {
			do(e)
		}
	}
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// uncomputed is the line of the first cell with a formula and no value; 0 where there is none.
func uncomputed(sheet io.Reader) int {
	line, formula, value := 0, false, false
	for d := xml.NewDecoder(sheet); ; {
		token, err := d.RawToken()
		if err != nil {
			return 0
		}
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "row":
				if n, err := strconv.Atoi(attribute(e, "r")); err == nil {
					line = n
				} else {
					line++
				}
			case "c":
				formula, value = false, false
			case "f":
				formula = true
			case "v", "is":
				value = true
			}
		case xml.EndElement:
			if e.Name.Local == "c" && formula && !value {
				return line
			}
		}
	}
}
