package documents

import (
	_ "embed"
	"html/template"
	"io"

	"palmero/handlers/text"
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

//go:embed training.html
var trainingSource string

var trainingTemplate = template.Must(template.New("training").Parse(trainingSource))

// TrainingHTML writes a worker's record of training as one self-contained page to read on a phone or to print and take along. It shows under [StatementPolicy].
func TrainingHTML(w io.Writer, sheet TrainingSheet, c *text.Catalogue) error {
	return trainingTemplate.Execute(w, trainingPage{Catalogue: c, TrainingSheet: sheet, Style: template.CSS(statementStyle)})
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
