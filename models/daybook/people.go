package daybook

import (
	"cmp"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// Crew is a crew by name.
type Crew struct {
	ID     uuid.UUID
	Number int64
	Name   string
}

// CrewsOf lists the crews that a worker leads on a day, by number.
func CrewsOf(tx *models.Tx, lead uuid.UUID, day models.Date) ([]Crew, error) {
	var crews []Crew
	err := tx.DB().Raw(`SELECT DISTINCT c.id, c.number, c.name FROM crew_members m JOIN crews c ON c.employer_id = m.employer_id AND c.id = m.crew_id
		WHERE m.employer_id = ? AND m.worker_id = ? AND m.leads AND m.from_date <= ? AND (m.through_date IS NULL OR m.through_date >= ?)
		ORDER BY c.number`, tx.Employer, lead, day, day).Scan(&crews).Error
	return crews, err
}

// Person is somebody of the crew's day.
type Person struct {
	ID     uuid.UUID
	Number int64 // 0: in no list yet
	Name   string
	Here   bool // on the roll
}

// People lists the crew's members of the day and whoever else is on the roll, in the order of their numbers, those without a number last.
func (d *Draft) People(tx *models.Tx, k Key) ([]Person, error) {
	var people []Person
	err := tx.DB().Raw(`SELECT DISTINCT w.id, w.number, w.name FROM crew_members m JOIN workers w ON w.employer_id = m.employer_id AND w.id = m.worker_id
		WHERE m.employer_id = ? AND m.crew_id = ? AND m.from_date <= ? AND (m.through_date IS NULL OR m.through_date >= ?)`,
		tx.Employer, k.Crew, k.Day, k.Day).Scan(&people).Error
	if err != nil {
		return nil, err
	}
	for _, w := range d.NewWorkers {
		people = append(people, Person{ID: w.ID, Name: w.Name})
	}
	var others []uuid.UUID
	for _, id := range d.Roll {
		if !slices.ContainsFunc(people, func(p Person) bool { return p.ID == id }) {
			others = append(others, id)
		}
	}
	if len(others) > 0 {
		var rows []models.Worker
		if err := tx.DB().Scopes(tx.Among("id", others)).Find(&rows).Error; err != nil {
			return nil, err
		}
		for _, w := range rows {
			people = append(people, Person{ID: w.ID, Number: w.Content.Number, Name: w.Content.Name})
		}
	}
	for i := range people {
		people[i].Here = slices.Contains(d.Roll, people[i].ID)
	}
	slices.SortStableFunc(people, func(a, b Person) int {
		return cmp.Or(cmp.Compare(unnumbered(a), unnumbered(b)), cmp.Compare(a.Number, b.Number), cmp.Compare(a.Name, b.Name))
	})
	return people, nil
}

func unnumbered(p Person) int {
	if p.Number == 0 {
		return 1
	}
	return 0
}

// ByNumber finds an employed worker by the number that people call; the nil UUID where there is none.
func ByNumber(tx *models.Tx, number int64, day models.Date) (uuid.UUID, error) {
	found, err := models.List[models.Worker](tx, models.Page{Limit: 1}, models.Equal("number", number), models.EmployedOn(day.Date))
	if err != nil || len(found) == 0 {
		return uuid.Nil, err
	}
	return found[0].ID, nil
}

// Span is a stretch of a worker's day, sent or not.
type Span struct {
	ID       uuid.UUID
	WorkerID uuid.UUID
	Kind     payroll.TimeKind
	Start    *time.Time
	End      *time.Time
	Minutes  *payroll.Minutes
	Sent     bool
}

// Length is how long it lasted, until now where it still runs.
func (s *Span) Length(now time.Time) payroll.Minutes {
	switch {
	case s.Minutes != nil:
		return *s.Minutes
	case s.Start == nil:
		return 0
	case s.End != nil:
		now = *s.End
	}
	return payroll.Minutes(max(0, now.Sub(*s.Start)/time.Minute))
}

// Spans lists the day's time of the crew, by worker: what came in on its sheets and stands, then what the draft adds.
func (d *Draft) Spans(tx *models.Tx, k Key) (map[uuid.UUID][]Span, error) {
	var sent []models.TimeEntry
	err := tx.DB().Where(`superseded_by IS NULL AND sheet_id IN (SELECT s.id FROM crew_sheets s WHERE s.employer_id = ? AND s.workday = ? AND s.crew_id = ?)`,
		tx.Employer, k.Day, k.Crew).Order("started_at, seq").Find(&sent).Error
	if err != nil {
		return nil, err
	}
	spans := map[uuid.UUID][]Span{}
	for _, e := range sent {
		c := e.Content
		spans[c.WorkerID] = append(spans[c.WorkerID], Span{e.ID, c.WorkerID, c.Kind, c.StartedAt, c.EndedAt, c.Minutes, true})
	}
	for _, l := range d.Time {
		spans[l.WorkerID] = append(spans[l.WorkerID], Span{l.ID, l.WorkerID, l.Kind, l.Start, l.End, l.Minutes, false})
	}
	return spans, nil
}
