package pages

import (
	"net/url"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/clearance"
	"palmero/payroll/dated"
)

// unclearedCrew is a crew's day of work that nobody was cleared for.
type unclearedCrew struct {
	ID    *uuid.UUID // nil: the work was recorded with no crew
	Crew  *int64
	On    models.Date
	Count int
}

// Query is the address of the crew's day.
func (c unclearedCrew) Query() string {
	q := url.Values{"on": {c.On.String()}}
	if c.ID != nil {
		q.Set("crew", c.ID.String())
	}
	return "?" + q.Encode()
}

// crewsOf gathers open exceptions by the crew's day, those of one person alone left out.
func crewsOf(open []clearance.Exception) (crews []unclearedCrew) {
	for i := range open {
		e := &open[i]
		at := slices.IndexFunc(crews, func(c unclearedCrew) bool { return c.On == e.Workday && sameID(c.ID, e.CrewID) })
		if at < 0 {
			at = len(crews)
			crews = append(crews, unclearedCrew{ID: e.CrewID, Crew: e.Crew, On: e.Workday})
		}
		crews[at].Count++
	}
	return slices.DeleteFunc(crews, func(c unclearedCrew) bool { return c.Count < 2 })
}

func sameID(a, b *uuid.UUID) bool { return a == b || a != nil && b != nil && *a == *b }

// unclearedCrewPage is the form of one word on a crew's day.
type unclearedCrewPage struct {
	On   dated.Date
	Name string // of the crew; "" where the work was recorded with none
	Open []clearance.Exception
}

func showUnclearedCrew(v *visit) (*answer, error) {
	return unclearedCrewOf(v, newForm(map[string]string{"crew": v.gin.Query("crew"), "on": v.gin.Query("on")}))
}

func unclearedCrewOf(v *visit, f *Form) (*answer, error) {
	var page unclearedCrewPage
	var err error
	if page.On, err = dated.ParseDate(f.Value("on")); err != nil {
		return nil, errNotFound
	}
	err = v.view(func(tx *models.Tx) (err error) {
		page.Name, page.Open, err = openOfCrew(tx, f.Value("crew"), page.On)
		return err
	})
	if err != nil {
		return nil, err
	}
	if !f.Has("finding") && !f.Has("who") { // at first everybody is meant
		for _, e := range page.Open {
			f.Add("who", e.WorkerID.String())
		}
	}
	return show("uncleared_crew", page).with(f), nil
}

// openOfCrew are the open exceptions of a crew's day, or with "" of those whose work was recorded with none, and the crew's name.
func openOfCrew(tx *models.Tx, crew string, on dated.Date) (name string, open []clearance.Exception, err error) {
	var id *uuid.UUID
	if crew != "" {
		asked, err := uuid.Parse(crew)
		if err != nil {
			return "", nil, errNotFound
		}
		kept, err := models.Get[models.CrewContent](tx, asked)
		if err != nil {
			return "", nil, err
		}
		id, name = &asked, kept.Content.Name
	}
	open, err = clearance.Exceptions(tx, on, on, nil, mostMembers)
	open = slices.DeleteFunc(open, func(e clearance.Exception) bool { return !sameID(e.CrewID, id) })
	return name, open, err
}

// settleCrewDay keeps the officer's word on those of the crew's day who are ticked.
func settleCrewDay(v *visit) (*answer, error) {
	f, err := v.form("finding", "reason", "who")
	if err != nil {
		return nil, err
	}
	in := clearance.Settlements{ID: f.ID, Finding: models.ExceptionFinding(f.Value("finding")), Reason: f.Value("reason")}
	day := models.Day(f.Day("on"))
	for _, who := range f.Values("who") {
		if worker, err := uuid.Parse(who); err == nil {
			in.Days = append(in.Days, clearance.WorkerDay{WorkerID: worker, Workday: day})
		}
	}
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := clearance.SettleMany(tx, in)
			return err
		})
	}
	if err != nil {
		return v.again(f, movingFaults(err, func(pointer string) string {
			if len(in.Days) == 0 && pointer == "/days" {
				return "/who"
			}
			return pointer
		}), unclearedCrewOf)
	}
	return seeOther("/uncleared-work", "uncleared_many"), nil
}
