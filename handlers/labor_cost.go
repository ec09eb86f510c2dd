package handlers

import (
	"bytes"
	"net/http"
	"strconv"

	"palmero/handlers/documents"
	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

const weekCostPath = "/api/v1/labor-cost"

func laborCostRoutes() []Route {
	const one = runsPath + "/{id}/labor-cost"
	return []Route{
		{Method: "GET", Path: one, Roles: office, Status: http.StatusOK, handle: costOf(runCost, costDocument)},
		{Method: "GET", Path: one + ".csv", Roles: office, Query: []string{"language"}, Status: http.StatusOK, handle: costOf(runCost, costList)},
		{Method: "GET", Path: weekCostPath, Roles: office, Query: []string{"week_start"}, Status: http.StatusOK, handle: costOf(weekCost, costDocument)},
		{Method: "GET", Path: weekCostPath + ".csv", Roles: office, Query: []string{"week_start", "language"}, Status: http.StatusOK, handle: costOf(weekCost, costList)},
	}
}

// laborCost is what labor cost in an approved run or in all of a week.
type laborCost struct {
	WeekStart dated.Date    `json:"week_start"`
	Run       *int64        `json:"run_number"` // null: all approved runs of the week
	Items     []payrun.Cost `json:"items"`
	Total     payroll.Cents `json:"total"`
}

func costOf(read func(rq *request) (*laborCost, error), show func(rq *request, cost *laborCost) (*reply, error)) handler {
	return func(rq *request) (*reply, error) {
		cost, err := read(rq)
		if err != nil {
			return nil, err
		}
		for _, c := range cost.Items {
			cost.Total += c.Total
		}
		return show(rq, cost)
	}
}

func runCost(rq *request) (*laborCost, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	cost := &laborCost{}
	err = rq.view(func(tx *models.Tx) error {
		run, items, err := payrun.RunLaborCost(tx, id)
		if err == nil {
			cost.WeekStart, cost.Run, cost.Items = run.WeekStart.Date, &run.Number, items
		}
		return err
	})
	return cost, err
}

func weekCost(rq *request) (*laborCost, error) {
	week, err := dated.ParseDate(rq.gin.Query("week_start"))
	if err != nil {
		return nil, faultyQuery([]payroll.Fault{{Pointer: "week_start", Key: "fault.not_a_date", Terms: payroll.Terms{"given": rq.gin.Query("week_start")}}})
	}
	cost := &laborCost{WeekStart: week}
	err = rq.view(func(tx *models.Tx) (err error) {
		cost.Items, err = payrun.WeekLaborCost(tx, models.Day(week))
		return err
	})
	return cost, err
}

func costDocument(_ *request, cost *laborCost) (*reply, error) { return plain(cost), nil }

func costList(rq *request, cost *laborCost) (*reply, error) {
	lang, err := rq.chosenLanguage()
	if err != nil {
		return nil, err
	}
	rows := make([]documents.LaborCostRow, len(cost.Items))
	for i, c := range cost.Items {
		rows[i] = documents.LaborCostRow(c)
	}
	var b bytes.Buffer
	if err := documents.LaborCostCSV(&b, rows, text.For(lang)); err != nil {
		return nil, err
	}
	name := "labor-cost-" + cost.WeekStart.String()
	if cost.Run != nil {
		name = "labor-cost-" + strconv.FormatInt(*cost.Run, 10) + "-" + cost.WeekStart.String()
	}
	r := document("text/csv; charset=utf-8", b.Bytes())
	r.header = http.Header{"Content-Language": {lang}, "Content-Disposition": {`attachment; filename="` + name + `.csv"`}}
	return r, nil
}
