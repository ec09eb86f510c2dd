package models

import (
	"github.com/google/uuid"

	"palmero/payroll/dated"
)

// SetUp is how far a farm is set up: what there is of that without which nobody can record a day or draft its pay.
type SetUp struct {
	Gardens, Blocks, Operations, Crews, Workers, Rates bool
	Members                                            bool // whether anybody is in a crew, on the day or later
	Leads                                              bool // whether anybody leads one
	Clerks, LeadAccounts, Officers                     bool // whether there are accounts of these roles, suspended ones left out
}

// Done tells whether nothing is lacking.
func (s *SetUp) Done() bool {
	return s.Gardens && s.Blocks && s.Operations && s.Crews && s.Workers && s.Rates && s.Members && s.Leads && s.Clerks && s.LeadAccounts && s.Officers
}

// SetUpOn tells how far the farm is set up on a day.
func SetUpOn(tx *Tx, day dated.Date) (*SetUp, error) {
	var s SetUp
	err := tx.DB().Raw(`SELECT
		EXISTS (SELECT 1 FROM gardens WHERE employer_id = @employer) AS gardens,
		EXISTS (SELECT 1 FROM blocks WHERE employer_id = @employer AND (ended_on IS NULL OR ended_on >= @day)) AS blocks,
		EXISTS (SELECT 1 FROM operations WHERE employer_id = @employer AND (ended_on IS NULL OR ended_on >= @day)) AS operations,
		EXISTS (SELECT 1 FROM crews WHERE employer_id = @employer) AS crews,
		EXISTS (SELECT 1 FROM workers WHERE employer_id = @employer AND NOT provisional) AS workers,
		EXISTS (SELECT 1 FROM piece_rates WHERE employer_id = @employer) OR EXISTS (SELECT 1 FROM hourly_rates WHERE employer_id = @employer) AS rates,
		EXISTS (SELECT 1 FROM crew_members WHERE employer_id = @employer AND (through_date IS NULL OR through_date >= @day)) AS members,
		EXISTS (SELECT 1 FROM crew_members WHERE employer_id = @employer AND leads AND (through_date IS NULL OR through_date >= @day)) AS leads,
		EXISTS (SELECT 1 FROM accounts WHERE employer_id = @employer AND role = @clerk AND NOT suspended) AS clerks,
		EXISTS (SELECT 1 FROM accounts WHERE employer_id = @employer AND role = @lead AND NOT suspended) AS lead_accounts,
		EXISTS (SELECT 1 FROM accounts WHERE employer_id = @employer AND role = @officer AND NOT suspended) AS officers`,
		map[string]any{"employer": tx.Employer, "day": Day(day), "clerk": RoleClerk, "lead": RoleCrewLead, "officer": RoleSafetyOfficer}).Scan(&s).Error
	return &s, translate(err)
}

// FirstOf is the identifier of the first record of a kind that conditions keep, by its order of arrival; the nil UUID where there is none.
func FirstOf[R any](tx *Tx, conditions ...Condition) (uuid.UUID, error) {
	var ids []uuid.UUID
	err := tx.DB().Model(new(R)).Scopes(conditions...).Order("seq").Limit(1).Pluck("id", &ids).Error
	if err != nil || len(ids) == 0 {
		return uuid.Nil, translate(err)
	}
	return ids[0], nil
}
