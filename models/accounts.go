package models

import (
	"regexp"

	"github.com/google/uuid"

	"palmero/payroll"
)

// Role says what an account may do.
type Role string

// The roles. There is no role that may do everything: whoever records tallies issues no codes, and whoever sets up gardens drafts no pay.
const (
	RoleWorker        Role = "worker"
	RoleCrewLead      Role = "crew_lead"
	RoleClerk         Role = "payroll_clerk"
	RoleSafetyOfficer Role = "safety_officer"
	RoleAdministrator Role = "administrator"
)

// Account is somebody's access to an employer's records.
type Account = Kept[AccountContent]

// AccountContent is what is set of an account. The secret is set by its owner alone.
type AccountContent struct {
	SignInName string     `json:"sign_in_name"`
	Name       string     `json:"name"`
	Role       Role       `json:"role"`
	Language   string     `json:"language"`
	WorkerID   *uuid.UUID `json:"worker_id,omitempty"` // whose tallies the account shows; required of workers and crew leads
	Suspended  bool       `json:"suspended,omitempty"`
	SecretHash string     `json:"-"` // argon2id with its parameters; empty until the first sign-in
}

func (*AccountContent) table() string { return "accounts" }

func (a *AccountContent) keep(old *AccountContent) { a.SecretHash = old.SecretHash }

var signInName = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{1,62}$`)

func (a *AccountContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	if !signInName.MatchString(a.SignInName) {
		c.Fault("/sign_in_name", "fault.sign_in_name", nil)
	}
	c.Text("/name", &a.Name, shortText)
	c.OneOf("/role", string(a.Role), string(RoleWorker), string(RoleCrewLead), string(RoleClerk), string(RoleSafetyOfficer), string(RoleAdministrator))
	c.Language("/language", &a.Language)
	switch {
	case a.WorkerID != nil:
		c.Reference("/worker_id", "workers", *a.WorkerID)
	case a.Role == RoleWorker, a.Role == RoleCrewLead:
		c.Fault("/worker_id", "fault.worker_needed", nil)
	}
	return c.Done()
}

// AccountNames are the names of the accounts' owners, by the account.
func AccountNames(tx *Tx, ids []uuid.UUID) (map[uuid.UUID]string, error) {
	accounts, err := List[Account](tx, Page{Limit: len(ids)}, OneOf("id", ids))
	names := make(map[uuid.UUID]string, len(accounts))
	for _, a := range accounts {
		names[a.ID] = a.Content.Name
	}
	return names, err
}
