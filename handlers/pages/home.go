package pages

import (
	"fmt"

	"palmero/models"
)

func homePages() []Page {
	return []Page{
		{Method: "GET", Path: "/", Roles: everyone, Nav: "page.nav.home", handle: home},
	}
}

// Need is something that waits for the reader: a mark and a sentence, and where to see to it under which verb.
type Need struct {
	Mark       Mark
	Path, Verb string // Verb is said already; Path "" where there is nothing to go to
}

// daysBack is of how many days a first page tells what came in: a week, so that a crew whose sheet is missing shows before it is paid.
const daysBack = 7

// home is the first page of a role: what needs its people now.
func home(v *visit) (*answer, error) {
	switch v.caller.Role {
	case models.RoleWorker, models.RoleCrewLead:
		return ownHome(v)
	case models.RoleClerk:
		return payHome(v)
	case models.RoleAdministrator:
		return ownerHome(v)
	case models.RoleSafetyOfficer:
		return officerHome(v)
	}
	return nil, fmt.Errorf("the role %s has no first page", v.caller.Role)
}
