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

// reckonWeek reckons a week that is sent in, as the command line's reckon does, under the caller's local books too. Nothing is kept of it.
func reckonWeek(rq *request, week payroll.Week) (*reply, error) {
	law, err := rq.law()
	if err != nil {
		return nil, err
	}
	statement, faults := payroll.Reckon(law.Library, &week)
	if err := models.Faulty(faults); err != nil {
		return nil, err
	}
	public := documents.StatementJSON(statement, text.For(rq.language()))
	book, _ := law.Governing(week.Rulebook)
	public.Cite(book, documents.RulebookPath)
	return plain(public), nil
}
