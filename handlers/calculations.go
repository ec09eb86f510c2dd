package handlers

import (
	"net/http"

	"palmero/handlers/documents"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/payroll"
)

func calculationRoutes() []Route {
	return []Route{
		{Method: "POST", Path: "/api/v1/calculations/worker-week", Roles: everyone, Status: http.StatusOK, handle: taking(reckonWeek)},
	}
}

// reckonWeek reckons a week that is sent in, as the command line's reckon does. Nothing is kept of it.
func reckonWeek(rq *request, week payroll.Week) (*reply, error) {
	statement, faults := payroll.Reckon(rq.Books, &week)
	if err := models.Faulty(faults); err != nil {
		return nil, err
	}
	return plain(documents.StatementJSON(statement, text.For(rq.language()))), nil
}
