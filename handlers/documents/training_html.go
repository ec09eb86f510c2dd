package documents

import (
	_ "embed"
	"html/template"
	"io"
	"strconv"

	"palmero/handlers/text"
	"palmero/models/climbs"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// TrainingSheet is a worker's own record of training with everything that belongs on the paper.
type TrainingSheet struct {
	On       dated.Date // the day of the record
	Employer Party
	Worker   Party
	Rows     []TrainingRow // the latest first
}

// TrainingRow is one training.
type TrainingRow struct {
	Title                                           string
	HeldOn                                          dated.Date
	Trainer, Qualification, Language, Understanding string
	Detail                                          string // such as the model of a lift; "" where there is none
	Acknowledged                                    bool
	Through                                         *dated.Date // nil: it does not end
	Ended                                           bool
}

// TrainingSheetOf turns a worker's record into what its page shows.
func TrainingSheetOf(own *climbs.OwnTraining, c *text.Catalogue) TrainingSheet {
	firm, worker := own.Employer.Content, own.Worker.Content
	sheet := TrainingSheet{
		On: own.On, Employer: Party{Name: firm.LegalName, Address: lines(firm.Address)}, Worker: Party{Name: worker.Name, Number: strconv.FormatInt(worker.Number, 10)},
	}
	for i := range own.Entries {
		e := &own.Entries[i]
		row := TrainingRow{
			Title: TopicTitle(e.Topic, e.Content.Topic, c), HeldOn: e.Content.HeldOn.Date, Trainer: e.Content.Trainer, Qualification: e.Content.Qualification,
			Language: e.Content.Language, Understanding: e.Content.Understanding, Detail: e.Content.Detail, Acknowledged: e.Content.Acknowledged, Ended: e.Ended(own.On),
		}
		if !e.Through.IsZero() {
			row.Through = &e.Through
		}
		sheet.Rows = append(sheet.Rows, row)
	}
	return sheet
}

// TopicTitle names a topic of training in the catalogue's language; the key of one that is no longer known.
func TopicTitle(t *climbs.Topic, key string, c *text.Catalogue) string {
	switch {
	case t == nil || t.Own == nil:
		return c.Word("topic", key)
	case c.Language() == text.Spanish:
		return t.Own.Content.TitleES
	}
	return t.Own.Content.TitleEN
}

//go:embed training.html
var trainingSource string

var trainingTemplate = template.Must(template.New("training").Parse(trainingSource))

// TrainingHTML writes a worker's record of training as one self-contained page to read on a phone or to print and take along. It shows under [StatementPolicy].
func TrainingHTML(w io.Writer, sheet TrainingSheet, c *text.Catalogue) error {
	return trainingTemplate.Execute(w, trainingPage{Catalogue: c, TrainingSheet: sheet, Style: template.CSS(statementStyle)})
}

// TrainingBody writes what stands on that page without the page around it.
func TrainingBody(w io.Writer, sheet TrainingSheet, c *text.Catalogue) error {
	return trainingTemplate.ExecuteTemplate(w, "body", trainingPage{Catalogue: c, TrainingSheet: sheet})
}

// trainingPage is what the template sees.
type trainingPage struct {
	*text.Catalogue
	TrainingSheet
	Style template.CSS
}

// T says one of the page's own labels.
func (p trainingPage) T(name string) string { return p.Say("training."+name, nil) }

// Told says one of the page's own sentences with one term.
func (p trainingPage) Told(name, term string, value any) string {
	return p.Say("training."+name, payroll.Terms{term: value})
}

// Spoken names a language; one that has no name here stays as it was recorded.
func (p trainingPage) Spoken(language string) string { return p.Word("language", language) }
