package pages

import (
	"slices"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/injuries"
	"palmero/payroll"
)

// incidentPages show what happened to people, what has to be told by when, and the log.
func incidentPages() []Page {
	return []Page{
		{Method: "GET", Path: "/incidents", Roles: guards, Nav: "page.nav.incidents", Under: "/safety", handle: showIncidents},
		{Method: "GET", Path: "/incidents/new", Roles: guards, handle: showNewIncident},
		{Method: "POST", Path: "/incidents/new", Roles: guards, handle: reportIncident},
		{Method: "GET", Path: "/injury-log", Roles: guards, handle: showYear("injury_log")},
	}
}

// incidentDays is how far back the page of incidents looks; the log has the years.
const incidentDays = 366

// incidentsPage is what is still to be told to whom, and what happened, the latest first.
type incidentsPage struct {
	Deadlines []toldDeadline
	Cases     []shownCase
	Year      int
}

// toldDeadline is a deadline in words, with how long is left.
type toldDeadline struct {
	injuries.Deadline
	Mark       Mark
	Left, Verb string
}

// shownCase is a case in a line. Of a privacy case the name is left out.
type shownCase struct {
	injuries.Case
	Name string
}

func showIncidents(v *visit) (*answer, error) {
	var page incidentsPage
	err := v.view(func(tx *models.Tx) error {
		day, err := v.shownDay(tx)
		if err != nil {
			return err
		}
		page.Year = day.Today.Year()
		deadlines, err := injuries.Deadlines(tx, figuring.Books())
		if err != nil {
			return err
		}
		for _, d := range deadlines {
			page.Deadlines = append(page.Deadlines, v.tellDeadline(d))
		}
		cases, err := injuries.List(tx, figuring.Books(), models.Page{Limit: mostMembers}, models.HappenedFrom(day.Today.AddDays(-incidentDays)))
		if err != nil {
			return err
		}
		page.Cases, err = nameCases(tx, cases)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("incidents", page), nil
}

// tellDeadline says a deadline and how long is left in hours, or in days where there are many.
func (v *visit) tellDeadline(d injuries.Deadline) toldDeadline {
	const hour, day = 60, 24 * 60
	told := toldDeadline{Deadline: d, Mark: Mark{"look", v.say("deadline."+d.Code, payroll.Terms{"number": d.Number, "year": d.Year})}}
	switch {
	case d.CaseID == nil:
		told.Verb = v.say("page.case.do_summary", nil)
	case d.Code == "record_case":
		told.Verb = v.say("page.case.decide", nil)
	default:
		told.Verb = v.say("page.case.do_report", nil)
	}
	switch {
	case d.Remaining < 0:
		told.Mark.Kind, told.Left = "stop", v.say("page.incident.overdue", nil)
	case d.Remaining < 2*day:
		told.Left = v.say("page.incident.hours_left", payroll.Terms{"hours": d.Remaining / hour})
	default:
		told.Left = v.say("page.incident.days_left", payroll.Terms{"days": d.Remaining / day})
	}
	return told
}

// nameCases names the people of cases, the latest case first.
func nameCases(tx *models.Tx, cases []injuries.Case) ([]shownCase, error) {
	ids := []uuid.UUID{uuid.Nil}
	for _, c := range cases {
		if w := c.Incident.Content.WorkerID; w != nil {
			ids = append(ids, *w)
		}
	}
	workers, err := models.List[models.Worker](tx, models.Page{Limit: len(ids)}, models.OneOf("id", ids))
	if err != nil {
		return nil, err
	}
	called := models.KeptByID(workers)
	shown := make([]shownCase, len(cases))
	for i, c := range cases {
		shown[i].Case = c
		if w := c.Incident.Content.WorkerID; w != nil && c.Incident.Content.Privacy == "" && called[*w] != nil {
			shown[i].Name = called[*w].Content.Name
		}
	}
	slices.SortStableFunc(shown, func(a, b shownCase) int {
		return b.Incident.Content.HappenedAt.Compare(a.Incident.Content.HappenedAt)
	})
	return shown, nil
}

func showNewIncident(v *visit) (*answer, error) { return newIncidentPage(v, newForm(nil)) }

func newIncidentPage(v *visit, f *Form) (*answer, error) {
	var page *caseReport
	err := v.view(func(tx *models.Tx) error {
		day, err := v.shownDay(tx)
		if err != nil {
			return err
		}
		if f.Value("day") == "" {
			f.Set("day", day.Today.String())
		}
		page, err = v.caseReport(tx, day.Today)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("incident_new", page).with(f), nil
}

func reportIncident(v *visit) (*answer, error) {
	f, err := v.form(reportFields...)
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		report, err := f.report(tx, models.IncidentReport{})
		if err != nil {
			return err
		}
		_, _, err = injuries.Report(tx, figuring.Books(), f.ID, injuries.NewReport{IncidentReport: report}, models.Recording{RecordedAt: tx.Now}, uuid.Nil)
		return err
	})
	if err != nil {
		return v.again(f, err, newIncidentPage)
	}
	return seeOther("/incidents/"+f.ID.String(), "incident"), nil
}

// showYear shows the log of a year on a page.
func showYear(template string) handler {
	return func(v *visit) (*answer, error) {
		y, err := v.yearAsked()
		if err != nil {
			return nil, err
		}
		return show(template, y), nil
	}
}
