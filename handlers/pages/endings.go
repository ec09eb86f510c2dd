package pages

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// endingPages record the last day on which there is work in a garden, in a block or at an operation, and take it back.
func endingPages() []Page {
	return []Page{
		{Method: "POST", Path: "/gardens/{id}/ending", Roles: owners, handle: endGarden},
		{Method: "POST", Path: "/blocks/{id}/ending", Roles: owners, handle: endBlock},
		{Method: "POST", Path: "/operations/{id}/ending", Roles: owners, handle: endOperation},
	}
}

// until says something with its last day, where that is behind.
func (v *visit) until(what string, e models.Ending, today dated.Date) string {
	if e.InUse(today) {
		return what
	}
	return v.say("page.set.until", payroll.Terms{"what": what, "date": e.EndedOn.Date})
}

// ending is the part of a page on which an end is recorded.
type ending struct {
	models.Ending
	Today dated.Date
	Kind  string // of what ends, a word of the catalogue: page.set.ending.KIND
	At    string // where the form goes
	Form  *Form
}

// Over tells whether the last day is behind.
func (e ending) Over() bool { return !e.InUse(e.Today) }

// endOf is the end of a garden: of the last of its blocks, where each has one.
func endOf(blocks []models.Block) (e models.Ending) {
	for _, b := range blocks {
		if b.Content.EndedOn.IsZero() {
			return models.Ending{}
		}
		if b.Content.EndedOn.After(e.EndedOn.Date) {
			e = b.Content.Ending
		}
	}
	return e
}

func endGarden(v *visit) (*answer, error) {
	return v.end("/gardens/", "garden", gardenPage, func(tx *models.Tx, id uuid.UUID, _ int64, e models.Ending) error {
		if e.EndedOn.IsZero() {
			return models.ResumeBlocks(tx, id)
		}
		return models.EndBlocks(tx, id, e.EndedOn)
	})
}

func endBlock(v *visit) (*answer, error) {
	return v.end("/blocks/", "block", blockPage, func(tx *models.Tx, id uuid.UUID, version int64, e models.Ending) error {
		b, err := models.Get[models.BlockContent](tx, id)
		if err != nil {
			return err
		}
		c := b.Content
		c.Ending = e
		_, err = models.Update(tx, id, version, c)
		return err
	})
}

func endOperation(v *visit) (*answer, error) {
	return v.end("/operations/", "operation", operationPage, func(tx *models.Tx, id uuid.UUID, version int64, e models.Ending) error {
		o, err := models.Get[models.OperationContent](tx, id)
		if err != nil {
			return err
		}
		c := o.Content
		c.Ending = e
		_, err = models.Update(tx, id, version, c)
		return err
	})
}

// end records a last day, or takes it back, and shows the page again.
func (v *visit) end(path, kind string, page func(*visit, *Form) (*answer, error), keep func(*models.Tx, uuid.UUID, int64, models.Ending) error) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("last_day", "back")
	if err != nil {
		return nil, err
	}
	e, done := models.Ending{EndedOn: models.Day(f.Day("last_day"))}, kind+"_ended"
	if f.Value("back") != "" {
		e, done = models.Ending{}, kind+"_goes_on"
	} else {
		f.needDay("last_day")
	}
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error { return keep(tx, id, f.Version, e) })
	}
	if err != nil {
		return v.again(f, inForm(err, "/ended_on", "/last_day"), page)
	}
	return seeOther(path+id.String(), done), nil
}
