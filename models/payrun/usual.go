package payrun

import (
	"cmp"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// What is far from usual. Somebody stands out whose gross pay by the hour is more than a third above or below what is usual: their own average of the weeks
// looked back on, provided that they worked in enough of them, or the middle of their crew's in the same week, provided that the crew is large
// enough. It says nothing about who is right: it is where a slip of the pen shows, or a hard block.
const (
	WeeksBack  = 4 // weeks looked back on
	WeeksLeast = 2 // of these, weeks with pay before there is a usual
	CrewLeast  = 4 // people before a crew has a usual
	FarOff     = 3 // far is more than one part in so many
)

// Earned is gross pay for some time.
type Earned struct {
	Gross  payroll.Cents
	Worked payroll.Minutes
}

// Hourly is what was earned by the hour, to the nearest cent; 0 where no time was worked.
func (e Earned) Hourly() payroll.Cents {
	if e.Worked <= 0 {
		return 0
	}
	return (e.Gross*120 + payroll.Cents(e.Worked)) / (2 * payroll.Cents(e.Worked))
}

// far tells whether pay by the hour is far from a usual one.
func (e Earned) far(usual Earned) bool {
	if e.Worked <= 0 || usual.Worked <= 0 {
		return false
	}
	here, there := int64(e.Gross)*int64(usual.Worked), int64(usual.Gross)*int64(e.Worked)
	return max(here-there, there-here)*FarOff > there
}

// Pace is how somebody earned in a week, and before.
type Pace struct {
	Worker, Crew uuid.UUID // Crew is zero for whoever is in none
	Number       int64
	Name         string
	Statement    uuid.UUID
	Now, Before  Earned // Before is of all the weeks looked back on
	Weeks        int    // with pay among those
}

// Unusual is somebody whose pay by the hour is far from usual, with the usual that it is far from.
type Unusual struct {
	Pace
	OwnUsual, CrewUsual *Earned // nil where it is not far from it, or there is none
}

// FarFromUsual finds who stands out.
func FarFromUsual(paces []Pace) []Unusual {
	crews := map[uuid.UUID][]Earned{}
	for _, p := range paces {
		if p.Crew != uuid.Nil && p.Now.Worked > 0 {
			crews[p.Crew] = append(crews[p.Crew], p.Now)
		}
	}
	middles := map[uuid.UUID]Earned{}
	for crew, all := range crews {
		if len(all) >= CrewLeast {
			middles[crew] = middle(all)
		}
	}
	var out []Unusual
	for _, p := range paces {
		u := Unusual{Pace: p}
		if p.Weeks >= WeeksLeast && p.Now.far(p.Before) {
			u.OwnUsual = &p.Before
		}
		if m, ok := middles[p.Crew]; ok && p.Now.far(m) {
			u.CrewUsual = &m
		}
		if u.OwnUsual != nil || u.CrewUsual != nil {
			out = append(out, u)
		}
	}
	return out
}

// middle is the one in the middle by pay by the hour, the lower of two.
func middle(all []Earned) Earned {
	slices.SortFunc(all, func(a, b Earned) int {
		return cmp.Compare(int64(a.Gross)*int64(b.Worked), int64(b.Gross)*int64(a.Worked))
	})
	return all[(len(all)-1)/2]
}

// Paces reads how the workers of a run earned in it and in the weeks before, by number. What was paid for other weeks or by a bonus over several is taken
// as it was paid.
func Paces(tx *models.Tx, run *Run) ([]Pace, error) {
	var rows []struct {
		WorkerID, StatementID uuid.UUID
		CrewID                *uuid.UUID
		Number                int64
		Name                  string
		Gross                 payroll.Cents
		Worked                payroll.Minutes
		GrossBefore           payroll.Cents
		WorkedBefore          payroll.Minutes
		Weeks                 int
	}
	err := tx.DB().Raw(`SELECT s.worker_id, s.id AS statement_id, s.gross, s.worked_minutes AS worked, w.number, w.name, c.crew_id,
			coalesce(b.gross, 0) AS gross_before, coalesce(b.worked, 0) AS worked_before, coalesce(b.weeks, 0) AS weeks
		FROM statements s
		JOIN workers w ON w.employer_id = s.employer_id AND w.id = s.worker_id
		LEFT JOIN (SELECT m.worker_id, min(CAST(m.crew_id AS text)) AS crew_id FROM crew_members m WHERE m.employer_id = @employer AND m.from_date <= @week
			AND (m.through_date IS NULL OR m.through_date >= @week) GROUP BY m.worker_id) c ON c.worker_id = s.worker_id
		LEFT JOIN (SELECT o.worker_id, sum(o.gross) AS gross, sum(o.worked_minutes) AS worked, count(DISTINCT o.week_start) AS weeks FROM statements o
			JOIN pay_runs r ON r.employer_id = o.employer_id AND r.id = o.run_id
			WHERE o.employer_id = @employer AND o.week_start >= @first AND o.week_start < @week AND o.voided_at IS NULL AND o.worked_minutes > 0 AND r.state <> 'draft'
			GROUP BY o.worker_id) b ON b.worker_id = s.worker_id
		WHERE s.employer_id = @employer AND s.run_id = @run AND s.voided_at IS NULL AND s.worked_minutes > 0 ORDER BY w.number`,
		map[string]any{"employer": tx.Employer, "run": run.ID, "week": run.WeekStart, "first": models.Day(run.WeekStart.AddDays(-7 * WeeksBack))}).Scan(&rows).Error
	paces := make([]Pace, len(rows))
	for i, r := range rows {
		paces[i] = Pace{Worker: r.WorkerID, Number: r.Number, Name: r.Name, Statement: r.StatementID, Now: Earned{r.Gross, r.Worked}, Before: Earned{r.GrossBefore, r.WorkedBefore}, Weeks: r.Weeks}
		if r.CrewID != nil {
			paces[i].Crew = *r.CrewID
		}
	}
	return paces, err
}
