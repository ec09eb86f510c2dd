package pages

import (
	"bytes"
	"io"
	"strconv"

	"palmero/handlers/documents"
	"palmero/handlers/figuring"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/injuries"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// caseYearPages are a year's log and summary: on paper, certified, as files, and the names that they leave out.
func caseYearPages() []Page {
	return []Page{
		{Method: "GET", Path: "/injury-log.csv", Roles: guards, handle: yearFile("injury-log", func(b io.Writer, log *injuries.Log, c *text.Catalogue) error {
			return documents.InjuryLogCSV(b, documents.InjuryLogOf(log, c), documents.InjuryColumnsOf(), c)
		})},
		{Method: "GET", Path: "/injury-summary.csv", Roles: guards, handle: yearFile("injury-summary", func(b io.Writer, log *injuries.Log, c *text.Catalogue) error {
			return documents.InjurySummaryCSV(b, documents.InjurySummaryOf(log), c)
		})},
		{Method: "GET", Path: "/injury-log/private", Roles: guards, handle: showYear("injury_private")},
		{Method: "GET", Path: "/injury-summary", Roles: guards, handle: showSummary},
		{Method: "POST", Path: "/injury-summary", Roles: guards, handle: certifySummary},
	}
}

// yearLog is a year's log, with the years beside it.
type yearLog struct {
	*injuries.Log
	Before, After int // 0: there is none
	Today         dated.Date
}

// readYear reads the log of the year that is asked for, or else of one so many years before this.
func (v *visit) readYear(tx *models.Tx, asked string, back int) (y yearLog, err error) {
	day, err := v.shownDay(tx)
	if err != nil {
		return y, err
	}
	y.Today = day.Today
	now := y.Today.Year()
	first, err := models.FirstIncidentOn(tx)
	if err != nil {
		return y, err
	}
	earliest := now - 1
	if !first.IsZero() {
		earliest = min(earliest, first.Year())
	}
	year, err := strconv.Atoi(asked)
	if err != nil || year < earliest || year > now {
		year = now - back
	}
	if year > earliest {
		y.Before = year - 1
	}
	if year < now {
		y.After = year + 1
	}
	y.Log, err = injuries.FindLog(tx, figuring.Books(), year, nil)
	return y, err
}

// yearAsked is the log of the year in the address, or of this one.
func (v *visit) yearAsked() (y yearLog, err error) {
	err = v.view(func(tx *models.Tx) (err error) {
		y, err = v.readYear(tx, v.gin.Query("year"), 0)
		return err
	})
	return y, err
}

// yearFile answers with a year's log in the form of a file.
func yearFile(name string, write func(io.Writer, *injuries.Log, *text.Catalogue) error) handler {
	return func(v *visit) (*answer, error) {
		y, err := v.yearAsked()
		if err != nil {
			return nil, err
		}
		var b bytes.Buffer
		if err := write(&b, y.Log, v.catalogue()); err != nil {
			return nil, err
		}
		return &answer{file: &file{name: name + "-" + strconv.Itoa(y.Year) + ".csv", media: "text/csv; charset=utf-8", bytes: b.Bytes()}}, nil
	}
}

// summaryPage is a year's summary, with the form that certifies it.
type summaryPage struct {
	yearLog
	Over       bool // whether the year is
	Classes    []summed
	Conditions []summed
}

// summed is a sum of the log by the key of its name.
type summed struct {
	Key   string
	Count int
}

// Hours are the hours worked by all, to the nearest.
func (p *summaryPage) Hours() payroll.Pieces { return payroll.Pieces((p.Minutes + 30) / 60 * 1000) }

// Hanging tells whether the summary has to hang today.
func (p *summaryPage) Hanging() bool {
	from, through := p.Posting().From, p.Posting().Through
	return !from.IsZero() && !p.Today.Before(from) && !p.Today.After(through)
}

// showSummary shows the summary of last year where none is asked for: the one that is due.
func showSummary(v *visit) (*answer, error) { return summaryAgain(v, newForm(nil)) }

func summaryAgain(v *visit, f *Form) (*answer, error) {
	asked := v.gin.Query("year")
	if f.Value("year") != "" {
		asked = f.Value("year")
	}
	page := &summaryPage{}
	err := v.view(func(tx *models.Tx) (err error) {
		page.yearLog, err = v.readYear(tx, asked, 1)
		return err
	})
	if err != nil {
		return nil, err
	}
	page.Over = page.Year < page.Today.Year()
	for _, class := range injuries.Classes {
		page.Classes = append(page.Classes, summed{"injury_class." + string(class), page.Totals.Classes[class]})
	}
	for _, condition := range models.Conditions {
		page.Conditions = append(page.Conditions, summed{"injury_condition." + condition, page.Totals.Conditions[condition]})
	}
	page.fill(f)
	return show("injury_summary", page).with(f), nil
}

// fill puts what stands into a form that is not filled in yet.
func (p *summaryPage) fill(f *Form) {
	if f.Has("year") {
		return
	}
	f.Set("year", strconv.Itoa(p.Year))
	f.Set("certified_on", p.Today.String())
	if p.Certified == nil {
		return
	}
	c := p.Certified.Content
	for name, value := range map[string]string{
		"stands": p.Certified.ID.String(), "average_employees": strconv.FormatInt(c.AverageEmployees, 10), "certified_by": c.CertifiedBy, "certified_title": c.CertifiedTitle,
		"certified_on": c.CertifiedOn.String(),
	} {
		f.Set(name, value)
	}
	if !c.PostedOn.IsZero() {
		f.Set("posted_on", c.PostedOn.String())
	}
}

// certifySummary keeps who certified a year's summary, and since when it hangs; in place of an earlier word, with the reason.
func certifySummary(v *visit) (*answer, error) {
	f, err := v.form("average_employees", "certified_by", "certified_title", "certified_on", "posted_on", "reason")
	if err != nil {
		return nil, err
	}
	in := models.InjurySummaryContent{
		Year: f.Whole("year"), AverageEmployees: f.Whole("average_employees"), CertifiedBy: f.Value("certified_by"), CertifiedTitle: f.Value("certified_title"),
		CertifiedOn: models.Day(f.Day("certified_on")), PostedOn: models.Day(f.Day("posted_on")),
	}
	how := models.Recording{Supersedes: f.optionalRef("stands"), Reason: f.Value("reason")}
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			day, err := v.shownDay(tx)
			if err != nil {
				return err
			}
			if in.Year >= int64(day.Today.Year()) {
				return &models.Error{Kind: models.Conflict, Key: "page.case.year_not_over", Terms: payroll.Terms{"year": in.Year}}
			}
			how.RecordedAt = tx.Now
			_, _, err = models.Record(tx, f.ID, in, how)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, summaryAgain)
	}
	return seeOther("/injury-summary?year="+f.Value("year"), "summary_certified"), nil
}
