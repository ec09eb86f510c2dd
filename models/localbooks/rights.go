package localbooks

import (
	"palmero/models"
	"palmero/payroll/rulebook"
)

// KindFor is the only kind of local book that accounts of a role may enter or withdraw, "" for any: a clerk must be able to pay when a yearly value has ended.
func KindFor(role models.Role) rulebook.LocalKind {
	if role == models.RoleAdministrator {
		return ""
	}
	return rulebook.Announcement
}
