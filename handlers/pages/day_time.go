package pages

import (
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/daybook"
	"palmero/payroll"
)

// clockPage is who does what since when.
type clockPage struct {
	*desk
	Rows  []clockRow
	Kinds []payroll.TimeKind
	Rest  payroll.Minutes // how long a rest period is by the garden's rulebook; 0 where it names none
}

// clockRow is one worker's time of the day.
type clockRow struct {
	daybook.Person
	Spans  []daybook.Span
	Runs   *daybook.Span // nil where nothing runs
	Worked payroll.Minutes
}

func showClock(v *visit) (*answer, error) {
	return clockAgain(v, newForm(map[string]string{"kind": string(payroll.Piece)}))
}

func clockAgain(v *visit, f *Form) (*answer, error) {
	return v.dayPage("day_time", f, func(tx *models.Tx, d *desk) (any, error) {
		p := &clockPage{desk: d, Kinds: daybook.Working}
		var err error
		if p.Rest, err = d.Draft.RestLength(tx, v.Books, d.Key.Day); err != nil {
			return nil, err
		}
		spans, err := d.Draft.Spans(tx, d.Key)
		if err != nil {
			return nil, err
		}
		for _, person := range d.People {
			if own := spans[person.ID]; person.Here || len(own) > 0 {
				p.Rows = append(p.Rows, p.row(person, own))
			}
		}
		return p, nil
	})
}

func (p *clockPage) row(person daybook.Person, spans []daybook.Span) clockRow {
	r := clockRow{Person: person, Spans: spans}
	for i := range spans {
		s := &spans[i]
		if s.Start != nil && s.End == nil {
			r.Runs = s
		}
		if s.Kind != payroll.MealPeriod {
			r.Worked += s.Length(p.Now)
		}
	}
	return r
}

// turnClock starts and stops time for one or all, and notes a rest that was taken as scheduled.
func turnClock(v *visit) (*answer, error) {
	f, err := v.dayForm("kind", "at", "fact", "worker")
	if err != nil {
		return nil, err
	}
	do, one, _ := strings.Cut(f.Value("do"), ":")
	d, err := v.changeDay(f, func(tx *models.Tx, d *desk, draft *daybook.Draft) error {
		at, err := daybook.Moment(tx, d.Key.Day, f.Value("at"), d.Zone)
		if err != nil {
			return err
		}
		who, err := d.chosen(one)
		if err != nil {
			return err
		}
		switch do {
		case "start":
			return draft.Start(tx, d.Key.Day, who, payroll.TimeKind(f.Value("kind")), at)
		case "stop":
			return draft.Stop(who, at)
		case "rest":
			return draft.Rest(tx, v.Books, d.Key.Day, who, at)
		case "break":
			return draft.AddBreak(f.Ref("worker"), models.BreakFact(f.Value("fact")))
		}
		return errNotFound
	})
	if err != nil {
		return v.again(f, err, clockAgain)
	}
	return seeOther("/day/time"+d.Ask(), "clock_"+do), nil
}

// chosen is one worker of the day, or everybody on the roll.
func (d *desk) chosen(one string) (who []uuid.UUID, err error) {
	for _, p := range d.People {
		if p.ID.String() == one || one == "" && p.Here {
			who = append(who, p.ID)
		}
	}
	if one != "" && len(who) == 0 {
		return nil, &models.Error{Kind: models.Conflict, Key: "problem.nobody_there"}
	}
	return who, nil
}
