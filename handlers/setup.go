package handlers

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/localbooks"
	"palmero/payroll"
)

// setupRoutes are those of what is set up before the first day of work. Workers are completed, told to be another (same_as) and ended by
// replacing them, as everything here is.
func setupRoutes() []Route {
	return slices.Concat(
		kept[models.GardenContent]{
			path: "/api/v1/gardens", read: staff, write: admins, check: checkRulebook,
			create: creating(models.Create[models.GardenContent]), update: updating(models.Update[models.GardenContent]),
		}.routes(),
		kept[models.BlockContent]{
			path: "/api/v1/blocks", read: staff, write: admins, filters: []filter{byID("garden_id"), byDay("in_use_on", models.InUseOn)},
			create: creating(models.Create[models.BlockContent]), update: updating(models.Update[models.BlockContent]),
		}.routes(),
		kept[models.OperationContent]{
			path: "/api/v1/operations", read: payStaff, write: admins, filters: []filter{byDay("in_use_on", models.InUseOn)},
			create: creating(models.Create[models.OperationContent]), update: updating(models.Update[models.OperationContent]),
		}.routes(),
		kept[models.CrewContent]{
			path: "/api/v1/crews", read: staff, write: admins,
			create: creating(models.Create[models.CrewContent]), update: updating(models.Update[models.CrewContent]),
		}.routes(),
		kept[models.CrewMemberContent]{
			path: "/api/v1/crew-members", read: staff, write: office,
			filters: []filter{byID("crew_id"), byID("worker_id"), byDay("on", models.MembersOn)},
			create:  creating(models.Create[models.CrewMemberContent]), update: updating(models.Update[models.CrewMemberContent]),
		}.routes(),
		kept[models.WorkerContent]{
			path: "/api/v1/workers", read: staff, write: clerks, show: showWorker,
			filters: []filter{
				byFlag("provisional", models.Unsettled),
				byDay("employed_on", models.EmployedOn),
			},
			create: creating(models.Create[models.WorkerContent]), update: updating(models.Update[models.WorkerContent]),
		}.routes(),
	)
}

// checkRulebook wants a garden's rulebook to be one that there is, the employer's own included.
func checkRulebook(rq *request, g models.GardenContent) (faults []payroll.Fault, err error) {
	err = rq.view(func(tx *models.Tx) (err error) {
		faults, err = localbooks.Named(tx, rq.Books, "/rulebook", strings.TrimSpace(g.Rulebook))
		return err
	})
	return faults, err
}

// workerInBrief is as much of a worker as those need who work beside them.
type workerInBrief struct {
	ID     uuid.UUID `json:"id"`
	Number int64     `json:"number"`
	Name   string    `json:"name"`
}

// showWorker keeps addresses and birth dates to the office.
func showWorker(rq *request, w *models.Worker) any {
	if slices.Contains(office, rq.caller.Role) {
		return w
	}
	return workerInBrief{w.ID, w.Content.Number, w.Content.Name}
}
