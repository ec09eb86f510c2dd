package handlers

import (
	"net/http"
	"slices"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll/dated"
)

const contractsPath = "/api/v1/contracts"

// contractRoutes: contracts that guarantee hours, what was offered on their days, and how they stand.
func contractRoutes() []Route {
	return slices.Concat(
		kept[models.ContractContent]{
			path: contractsPath, read: office, write: office, filters: []filter{byID("worker_id")},
			create: creating(models.Create[models.ContractContent]), update: updating(models.Update[models.ContractContent]),
		}.routes(),
		recorded[models.ContractDayContent]{
			path: "/api/v1/contract-days", read: office, write: office,
			filters: []filter{byID("contract_id"), byFlag("standing", models.Standing)},
			record:  models.RecordContractDay,
		}.routes(),
		[]Route{{Method: "GET", Path: contractsPath + "/{id}/standing", Roles: office, Query: []string{"on"}, Status: http.StatusOK, handle: getContractStanding}},
	)
}

func getContractStanding(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var on dated.Date
	if _, _, err := rq.page(readsDay("on", &on)); err != nil {
		return nil, err
	}
	var standing *payrun.ContractStanding
	err = rq.view(func(tx *models.Tx) (err error) {
		if on.IsZero() {
			if on, err = payrun.Today(tx); err != nil {
				return err
			}
		}
		standing, err = payrun.StandingOfContract(tx, rq.Books, id, on)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(standing), nil
}
