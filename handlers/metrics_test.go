package handlers

import (
	"net/http"
	"strings"
	"testing"
)

// The metrics tell what was kept, repeated and refused, and name nobody.
func TestMetricsTellOfTheStore(t *testing.T) {
	each(t, func(r *rig) {
		sheet, _ := r.drafted()
		r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusOK)
		r.do("POST", "/api/v1/sign-in", nil, object{"employer": "tres-pozos", "account": "clerk", "secret": "not this one"}).wants(http.StatusUnauthorized)
		r.wait(30e9)
		before := string(r.do("GET", "/metrics", nil, nil).wants(http.StatusOK).body)
		if !strings.Contains(before, "palmero_seal_age_seconds 30\n") {
			t.Errorf("before the first seal it does not tell how long nothing has been sealed:\n%s", before)
		}
		if _, err := r.store.SealAll(r.Context()); err != nil {
			t.Fatal(err)
		}
		r.wait(90e9)
		got := string(r.do("GET", "/metrics", nil, nil).wants(http.StatusOK).body)
		for _, want := range []string{
			`palmero_crew_sheets_total{outcome="new"} 1`, `palmero_crew_sheets_total{outcome="repeated"} 1`,
			`palmero_crew_sheet_lines_total{outcome="recorded"} 17`, `palmero_crew_sheet_lines_total{outcome="repeated"} 17`,
			`palmero_commands_total{action="draft",subject="pay_runs"} 1`, `palmero_command_seconds_total{action="draft",subject="pay_runs"} `,
			`palmero_sign_ins_refused_total{reason="wrong"} 1`, `palmero_seal_age_seconds 90`, `palmero_database_connections{state="most"} 10`,
		} {
			if !strings.Contains(got, want) {
				t.Errorf("no line %s in\n%s", want, got)
			}
		}
		for _, name := range []string{"tres-pozos", r.ours.Employer.String(), r.clerk().account.String()} {
			if strings.Contains(got, name) {
				t.Errorf("the metrics name %s", name)
			}
		}
	})
}
