package handlers

import (
	"encoding/csv"
	"maps"
	"net/http"
	"strings"
	"testing"

	"palmero/payroll"
)

// What the matrix is to know of labor cost.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /api/v1/pay-runs/{id}/labor-cost":     "ca",
		"GET /api/v1/pay-runs/{id}/labor-cost.csv": "ca",
		"GET /api/v1/labor-cost":                   "ca",
		"GET /api/v1/labor-cost.csv":               "ca",
	})
}

type costs struct {
	Items []struct {
		Date, Block, Operation string
		Total                  payroll.Cents
	}
	Total payroll.Cents
}

// The cost of a run adds up to its gross pay, and that of its week is the same.
func TestLaborCost(t *testing.T) {
	each(t, func(r *rig) {
		_, v := r.drafted()
		r.do("GET", v.path("/labor-cost"), r.clerk(), nil).wantsKey(http.StatusConflict, "problem.cost_of_draft")
		r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wants(http.StatusOK)
		var gross struct{ Gross payroll.Cents }
		r.do("GET", v.path(""), r.clerk(), nil).into(&gross)
		for _, path := range []string{v.path("/labor-cost"), weekCostPath + "?week_start=" + payWeek} {
			var got costs
			r.do("GET", path, r.admin(), nil).wants(http.StatusOK).into(&got)
			var sum payroll.Cents
			for _, c := range got.Items {
				sum += c.Total
			}
			if sum != gross.Gross || got.Total != sum || sum == 0 {
				r.Errorf("%s: %v in %v, of %v", path, sum, got, gross.Gross)
			}
		}
		for _, path := range []string{v.path("/labor-cost.csv"), weekCostPath + ".csv?week_start=" + payWeek + "&language=es"} {
			a := r.do("GET", path, r.admin(), nil).wants(http.StatusOK)
			rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(a.body), "\ufeff"))).ReadAll()
			if err != nil || len(rows) < 3 || rows[len(rows)-1][8] != gross.Gross.String() {
				r.Errorf("%s: %v %q", path, err, rows)
			}
		}
		r.do("GET", weekCostPath+"?week_start=soon", r.admin(), nil).wantsFaults(http.StatusBadRequest, "week_start")
		r.do("GET", weekCostPath+"?week_start=2026-01-04", r.admin(), nil).wants(http.StatusOK)
	})
}
