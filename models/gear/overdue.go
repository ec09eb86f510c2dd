package gear

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
	"palmero/safety/rulebook"
)

// Due is a piece of equipment that has to be looked over by a competent person, or to go.
type Due struct {
	EquipmentID uuid.UUID             `json:"equipment_id"`
	Version     int64                 `json:"version"`
	Code        string                `json:"code"`
	Kind        models.EquipmentKind  `json:"kind"`
	GardenID    uuid.UUID             `json:"garden_id"`
	State       models.EquipmentState `json:"state"`
	What        DueKind               `json:"what"`
	DueOn       dated.Date            `json:"due_on"` // the last day that was still in order
	LastOn      models.Date           `json:"last_on,omitzero"`
	Months      int                   `json:"months,omitempty"` // how often, by the stricter of the rulebook and the maker
	Authority   string                `json:"authority"`        // the provision, or the manual's page
}

// DueKind says what is due.
type DueKind string

// What may be due: an inspection by a competent person, or the end of a piece's life.
const (
	DueInspection DueKind = "inspection"
	DueRetirement DueKind = "retirement"
)

// Overdue lists what is due by a day, the longest overdue first: every piece that is not retired whose inspection or life ran out before it. A piece that was never
// looked over is due from its first day of use, or from the day on which it came into the register. It reads the pieces and never their history.
func Overdue(tx *models.Tx, books *rulebook.Library, by dated.Date, conditions ...models.Condition) ([]Due, error) {
	var pieces []models.Equipment
	if err := tx.DB().Scopes(conditions...).Where("state <> ?", models.Retired).Order("seq").Find(&pieces).Error; err != nil {
		return nil, err
	}
	gardens, err := models.All[models.GardenContent](tx)
	if err != nil {
		return nil, err
	}
	due := []Due{}
	for i := range pieces {
		p := &pieces[i]
		row, err := rowOf(books, gardens[p.Content.GardenID].Content.Rulebook, by, p.Content.Kind)
		if err != nil {
			return nil, err
		}
		due = append(due, dueOf(p, row, by)...)
	}
	slices.SortStableFunc(due, func(a, b Due) int { return cmp.Or(a.DueOn.Compare(b.DueOn), cmp.Compare(a.Code, b.Code)) })
	return due, nil
}

// dueOf says what is due on a piece.
func dueOf(p *models.Equipment, row *rulebook.Equipment, by dated.Date) (all []Due) {
	c := &p.Content
	d := Due{EquipmentID: p.ID, Version: p.Version, Code: c.Code, Kind: c.Kind, GardenID: c.GardenID, State: c.State}
	if months, authority := interval(c, row); months > 0 {
		d.What, d.Months, d.Authority, d.LastOn = DueInspection, months, authority, c.PeriodicOn
		switch {
		case !c.PeriodicOn.IsZero():
			d.DueOn = through(c.PeriodicOn.Date, months)
		case !c.FirstUsedOn.IsZero():
			d.DueOn = c.FirstUsedOn.Date
		default:
			d.DueOn = dated.DateOf(p.CreatedAt)
		}
		if d.DueOn.Before(by) {
			all = append(all, d)
		}
	}
	if !c.RetireBy.IsZero() && c.RetireBy.Before(by) {
		d.What, d.Months, d.Authority, d.LastOn, d.DueOn = DueRetirement, 0, c.InspectionSource, models.Date{}, c.RetireBy.Date
		all = append(all, d)
	}
	return all
}

// interval is how often a piece is looked over, and who says so: the rulebook or the maker, whichever is stricter; 0: neither.
func interval(c *models.EquipmentContent, row *rulebook.Equipment) (months int, authority string) {
	if row != nil && row.Periodic != nil {
		months, authority = row.Periodic.Months, row.Periodic.Source.Section
	}
	if c.InspectionMonths != nil && (months == 0 || int(*c.InspectionMonths) < months) {
		months, authority = int(*c.InspectionMonths), c.InspectionSource
	}
	return months, authority
}

// rowOf is what a garden's safety rulebook says of a kind of equipment, nil where it says nothing. A garden whose jurisdiction has no safety rulebook yet goes by
// the reference values of the federal one.
func rowOf(books *rulebook.Library, key string, day dated.Date, kind models.EquipmentKind) (*rulebook.Equipment, error) {
	book, ok := books.Book(key)
	if !ok {
		book, ok = books.Book("us")
	}
	if !ok {
		return nil, fmt.Errorf("there is no safety rulebook for %s", key)
	}
	table, err := book.Clearance(day)
	if err != nil {
		return nil, err
	}
	return table.Value.Equipment[string(kind)], nil
}
