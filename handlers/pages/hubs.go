package pages

import (
	"slices"
	"strings"

	"palmero/models"
)

// hubPages list pages that are seldom needed, or by few, each with a sentence on what it is for, so that the navigation stays short.
func hubPages() []Page {
	return []Page{
		{Method: "GET", Path: "/safety", Roles: owners, Nav: "page.nav.safety", handle: showHub},
		{Method: "GET", Path: "/set-up", Roles: office, Nav: "page.nav.set_up", handle: showHub},
	}
}

// hubsOf are the paths of the hubs that a role may see.
func hubsOf(role models.Role) (paths []string) {
	for _, hub := range hubPages() {
		if slices.Contains(hub.Roles, role) {
			paths = append(paths, hub.Path)
		}
	}
	return paths
}

// listed are the pages that a hub lists for a role, in the order of the table.
func (p Page) listed(role models.Role) []Page {
	return pagesThat(func(q *Page) bool { return q.Under == p.Path && q.Nav != "" && slices.Contains(q.Roles, role) })
}

// leadsTo reports whether a page is this one, one of its kind, or is listed on it for a role.
func (p Page) leadsTo(page Page, role models.Role) bool {
	if p.Path == page.Path || p.Path != "/" && strings.HasPrefix(page.Path, p.Path+"/") {
		return true
	}
	return slices.ContainsFunc(p.listed(role), func(q Page) bool { return q.leadsTo(page, role) })
}

func showHub(v *visit) (*answer, error) {
	return show("hub", struct {
		Name  string
		Pages []Page
	}{v.page.Nav, v.page.listed(v.caller.Role)}), nil
}
