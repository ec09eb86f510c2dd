package handlers

import (
	"palmero/models"
	"palmero/models/payrun"
)

// bonusRoutes: bonuses earned over one or several weeks, recorded once and paid by the statement of the week that they name.
func bonusRoutes() []Route {
	return recorded[models.BonusContent]{
		path: "/api/v1/bonuses", read: office, write: office,
		filters: []filter{byID("worker_id"), byID("crew_id"), byFlag("standing", models.Standing)},
		record:  payrun.RecordBonus,
	}.routes()
}
