package pages

import (
	"net/url"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// setUpStep is one of those by which an empty farm comes so far that a crew lead can record a day and the clerk can draft its pay.
type setUpStep struct {
	word  string // page.set.step.WORD says what is lacking, page.set.step.WORD_do is the verb
	there bool
	roles []models.Role // who sees to it, or waits for it
	path  string
}

// setUpSteps are the step that the reader's farm lacks next, and those that come then, in their order. A farm that is set up lacks none.
func (v *visit) setUpSteps(tx *models.Tx, today dated.Date) (next, then []Need, err error) {
	s, err := models.SetUpOn(tx, today)
	if err != nil || s.Done() {
		return nil, nil, err
	}
	garden, crew, lead, err := firstPlaces(tx, s)
	if err != nil {
		return nil, nil, err
	}
	worker := "/workers"
	if v.caller.Role == models.RoleClerk {
		worker = "/workers/new"
	}
	for _, step := range []setUpStep{
		{"garden", s.Gardens, owners, "/gardens"},
		{"block", s.Blocks, owners, garden},
		{"operation", s.Operations, owners, "/operations"},
		{"crew", s.Crews, owners, "/crews"},
		{"clerk", s.Clerks, owners, "/accounts?role=" + string(models.RoleClerk) + "#name"},
		{"worker", s.Workers, office, worker},
		{"member", s.Members, office, crew},
		{"lead", s.Leads, office, crew},
		{"rate", s.Rates, office, "/rates"},
		{"lead_account", s.LeadAccounts, owners, lead},
		{"officer", s.Officers, owners, "/accounts?role=" + string(models.RoleSafetyOfficer) + "#name"},
	} {
		if step.there || !slices.Contains(step.roles, v.caller.Role) {
			continue
		}
		need := Need{Mark{"look", v.say("page.set.step."+step.word, nil)}, step.path, v.say("page.set.step."+step.word+"_do", nil)}
		if next == nil {
			next = []Need{need}
		} else {
			then = append(then, need)
		}
	}
	return next, then, nil
}

// firstPlaces are where the next steps are done: at the first garden, at the first crew, and at the account of its lead.
func firstPlaces(tx *models.Tx, s *models.SetUp) (garden, crew, lead string, err error) {
	garden, crew = "/gardens", "/crews"
	account := url.Values{"role": {string(models.RoleCrewLead)}}
	if s.Gardens && !s.Blocks {
		id, err := models.FirstOf[models.Garden](tx)
		if err != nil {
			return "", "", "", err
		}
		garden += "/" + id.String()
	}
	if s.Crews && !(s.Members && s.Leads) {
		id, err := models.FirstOf[models.Crew](tx)
		if err != nil {
			return "", "", "", err
		}
		crew += "/" + id.String() + "#joining"
	}
	if s.Leads && !s.LeadAccounts {
		member, err := models.FirstOf[models.CrewMember](tx, models.Where("leads"))
		if err == nil && member != uuid.Nil {
			err = nameLead(tx, member, account)
		}
		if err != nil {
			return "", "", "", err
		}
	}
	return garden, crew, "/accounts?" + account.Encode() + "#name", nil
}

// nameLead adds the number of a crew's lead to the address at which the account is opened.
func nameLead(tx *models.Tx, member uuid.UUID, account url.Values) error {
	m, err := models.Get[models.CrewMemberContent](tx, member)
	if err != nil {
		return err
	}
	w, err := models.Get[models.WorkerContent](tx, m.Content.WorkerID)
	if err == nil {
		account.Set("worker", strconv.FormatInt(w.Content.Number, 10))
	}
	return err
}

// blockNeeds are the blocks in use of which something is unknown.
func (v *visit) blockNeeds(tx *models.Tx, today dated.Date) ([]Need, error) {
	var lacking int64
	if err := tx.DB().Model(&models.Block{}).Scopes(models.InUseOn(today)).Where("bunches_per_palm = 0").Count(&lacking).Error; err != nil || lacking == 0 {
		return nil, err
	}
	return []Need{v.need("plain", "blocks_lack", payroll.Terms{"count": int(lacking)}, "/gardens", "set_up")}, nil
}
