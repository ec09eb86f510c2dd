package pages

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/injuries"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// reportFields are the fields of the form that says what happened.
var reportFields = []string{"kind", "day", "happened_at", "garden_id", "worker_id", "place", "description", "body_part", "cause", "block_id", "operation_id", "reporter_id", "job_title", "condition",
	"height_ft", "arrested", "equipment", "privacy", "reason"}

// caseReport is the form that says what happened, for a first report and for one that takes its place.
type caseReport struct {
	Kinds, Gardens, Workers, Blocks, Operations, Reporters, Conditions, Privacy []Option
	Case                                                                        *injuries.Case // that is corrected; nil: a new one
}

func (v *visit) caseReport(tx *models.Tx, today dated.Date) (*caseReport, error) {
	p := &caseReport{Conditions: []Option{{Label: v.say("page.case.by_kind", nil)}}, Privacy: []Option{{Label: v.say("page.case.no_privacy", nil)}}}
	for _, kind := range models.IncidentKinds {
		p.Kinds = append(p.Kinds, Option{Value: kind, Label: v.say("page.incident.kind."+kind, nil)})
	}
	for _, c := range models.Conditions {
		p.Conditions = append(p.Conditions, Option{Value: c, Label: v.say("injury_condition."+c, nil)})
	}
	for _, g := range models.PrivacyGrounds {
		p.Privacy = append(p.Privacy, Option{Value: g, Label: v.say("page.case.privacy."+g, nil)})
	}
	var err error
	if p.Gardens, err = optionsOf(tx, func(g *models.GardenContent) string { return g.Name }); err != nil {
		return nil, err
	}
	if p.Blocks, err = optionsOf(tx, func(b *models.BlockContent) string { return v.until(b.Code, b.Ending, today) }); err != nil {
		return nil, err
	}
	if p.Operations, err = optionsOf(tx, func(o *models.OperationContent) string {
		return v.until(v.catalogue().Operation(o.Code), o.Ending, today)
	}); err != nil {
		return nil, err
	}
	workers, err := models.List[models.Worker](tx, models.Page{Limit: mostMembers}, models.EmployedOn(today))
	for _, w := range workers {
		p.Workers = append(p.Workers, Option{Value: w.ID.String(), Label: w.Content.Name})
	}
	slices.SortFunc(p.Workers, byLabel)
	none := v.say("page.case.not_said", nil)
	p.Blocks, p.Operations = slices.Insert(p.Blocks, 0, Option{Label: none}), slices.Insert(p.Operations, 0, Option{Label: none})
	p.Reporters = slices.Insert(slices.Clone(p.Workers), 0, Option{Label: none})
	p.Workers = slices.Insert(p.Workers, 0, Option{Label: v.say("page.incident.nobody", nil)})
	return p, err
}

// optionsOf are the choices among all records of a kind of which an employer has few.
func optionsOf[C any](tx *models.Tx, name func(*C) string) (options []Option, err error) {
	named, err := namesOf(tx, name)
	for id, name := range named {
		options = append(options, Option{Value: id.String(), Label: name})
	}
	slices.SortFunc(options, byLabel)
	return options, err
}

func byLabel(a, b Option) int { return cmp.Compare(a.Label, b.Label) }

// include adds somebody who is no longer employed to the choices, that a correction of another thing does not lose the name.
func include(options []Option, id *uuid.UUID, name string) []Option {
	if id == nil || slices.ContainsFunc(options, func(o Option) bool { return o.Value == id.String() }) {
		return options
	}
	return append(options, Option{Value: id.String(), Label: name})
}

// report reads what happened from a form. What the form does not ask for is as it was.
func (f *Form) report(tx *models.Tx, was models.IncidentReport) (r models.IncidentReport, err error) {
	r = was
	r.Kind, r.GardenID, r.Place, r.Description = f.Value("kind"), f.Ref("garden_id"), f.Value("place"), f.Value("description")
	r.BodyPart, r.Cause, r.JobTitle, r.Condition, r.Privacy = f.Value("body_part"), f.Value("cause"), f.Value("job_title"), f.Value("condition"), f.Value("privacy")
	r.WorkerID, r.BlockID, r.OperationID, r.ReporterID = f.optionalRef("worker_id"), f.optionalRef("block_id"), f.optionalRef("operation_id"), f.optionalRef("reporter_id")
	r.Arrested, r.Height = f.yesNo("arrested"), nil
	if n := readField(f, "height_ft", "input.not_decimal", quantity.Parse); f.Value("height_ft") != "" {
		r.Height = models.QuantityOf(n)
	}
	r.EquipmentIDs, err = f.pieces(tx)
	if err != nil {
		return r, err
	}
	zone, err := reportZone(tx, r.GardenID)
	if err != nil {
		return r, err
	}
	r.HappenedAt = f.Moment("day", "happened_at", zone)
	return r, f.Faulty()
}

// optionalRef reads a choice among records that need not be made.
func (f *Form) optionalRef(name string) *uuid.UUID {
	id := f.Ref(name)
	if id == uuid.Nil {
		return nil
	}
	return &id
}

// pieces finds the equipment whose codes were typed.
func (f *Form) pieces(tx *models.Tx) (models.IDs, error) {
	codes := strings.FieldsFunc(strings.ToUpper(f.Value("equipment")), func(r rune) bool { return r == ',' || r == ' ' || r == ';' })
	if len(codes) == 0 {
		return nil, nil
	}
	found, err := models.List[models.Equipment](tx, models.Page{Limit: len(codes)}, models.CodedAs(codes))
	if err != nil {
		return nil, err
	}
	byCode := map[string]uuid.UUID{}
	for _, e := range found {
		byCode[strings.ToUpper(e.Content.Code)] = e.ID
	}
	var ids models.IDs
	for _, code := range slices.Compact(codes) {
		if id, ok := byCode[code]; ok {
			ids = append(ids, id)
		} else {
			f.fault("equipment", "page.case.no_such_piece", payroll.Terms{"code": code})
		}
	}
	return ids, nil
}

// reportZone is the clock of a garden, and that of the home garden where none was chosen.
func reportZone(tx *models.Tx, garden uuid.UUID) (*time.Location, error) {
	g, err := models.Get[models.GardenContent](tx, garden)
	if models.KindOf(err) == models.NotFound {
		return payrun.HomeZone(tx)
	}
	if err != nil {
		return nil, err
	}
	return models.Zone(g.Content.TimeZone)
}

// showCaseCorrection shows the report that stands, to be put right.
func showCaseCorrection(v *visit) (*answer, error) { return caseCorrectionPage(v, newForm(nil)) }

func caseCorrectionPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page *caseReport
	err = v.view(func(tx *models.Tx) error {
		found, err := injuries.Find(tx, figuring.Books(), id)
		if err != nil {
			return err
		}
		day, err := v.shownDay(tx)
		if err != nil {
			return err
		}
		if page, err = v.caseReport(tx, day.Today); err != nil {
			return err
		}
		page.Case = found
		i := &found.Incident.Content
		names, err := namesOfCase(tx, i)
		page.Workers, page.Reporters = include(page.Workers, i.WorkerID, names.Worker), include(page.Reporters, i.ReporterID, names.Reporter)
		if !f.Has("kind") {
			f.fillReport(found, names)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("case_correction", page).with(f), nil
}

// fillReport puts a report that stands into the form.
func (f *Form) fillReport(c *injuries.Case, names caseNames) {
	i := &c.Incident.Content
	for name, value := range map[string]string{
		"kind": i.Kind, "garden_id": i.GardenID.String(), "place": i.Place, "description": i.Description, "body_part": i.BodyPart, "cause": i.Cause, "job_title": i.JobTitle,
		"condition": i.Condition, "privacy": i.Privacy, "equipment": names.Equipment, "stands": c.Incident.ID.String(),
	} {
		f.Set(name, value)
	}
	for name, id := range map[string]*uuid.UUID{"worker_id": i.WorkerID, "block_id": i.BlockID, "operation_id": i.OperationID, "reporter_id": i.ReporterID} {
		if id != nil {
			f.Set(name, id.String())
		}
	}
	if i.Height != nil {
		f.Set("height_ft", i.Height.String())
	}
	if i.Arrested != nil {
		f.Set("arrested", map[bool]string{true: "yes", false: "no"}[*i.Arrested])
	}
	f.setMoment("day", "happened_at", i.HappenedAt.In(c.Zone()))
}

// correctCase keeps a report in place of the one that was looked at.
func correctCase(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form(reportFields...)
	if err != nil {
		return nil, err
	}
	stands := f.Ref("stands")
	err = v.in(func(tx *models.Tx) error {
		found, err := injuries.Find(tx, figuring.Books(), id)
		if err != nil {
			return err
		}
		report, err := f.report(tx, found.Incident.Content.IncidentReport)
		if err != nil {
			return err
		}
		how := models.Recording{RecordedAt: tx.Now, Supersedes: &stands, Reason: f.Value("reason")}
		_, _, err = injuries.Report(tx, figuring.Books(), f.ID, injuries.NewReport{IncidentReport: report}, how, uuid.Nil)
		return err
	})
	if models.KindOf(err) == models.Conflict {
		f.Set("stands", "")
	}
	if err != nil {
		return v.again(f, err, caseCorrectionPage)
	}
	return seeOther("/incidents/"+id.String(), "case_corrected"), nil
}
