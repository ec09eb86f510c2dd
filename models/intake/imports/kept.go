package imports

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/intake/spreadsheet"
)

// KeptDays is for how many days a file that nobody takes in is kept. It goes when the next one comes after that.
const KeptDays = 7

// Keep keeps a file while somebody looks at it and settles what it asks, so that nobody has to choose the same file, or by mistake another one, for every try. It is thrown away
// once it is stored. The same file under the same identifier is kept once.
func Keep(tx *models.Tx, id uuid.UUID, kind Kind, reference string, data []byte) (*Import, error) {
	o := Order{ID: id, Kind: kind, Reference: reference, Data: data}
	if err := o.check(tx); err != nil {
		return nil, err
	}
	hash := o.hash(Choices{})
	if kept, err := models.Repeat[Import](tx, id, hash); err != nil || kept != nil {
		return kept, err
	}
	old := Import{State: Dropped}
	err := tx.DB().Model(&Import{}).Select("state", "file").Where("file <> '' AND begun_at < ?", tx.Now.AddDate(0, 0, -KeptDays)).Updates(&old).Error
	if err != nil {
		return nil, err
	}
	i := &Import{
		Keyed: models.Keyed{ID: id, ContentHash: hash}, Kind: kind, Reference: o.Reference, State: Waiting, BegunAt: tx.Now, ToldAt: tx.Now, BegunBy: tx.Actor,
		Report: models.Document("null"), File: base64.StdEncoding.EncodeToString(data), Version: 1,
	}
	if i.Answers, err = json.Marshal(Choices{Accept: intake.Whole}); err != nil {
		return nil, err
	}
	return i, tx.DB().Create(i).Error
}

// Begin sets a kept file to be checked (Checking) or taken in (Storing), provided that its version is the one that was looked at. One that is worked on already stays so.
func Begin(tx *models.Tx, id uuid.UUID, version int64, state State, c Choices) (*Import, error) {
	i, err := locked(tx, id)
	if err != nil {
		return nil, err
	}
	switch {
	case i.State == Stored:
		return i, nil
	case i.UnderWay() && !i.GivenUp(tx.Now):
		return nil, underWay()
	case i.Version != version:
		return nil, &models.Error{Kind: models.Stale, Key: "problem.stale_version"}
	case i.File == "":
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.import_gone"}
	}
	return i, i.begin(tx, state, c)
}

func locked(tx *models.Tx, id uuid.UUID) (*Import, error) {
	var found []Import
	if err := tx.Locking().Where("id = ?", id).Limit(1).Find(&found).Error; err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return nil, &models.Error{Kind: models.NotFound, Key: "problem.not_found"}
	}
	return &found[0], nil
}

// Work does with a kept file what it was set to. What it comes to is told in its row.
func (i *Import) Work(ctx context.Context, store *models.Store, scope models.Scope) error {
	data, err := base64.StdEncoding.DecodeString(i.File)
	if err != nil {
		return err
	}
	o, err := i.order(data)
	if err != nil {
		return err
	}
	_, err = i.run(ctx, store, scope, o)
	return err
}

// Drop throws a kept file away.
func Drop(tx *models.Tx, id uuid.UUID, version int64) error {
	i, err := locked(tx, id)
	switch {
	case err != nil, i.State == Stored, i.State == Dropped:
		return err
	case i.UnderWay() && !i.GivenUp(tx.Now):
		return underWay()
	case i.Version != version:
		return &models.Error{Kind: models.Stale, Key: "problem.stale_version"}
	}
	i.State, i.File, i.EndedAt, i.Version = Dropped, "", &tx.Now, i.Version+1
	return i.save(tx, "state", "file", "ended_at", "version")
}

// Latest lists the files of some kinds that came last, without their bytes: those that wait before all others.
func Latest(tx *models.Tx, kinds []Kind, most int) (waiting, ended []Import, err error) {
	var all []Import
	for _, wait := range []bool{true, false} {
		op := " NOT IN "
		if wait {
			op = " IN "
		}
		var found []Import
		err := tx.DB().Omit("file").Where("kind IN ?", kinds).Where("state"+op+"?", []State{Waiting, Checking, Storing, Checked, Refused, Failed}).Where("state <> ?", Dropped).
			Order("seq DESC").Limit(most).Find(&found).Error
		if err != nil {
			return nil, nil, err
		}
		all = append(all, found...)
	}
	for _, i := range all {
		if i.State == Stored {
			ended = append(ended, i)
		} else {
			waiting = append(waiting, i)
		}
	}
	return waiting, ended, nil
}

// Layout is how a file looks before anybody understands its rows.
type Layout struct {
	Encoding, Separator, Sheet string
	Sheets                     []string // of a workbook
	Columns                    []Column
}

// Column is a column with what it is read as.
type Column struct {
	Name     string // such as "C"
	Heading  string
	Field    string // what it is read as; "" where it is left aside
	Usual    string // what it would be read as with no mapping
	Examples []string
}

const mostExamples = 3

// layout looks at a file by its mapping. Where no line names enough columns, the longest among the first ones is taken for the headings.
func (j *job) layout() *Layout {
	l := &Layout{Encoding: j.table.Encoding, Separator: j.table.Separator, Sheet: j.table.Sheet, Sheets: j.table.Sheets}
	at, found := j.headingsAt()
	if len(found) < 2 {
		for i, r := range j.table.Rows[:min(len(j.table.Rows), headingRows)] {
			if filled(r.Cells) > filled(j.table.Rows[max(at, 0)].Cells) || at < 0 {
				at = i
			}
		}
	}
	if at < 0 {
		return l
	}
	bare := &job{order: j.order}
	for n, heading := range j.table.Rows[at].Cells {
		if strings.TrimSpace(heading) == "" {
			continue
		}
		c := Column{Name: spreadsheet.ColumnName(n), Heading: heading, Field: j.fieldOf(heading), Usual: bare.fieldOf(heading)}
		for _, r := range j.table.Rows[at+1:] {
			if cell := r.Cell(n); cell != "" && !slices.Contains(c.Examples, cell) {
				c.Examples = append(c.Examples, cell)
			}
			if len(c.Examples) == mostExamples {
				break
			}
		}
		l.Columns = append(l.Columns, c)
	}
	return l
}

func filled(cells []string) (n int) {
	for _, c := range cells {
		if c != "" {
			n++
		}
	}
	return n
}

// Fields are what the columns of a kind of file may say.
func Fields(kind Kind) []string { return fieldNames(kind) }

// Chosen is the mapping's columns as somebody chose them, a field or "" for each column of a layout: the fields that are not as usual. One that is usually read from a column,
// and from none by choice, is kept as "".
func (l *Layout) Chosen(fields []string) map[string]string {
	columns := map[string]string{}
	for n, c := range l.Columns {
		if n < len(fields) && fields[n] != "" && fields[n] != c.Usual {
			columns[fields[n]] = c.Heading
		}
	}
	for n, c := range l.Columns {
		if c.Usual == "" || n >= len(fields) || fields[n] == c.Usual {
			continue
		}
		if _, elsewhere := columns[c.Usual]; !elsewhere && !slices.Contains(fields, c.Usual) {
			columns[c.Usual] = ""
		}
	}
	return columns
}

// Sorted are words in an order that stays.
func (w Words) Sorted() []string {
	var all []string
	for from := range w {
		all = append(all, from)
	}
	slices.Sort(all)
	return all
}
