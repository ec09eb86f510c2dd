package spreadsheet

import (
	"archive/zip"
	"bytes"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

func encoded(t *testing.T, e encoding.Encoding, s string) []byte {
	t.Helper()
	b, err := e.NewEncoder().Bytes([]byte(s))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestEncodingsAndSeparators(t *testing.T) {
	const semicolons = "Nombre;Cuenta\r\nDora Ibáñez;12,5\r\n\r\n\"Peña; Cruz\";7\r\n"
	want := []Row{{1, []string{"Nombre", "Cuenta"}}, {2, []string{"Dora Ibáñez", "12,5"}}, {4, []string{"Peña; Cruz", "7"}}}
	tabs := strings.NewReplacer(";", "\t", "\"", "", "Peña;", "Peña").Replace(semicolons)
	for _, c := range []struct {
		name, encoding, separator string
		data                      []byte
	}{
		{"UTF-8", "utf-8", ";", []byte(semicolons)},
		{"UTF-8 behind a mark", "utf-8", ";", []byte("\ufeff" + semicolons)},
		{"Windows-1252", "windows-1252", ";", encoded(t, charmap.Windows1252, semicolons)},
		{"UTF-16 behind a mark", "utf-16", ";", encoded(t, unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), semicolons)},
		{"UTF-16 of the other order", "utf-16", ";", encoded(t, unicode.UTF16(unicode.BigEndian, unicode.UseBOM), semicolons)},
		{"UTF-16 without a mark", "utf-16", ";", encoded(t, unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM), semicolons)},
		{"big UTF-16 without a mark", "utf-16", ";", encoded(t, unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM), semicolons)},
		{"a word on the separator", "utf-8", ";", []byte("sep=;\n" + semicolons)},
	} {
		got, err := Read(c.data, "")
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		lines := want
		if strings.HasPrefix(string(c.data), "sep=") {
			lines = []Row{{2, want[0].Cells}, {3, want[1].Cells}, {5, want[2].Cells}}
		}
		if diff := cmp.Diff(lines, got.Rows); diff != "" || got.Encoding != c.encoding || got.Separator != c.separator {
			t.Errorf("%s: %q %q %s", c.name, got.Encoding, got.Separator, diff)
		}
	}
	for separator, text := range map[string]string{"\t": tabs, ",": "a,b,c\n1,\"x;y\",3\n", ";": "a;b\n1,5;2,5\n3,5;4,5\n"} {
		if got, err := Read([]byte(text), ""); err != nil || got.Separator != separator {
			t.Errorf("%q: %v %+v", separator, err, got)
		}
	}
	if got, err := Read([]byte("a,b\r1,2\r"), ""); err != nil || len(got.Rows) != 2 {
		t.Errorf("old line ends: %v %+v", err, got)
	}
}

func keyOf(err error) string {
	var r *Refusal
	if errors.As(err, &r) {
		return r.Key
	}
	return "no refusal"
}

func TestRefusals(t *testing.T) {
	for want, data := range map[string]string{
		"fault.csv_quotes":         "a,b\n\"1,2\n",
		"fault.file_empty":         " \n",
		"fault.file_not_text":      "a,b\x00\n1,2\n",
		"fault.file_old_or_locked": "\xd0\xcf\x11\xe0 and so on",
		"fault.file_broken":        "PK\x03\x04 and nothing more",
		"fault.file_too_wide":      strings.Repeat("x,", MaxColumns+1) + "x\n",
		"fault.file_too_long":      strings.Repeat("x,y\n", MaxRows+1),
		"fault.cell_too_long":      "a,b\n" + strings.Repeat("x", maxCell+1) + ",1\n",
		"fault.file_too_large":     strings.Repeat("x", MaxBytes+1),
	} {
		if _, err := Read([]byte(data), ""); keyOf(err) != want {
			t.Errorf("%s: %v", want, err)
		}
	}
}

// workbook makes a workbook of one sheet whose part is given as it is.
func workbook(t *testing.T, sheet func(w *bytes.Buffer)) []byte {
	t.Helper()
	f := excelize.NewFile()
	var plain bytes.Buffer
	if err := f.Write(&plain); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(plain.Bytes()), int64(plain.Len()))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, part := range z.File {
		if part.Name == "xl/worksheets/sheet1.xml" {
			var xml bytes.Buffer
			sheet(&xml)
			p, err := w.Create(part.Name)
			if err == nil {
				_, err = p.Write(xml.Bytes())
			}
			if err != nil {
				t.Fatal(err)
			}
			continue
		}
		if err := w.Copy(part); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

const (
	sheetHead = `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`
	sheetFoot = `</sheetData></worksheet>`
)

func TestWorkbooks(t *testing.T) {
	data := workbook(t, func(w *bytes.Buffer) {
		w.WriteString(sheetHead + `<row r="2"><c r="A2" t="inlineStr"><is><t>Name</t></is></c><c r="C2"><f>1+1</f><v>2</v></c></row>` +
			`<row r="1000000"><c r="A1000000"><v>16.899999999999999</v></c></row>` + sheetFoot)
	})
	got, err := Read(data, "sheet1")
	if err != nil {
		t.Fatal(err)
	}
	want := []Row{{2, []string{"Name", "", "2"}}, {1000000, []string{"16.899999999999999"}}}
	if diff := cmp.Diff(want, got.Rows); diff != "" || !got.Typed || got.Sheet != "Sheet1" {
		t.Errorf("%+v\n%s", got, diff)
	}
	if _, err := Read(data, "Hoja1"); keyOf(err) != "fault.no_such_sheet" {
		t.Error(err)
	}
	if _, err := Read(data[:len(data)/2], ""); keyOf(err) != "fault.file_broken" {
		t.Error(err)
	}
	uncomputed := workbook(t, func(w *bytes.Buffer) {
		w.WriteString(sheetHead + `<row r="3"><c r="A3"><v>1</v></c></row><row r="7"><c r="A7"><f>1+1</f><v>2</v></c><c r="B7"><f>1+1</f></c></row>` + sheetFoot)
	})
	var refusal *Refusal
	if _, err := Read(uncomputed, ""); !errors.As(err, &refusal) || refusal.Key != "fault.formula_without_value" || refusal.Line != 7 {
		t.Error(err)
	}
	empty := workbook(t, func(w *bytes.Buffer) { w.WriteString(sheetHead + sheetFoot) })
	if _, err := Read(empty, ""); keyOf(err) != "fault.file_empty" {
		t.Error(err)
	}
}

// Small files that would cost much are refused, whether they say how large they are or not.
func TestBombs(t *testing.T) {
	bomb := workbook(t, func(w *bytes.Buffer) {
		w.WriteString(sheetHead)
		w.Write(bytes.Repeat([]byte(" "), maxContent))
		w.WriteString(sheetFoot)
	})
	if len(bomb) > 1<<20 {
		t.Errorf("%d bytes are no bomb", len(bomb))
	}
	if _, err := Read(bomb, ""); keyOf(err) != "fault.file_unpacks_too_large" {
		t.Error(err)
	}
	wide := workbook(t, func(w *bytes.Buffer) {
		w.WriteString(sheetHead + `<row r="1"><c r="XFD1"><v>1</v></c></row>` + sheetFoot)
	})
	if _, err := Read(wide, ""); keyOf(err) != "fault.file_too_wide" {
		t.Error(err)
	}
	long := workbook(t, func(w *bytes.Buffer) {
		w.WriteString(sheetHead)
		for range MaxRows + 1 {
			w.WriteString(`<row><c><v>1</v></c></row>`)
		}
		w.WriteString(sheetFoot)
	})
	if _, err := Read(long, ""); keyOf(err) != "fault.file_too_long" {
		t.Error(err)
	}
	// A part that says in both of its headers that it is small, and is not.
	lying := bytes.Clone(bomb)
	size := []byte{0, 0, 0, 0}
	for i := range 4 {
		size[i] = byte((maxContent + len(sheetHead) + len(sheetFoot)) >> (8 * i))
	}
	lying = bytes.ReplaceAll(lying, size, []byte{100, 0, 0, 0})
	if bytes.Equal(lying, bomb) {
		t.Fatal("the size was not found")
	}
	if _, err := Read(lying, ""); keyOf(err) != "fault.file_broken" {
		t.Error(err)
	}
}

// Whatever the bytes, reading ends in a table within its bounds or in a refusal.
func FuzzRead(f *testing.F) {
	for _, s := range []string{"a,b\n1,2\n", "sep=;\na;b\n", "\xff\xfea\x00,\x00b\x00", "\"", "a\tb\r1\t2", "\x80\x81", "PK\x03\x04", "a;\"b\nc\";d\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		table, err := Read(data, "")
		if err != nil {
			if keyOf(err) == "no refusal" {
				t.Error(err)
			}
			return
		}
		last := 0
		for _, r := range table.Rows {
			if r.Line <= last || len(r.Cells) == 0 || len(r.Cells) > MaxColumns {
				t.Errorf("line %d after %d with %d cells", r.Line, last, len(r.Cells))
			}
			last = r.Line
		}
	})
}

func TestColumnNames(t *testing.T) {
	for i, want := range map[int]string{0: "A", 25: "Z", 26: "AA", 51: "AZ", 52: "BA", 701: "ZZ", 702: "AAA"} {
		if got := ColumnName(i); got != want {
			t.Errorf("%d: %s", i, got)
		}
	}
}
