package pages

import (
	"palmero/models"
	"palmero/models/payrun"
)

// ownTermsPages show people what was agreed with them beyond rates: their contracts and their bonuses.
func ownTermsPages() []Page {
	return []Page{{Method: "GET", Path: "/my/terms", Roles: hands, handle: showOwnTerms}}
}

// ownTerms are somebody's contracts, each with how it stands, and bonuses.
type ownTerms struct {
	Contracts []oneContract
	Bonuses   []payrun.OwnBonus
}

func showOwnTerms(v *visit) (*answer, error) {
	var page ownTerms
	err := v.view(func(tx *models.Tx) error {
		contracts, err := models.LatestContracts(tx, v.caller.Worker, 0, contractsAtOnce)
		if err != nil {
			return err
		}
		for i := range contracts {
			one := oneContract{contractRow: contractRow{Contract: contracts[i]}}
			if one.Standing, one.Unknown, err = v.contractStanding(tx, contracts[i].ID); err != nil {
				return err
			}
			page.Contracts = append(page.Contracts, one)
		}
		page.Bonuses, err = payrun.BonusesOf(tx, *v.caller.Worker, bonusesAtOnce)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("my_terms", &page), nil
}
