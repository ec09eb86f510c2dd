package pages

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake/imports"
	"palmero/models/payrun"
	"palmero/payroll/dated"
)

// mostInSample is how many lines a sample has at most.
const mostInSample = 500

// importSample answers with a file to be filled in: the headings as files have them, and the farm's own workers, blocks and operations below. What makes a line count for something is left empty,
// so that a sample sent back as it is records nothing that nobody wrote.
func importSample(v *visit) (*answer, error) {
	f, err := v.form("kind", "file", "reference")
	if err != nil {
		return nil, err
	}
	kind := imports.Kind(f.Value("kind"))
	if !slices.Contains(v.takes(), kind) {
		f.fault("kind", "page.fault.choose_kind", nil)
		return v.again(f, f.Faulty(), importsPage)
	}
	s := sampleFile{visit: v, rows: [][]string{v.sampleHead(kind)}}
	if err := v.view(func(tx *models.Tx) error { return s.fill(tx, kind) }); err != nil {
		return nil, err
	}
	data, err := s.bytes()
	if err != nil {
		return nil, err
	}
	name := v.say("page.imports.sample_name."+slugOf(kind), nil) + ".csv"
	return &answer{file: &file{name: name, media: "text/csv; charset=utf-8", bytes: data}}, nil
}

// sampleHead are the headings of a kind, in the reader's language, as imports know them.
func (v *visit) sampleHead(kind imports.Kind) []string {
	return strings.Split(v.say("page.imports.sample."+slugOf(kind), nil), ", ")
}

// sampleFile is a file in the making.
type sampleFile struct {
	*visit
	rows [][]string
}

func (s *sampleFile) add(cells ...string) {
	if len(s.rows) <= mostInSample {
		s.rows = append(s.rows, cells)
	}
}

func (s *sampleFile) fill(tx *models.Tx, kind imports.Kind) error {
	today, err := payrun.Today(tx)
	if err != nil {
		return err
	}
	blocks, err := sampleContents(tx, today, func(a, b *models.BlockContent) int { return cmp.Compare(a.Code, b.Code) })
	if err != nil {
		return err
	}
	operations, err := sampleContents(tx, today, func(a, b *models.OperationContent) int { return cmp.Compare(a.Code, b.Code) })
	if err != nil {
		return err
	}
	var workers []models.Worker
	if kind == imports.CrewSheets || kind == imports.HourlyRates {
		if err := tx.DB().Scopes(models.EmployedOn(today)).Order("number").Limit(mostInSample).Find(&workers).Error; err != nil {
			return err
		}
	}
	crews, err := sampleCrewNames(tx, today)
	if err != nil {
		return err
	}
	first := func(codes []string) string { return append(codes, "")[0] }
	var codes, works []string
	for _, b := range blocks {
		codes = append(codes, b.Code)
	}
	for _, o := range operations {
		works = append(works, o.Code)
	}
	for _, w := range workers {
		number := strconv.FormatInt(w.Content.Number, 10)
		if kind == imports.CrewSheets {
			s.add(number, w.Content.Name, today.String(), crews[w.ID], first(codes), first(works))
		} else {
			s.add(number, w.Content.Name, "", today.String())
		}
	}
	return s.fillSetUp(kind, today, blocks, works)
}

// sampleCrewNames are the crews that workers belong to on a day.
func sampleCrewNames(tx *models.Tx, day dated.Date) (map[uuid.UUID]string, error) {
	var members []models.CrewMember
	if err := tx.DB().Scopes(models.MembersOn(day)).Find(&members).Error; err != nil {
		return nil, err
	}
	crews, err := models.All[models.CrewContent](tx)
	names := map[uuid.UUID]string{}
	for _, m := range members {
		if c := crews[m.Content.CrewID]; c != nil {
			names[m.Content.WorkerID] = c.Content.Name
		}
	}
	return names, err
}

func (s *sampleFile) fillSetUp(kind imports.Kind, today dated.Date, blocks []models.BlockContent, works []string) error {
	switch kind {
	case imports.Workers:
		s.add("", "", "", "", today.String())
	case imports.Blocks:
		for _, b := range blocks {
			s.add(b.Code, b.Variety, strconv.FormatInt(b.Palms, 10), strconv.FormatInt(b.TallestCM, 10))
		}
	case imports.PieceRates:
		for _, w := range works {
			s.add(w, "", "", "", today.String())
		}
	}
	return nil
}

func sampleContents[C any](tx *models.Tx, today dated.Date, compare func(a, b *C) int) ([]C, error) {
	all, err := models.All[C](tx, models.InUseOn(today))
	var contents []C
	for _, record := range all {
		contents = append(contents, record.Content)
	}
	slices.SortFunc(contents, func(a, b C) int { return compare(&a, &b) })
	return contents, err
}

// bytes are the file: in UTF-8 with the mark by which spreadsheet programs know it. No cell is run as a formula.
func (s *sampleFile) bytes() ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("\ufeff")
	w := csv.NewWriter(&b)
	for i, cells := range s.rows {
		row := make([]string, len(s.rows[0]))
		copy(row, cells)
		for n, cell := range row {
			if i > 0 && cell != "" && strings.ContainsRune("=+-@\t\r\n", rune(cell[0])) {
				row[n] = "'" + cell
			}
		}
		if err := w.Write(row); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}
