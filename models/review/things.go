package review

import (
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/models/injuries"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// deadlines finds what is due on incidents. That a summary is to stay posted is nothing to decide.
func (l *looking) deadlines() error {
	due, err := injuries.Deadlines(l.tx, l.books.Rules)
	for i := range due[:l.whole(IncidentDeadline, len(due))] {
		d := &due[i]
		terms := payroll.Terms{"number": int(d.Number), "year": d.Year}
		switch {
		case d.Code == "keep_posted":
		case d.CaseID == nil:
			l.add(IncidentDeadline, Decide, d.DueOn, post("certify", "injury-summaries"), "deadline."+d.Code, terms)
		default:
			severity, verb := Danger, "report"
			if d.Code == "record_case" {
				severity, verb = Decide, "decide"
			}
			l.add(IncidentDeadline, severity, d.DueOn, post(verb, "incidents", d.CaseID.String(), "events"), "deadline."+d.Code, terms, Subject{Kind: "incidents", ID: *d.CaseID})
		}
	}
	return err
}

// equipment finds what is out of service.
func (l *looking) equipment() error {
	out, err := models.List[models.Equipment](l.tx, models.Page{Limit: most}, models.Equal("state", models.OutOfService))
	if err != nil {
		return err
	}
	out = out[:l.whole(EquipmentOut, len(out))]
	events, err := l.events(out)
	if err != nil {
		return err
	}
	for i := range out {
		e := &out[i]
		since, why := dated.DateOf(e.UpdatedAt), ""
		if told := events[e.ID]; told != nil {
			since, why = told.HappenedOn.Date, told.Note
		}
		key := "review.equipment_out"
		if why != "" {
			key = "review.equipment_out_why"
		}
		l.add(EquipmentOut, Decide, since, post("put_back", "equipment", e.ID.String(), "returns"), key, payroll.Terms{"code": e.Content.Code, "why": why}, Subject{"equipment", e.ID, e.Content.Code})
	}
	return nil
}

// events reads what took equipment out of service, by piece, with the finding as its note where there is one: two statements.
func (l *looking) events(out []models.Equipment) (map[uuid.UUID]*models.EquipmentEvent, error) {
	var ids []uuid.UUID
	for i := range out {
		if e := out[i].Content.StateEvent; e != nil {
			ids = append(ids, *e)
		}
	}
	var events []models.EquipmentEvent
	if err := l.tx.DB().Scopes(l.tx.Among("id", ids)).Find(&events).Error; err != nil {
		return nil, err
	}
	var findings []models.EquipmentFinding
	err := l.tx.DB().Scopes(l.tx.Among("event_id", ids)).Where("severity = ?", models.Stopping).Order("seq").Find(&findings).Error
	of := map[uuid.UUID]*models.EquipmentEvent{}
	for i := range events {
		e := &events[i]
		if f := slices.IndexFunc(findings, func(f models.EquipmentFinding) bool { return f.EventID == e.ID }); f >= 0 {
			e.Note = findings[f].Note
		}
		of[e.EquipmentID] = e
	}
	return of, err
}

// due finds equipment whose inspection is overdue, or that is past its last day of use. What is out of service already waits for that.
func (l *looking) due() error {
	overdue, err := gear.Overdue(l.tx, l.books.Rules, l.today)
	overdue = slices.DeleteFunc(overdue, func(d gear.Due) bool { return d.State == models.OutOfService })
	for i := range overdue[:l.whole(InspectionDue, len(overdue))] {
		d := &overdue[i]
		kind, do := InspectionDue, post("inspect", "equipment", d.EquipmentID.String(), "inspections")
		if d.What == gear.DueRetirement {
			kind, do = RetirementDue, post("retire", "equipment", d.EquipmentID.String(), "retirement")
		}
		l.add(kind, Decide, d.DueOn, do, "review."+string(kind), payroll.Terms{"code": d.Code, "date": d.DueOn, "authority": d.Authority}, Subject{"equipment", d.EquipmentID, d.Code})
	}
	return err
}

// gear finds what has not come back by its day, and of what too little is on hand.
func (l *looking) gear() error {
	issues, err := gear.Issues(l.tx, models.Page{Limit: most}, models.DueBefore(l.today))
	if err != nil {
		return err
	}
	for i := range issues[:l.whole(GearDue, len(issues))] {
		g := &issues[i]
		l.add(GearDue, Plan, g.DueOn.Date, post("take_back", "gear-issues", g.ID.String(), "return"), "review.gear_due",
			payroll.Terms{"gear": g.Gear, "name": g.Worker, "date": g.DueOn.Date}, Subject{"worker", g.WorkerID, g.Worker}, Subject{"gear_issues", g.ID, g.Gear})
	}
	low, err := models.List[models.GearKind](l.tx, models.Page{Limit: most}, models.LowStock(true))
	for i := range low[:l.whole(StockLow, len(low))] {
		k := &low[i]
		name := k.Content.Name
		if k.Content.Size != "" {
			name += " " + k.Content.Size
		}
		l.add(StockLow, Plan, l.today, post("stock", "gear-kinds", k.ID.String(), "stock"), "review.stock_low",
			payroll.Terms{"gear": name, "left": int(k.Content.OnHand)}, Subject{"gear_kinds", k.ID, name})
	}
	return err
}
