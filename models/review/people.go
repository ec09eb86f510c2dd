package review

import (
	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/climbs"
	"palmero/models/heatday"
	"palmero/payroll"
)

// stops finds the stops that hold today and that a crew lead concerned has not acknowledged.
func (l *looking) stops() error {
	stops, err := models.StopsOn(l.tx, l.today)
	if err != nil {
		return err
	}
	stops = stops[:l.whole(StopUnheard, len(stops))]
	standing, err := climbs.WithNotices(l.tx, stops, l.today)
	for i := range standing {
		s := &standing[i]
		var names []string
		subjects := []Subject{{Kind: "stops", ID: s.ID}}
		for _, n := range s.Notices {
			if n.AcknowledgedAt == nil {
				names, subjects = append(names, n.Worker), append(subjects, Subject{"worker", n.WorkerID, n.Worker})
			}
		}
		if len(names) == 0 {
			continue
		}
		tell := Action{Method: "POST", Path: "/api/v1/my/stops/" + s.ID.String() + "/acknowledgement", By: models.RoleCrewLead, verb: "tell"}
		l.add(StopUnheard, Danger, s.Workday.Date, tell, "review.stop_unheard", payroll.Terms{"names": names, "reason": s.Reason}, subjects...)
	}
	return err
}

// checklists finds the lists of the last weeks on which the officer has not spoken.
func (l *looking) checklists() error {
	filled, err := models.List[models.FilledChecklist](l.tx, models.Page{Limit: most}, models.Standing(true), models.Reviewed(false), models.WorkedFrom(clearance.Recent(l.tx.Now)))
	if err != nil {
		return err
	}
	crews, err := models.All[models.CrewContent](l.tx)
	for i := range filled[:l.whole(Checklist, len(filled))] {
		c := &filled[i].Content
		kind, severity := Checklist, Decide
		if !c.Passed {
			kind, severity = ChecklistFailed, Danger
		}
		crew := crews[c.CrewID]
		if crew == nil {
			continue // it was entered while this was read
		}
		l.add(kind, severity, c.Workday.Date, post("review", "filled-checklists", filled[i].ID.String(), "review"), "review."+string(kind),
			payroll.Terms{"crew": crew.Content.Name, "date": c.Workday.Date}, Subject{"filled_checklists", filled[i].ID, ""}, Subject{"crew", crew.ID, crew.Content.Name})
	}
	return err
}

// coolDowns finds who is owed a cool-down rest of today or yesterday that nobody recorded.
func (l *looking) coolDowns() error {
	for _, day := range []int{-1, 0} {
		on := l.today.AddDays(day)
		owed, err := heatday.FindOwed(l.tx, l.books.Rules, on, nil)
		if err != nil {
			return err
		}
		for i := range owed[:l.whole(CoolDownOwed, len(owed))] {
			if o := &owed[i]; o.Unrecorded() {
				rest := Action{Method: "POST", Path: "/api/v1/crew-sheets", By: models.RoleCrewLead, verb: "rest"}
				l.add(CoolDownOwed, Danger, on, rest, "review.cool_down_owed", payroll.Terms{"name": o.Name, "missing": o.Missing, "date": on}, Subject{"worker", o.WorkerID, o.Name})
			}
		}
	}
	return nil
}

// exceptions finds the work of the last weeks that no clearance covers.
func (l *looking) exceptions() error {
	open, err := clearance.Exceptions(l.tx, clearance.Recent(l.tx.Now), l.today, nil, most)
	for i := range open[:l.whole(WithoutClearance, len(open))] {
		x := &open[i]
		subjects := []Subject{{"worker", x.WorkerID, x.Name}}
		if x.CrewID != nil {
			subjects = append(subjects, Subject{Kind: "crew", ID: *x.CrewID})
		}
		key := "review.without_clearance"
		if x.Asked {
			key = "review.clearance_denied"
		}
		l.add(WithoutClearance, Decide, x.Workday.Date, post("settle", "clearance-exceptions"), key, payroll.Terms{"name": x.Name, "date": x.Workday.Date}, subjects...)
	}
	return err
}

// training finds the trainings that have ended, and those that end soon.
func (l *looking) training() error {
	within := l.q.Within
	if within < 0 {
		topics, err := climbs.FindTopics(l.tx, l.books, l.today)
		if err != nil {
			return err
		}
		within = topics.NoticeDays()
	}
	expiring, err := climbs.Expiring(l.tx, l.books, l.today, within)
	for i := range expiring[:l.whole(TrainingEnds, len(expiring))] {
		e := &expiring[i]
		kind, severity := TrainingEnds, Plan
		if e.DaysLeft < 0 {
			kind, severity = TrainingEnded, Decide
		}
		l.add(kind, severity, e.Through, post("train", "training-sign-offs"), "review."+string(kind),
			payroll.Terms{"name": e.Worker, "topic": e.Topic.Key, "date": e.Through}, Subject{"worker", e.WorkerID, e.Worker})
	}
	return err
}
