package handlers

import (
	"slices"
	"strings"

	"palmero/models"
)

// Route is a line of the API's table.
type Route struct {
	Method string
	Path   string        // with its parameters in braces, such as /api/v1/gardens/{id}
	Open   bool          // whether it is for whoever is not signed in
	Roles  []models.Role // who may call it; nobody else may
	Query  []string      // the query parameters that it takes
	Status int           // of success
	Most   int64         // bytes of the body; 0: what the server takes

	handle handler
}

// handler is what a route does once it is known who asks.
type handler func(rq *request) (*reply, error)

// Routes lists the API.
func Routes() []Route {
	return slices.Concat(
		sessionRoutes(), employerRoutes(), setupRoutes(), accountRoutes(), rateRoutes(),
		sheetRoutes(), draftRoutes(), importRoutes(), workRoutes(), payRunRoutes(), breakRoutes(), statementRoutes(), laborCostRoutes(), adjustmentRoutes(), myRoutes(),
		palmRoutes(), equipmentRoutes(), gearRoutes(), photoRoutes(),
		sickLeaveRoutes(), bonusRoutes(), contractRoutes(),
		checklistRoutes(), trainingRoutes(), clearanceRoutes(), reviewRoutes(),
		auditRoutes(), calculationRoutes(), figureRoutes(), rulebookRoutes(), localBookRoutes(), descriptionRoutes(),
		placeRoutes(), incidentRoutes(),
		bunchRoutes(),
	)
}

// ginPath turns a path of the table into gin's form.
var ginPath = strings.NewReplacer("{", ":", "}", "")

// Who may do what. There is no shorthand for everything: a role that is not named is refused.
var (
	everyone = []models.Role{models.RoleWorker, models.RoleCrewLead, models.RoleClerk, models.RoleSafetyOfficer, models.RoleAdministrator}
	staff    = []models.Role{models.RoleCrewLead, models.RoleClerk, models.RoleSafetyOfficer, models.RoleAdministrator}
	payStaff = []models.Role{models.RoleCrewLead, models.RoleClerk, models.RoleAdministrator}
	office   = []models.Role{models.RoleClerk, models.RoleAdministrator}
	clerks   = []models.Role{models.RoleClerk}
	admins   = []models.Role{models.RoleAdministrator}
	officers = []models.Role{models.RoleSafetyOfficer}
	field    = []models.Role{models.RoleCrewLead, models.RoleSafetyOfficer} // who sees what people climb on and hands gear out
)
