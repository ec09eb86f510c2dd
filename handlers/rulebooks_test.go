package handlers

import (
	"net/http"
	"strings"
	"testing"

	"palmero/models"
)

func TestRulebooks(t *testing.T) {
	each(t, func(r *rig) {
		worker := r.as(models.RoleWorker)
		var list struct {
			Items []struct{ Key, Digest string }
		}
		r.do(http.MethodGet, "/api/v1/rulebooks", worker, nil).wants(http.StatusOK).into(&list)
		if len(list.Items) != 8 || list.Items[7].Key != "valley" || list.Items[2].Key != "us-ca" || len(list.Items[2].Digest) != 64 {
			t.Errorf("the list is %+v", list)
		}
		var book struct {
			Parameters []struct{ Name string }
			InForce    []struct {
				Parameter, Book string
				Value           any
			} `json:"in_force"`
			Changes  []struct{ Parameter string }
			Coverage []struct {
				Rule     string
				Examples []string
			}
			NotModelled []struct{ Rule, Text string } `json:"not_modelled"`
		}
		r.do(http.MethodGet, "/api/v1/rulebooks/us-ca?on=2021-12-31&with=2022-01-01", worker, nil).wants(http.StatusOK).into(&book)
		var changed []string
		for _, c := range book.Changes {
			changed = append(changed, c.Parameter)
		}
		if got := strings.Join(changed, " "); got != "minimum_wage.large minimum_wage.small overtime.agriculture.large overtime.agriculture.small" {
			t.Errorf("changes: %s", got)
		}
		held := map[string]any{}
		for _, h := range book.InForce {
			held[h.Book+" "+h.Parameter] = h.Value
		}
		if held["us-ca minimum_wage.large"] != "14.00" || held["us minimum_wage"] != "7.25" || len(book.Coverage) == 0 || len(book.NotModelled) == 0 || len(book.Parameters) == 0 {
			t.Errorf("the book is %+v", book)
		}
		page := r.do(http.MethodGet, "/api/v1/rulebooks/us-ca?on=2026-02-16", worker, nil, "Accept", "text/html", "Accept-Language", "es").wants(http.StatusOK)
		if !strings.Contains(string(page.body), "Salario mínimo, empleadores grandes") || !strings.Contains(string(page.body), `<html lang="es">`) {
			t.Error("the page is not in Spanish")
		}
		r.do(http.MethodGet, "/api/v1/rulebooks/us-xx", worker, nil).wants(http.StatusNotFound)
		r.do(http.MethodGet, "/api/v1/rulebooks/us-ca?on=soon", worker, nil).wants(http.StatusBadRequest)
		r.do(http.MethodGet, "/api/v1/rulebooks/us-ca?with=2026-01-01", worker, nil).wants(http.StatusBadRequest)
	})
}

// localWage is a local book with a wage.
const localWage = `
book: oasis
title: The invented city of Oasis
parent: us-ca
local: ordinance
sources:
  ordinance: {title: Oasis ordinance on pay, section: Oasis 1, link: "https://law.example/oasis"}
parameters:
  minimum_wage:
    about: What the ordinance sets
    way: higher
    values: [{from: 2026-07-01, through: 2026-12-31, value: "WAGE", source: ordinance, read: 2026-06-01, standing: read}]
authorities: {}
`

func TestCheckingALocalBook(t *testing.T) {
	each(t, func(r *rig) {
		for wage, want := range map[string]string{"17.50": "", "16.00": "16.00 el 2026-07-01 protege menos que 16.90"} {
			var check struct {
				Good    bool
				Reasons []string
			}
			body := object{"name": "oasis", "text": strings.Replace(localWage, "WAGE", wage, 1)}
			r.do(http.MethodPost, "/api/v1/rulebook-checks", r.clerk(), body, "Accept-Language", "es").wants(http.StatusOK).into(&check)
			if check.Good != (want == "") || !strings.Contains(strings.Join(check.Reasons, "\n"), want) {
				t.Errorf("%s: %+v", wage, check)
			}
		}
	})
}
