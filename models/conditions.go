package models

import (
	"github.com/google/uuid"
	"gorm.io/gorm"

	"palmero/payroll/dated"
)

// Condition keeps some of the records of a list.
type Condition = func(*gorm.DB) *gorm.DB

// Where makes a condition of its own.
func Where(query string, args ...any) Condition {
	return func(db *gorm.DB) *gorm.DB { return db.Where(query, args...) }
}

// Equal keeps the records whose column holds a value.
func Equal(column string, value any) Condition { return Where(column+" = ?", value) }

// OneOf keeps the records whose column holds one of some identifiers.
func OneOf(column string, ids []uuid.UUID) Condition { return Where(column+" IN ?", ids) }

// CodedAs keeps the equipment that is called by one of some codes in capitals.
func CodedAs(codes []string) Condition { return Where("upper(code) IN ?", codes) }

// OfPerson keeps the records of a worker, those of a provisional hand who turned out to be them included. The employer stands in it as a value: PostgreSQL would ask a subquery that
// refers to the records once for each of them.
func OfPerson(employer, worker uuid.UUID) Condition {
	return Where("worker_id IN (SELECT w.id FROM workers w WHERE w.employer_id = ? AND (w.id = ? OR w.same_as = ?))", employer, worker, worker)
}

// WorkedFrom keeps what was recorded for a workday or a later one.
func WorkedFrom(day dated.Date) Condition { return Where("workday >= ?", Day(day)) }

// WorkedThrough keeps what was recorded for a workday or an earlier one.
func WorkedThrough(day dated.Date) Condition { return Where("workday <= ?", Day(day)) }

// OfWeek keeps what belongs to the week that begins on a day.
func OfWeek(start dated.Date) Condition { return Equal("week_start", Day(start)) }

// MembersOn keeps the memberships of a day.
func MembersOn(day dated.Date) Condition {
	return Where("from_date <= ? AND (through_date IS NULL OR through_date >= ?)", Day(day), Day(day))
}

// InUseOn keeps the blocks or operations in which, or at which, there may be work on a day.
func InUseOn(day dated.Date) Condition {
	return Where("(ended_on IS NULL OR ended_on >= ?)", Day(day))
}

// EmployedOn keeps the workers employed on a day.
func EmployedOn(day dated.Date) Condition {
	return Where("started_on <= ? AND (ended_on IS NULL OR ended_on >= ?)", Day(day), Day(day))
}

// Standing keeps the records that stand, or with false those that were superseded.
func Standing(stand bool) Condition {
	if stand {
		return Where("superseded_by IS NULL")
	}
	return Where("superseded_by IS NOT NULL")
}

// Suspended keeps the accounts that are suspended, or with false the others.
func Suspended(suspended bool) Condition { return Equal("suspended", suspended) }

// Unsettled keeps the provisional hands of whom nobody has said yet who they are, or with false everybody else.
func Unsettled(unsettled bool) Condition {
	if unsettled {
		return Where("provisional AND same_as IS NULL")
	}
	return Where("NOT (provisional AND same_as IS NULL)")
}

// Everything keeps every record.
func Everything(db *gorm.DB) *gorm.DB { return db }

// HoldingOn keeps the stops that concern a day, lifted or not: those of crews on that workday, those of equipment and palms from earlier days on.
func HoldingOn(day dated.Date) Condition {
	return Where("(workday = ? OR scope <> ? AND workday < ?)", Day(day), StopCrew, Day(day))
}

// Lifted keeps the stops that were lifted, or with false those that hold.
func Lifted(lifted bool) Condition {
	query := "EXISTS (SELECT 1 FROM stop_lifts l WHERE l.employer_id = stops.employer_id AND l.stop_id = stops.id)"
	if !lifted {
		query = "NOT " + query
	}
	return Where(query)
}

// Reviewed keeps the filled checklists that the safety officer has spoken on, or with false the others.
func Reviewed(reviewed bool) Condition {
	query := "EXISTS (SELECT 1 FROM checklist_reviews r WHERE r.employer_id = filled_checklists.employer_id AND r.checklist_id = filled_checklists.id)"
	if !reviewed {
		query = "NOT " + query
	}
	return Where(query)
}

// HeldFrom keeps trainings of a day or a later one.
func HeldFrom(day dated.Date) Condition { return Where("held_on >= ?", Day(day)) }

// HeldThrough keeps trainings of a day or an earlier one.
func HeldThrough(day dated.Date) Condition { return Where("held_on <= ?", Day(day)) }

// RetiredTopics keeps the training topics that are no longer asked for, or with false the others.
func RetiredTopics(retired bool) Condition { return Equal("retired", retired) }

// LedBy keeps the records of a table with crew and workday that are of crews that a worker led on that day; all, where there is no worker.
func LedBy(table string, worker *uuid.UUID) Condition {
	if worker == nil {
		return Everything
	}
	return Where(`EXISTS (SELECT 1 FROM crew_members m
		WHERE m.employer_id = `+table+`.employer_id AND m.crew_id = `+table+`.crew_id AND m.worker_id = ? AND m.leads
		  AND m.from_date <= `+table+`.workday AND (m.through_date IS NULL OR m.through_date >= `+table+`.workday))`, *worker)
}
