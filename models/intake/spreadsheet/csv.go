package spreadsheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

func readCSV(data []byte) (*Table, error) {
	t := &Table{}
	text, err := t.decode(data)
	if err != nil {
		return nil, err
	}
	if !strings.Contains(text, "\n") {
		text = strings.ReplaceAll(text, "\r", "\n") // line ends of old Macintosh programs
	}
	skipped := 0
	if first, rest, _ := strings.Cut(text, "\n"); strings.HasPrefix(first, "sep=") && len(strings.TrimSpace(first)) == len("sep=;") {
		t.Separator, text, skipped = first[4:5], rest, 1 // a line that tells spreadsheet programs the separator
	} else {
		t.Separator = separatorOf(text)
	}
	r := newReader(text, t.Separator)
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			return t, nil
		}
		if err != nil {
			return nil, refusalOf(err, skipped)
		}
		line, _ := r.FieldPos(0)
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if err := t.add(line+skipped, cells); err != nil {
			return nil, err
		}
	}
}

func newReader(text, separator string) *csv.Reader {
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, _ = utf8.DecodeRuneInString(separator)
	r.FieldsPerRecord = -1
	r.ReuseRecord = true
	return r
}

func refusalOf(err error, skipped int) error {
	var e *csv.ParseError
	if errors.As(err, &e) {
		return &Refusal{Line: e.Line + skipped, Key: "fault.csv_quotes"}
	}
	return &Refusal{Key: "fault.file_broken"}
}

// decode turns the bytes into text: by their byte order mark, else by what they can be.
func (t *Table) decode(data []byte) (string, error) {
	var text []byte
	var err error
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")), wide(data, 0), wide(data, 1):
		t.Encoding = "utf-16"
		order := unicode.LittleEndian
		if wide(data, 0) {
			order = unicode.BigEndian
		}
		text, err = unicode.UTF16(order, unicode.UseBOM).NewDecoder().Bytes(data)
	case utf8.Valid(data):
		t.Encoding = "utf-8"
		text = bytes.TrimPrefix(data, []byte("\ufeff"))
	default:
		t.Encoding = "windows-1252"
		text, err = charmap.Windows1252.NewDecoder().Bytes(data)
	}
	switch {
	case err != nil, bytes.ContainsRune(text, 0), bytes.ContainsRune(text, utf8.RuneError):
		return "", &Refusal{Key: "fault.file_not_text"}
	case len(bytes.TrimSpace(text)) == 0:
		return "", &Refusal{Key: "fault.file_empty"}
	}
	return string(text), nil
}

// wide tells whether bytes without a mark are UTF-16: in a table of names and numbers, most characters' high bytes are zero.
func wide(data []byte, highByte int) bool {
	head := data[:min(len(data)&^1, 512)]
	zeros := 0
	for i := highByte; i < len(head); i += 2 {
		if head[i] == 0 {
			zeros++
		}
	}
	return len(head) >= 8 && zeros > len(head)/2*3/4 && bytes.Count(head, []byte{0}) == zeros
}

// separatorOf is the separator that parts the first lines into columns most evenly; a comma where none does.
func separatorOf(text string) string {
	best, bestScore := ",", 0
	for _, separator := range []string{"\t", ";", ","} {
		if score := evenness(text, separator); score > bestScore {
			best, bestScore = separator, score
		}
	}
	return best
}

// evenness counts the cells of those among the first lines that have the most usual number of them, above one.
func evenness(text, separator string) int {
	r := newReader(text, separator)
	r.LazyQuotes = true
	rows := map[int]int{}
	for range 30 {
		cells, err := r.Read()
		if err != nil {
			break
		}
		rows[len(cells)]++
	}
	score := 0
	for cells, n := range rows {
		if cells > 1 {
			score = max(score, n*n*cells)
		}
	}
	return score
}
