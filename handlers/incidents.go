package handlers

import (
	"bytes"
	"net/http"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"palmero/handlers/documents"
	"palmero/handlers/figuring"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/injuries"
	"palmero/payroll"
	"palmero/safety"
)

const incidentsPath = "/api/v1/incidents"

var incidentFilters = []filter{byDay("from", models.HappenedFrom), byDay("to", models.HappenedThrough), byID("garden_id")}

// incidentRoutes: what happened to people. Whoever leads a crew sees what they reported, the clerk who can work and nothing of anybody's health, and only those who answer for safety see cases whole.
func incidentRoutes() []Route {
	const one = incidentsPath + "/{id}"
	logQuery := []string{"year", "garden_id"}
	printed := append(slices.Clone(logQuery), "language")
	summaries := recorded[models.InjurySummaryContent]{path: "/api/v1/injury-summaries", filters: []filter{byFlag("standing", models.Standing)}, record: models.Record[models.InjurySummaryContent]}
	return slices.Concat([]Route{
		{Method: "GET", Path: incidentsPath, Roles: staff, Query: append(pageQuery(incidentFilters), "with"), Status: http.StatusOK, handle: listIncidents},
		{Method: "POST", Path: incidentsPath, Roles: onGuard, Most: noteLimit, Status: http.StatusCreated, handle: taking(postIncident)},
		{Method: "GET", Path: one, Roles: onGuard, Status: http.StatusOK, handle: getIncident},
		{Method: "GET", Path: one + "/chain", Roles: guards, Status: http.StatusOK, handle: recorded[models.IncidentContent]{}.chain},
		{Method: "POST", Path: one + "/events", Roles: guards, Most: noteLimit, Status: http.StatusCreated, handle: taking(postIncidentEvent)},
		{Method: "GET", Path: "/api/v1/incident-deadlines", Roles: guards, Status: http.StatusOK, handle: listDeadlines},
		{Method: "GET", Path: "/api/v1/injury-log", Roles: guards, Query: logQuery, Status: http.StatusOK, handle: injuryLog},
		{Method: "GET", Path: "/api/v1/injury-log.csv", Roles: guards, Query: printed, Status: http.StatusOK, handle: injuryLogCSV},
		{Method: "GET", Path: "/api/v1/injury-summary.csv", Roles: guards, Query: printed, Status: http.StatusOK, handle: injurySummaryCSV},
		{Method: "GET", Path: "/api/v1/injury-privacy-list", Roles: guards, Query: logQuery, Status: http.StatusOK, handle: injuryPrivacyList},
		{Method: "GET", Path: "/api/v1/my/incidents", Roles: hands, Query: pageQuery(nil), Status: http.StatusOK, handle: myIncidents},
	}, evidence(guards, guards, summaries))
}

// newIncident is a report as it is sent in.
type newIncident struct {
	ID         uuid.UUID          `json:"id"`
	Supersedes *uuid.UUID         `json:"supersedes,omitempty"`
	Reason     string             `json:"reason,omitempty"`
	Report     injuries.NewReport `json:",inline"`
}

func postIncident(rq *request, in newIncident) (*reply, error) {
	var incident *models.Incident
	var repeated bool
	err := rq.in(func(tx *models.Tx) error {
		c := models.NewChecker(tx)
		c.OptionalText("/reason", &in.Reason, reasonLimit)
		faults, err := c.Done()
		if err != nil {
			return err
		}
		author := uuid.Nil // corrects any
		if rq.caller.Role == models.RoleCrewLead {
			author = tx.Actor
		}
		how := models.Recording{RecordedAt: tx.Now, Supersedes: in.Supersedes, Reason: in.Reason}
		incident, repeated, err = injuries.Report(tx, figuring.Books(), in.ID, in.Report, how, author)
		return withFaults(err, repeated, append(checkID("/id", in.ID), faults...))
	})
	if err != nil {
		return nil, err
	}
	return plain(incident).at(incidentsPath, incident.ID, repeated), nil
}

func postIncidentEvent(rq *request, in created[models.IncidentEventContent]) (*reply, error) {
	incident, err := rq.id()
	if err != nil {
		return nil, err
	}
	var event *models.IncidentEvent
	var repeated bool
	err = rq.in(func(tx *models.Tx) (err error) {
		event, repeated, err = injuries.Add(tx, figuring.Books(), incident, in.ID, in.Content)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: event, repeated: repeated}, nil
}

// incidentCase is a case whole.
type incidentCase struct {
	*injuries.Case
	Class     injuries.Class `json:"class"`
	Condition string         `json:"condition"`
	Logged    bool           `json:"logged"`
}

// reportedIncident is a case as its reporter sees it: what they told, and nothing of what became known to others.
type reportedIncident struct {
	Incident models.Incident        `json:"incident"`
	Events   []models.IncidentEvent `json:"events"`
}

// absence is a case as the clerk sees it: who can work, and nothing of anybody's health. Of a privacy case not even who.
type absence struct {
	CaseID     uuid.UUID     `json:"case_id"`
	Number     int64         `json:"number"`
	HappenedOn models.Date   `json:"happened_on"`
	GardenID   uuid.UUID     `json:"garden_id"`
	WorkerID   *uuid.UUID    `json:"worker_id"`
	WorkStatus string        `json:"work_status"`
	Days       injuries.Days `json:"days"`
}

// showCase shows as much of a case as the caller's role may see.
func (rq *request) showCase(c *injuries.Case) any {
	switch rq.caller.Role {
	case models.RoleCrewLead:
		own := slices.DeleteFunc(slices.Clone(c.Events), func(e models.IncidentEvent) bool { return e.RecordedBy != rq.scope.Actor })
		return reportedIncident{c.Incident, own}
	case models.RoleClerk:
		i := &c.Incident.Content
		a := absence{i.CaseID, i.Number, i.HappenedOn, i.GardenID, i.WorkerID, c.WorkStatus, c.Days}
		if i.Privacy != "" {
			a.WorkerID = nil
		}
		return a
	}
	return rq.wholeCase(c)
}

func (rq *request) wholeCase(c *injuries.Case) incidentCase {
	if c.Assessment != nil {
		c.Assessment.Speak(func(key string, terms safety.Terms) string { return rq.say(key, payroll.Terms(terms)) })
	}
	return incidentCase{c, c.Class(), c.Condition(), c.Logged()}
}

func caseSeq(c *injuries.Case) int64 { return c.Incident.Seq }

func listIncidents(rq *request) (*reply, error) {
	var with uuid.UUID
	p, conditions, err := rq.page(append(slices.Clone(incidentFilters), readsID("with", &with))...)
	if err != nil {
		return nil, err
	}
	if rq.caller.Role == models.RoleCrewLead {
		conditions = append(conditions, models.Equal("recorded_by", rq.scope.Actor))
	}
	var cases []injuries.Case
	err = rq.view(func(tx *models.Tx) (err error) {
		if with != uuid.Nil {
			conditions = append(conditions, models.IncidentsWith(tx, with))
		}
		cases, err = injuries.List(tx, figuring.Books(), p, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(cases, p.Limit, caseSeq, rq.showCase)), nil
}

func getIncident(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var found *injuries.Case
	err = rq.view(func(tx *models.Tx) (err error) {
		found, err = injuries.Find(tx, figuring.Books(), id)
		return err
	})
	if err == nil && rq.caller.Role == models.RoleCrewLead && found.Incident.RecordedBy != rq.scope.Actor {
		err = errNotFound
	}
	if err != nil {
		return nil, err
	}
	return plain(rq.showCase(found)), nil
}

func myIncidents(rq *request) (*reply, error) {
	p, _, err := rq.page()
	if err != nil {
		return nil, err
	}
	var cases []injuries.Case
	err = rq.view(func(tx *models.Tx) (err error) {
		cases, err = injuries.List(tx, figuring.Books(), p, models.HappenedTo(tx, *rq.caller.Worker))
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(cases, p.Limit, caseSeq, rq.wholeCase)), nil
}

// deadline is a deadline with its words.
type deadline struct {
	injuries.Deadline
	Text string `json:"text"`
}

func listDeadlines(rq *request) (*reply, error) {
	var all []injuries.Deadline
	err := rq.view(func(tx *models.Tx) (err error) {
		all, err = injuries.Deadlines(tx, figuring.Books())
		return err
	})
	if err != nil {
		return nil, err
	}
	shown := make([]deadline, len(all))
	for i, d := range all {
		shown[i] = deadline{d, rq.say("deadline."+d.Code, payroll.Terms{"number": d.Number, "year": d.Year})}
	}
	return plain(page[deadline]{Items: shown}), nil
}

// yearLog reads the log that the query asks for.
func (rq *request) yearLog() (*injuries.Log, error) {
	var garden uuid.UUID
	if _, _, err := rq.page(readsID("garden_id", &garden)); err != nil {
		return nil, err
	}
	year, err := strconv.Atoi(rq.gin.Query("year"))
	if err != nil || year < firstYear || year > lastYear {
		return nil, faultyQuery([]payroll.Fault{{Pointer: "year", Key: "fault.not_between", Terms: payroll.Terms{"low": firstYear, "high": lastYear}}})
	}
	var log *injuries.Log
	err = rq.view(func(tx *models.Tx) (err error) {
		log, err = injuries.FindLog(tx, figuring.Books(), year, given(garden))
		return err
	})
	return log, err
}

// The years that a log can be of.
const firstYear, lastYear = 1990, 9998

func injuryLog(rq *request) (*reply, error) {
	log, err := rq.yearLog()
	if err != nil {
		return nil, err
	}
	if log.Rates != nil {
		log.Rates.Speak(func(key string, terms safety.Terms) string { return rq.say(key, payroll.Terms(terms)) })
	}
	return plain(log), nil
}

func injuryPrivacyList(rq *request) (*reply, error) {
	log, err := rq.yearLog()
	if err != nil {
		return nil, err
	}
	return plain(page[injuries.Private]{Items: log.Confidential()}), nil
}

// csvReply answers with a list that is written in the language asked for.
func (rq *request) csvReply(name string, write func(b *bytes.Buffer, c *text.Catalogue) error) (*reply, error) {
	lang, err := rq.chosenLanguage()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := write(&b, text.For(lang)); err != nil {
		return nil, err
	}
	r := document("text/csv; charset=utf-8", b.Bytes())
	r.header = http.Header{"Content-Language": {lang}, "Content-Disposition": {`attachment; filename="` + name + `.csv"`}}
	return r, nil
}

func injuryLogCSV(rq *request) (*reply, error) {
	log, err := rq.yearLog()
	if err != nil {
		return nil, err
	}
	return rq.csvReply("injury-log-"+strconv.Itoa(log.Year), func(b *bytes.Buffer, c *text.Catalogue) error {
		return documents.InjuryLogCSV(b, documents.InjuryLogOf(log, c), documents.InjuryColumnsOf(), c)
	})
}

func injurySummaryCSV(rq *request) (*reply, error) {
	log, err := rq.yearLog()
	if err != nil {
		return nil, err
	}
	return rq.csvReply("injury-summary-"+strconv.Itoa(log.Year), func(b *bytes.Buffer, c *text.Catalogue) error {
		return documents.InjurySummaryCSV(b, documents.InjurySummaryOf(log), c)
	})
}
