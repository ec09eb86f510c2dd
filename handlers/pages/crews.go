package pages

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// crewPages say who goes out with whom, and from which day through which.
func crewPages() []Page {
	return []Page{
		{Method: "GET", Path: "/crews", Roles: office, Nav: "page.set.crews", Under: "/set-up", handle: func(v *visit) (*answer, error) { return crewsPage(v, newForm(nil)) }},
		{Method: "POST", Path: "/crews", Roles: owners, handle: newCrew},
		{Method: "GET", Path: "/crews/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return crewPage(v, nil) }},
		{Method: "POST", Path: "/crews/{id}", Roles: owners, handle: changeCrew},
		{Method: "POST", Path: "/crews/{id}/joining", Roles: office, handle: joinCrew},
		{Method: "POST", Path: "/crews/{id}/leaving", Roles: office, handle: leaveCrew},
		{Method: "GET", Path: "/crew-members/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return memberPage(v, nil) }},
		{Method: "POST", Path: "/crew-members/{id}", Roles: office, handle: changeMember},
	}
}

// crewList are the crews with who is in them on a day.
type crewList struct {
	Day   dated.Date
	Crews []models.CrewBrief
	Empty []models.CrewBrief // that nobody is in
	May   bool               // whether the reader may make a crew
}

// crewDay is the day in the query, or today.
func (v *visit) crewDay(tx *models.Tx) (dated.Date, error) {
	if day := v.day("on"); !day.IsZero() {
		return day, nil
	}
	return payrun.Today(tx)
}

func crewsPage(v *visit, f *Form) (*answer, error) {
	list := crewList{May: v.mayChange()}
	err := v.view(func(tx *models.Tx) (err error) {
		if list.Day, err = v.crewDay(tx); err == nil {
			list.Crews, err = models.CrewsOn(tx, list.Day)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	list.Empty = slices.DeleteFunc(slices.Clone(list.Crews), func(k models.CrewBrief) bool { return k.People > 0 })
	list.Crews = slices.DeleteFunc(list.Crews, func(k models.CrewBrief) bool { return k.People == 0 })
	return show("set_crews", list).with(f), nil
}

func newCrew(v *visit) (*answer, error) {
	f, err := v.form("name")
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		_, _, err := models.Create(tx, f.ID, models.CrewContent{Name: f.Value("name")})
		return err
	})
	if err != nil {
		return v.again(f, err, crewsPage)
	}
	return seeOther("/crews/"+f.ID.String(), "crew_new"), nil
}

// crewShown is a crew with its people of a day, and those who join it later.
type crewShown struct {
	*models.Crew
	Day     dated.Date
	People  []crewmate
	Free    []Option // workers in no crew
	MoreTo  bool     // whether there are more of them than are listed
	Leading bool     // whether anybody leads it on the day
	Twice   bool     // whether anybody is in another crew too
	May     bool     // whether the reader may change its name
	Clerk   bool     // whether the reader may enter workers
}

// crewmate is somebody of a crew, with the other crews that they are in.
type crewmate struct {
	models.Crewmate
	Also []models.WorkerCrew
}

// ToCome tells whether somebody is in the crew only after a day.
func (m crewmate) ToCome(day dated.Date) bool { return m.FromDate.After(day) }

// freeAtOnce is how many workers in no crew are listed to be ticked; others are given by number.
const freeAtOnce = 60

func crewPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := crewShown{May: v.mayChange(), Clerk: v.caller.Role == models.RoleClerk}
	err = v.view(func(tx *models.Tx) (err error) {
		if page.Crew, err = models.Get[models.CrewContent](tx, id); err != nil {
			return err
		}
		if page.Day, err = v.crewDay(tx); err != nil {
			return err
		}
		return page.read(tx, f)
	})
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = newForm(map[string]string{"from_date": page.Day.String()})
	}
	if !f.Has("name") {
		f.Set("name", page.Content.Name)
	}
	if !f.Has("from_date") {
		f.Set("from_date", page.Day.String())
	}
	f.Keep(page.Version)
	return show("set_crew", &page).with(f), nil
}

// read reads the crew's people, and who is free.
func (p *crewShown) read(tx *models.Tx, f *Form) error {
	people, err := models.CrewPeople(tx, p.ID, p.Day)
	if err != nil {
		return err
	}
	ids := make([]uuid.UUID, len(people))
	for i, m := range people {
		ids[i] = m.WorkerID
	}
	crews, err := models.CrewsOfWorkers(tx, ids, p.Day)
	if err != nil {
		return err
	}
	for _, m := range people {
		one := crewmate{Crewmate: m}
		for _, k := range crews[m.WorkerID] {
			if k.CrewID != p.ID {
				one.Also = append(one.Also, k)
			}
		}
		p.Leading = p.Leading || m.Leads && !one.ToCome(p.Day)
		p.Twice = p.Twice || len(one.Also) > 0
		p.People = append(p.People, one)
	}
	free, err := models.List[models.Worker](tx, models.Page{Limit: freeAtOnce}, models.NotLeft(p.Day), models.InNoCrew(p.Day))
	if len(free) > freeAtOnce {
		free, p.MoreTo = free[:freeAtOnce], true
	}
	for _, w := range free {
		value := w.ID.String()
		p.Free = append(p.Free, Option{value, fmt.Sprintf("%d %s", w.Content.Number, w.Content.Name), f.Holds("workers", value)})
	}
	return err
}

func changeCrew(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("name")
	if err != nil {
		return nil, err
	}
	err = v.in(func(tx *models.Tx) error {
		k, err := models.Get[models.CrewContent](tx, id)
		if err != nil {
			return err
		}
		c := k.Content
		c.Name = f.Value("name")
		_, err = models.Update(tx, id, f.Version, c)
		return err
	})
	if err != nil {
		return v.again(f, err, crewPage)
	}
	return seeOther("/crews/"+id.String(), "crew_kept"), nil
}

// joinCrew puts those who are ticked, and those whose numbers are given, into a crew from a day on.
func joinCrew(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("workers", "numbers", "from_date", "leads", "moves")
	if err != nil {
		return nil, err
	}
	j := models.Joining{CrewID: id, FromDate: models.Day(f.Day("from_date")), Leads: f.Value("leads") != "", Moves: f.Value("moves") != ""}
	f.needDay("from_date")
	ticked, numbers := f.refs("workers"), f.numbers("numbers")
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			named, missing, err := models.WorkersNumbered(tx, numbers)
			if err != nil {
				return err
			}
			if len(missing) > 0 {
				return models.FaultAt("/numbers", "page.fault.no_such_worker", payroll.Terms{"number": numberList(missing)})
			}
			j.Workers = slices.Concat(ticked, named)
			_, err = models.Join(tx, f.ID, j)
			return inForm(err, "/workers", "/numbers")
		})
	}
	if err != nil {
		return v.again(f, err, crewPage)
	}
	return seeOther("/crews/"+id.String()+"?on="+j.FromDate.String(), "crew_joined"), nil
}

// refs are the records that are ticked under a name.
func (f *Form) refs(name string) (ids []uuid.UUID) {
	for _, s := range f.Values(name) {
		id, err := uuid.Parse(s)
		if err != nil {
			f.fault(name, "input.not_understood", payroll.Terms{"value": s})
			continue
		}
		ids = append(ids, id)
	}
	return ids
}

// mostNumbers is how many workers may be given by number at once.
const mostNumbers = 500

// numbers reads numbers of workers with spaces or commas between them, and spans such as 20-25, each once.
func (f *Form) numbers(name string) (numbers []int64) {
	for _, word := range strings.FieldsFunc(f.Value(name), func(r rune) bool { return strings.ContainsRune(" ,;.\n\r\t", r) }) {
		from, to, span := strings.Cut(strings.ReplaceAll(word, "–", "-"), "-")
		first, err := strconv.ParseInt(from, 10, 64)
		last := first
		if err == nil && span {
			last, err = strconv.ParseInt(to, 10, 64)
		}
		if err != nil || first < 1 || last < first || last-first >= mostNumbers || len(numbers) >= mostNumbers {
			f.fault(name, "page.fault.numbers", payroll.Terms{"value": word, "most": mostNumbers})
			return nil
		}
		for n := first; n <= last; n++ {
			if !slices.Contains(numbers, n) {
				numbers = append(numbers, n)
			}
		}
	}
	return numbers
}

// numberList writes numbers as people type them.
func numberList(numbers []int64) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = strconv.FormatInt(n, 10)
	}
	return strings.Join(words, ", ")
}

// leaveCrew ends the time in the crew of everybody who is ticked.
func leaveCrew(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("leaving", "last_day")
	if err != nil {
		return nil, err
	}
	leaving, last := f.refs("leaving"), models.Day(f.Day("last_day"))
	f.needDay("last_day")
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error { return models.Part(tx, id, leaving, last) })
	}
	if err != nil {
		return v.again(f, err, crewPage)
	}
	return seeOther("/crews/"+id.String(), "crew_left"), nil
}

// memberShown is somebody's time in a crew.
type memberShown struct {
	*models.CrewMember
	Worker *models.Worker
	Crew   *models.Crew
}

func memberPage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page memberShown
	err = v.view(func(tx *models.Tx) (err error) {
		if page.CrewMember, err = models.Get[models.CrewMemberContent](tx, id); err != nil {
			return err
		}
		if page.Worker, err = models.Get[models.WorkerContent](tx, page.Content.WorkerID); err != nil {
			return err
		}
		page.Crew, err = models.Get[models.CrewContent](tx, page.Content.CrewID)
		return err
	})
	if err != nil {
		return nil, err
	}
	if c := page.Content; f == nil {
		f = newForm(map[string]string{"from_date": dayValue(c.FromDate), "through_date": dayValue(c.ThroughDate)})
		if c.Leads {
			f.Set("leads", "yes")
		}
	}
	f.Keep(page.Version)
	return show("set_member", page).with(f), nil
}

func changeMember(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("from_date", "through_date", "leads")
	if err != nil {
		return nil, err
	}
	var crew uuid.UUID
	from, through := models.Day(f.Day("from_date")), models.Day(f.Day("through_date"))
	f.needDay("from_date")
	if err = f.Faulty(); err == nil {
		err = v.in(func(tx *models.Tx) error {
			m, err := models.Get[models.CrewMemberContent](tx, id)
			if err != nil {
				return err
			}
			c := m.Content
			crew, c.FromDate, c.ThroughDate, c.Leads = c.CrewID, from, through, f.Value("leads") != ""
			_, err = models.Update(tx, id, f.Version, c)
			return err
		})
	}
	if err != nil {
		return v.again(f, err, memberPage)
	}
	return seeOther("/crews/"+crew.String(), "member_kept"), nil
}
