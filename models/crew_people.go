package models

import (
	"github.com/google/uuid"

	"palmero/payroll/dated"
)

// Crewmate is somebody who belongs to a crew.
type Crewmate struct {
	MemberID, WorkerID    uuid.UUID
	Number                int64
	Name                  string
	Leads                 bool
	FromDate, ThroughDate Date
}

// CrewPeople lists who belongs to a crew on a day or later, whoever leads it first, then by number.
func CrewPeople(tx *Tx, crew uuid.UUID, day dated.Date) ([]Crewmate, error) {
	var people []Crewmate
	err := tx.DB().Raw(`SELECT m.id AS member_id, w.id AS worker_id, w.number, w.name, m.leads, m.from_date, m.through_date
		FROM crew_members m JOIN workers w ON w.employer_id = m.employer_id AND w.id = m.worker_id
		WHERE m.employer_id = ? AND m.crew_id = ? AND (m.through_date IS NULL OR m.through_date >= ?)
		ORDER BY m.leads DESC, w.number, m.from_date`, tx.Employer, crew, Day(day)).Scan(&people).Error
	return people, translate(err)
}

// CrewBrief is a crew as a list of crews shows it.
type CrewBrief struct {
	ID     uuid.UUID
	Number int64
	Name   string
	People int64    // who belong to it on the day
	Leads  []string `gorm:"-"` // the names of those who lead it
}

// CrewsOn lists all crews with who is in them on a day, by number.
func CrewsOn(tx *Tx, day dated.Date) ([]CrewBrief, error) {
	var crews []CrewBrief
	err := tx.DB().Raw(`SELECT c.id, c.number, c.name, count(DISTINCT m.worker_id) AS people
		FROM crews c LEFT JOIN crew_members m ON m.employer_id = c.employer_id AND m.crew_id = c.id AND m.from_date <= @day AND (m.through_date IS NULL OR m.through_date >= @day)
		WHERE c.employer_id = @employer GROUP BY c.id, c.number, c.name ORDER BY c.number`, map[string]any{"employer": tx.Employer, "day": Day(day)}).Scan(&crews).Error
	if err != nil {
		return nil, translate(err)
	}
	var leads []struct {
		CrewID uuid.UUID
		Name   string
	}
	err = tx.DB().Raw(`SELECT DISTINCT m.crew_id, w.number, w.name FROM crew_members m JOIN workers w ON w.employer_id = m.employer_id AND w.id = m.worker_id
		WHERE m.employer_id = ? AND m.leads AND m.from_date <= ? AND (m.through_date IS NULL OR m.through_date >= ?) ORDER BY w.number`, tx.Employer, Day(day), Day(day)).Scan(&leads).Error
	for _, l := range leads {
		for i := range crews {
			if crews[i].ID == l.CrewID {
				crews[i].Leads = append(crews[i].Leads, l.Name)
			}
		}
	}
	return crews, translate(err)
}

// InNoCrew keeps the workers who are in no crew on a day, nor will be.
func InNoCrew(day dated.Date) Condition {
	return Where("NOT EXISTS (SELECT 1 FROM crew_members m WHERE m.employer_id = workers.employer_id AND m.worker_id = workers.id AND (m.through_date IS NULL OR m.through_date >= ?))", Day(day))
}

// WorkersNumbered returns the identifiers of the workers who have some numbers, and the numbers that nobody has.
func WorkersNumbered(tx *Tx, numbers []int64) (ids []uuid.UUID, missing []int64, err error) {
	var rows []struct {
		ID     uuid.UUID
		Number int64
	}
	if err := tx.DB().Model(&Worker{}).Where("number IN ?", numbers).Order("number").Find(&rows).Error; err != nil {
		return nil, nil, translate(err)
	}
	had := map[int64]bool{}
	for _, r := range rows {
		ids, had[r.Number] = append(ids, r.ID), true
	}
	for _, n := range numbers {
		if !had[n] {
			missing = append(missing, n)
		}
	}
	return ids, missing, nil
}
