package pages

import (
	"slices"

	"palmero/models"
)

// Page is a line of the table of pages.
type Page struct {
	Method string
	Path   string        // in the trade's words, parameters in braces: /my/statements/{id}
	Open   bool          // whether it is for whoever is not signed in
	Roles  []models.Role // who may; nobody else may
	Nav    string        // the key of its name in the navigation; "": it stands nowhere in it
	Most   int64         // bytes of the body; 0: what the server takes
	Under  string        // the path of the hub that lists it, for whoever may see that hub, in place of the navigation

	handle handler
}

// handler does what a page does once it is known who asks.
type handler func(v *visit) (*answer, error)

// table is made once: every page looks into it for its navigation, and is in it itself.
var table []Page

func init() {
	table = slices.Concat(homePages(), hubPages(), dayPages(), safetyPages(), ownWorkPages(), ownStatementPages(), ownLeavePages(), bunchPages(), ownSafetyPages(), payPages(), payProblemPages(), payChangePages(), payStatementPages(), rulebookPages(), payPaymentPages(), payPaperPages(), correctionPages(), ownerPages(), importPages(), bookPages(), accountPages(), signInPages())
}

// Pages lists all pages. Those of one concern are listed at the top of its file; the navigation keeps their order.
func Pages() []Page { return slices.Clone(table) }

// pagesThat lists the pages for which something holds.
func pagesThat(hold func(p *Page) bool) (pages []Page) {
	for i := range table {
		if hold(&table[i]) {
			pages = append(pages, table[i])
		}
	}
	return pages
}

// Who may do what. There is no shorthand for everything: a role that is not named is refused.
var (
	everyone = []models.Role{models.RoleWorker, models.RoleCrewLead, models.RoleClerk, models.RoleSafetyOfficer, models.RoleAdministrator}
	hands    = []models.Role{models.RoleWorker, models.RoleCrewLead} // those whose own work is recorded
	office   = []models.Role{models.RoleClerk, models.RoleAdministrator}
	clerks   = []models.Role{models.RoleClerk}
	owners   = []models.Role{models.RoleAdministrator}
)

// navigation lists the pages that a role finds in the navigation: what a hub lists for that role is found there.
func navigation(role models.Role) []Page {
	hubs := hubsOf(role)
	return pagesThat(func(p *Page) bool {
		return p.Nav != "" && slices.Contains(p.Roles, role) && !slices.Contains(hubs, p.Under)
	})
}
