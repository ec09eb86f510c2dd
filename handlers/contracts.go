package handlers

import (
	"net/http"
	"slices"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

const contractsPath = "/api/v1/contracts"

// contractRoutes: contracts that guarantee hours, what was offered on their days, and how they stand; a worker reads how one's own do.
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
		[]Route{
			{Method: "GET", Path: contractsPath + "/{id}/standing", Roles: office, Query: []string{"on"}, Status: http.StatusOK, handle: getContractStanding},
			{Method: "GET", Path: "/api/v1/my/contracts", Roles: hands, Query: []string{"cursor", "limit", "on"}, Status: http.StatusOK, handle: myContracts},
		},
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

// myContract is a contract as its worker reads it.
type myContract struct {
	Number      int64                    `json:"number"`
	JobOrder    string                   `json:"job_order"`
	FirstDay    models.Date              `json:"first_day"`
	LastDay     models.Date              `json:"last_day"`
	Workdays    string                   `json:"workdays"`
	DayMinutes  payroll.Minutes          `json:"day_minutes"`
	OfferedRate payroll.Rate             `json:"offered_rate"`
	RateSource  string                   `json:"rate_source"`
	SettleWeek  models.Date              `json:"settle_week"`
	Standing    *payrun.ContractStanding `json:"standing"`
	seq         int64
}

// myContracts are the caller's own, each with how it stands today or on the day asked.
func myContracts(rq *request) (*reply, error) {
	var on dated.Date
	p, _, err := rq.page(readsDay("on", &on))
	if err != nil {
		return nil, err
	}
	var found []myContract
	err = rq.view(func(tx *models.Tx) error {
		if on.IsZero() {
			if on, err = payrun.Today(tx); err != nil {
				return err
			}
		}
		contracts, err := models.List[models.Contract](tx, p, models.Equal("worker_id", *rq.caller.Worker))
		if err != nil {
			return err
		}
		for i := range contracts {
			standing, err := payrun.StandingOfContract(tx, rq.Books, contracts[i].ID, on)
			if err != nil {
				return err
			}
			c := &contracts[i].Content
			found = append(found, myContract{c.Number, c.JobOrder, c.FirstDay, c.LastDay, c.Workdays, c.DayMinutes, c.OfferedRate, c.RateSource, c.SettleWeek, standing, contracts[i].Seq})
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(found, p.Limit, func(c *myContract) int64 { return c.seq }, func(c *myContract) *myContract { return c })), nil
}
