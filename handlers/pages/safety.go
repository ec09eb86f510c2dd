package pages

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/climbs"
	"palmero/models/heatday"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety"
)

// Who sees to safety: the officer decides, and whoever runs the farm reads along.
var (
	guards  = []models.Role{models.RoleSafetyOfficer, models.RoleAdministrator}
	officer = []models.Role{models.RoleSafetyOfficer}
)

// safetyPages are the pages of whoever sees to safety.
func safetyPages() []Page {
	return slices.Concat(reviewPages(), clearancePages(), heatPages(), housePages(), checklistPages(), stopPages(), equipmentPages(), palmPages(), trainingPages(), incidentPages(), casePages(), caseYearPages(), photoPages())
}

// climbBooks are the safety rulebooks and the lists that come with the program.
func climbBooks() climbs.Books { return climbs.Books{Rules: figuring.Books(), Lists: figuring.Lists()} }

// speaking puts the safety engine's messages into the reader's language.
func (v *visit) speaking() safety.Say {
	return func(key string, terms safety.Terms) string { return v.say(key, payroll.Terms(terms)) }
}

// shownDay is the day that a page is of, with the days around it.
type shownDay struct {
	On, Today dated.Date
	Zone      *time.Location
}

// Before is the day before.
func (d shownDay) Before() dated.Date { return d.On.AddDays(-1) }

// After is the day after.
func (d shownDay) After() dated.Date { return d.On.AddDays(1) }

// shownDay reads the day that is asked for, or the workday that it is now.
func (v *visit) shownDay(tx *models.Tx) (d shownDay, err error) {
	if d.Today, err = heatday.Today(tx); err != nil {
		return d, err
	}
	if d.On = v.day("on"); d.On.IsZero() {
		d.On = d.Today
	}
	d.Zone, err = payrun.HomeZone(tx)
	return d, err
}

// namesOf are the names of all records of a kind of which an employer has few.
func namesOf[C any](tx *models.Tx, name func(*C) string) (map[uuid.UUID]string, error) {
	all, err := models.All[C](tx)
	called := make(map[uuid.UUID]string, len(all))
	for id, kept := range all {
		called[id] = name(&kept.Content)
	}
	return called, err
}

func crewNames(tx *models.Tx) (map[uuid.UUID]string, error) {
	return namesOf(tx, func(c *models.CrewContent) string { return c.Name })
}

func accountNames(tx *models.Tx) (map[uuid.UUID]string, error) {
	return namesOf(tx, func(a *models.AccountContent) string { return a.Name })
}
