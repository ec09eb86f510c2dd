package pages

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/gear"
	"palmero/models/injuries"
	"palmero/payroll"
)

// casePages show what became of an incident, take down what is learnt of it, and correct its report.
func casePages() []Page {
	pages := []Page{
		{Method: "GET", Path: "/incidents/{id}", Roles: guards, handle: showCase},
		{Method: "GET", Path: "/incidents/{id}/correction", Roles: guards, handle: showCaseCorrection},
		{Method: "POST", Path: "/incidents/{id}/correction", Roles: guards, handle: correctCase},
	}
	for _, e := range caseEvents {
		pages = append(pages,
			Page{Method: "GET", Path: "/incidents/{id}/" + e.path, Roles: guards, handle: e.ask},
			Page{Method: "POST", Path: "/incidents/{id}/" + e.path, Roles: guards, handle: e.keep})
	}
	return pages
}

// casePage is an incident with what became of it. Of a privacy case it has the name, which no list shows.
type casePage struct {
	*injuries.Case
	caseNames
	Due     []toldDeadline
	Known   []knownFact
	Days    injuries.DaysTold
	Reports []models.IncidentEvent // made to an agency
	History []caseStep             // the latest first
}

// caseNames are what the report of a case names.
type caseNames struct{ Worker, Garden, Block, Operation, Reporter, Equipment, Gear, Palms string }

// knownFact is a fact of a case as it is known.
type knownFact struct {
	Name string
	Mark Mark
}

// caseStep is one record of a case: a report, a correction, or what became known.
type caseStep struct {
	At             time.Time
	By, What, Note string
}

func showCase(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := &casePage{}
	err = v.view(func(tx *models.Tx) error { return page.read(tx, v, id) })
	if err != nil {
		return nil, err
	}
	return show("case", page), nil
}

func (p *casePage) read(tx *models.Tx, v *visit, id uuid.UUID) (err error) {
	if p.Case, err = injuries.Find(tx, figuring.Books(), id); err != nil {
		return err
	}
	if p.Assessment != nil {
		p.Assessment.Speak(v.speaking())
	}
	due, err := p.Case.Deadlines(tx.Now)
	if err != nil {
		return err
	}
	for _, d := range due {
		p.Due = append(p.Due, v.tellDeadline(d))
	}
	for _, e := range p.Events {
		if e.Content.Kind == models.AgencyEvent {
			p.Reports = append(p.Reports, e)
		}
	}
	p.Known, p.Days = v.tellFacts(p.Facts), p.TellDays()
	if p.caseNames, err = namesOfCase(tx, &p.Incident.Content); err != nil {
		return err
	}
	p.History, err = v.tellHistory(tx, p.Case)
	return err
}

// namesOfCase reads the names of what a report names.
func namesOfCase(tx *models.Tx, i *models.IncidentContent) (n caseNames, err error) {
	workers, err := models.List[models.Worker](tx, models.Page{Limit: 2}, models.OneOf("id", []uuid.UUID{orNil(i.WorkerID), orNil(i.ReporterID)}))
	if err != nil {
		return n, err
	}
	for _, w := range workers {
		if w.ID == orNil(i.WorkerID) {
			n.Worker = w.Content.Name
		}
		if w.ID == orNil(i.ReporterID) {
			n.Reporter = w.Content.Name
		}
	}
	garden, err := models.Get[models.GardenContent](tx, i.GardenID)
	if err != nil {
		return n, err
	}
	n.Garden = garden.Content.Name
	blocks, err := namesOf(tx, func(b *models.BlockContent) string { return b.Code })
	if err != nil {
		return n, err
	}
	operations, err := namesOf(tx, func(o *models.OperationContent) string { return o.Code })
	if err != nil {
		return n, err
	}
	n.Block, n.Operation = blocks[orNil(i.BlockID)], operations[orNil(i.OperationID)]
	if n.Equipment, err = calledOf(tx, i.EquipmentIDs, func(e *models.EquipmentContent) string { return e.Code }); err != nil {
		return n, err
	}
	if n.Gear, err = gearOfCase(tx, i.GearIssueIDs); err != nil {
		return n, err
	}
	n.Palms, err = calledOf(tx, i.PalmIDs, func(p *models.PalmContent) string { return p.Label })
	return n, err
}

// gearOfCase names what somebody had in hand that had a part in it.
func gearOfCase(tx *models.Tx, ids []uuid.UUID) (string, error) {
	if len(ids) == 0 {
		return "", nil
	}
	issues, err := gear.Issues(tx, models.Page{Limit: len(ids)}, models.OneOf("i.id", ids))
	names := make([]string, len(issues))
	for i, issue := range issues {
		names[i] = strings.TrimSpace(issue.Gear + " " + issue.Size)
	}
	return strings.Join(names, ", "), err
}

func orNil(id *uuid.UUID) uuid.UUID {
	if id == nil {
		return uuid.Nil
	}
	return *id
}

// calledOf is what some records are called, in order, with commas between.
func calledOf[C any](tx *models.Tx, ids []uuid.UUID, called func(*C) string) (string, error) {
	if len(ids) == 0 {
		return "", nil
	}
	records, err := models.List[models.Kept[C]](tx, models.Page{Limit: len(ids)}, models.OneOf("id", ids))
	names := make([]string, len(records))
	for i := range records {
		names[i] = called(&records[i].Content)
	}
	slices.Sort(names)
	return strings.Join(names, ", "), err
}

// yesNoFact is a fact of a case that is so or is not.
type yesNoFact struct {
	name string // of its field, as the safety engine calls it
	of   func(*models.CaseFacts) **bool
}

var yesNoFacts = []yesNoFact{
	{"loss_of_consciousness", func(f *models.CaseFacts) **bool { return &f.Unconscious }},
	{"inpatient", func(f *models.CaseFacts) **bool { return &f.Inpatient }},
	{"amputation", func(f *models.CaseFacts) **bool { return &f.Amputation }},
	{"eye_loss", func(f *models.CaseFacts) **bool { return &f.EyeLoss }},
	{"disfigurement", func(f *models.CaseFacts) **bool { return &f.Disfigurement }},
	{"death", func(f *models.CaseFacts) **bool { return &f.Death }},
}

// tellFacts lists the facts of a case, unknown ones as unknown.
func (v *visit) tellFacts(f models.CaseFacts) []knownFact {
	unknown := Mark{"look", v.say("page.case.not_known", nil)}
	treatment := unknown
	if f.Treatment != "" {
		treatment = Mark{"plain", v.catalogue().Word("page.case.treatment", f.Treatment)}
	}
	all := []knownFact{{v.say("page.case.treatment", nil), treatment}}
	for _, fact := range yesNoFacts {
		known := unknown
		if is := *fact.of(&f); is != nil {
			known = Mark{"plain", v.yesNo(*is)}
		}
		all = append(all, knownFact{v.say("page.case.fact."+fact.name, nil), known})
	}
	return all
}

func (v *visit) yesNo(is bool) string {
	if is {
		return v.say("page.case.yes", nil)
	}
	return v.say("page.case.no", nil)
}

// tellHistory lists the records of a case, the latest first.
func (v *visit) tellHistory(tx *models.Tx, c *injuries.Case) ([]caseStep, error) {
	by, err := accountNames(tx)
	if err != nil {
		return nil, err
	}
	reports, err := models.List[models.Incident](tx, models.Page{Limit: mostMembers}, models.Equal("case_id", c.Incident.Content.CaseID))
	if err != nil {
		return nil, err
	}
	var steps []caseStep
	for _, r := range reports {
		step := caseStep{r.ReceivedAt, by[r.RecordedBy], v.say("page.case.step.report", nil), ""}
		if r.Reason != "" {
			step.What, step.Note = v.say("page.case.step.correction", nil), r.Reason
		}
		steps = append(steps, step)
	}
	for _, e := range c.Events {
		steps = append(steps, caseStep{e.ReceivedAt, by[e.RecordedBy], v.tellEvent(&e.Content, c.Zone()), e.Content.Note})
	}
	slices.SortStableFunc(steps, func(a, b caseStep) int { return a.At.Compare(b.At) })
	slices.Reverse(steps)
	return steps, nil
}

// tellEvent says what an event tells, but for its note.
func (v *visit) tellEvent(e *models.IncidentEventContent, zone *time.Location) string {
	switch e.Kind {
	case models.FactsEvent:
		return v.tellLearnt(e.CaseFacts)
	case models.WorkEvent:
		return v.say("page.case.step.work", payroll.Terms{"status": v.say("page.case.work."+e.WorkStatus, nil), "date": e.FromDate.Date})
	case models.AgencyEvent:
		terms := payroll.Terms{"to": e.ReportedTo, "moment": v.catalogue().Moment(e.HappenedAt.In(zone)), "number": e.AgencyReference}
		if e.AgencyReference != "" {
			return v.say("page.case.step.agency_number", terms)
		}
		return v.say("page.case.step.agency", terms)
	case models.Decision:
		if e.Recordable != nil && *e.Recordable {
			return v.say("page.case.step.decided", nil)
		}
		return v.say("page.case.step.decided_not", nil)
	}
	return v.say("page.case.step.note", nil)
}

// tellLearnt says the facts that one event tells.
func (v *visit) tellLearnt(f models.CaseFacts) string {
	var told []string
	for _, k := range v.tellFacts(f) {
		if k.Mark.Kind != "look" {
			told = append(told, k.Name+": "+k.Mark.Words)
		}
	}
	return strings.Join(told, "; ")
}

// Log is where the case stands: in the log or not, by whom.
func (p *casePage) Log() pair {
	switch {
	case p.Decision != nil && *p.Decision:
		return pair{"look", "page.case.log.decided"}
	case p.Decision != nil:
		return pair{"plain", "page.case.log.decided_not"}
	case p.Assessment == nil:
		return pair{"plain", "page.case.log.near_miss"}
	case p.Assessment.Recordable == nil:
		return pair{"look", "page.case.log.unknown"}
	case *p.Assessment.Recordable:
		return pair{"look", "page.case.log.rules"}
	}
	return pair{"go", "page.case.log.rules_not"}
}

// Beyond tells whether more days were counted than the log takes.
func (p *casePage) Beyond() bool {
	return p.Days.Counted.Away+p.Days.Counted.Restricted > p.Case.Days.Away+p.Case.Days.Restricted
}

// Settle is the page on which what has to be done by a deadline is put on record.
func (d toldDeadline) Settle() string {
	switch {
	case d.CaseID == nil:
		return "/injury-summary?year=" + strconv.Itoa(d.Year)
	case d.Code == "record_case":
		return "/incidents/" + d.CaseID.String() + "/decision"
	}
	return "/incidents/" + d.CaseID.String() + "/agency"
}
