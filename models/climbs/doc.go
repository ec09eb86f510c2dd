// Package climbs keeps the records of a climbing day and of training: lists filled in before a climb and what the safety officer said of them, stops and who
// has heard of them, rules of the house set aside for a day, training and how long it holds. What follows from the records for a worker and a day is answered by
// package safety, whose documents these records fill.
package climbs

import (
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/checklists"
	"palmero/safety/rulebook"
)

// Books are what the records are held against: the safety rulebooks, and the lists that come with the program, by key.
type Books struct {
	Rules *rulebook.Library
	Lists map[string]*checklists.Checklist
}

// Load reads the books that come with the program.
func Load() (Books, error) {
	rules, err := rulebook.Load()
	if err != nil {
		return Books{}, err
	}
	lists, err := checklists.Load()
	return Books{rules, lists}, err
}

// ground is a garden and what governs climbs in it on a day.
type ground struct {
	garden *models.Garden
	book   *rulebook.Book
	table  *rulebook.Clearance
}

// groundOf finds what governs a garden on a day. Its faults are told at /garden_id; an unknown garden is left to the record's own check, and nil then.
func (b Books) groundOf(tx *models.Tx, garden uuid.UUID, day dated.Date) (*ground, []payroll.Fault, error) {
	g, err := models.Get[models.GardenContent](tx, garden)
	if models.KindOf(err) == models.NotFound {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, err
	}
	book, ok := b.Rules.Book(g.Content.Rulebook)
	if !ok {
		return nil, []payroll.Fault{{Pointer: "/garden_id", Key: "fault.no_safety_rulebook", Terms: payroll.Terms{"rulebook": g.Content.Rulebook, "known": b.Rules.Keys()}}}, nil
	}
	table, err := book.Clearance(day)
	if err != nil {
		return nil, []payroll.Fault{{Pointer: "/workday", Key: "fault.no_safety_value", Terms: payroll.Terms{"book": book.Key(), "parameter": "clearance", "date": day}}}, nil
	}
	return &ground{g, book, table.Value}, nil, nil
}

// way returns the way up of a name, or a fault that lists those that are known.
func (g *ground) way(name string) (*rulebook.Way, []payroll.Fault) {
	if way := g.table.Ways[name]; way != nil {
		return way, nil
	}
	return nil, []payroll.Fault{unknownWay("/way", name, g.table.WayNames())}
}

func unknownWay(pointer, name string, known []string) payroll.Fault {
	return payroll.Fault{Pointer: pointer, Key: "fault.not_one_of", Terms: payroll.Terms{"value": name, "allowed": known}}
}

// Ways lists the ways up that any of the rulebooks knows on a day, in alphabetical order.
func (b Books) Ways(day dated.Date) []string {
	var all []string
	for _, key := range b.Rules.Keys() {
		book, _ := b.Rules.Book(key)
		if table, err := book.Clearance(day); err == nil {
			all = append(all, table.Value.WayNames()...)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// unlessRepeated adds faults that were found beside a record's own. A repeat is answered whatever is found.
func unlessRepeated(repeated bool, err error, faults []payroll.Fault) error {
	if repeated || len(faults) == 0 {
		return err
	}
	if models.KindOf(err) == models.Invalid {
		return models.Faulty(append(faults, models.FaultsOf(err)...))
	}
	if err != nil {
		return err
	}
	return models.Faulty(faults)
}
