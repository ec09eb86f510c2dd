package pages

import (
	"strings"
	"time"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/injuries"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// caseEvent is a form by which something is added to a case.
type caseEvent struct {
	path string // of its page, below the case's
	kind string // of models.EventKinds
	read func(f *Form, e *models.IncidentEventContent)
}

var caseEvents = []*caseEvent{
	{"facts", models.FactsEvent, readCaseFacts},
	{"work", models.WorkEvent, func(f *Form, e *models.IncidentEventContent) {
		e.WorkStatus, e.FromDate = f.Value("work_status"), models.Day(f.Day("from_date"))
	}},
	{"agency", models.AgencyEvent, func(f *Form, e *models.IncidentEventContent) {
		e.ReportedTo, e.AgencyReference = f.Value("reported_to"), f.Value("agency_reference")
	}},
	{"decision", models.Decision, func(f *Form, e *models.IncidentEventContent) { e.Recordable = f.yesNo("recordable") }},
	{"note", models.NoteEvent, func(*Form, *models.IncidentEventContent) {}},
}

// yesNo is a choice between yes and no; nil where none was made.
func (f *Form) yesNo(name string) *bool {
	switch f.Value(name) {
	case "yes":
		return new(true)
	case "no":
		return new(false)
	}
	return nil
}

// readCaseFacts reads what became known. What was left as it was says nothing.
func readCaseFacts(f *Form, e *models.IncidentEventContent) {
	e.Treatment = f.Value("treatment")
	for _, fact := range yesNoFacts {
		*fact.of(&e.CaseFacts) = f.yesNo(fact.name)
	}
	if !e.Known() {
		f.fault("treatment", "page.case.nothing_chosen", nil)
	}
}

// caseEventPage is such a form, with what is known by now.
type caseEventPage struct {
	*injuries.Case
	Path       string
	Treatments []Option
	Facts      []askedFact
	Due        []toldDeadline
}

// askedFact is a fact that the form asks for.
type askedFact struct {
	Name, Label string
	Options     []Option
}

func (e *caseEvent) ask(v *visit) (*answer, error) { return e.page(v, newForm(nil)) }

func (e *caseEvent) page(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := caseEventPage{Path: e.path}
	err = v.view(func(tx *models.Tx) (err error) {
		if page.Case, err = injuries.Find(tx, figuring.Books(), id); err != nil {
			return err
		}
		if f.Value("day") == "" {
			f.setMoment("day", "happened_at", tx.Now.In(page.Zone()))
		}
		if page.Assessment != nil {
			page.Assessment.Speak(v.speaking())
		}
		due, err := page.Case.Deadlines(tx.Now)
		for _, d := range due {
			if strings.HasSuffix(toldDeadline{Deadline: d}.Settle(), "/"+e.path) {
				page.Due = append(page.Due, v.tellDeadline(d))
			}
		}
		return err
	})
	if err == nil && e.kind == models.FactsEvent {
		err = page.askFacts(v)
	}
	if err != nil {
		return nil, err
	}
	return show("case_event", page).with(f), nil
}

// askFacts makes the choices of the form that takes facts: each begins with what is known now, which changes nothing.
func (p *caseEventPage) askFacts(v *visit) error {
	treatments, err := p.Case.Treatments()
	if err != nil {
		return err
	}
	known := v.tellFacts(p.Case.Facts)
	p.Treatments = []Option{{Label: v.asKnown(known[0])}}
	for _, t := range treatments {
		p.Treatments = append(p.Treatments, Option{Value: t, Label: v.catalogue().Word("page.case.treatment", t)})
	}
	for i, fact := range yesNoFacts {
		p.Facts = append(p.Facts, askedFact{fact.name, known[i+1].Name, []Option{{Label: v.asKnown(known[i+1])}, {Value: "yes", Label: v.yesNo(true)}, {Value: "no", Label: v.yesNo(false)}}})
	}
	return nil
}

// asKnown is the choice that leaves a fact as it is known.
func (v *visit) asKnown(k knownFact) string {
	return v.say("page.case.as_known", payroll.Terms{"known": k.Mark.Words})
}

func (e *caseEvent) keep(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("day", "happened_at", "treatment", "loss_of_consciousness", "death", "inpatient", "amputation", "eye_loss", "disfigurement", "work_status", "from_date",
		"reported_to", "agency_reference", "recordable", "note")
	if err != nil {
		return nil, err
	}
	in := models.IncidentEventContent{Kind: e.kind, Note: f.Value("note")}
	e.read(f, &in)
	err = v.in(func(tx *models.Tx) error {
		found, err := injuries.Find(tx, figuring.Books(), id)
		if err != nil {
			return err
		}
		if in.HappenedAt = tx.Now.Truncate(time.Minute); f.Has("day") {
			in.HappenedAt = f.Moment("day", "happened_at", found.Zone())
		}
		if err := f.Faulty(); err != nil {
			return err
		}
		_, _, err = injuries.Add(tx, figuring.Books(), id, f.ID, in)
		return err
	})
	if err != nil {
		return v.again(f, err, e.page)
	}
	return seeOther("/incidents/"+id.String(), "case_"+e.path), nil
}

// Moment reads a day and a time of day on a place's clock, of two fields. Both have to be there.
func (f *Form) Moment(day, clock string, zone *time.Location) time.Time {
	on := f.Day(day)
	if f.Value(day) == "" {
		f.fault(day, "fault.empty", nil)
	}
	at, err := time.Parse("15:04", f.Value(clock))
	if err != nil {
		f.fault(clock, "page.input.not_clock", payroll.Terms{"value": f.Value(clock)})
	}
	return models.WorkdayBegin(on, at.Hour()*60+at.Minute(), zone)
}

func (f *Form) setMoment(day, clock string, at time.Time) {
	f.Set(day, dated.DateOf(at).String())
	f.Set(clock, at.Format("15:04"))
}
