package bunches

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/heatday"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// SetStandard records what is asked from a day on, which is today or yet to come: what was asked before stays what it was. One that has not begun can be
// corrected by another that supersedes it. Repeats are answered as by models.Record.
func SetStandard(tx *models.Tx, id uuid.UUID, c models.WorkStandardContent, how models.Recording) (*models.WorkStandard, bool, error) {
	today, err := heatday.Today(tx)
	if err != nil {
		return nil, false, err
	}
	var faults []payroll.Fault
	if c.EffectiveOn.Before(today) {
		faults = append(faults, payroll.Fault{Pointer: "/effective_on", Key: "fault.standard_past", Terms: payroll.Terms{"today": today}})
	}
	if how.Supersedes != nil {
		old, err := models.List[models.WorkStandard](tx, models.Page{Limit: 1}, models.Equal("id", *how.Supersedes))
		if err != nil {
			return nil, false, err
		}
		if len(old) > 0 && !old[0].Content.EffectiveOn.After(today) {
			faults = append(faults, payroll.Fault{Pointer: "/supersedes", Key: "fault.standard_begun"})
		}
	}
	standard, repeated, err := models.Record(tx, id, c, how)
	return standard, repeated, unlessRepeated(repeated, err, faults)
}

// InForce returns what is asked of a variety's bunches at an operation on a day: the variety's own standard, or the one of every variety; nil where nothing is asked.
func InForce(tx *models.Tx, operation uuid.UUID, variety string, day dated.Date) (*models.WorkStandard, error) {
	all, err := standing(tx, operation)
	return choose(all, variety, day), err
}

// standing lists the standards of an operation that stand, in the order of arrival.
func standing(tx *models.Tx, operation uuid.UUID) (all []models.WorkStandard, err error) {
	err = tx.DB().Scopes(models.Standing(true), models.Equal("operation_id", operation)).Order("seq").Find(&all).Error
	return all, err
}

// choose takes, of an operation's standards in the order of arrival, the one that is in force for a variety on a day.
func choose(all []models.WorkStandard, variety string, day dated.Date) *models.WorkStandard {
	var own, general *models.WorkStandard
	for i := range all {
		c := &all[i].Content
		if c.EffectiveOn.After(day) {
			continue
		}
		switch c.Variety {
		case "":
			general = later(general, &all[i])
		case variety:
			own = later(own, &all[i])
		}
	}
	for _, s := range []*models.WorkStandard{own, general} {
		if s != nil && !s.Content.Withdrawn {
			return s
		}
	}
	return nil
}

// later is the one that takes effect later; of the same day, the one that arrived later.
func later(a, b *models.WorkStandard) *models.WorkStandard {
	if a == nil || !b.Content.EffectiveOn.Before(a.Content.EffectiveOn.Date) {
		return b
	}
	return a
}

// OnDay lists every standard that is in force on a day, in the order of arrival.
func OnDay(tx *models.Tx, day dated.Date) (all []models.WorkStandard, err error) {
	err = tx.DB().Scopes(models.StandardOn(day)).Order("seq").Find(&all).Error
	return all, err
}

// unlessRepeated adds faults that were found beside a record's own. A repeat is answered whatever is found.
func unlessRepeated(repeated bool, err error, faults []payroll.Fault) error {
	if repeated || len(faults) == 0 {
		return err
	}
	if err != nil && models.KindOf(err) != models.Invalid {
		return err
	}
	return models.Faulty(append(models.FaultsOf(err), faults...))
}
