package bunches

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Counts are how many checks there were, of how many bunches, and how many of those were as asked.
type Counts struct {
	Checks   int64 `json:"checks"`
	LookedAt int64 `json:"looked_at"`
	AsAsked  int64 `json:"as_asked"`
}

func (c *Counts) add(other Counts) {
	c.Checks += other.Checks
	c.LookedAt += other.LookedAt
	c.AsAsked += other.AsAsked
}

// Share is how many of a hundred bunches were as asked; -1 where none was looked at.
func (c Counts) Share() int { return Share(c.AsAsked, c.LookedAt) }

// Week is what the checks of a week came to.
type Week struct {
	Start dated.Date `json:"week_start"`
	Counts
}

// Group is what the checks of a crew, a worker, an operation or a block came to, week by week and point by point.
type Group struct {
	ID     uuid.UUID // of what they are grouped by; zero: nobody named
	Weeks  []Week    // every one asked for
	Total  Counts
	Trend  Trend
	Points []OperationPoint // in the order in which they are asked
}

// OperationPoint is a point of an operation's standards, with what was found of it.
type OperationPoint struct {
	OperationID    uuid.UUID `json:"operation_id"`
	NameEN, NameES string
	models.PointCount
}

// Results are asked for by what to group by and over which days; what else is given narrows them.
type Results struct {
	By                             string // one of Groupings
	First, Last                    dated.Date
	Crew, Worker, Operation, Block *uuid.UUID
	Lead                           *uuid.UUID // of crews that this worker led on the day of the check; nil: of all
	CountsOnly                     bool       // without the points, which take a statement of their own
}

// Groupings lists what results can be grouped by.
var Groupings = []string{"crew", "worker", "operation", "block"}

// UsualWeeks is how many weeks are told where nobody says.
const UsualWeeks = 8

// MostWeeks is how many weeks can be asked for at once.
const MostWeeks = 60

// groupedBy is the column of each grouping. A hand who turned out to be somebody is that worker.
var groupedBy = map[string]string{"crew": "c.crew_id", "worker": "coalesce(w.same_as, c.worker_id)", "operation": "c.operation_id", "block": "c.block_id"}

// Find adds up the checks that stand, in two statements whatever their number. Days are widened to whole weeks.
func (r Results) Find(tx *models.Tx) ([]Group, error) {
	profile, err := tx.Profile()
	if err != nil {
		return nil, err
	}
	week := func(d dated.Date) dated.Date { return models.WeekOf(d, profile.Content.WeekStart) }
	r.First, r.Last = week(r.First), week(r.Last).AddDays(6)
	if _, ok := groupedBy[r.By]; !ok {
		return nil, models.FaultAt("/by", "fault.not_one_of", payroll.Terms{"value": r.By, "allowed": Groupings})
	}
	var days []struct {
		Workday  models.Date
		ID       uuid.NullUUID
		Checks   int64
		LookedAt int64
		AsAsked  int64
	}
	from, args := r.from(tx)
	err = tx.DB().Raw("SELECT c.workday, "+groupedBy[r.By]+" AS id, count(*) AS checks, CAST(sum(c.looked_at) AS bigint) AS looked_at, CAST(sum(c.as_asked) AS bigint) AS as_asked"+
		from+" GROUP BY c.workday, "+groupedBy[r.By], args).Scan(&days).Error
	if err != nil {
		return nil, err
	}
	groups := map[uuid.UUID]*Group{}
	for _, d := range days {
		g := groups[d.ID.UUID]
		if g == nil {
			g = &Group{ID: d.ID.UUID, Weeks: r.weeks()}
			groups[g.ID] = g
		}
		counts := Counts{d.Checks, d.LookedAt, d.AsAsked}
		g.Weeks[week(d.Workday.Date).DaysSince(r.First)/7].add(counts)
		g.Total.add(counts)
	}
	list := make([]Group, 0, len(groups))
	for _, g := range groups {
		g.Trend = TrendOf(g.Weeks)
		list = append(list, *g)
	}
	slices.SortFunc(list, func(a, b Group) int { return strings.Compare(a.ID.String(), b.ID.String()) })
	if r.CountsOnly {
		return list, nil
	}
	return list, r.addPoints(tx, list)
}

// weeks are the weeks asked for, with nothing in them.
func (r Results) weeks() (weeks []Week) {
	for day := r.First; day.Before(r.Last); day = day.AddDays(7) {
		weeks = append(weeks, Week{Start: day})
	}
	return weeks
}

// from is the part of both statements that says which checks count, and its terms.
func (r Results) from(tx *models.Tx) (string, map[string]any) {
	args := map[string]any{"employer": tx.Employer, "first": models.Day(r.First), "last": models.Day(r.Last)}
	where := " WHERE c.employer_id = @employer AND c.superseded_by IS NULL AND c.workday BETWEEN @first AND @last"
	for _, narrow := range []struct {
		name, column string
		id           *uuid.UUID
	}{{"crew", "c.crew_id", r.Crew}, {"worker", groupedBy["worker"], r.Worker}, {"operation", "c.operation_id", r.Operation}, {"block", "c.block_id", r.Block}} {
		if narrow.id != nil {
			where += " AND " + narrow.column + " = @" + narrow.name
			args[narrow.name] = *narrow.id
		}
	}
	if r.Lead != nil {
		where += ` AND EXISTS (SELECT 1 FROM crew_members m WHERE m.employer_id = c.employer_id AND m.crew_id = c.crew_id AND m.worker_id = @lead AND m.leads
			AND m.from_date <= c.workday AND (m.through_date IS NULL OR m.through_date >= c.workday))`
		args["lead"] = *r.Lead
	}
	return " FROM bunch_checks c LEFT JOIN workers w ON w.employer_id = c.employer_id AND w.id = c.worker_id" + where, args
}

// addPoints adds up the points of each group and names them as the latest standard that has them does.
func (r Results) addPoints(tx *models.Tx, groups []Group) error {
	var sums []struct {
		ID          uuid.NullUUID
		OperationID uuid.UUID
		models.PointCount
	}
	from, args := r.from(tx)
	from = strings.Replace(from, " WHERE", " JOIN bunch_check_points p ON p.employer_id = c.employer_id AND p.check_id = c.id WHERE", 1)
	err := tx.DB().Raw("SELECT "+groupedBy[r.By]+` AS id, c.operation_id, p.point, CAST(sum(p.looked_at) AS bigint) AS looked_at, CAST(sum(p.as_asked) AS bigint) AS as_asked,
		CAST(sum(p.under) AS bigint) AS under, CAST(sum(p.over) AS bigint) AS over`+from+" GROUP BY "+groupedBy[r.By]+", c.operation_id, p.point", args).Scan(&sums).Error
	if err != nil {
		return err
	}
	names, err := pointNames(tx)
	if err != nil {
		return err
	}
	for _, s := range sums {
		i, _ := slices.BinarySearchFunc(groups, s.ID.UUID, func(g Group, id uuid.UUID) int { return strings.Compare(g.ID.String(), id.String()) })
		name := names[pointOf{s.OperationID, s.Point}]
		groups[i].Points = append(groups[i].Points, OperationPoint{OperationID: s.OperationID, NameEN: name.en, NameES: name.es, PointCount: s.PointCount})
	}
	for _, g := range groups {
		slices.SortFunc(g.Points, func(a, b OperationPoint) int {
			return names[pointOf{a.OperationID, a.Point}].place - names[pointOf{b.OperationID, b.Point}].place
		})
	}
	return nil
}

type pointOf struct {
	operation uuid.UUID
	point     string
}

type pointName struct {
	en, es string
	place  int
}

// pointNames are the latest names of all points that were ever asked, in the order in which they first were. An employer has few standards.
func pointNames(tx *models.Tx) (map[pointOf]pointName, error) {
	var all []models.WorkStandard
	if err := tx.DB().Order("seq").Find(&all).Error; err != nil {
		return nil, err
	}
	names := map[pointOf]pointName{}
	for n, s := range all {
		for i, p := range s.Content.Points {
			key, place := pointOf{s.Content.OperationID, p.Point}, n*models.MostPoints+i
			if before, asked := names[key]; asked {
				place = before.place
			}
			names[key] = pointName{p.NameEN, p.NameES, place}
		}
	}
	return names, nil
}
