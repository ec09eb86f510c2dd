package handlers

import (
	"bytes"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"palmero/models"
)

// allowed says who may call what, apart from the table that the API is built of: w a worker, l a crew lead, c a clerk, s a safety officer,
// a an administrator, - whoever is not signed in.
var allowed = map[string]string{
	"POST /api/v1/sign-in":                     "-",
	"POST /api/v1/first-sign-in":               "-",
	"POST /api/v1/refresh":                     "-",
	"POST /api/v1/sign-out":                    "wlcsa",
	"GET /api/v1/me":                           "wlcsa",
	"PUT /api/v1/me/language":                  "wlcsa",
	"POST /api/v1/me/secret":                   "wlcsa",
	"GET /api/v1/employer":                     "ca",
	"PUT /api/v1/employer":                     "a",
	"GET /api/v1/gardens":                      "lcsa",
	"POST /api/v1/gardens":                     "a",
	"GET /api/v1/gardens/{id}":                 "lcsa",
	"PUT /api/v1/gardens/{id}":                 "a",
	"GET /api/v1/blocks":                       "lcsa",
	"POST /api/v1/blocks":                      "a",
	"GET /api/v1/blocks/{id}":                  "lcsa",
	"PUT /api/v1/blocks/{id}":                  "a",
	"GET /api/v1/operations":                   "lca",
	"POST /api/v1/operations":                  "a",
	"GET /api/v1/operations/{id}":              "lca",
	"PUT /api/v1/operations/{id}":              "a",
	"GET /api/v1/crews":                        "lcsa",
	"POST /api/v1/crews":                       "a",
	"GET /api/v1/crews/{id}":                   "lcsa",
	"PUT /api/v1/crews/{id}":                   "a",
	"GET /api/v1/crew-members":                 "lcsa",
	"POST /api/v1/crew-members":                "ca",
	"GET /api/v1/crew-members/{id}":            "lcsa",
	"PUT /api/v1/crew-members/{id}":            "ca",
	"GET /api/v1/workers":                      "lcsa",
	"POST /api/v1/workers":                     "c",
	"GET /api/v1/workers/{id}":                 "lcsa",
	"PUT /api/v1/workers/{id}":                 "c",
	"GET /api/v1/accounts":                     "ca",
	"POST /api/v1/accounts":                    "ca",
	"GET /api/v1/accounts/{id}":                "ca",
	"PUT /api/v1/accounts/{id}":                "ca",
	"POST /api/v1/accounts/{id}/sign-in-code":  "ca",
	"GET /api/v1/piece-rates":                  "lca",
	"POST /api/v1/piece-rates":                 "ca",
	"GET /api/v1/piece-rates/{id}":             "lca",
	"GET /api/v1/hourly-rates":                 "ca",
	"POST /api/v1/hourly-rates":                "ca",
	"GET /api/v1/hourly-rates/{id}":            "ca",
	"GET /api/v1/piece-rates/{id}/chain":       "ca",
	"GET /api/v1/hourly-rates/{id}/chain":      "ca",
	"GET /api/v1/audit-entries":                "a",
	"GET /api/v1/audit-head":                   "a",
	"GET /api/v1/rulebooks":                    "wlcsa",
	"GET /api/v1/rulebooks/{key}":              "wlcsa",
	"POST /api/v1/rulebook-checks":             "ca",
	"POST /api/v1/calculations/worker-week":    "wlcsa",
	"GET /api/v1/checklists":                   "wlcsa",
	"GET /api/v1/open-points":                  "wlcsa",
	"POST /api/v1/calculations/clearance":      "wlcsa",
	"POST /api/v1/calculations/fall-clearance": "wlcsa",
	"POST /api/v1/calculations/heat-index":     "wlcsa",
	"POST /api/v1/calculations/incident-rate":  "wlcsa",
	"POST /api/v1/calculations/ladder-setup":   "wlcsa",
	"POST /api/v1/calculations/lift-load":      "wlcsa",
	"POST /api/v1/calculations/recordable":     "wlcsa",
}

var letters = map[models.Role]string{
	models.RoleWorker: "w", models.RoleCrewLead: "l", models.RoleClerk: "c", models.RoleSafetyOfficer: "s", models.RoleAdministrator: "a",
}

// one names a record of an estate for each collection whose members have a path of their own.
var one = map[string]func(e *estate) uuid.UUID{
	"/api/v1/gardens":      func(e *estate) uuid.UUID { return e.garden },
	"/api/v1/blocks":       func(e *estate) uuid.UUID { return e.block },
	"/api/v1/operations":   func(e *estate) uuid.UUID { return e.operation },
	"/api/v1/crews":        func(e *estate) uuid.UUID { return e.crew },
	"/api/v1/crew-members": func(e *estate) uuid.UUID { return e.member },
	"/api/v1/workers":      func(e *estate) uuid.UUID { return e.worker },
	"/api/v1/accounts":     func(e *estate) uuid.UUID { return e.people[models.RoleWorker].account },
	"/api/v1/piece-rates":  func(e *estate) uuid.UUID { return e.pieceRate },
	"/api/v1/hourly-rates": func(e *estate) uuid.UUID { return e.hourlyRate },
}

// content is what a collection's records say, referring to an estate's others; n makes it one of its kind.
var content = map[string]func(e *estate, n int) object{
	"/api/v1/gardens": func(_ *estate, n int) object {
		return object{"name": fmt.Sprint("Garden ", n), "time_zone": "America/Los_Angeles", "rulebook": "us-ca"}
	},
	"/api/v1/blocks": func(e *estate, n int) object {
		return object{"garden_id": e.garden, "code": fmt.Sprint("C-", n), "variety": "deglet noor", "palms": 120, "tallest_cm": 1100}
	},
	"/api/v1/operations": func(_ *estate, n int) object {
		return object{"code": fmt.Sprint("operation ", n), "unit": "palm", "daily_limit": 90}
	},
	"/api/v1/crews": func(_ *estate, n int) object { return object{"name": fmt.Sprint("Crew ", n)} },
	"/api/v1/crew-members": func(e *estate, _ int) object {
		return object{"crew_id": e.crew, "worker_id": e.worker, "from_date": "2026-03-01"}
	},
	"/api/v1/workers": func(_ *estate, n int) object {
		return object{"name": fmt.Sprint("Worker ", n), "address": "2 Palm Lane", "birth_date": "1988-01-02", "language": "es", "started_on": "2026-02-01"}
	},
	"/api/v1/accounts": func(e *estate, n int) object {
		return object{"sign_in_name": fmt.Sprint("worker-", n), "name": "Somebody", "role": "worker", "language": "es", "worker_id": e.worker}
	},
	"/api/v1/piece-rates": func(e *estate, _ int) object {
		return object{"operation_id": e.operation, "block_id": e.block, "rate": "1.25", "effective_on": "2026-03-01"}
	},
	"/api/v1/hourly-rates": func(e *estate, _ int) object {
		return object{"worker_id": e.worker, "rate": "18.50", "effective_on": "2026-03-01"}
	},
}

// trial is how a route is called in the matrix.
type trial struct {
	Route
	collection string // the path up to the first parameter
}

func (t trial) path(e *estate) string {
	if find, ok := one[t.collection]; ok {
		return strings.ReplaceAll(t.Path, "{id}", find(e).String())
	}
	return strings.ReplaceAll(t.Path, "{id}", models.NewID().String())
}

// body is a good one where the collection has content, else an empty object.
func (t trial) body(e *estate, n int) any {
	if t.Method == http.MethodGet {
		return nil
	}
	if body, ok := steps[t.Path]; ok {
		body = maps.Clone(body)
		if _, made := body["id"]; made {
			body["id"] = models.NewID() // each role does it for the first time
		}
		return body
	}
	make, ok := content[t.collection]
	if !ok || strings.Count(t.Path, "/") > strings.Count(t.collection, "/")+1 {
		return object{}
	}
	b := make(e, n)
	if t.Method == http.MethodPost {
		b["id"] = models.NewID()
	}
	return b
}

func trials() []trial {
	var all []trial
	for _, route := range Routes() {
		collection, _, _ := strings.Cut(route.Path, "/{")
		all = append(all, trial{route, collection})
	}
	return all
}

// Every route is called by every role, by every role of another employer, and by nobody.
func TestMatrix(t *testing.T) {
	t.Run("complete", func(t *testing.T) {
		var listed []string
		for _, route := range Routes() {
			name := route.Method + " " + route.Path
			listed = append(listed, name)
			if _, ok := allowed[name]; !ok {
				t.Errorf("%s: nobody has said who may call it", name)
			}
		}
		for name := range allowed {
			if !slices.Contains(listed, name) {
				t.Errorf("%s is no route", name)
			}
		}
	})
	each(t, func(r *rig) {
		n := 0
		for _, trial := range trials() {
			may := allowed[trial.Method+" "+trial.Path]
			if may == "-" {
				continue
			}
			r.do(trial.Method, trial.path(r.ours), nil, trial.body(r.ours, n), "If-Match", `"1"`).wants(http.StatusUnauthorized)
			for _, role := range everyone {
				n++
				here := strings.Contains(may, letters[role])
				r.tryOurs(trial, role, here, n)
				r.tryTheirs(trial, role, here, n)
			}
		}
	})
}

func (r *rig) tryOurs(t trial, role models.Role, may bool, n int) {
	r.Helper()
	p := r.as(role)
	if strings.HasSuffix(t.Path, "/sign-out") {
		defer r.enroll(r.ours, p)
	}
	a := r.do(t.Method, t.path(r.ours), p, t.body(r.ours, n), "If-Match", `"1"`)
	if refused := a.status == http.StatusForbidden; refused == may || a.status == http.StatusUnauthorized {
		r.Errorf("%s by our %s: %d %s", a.what, role, a.status, a.body)
	}
	if _, good := content[t.collection]; may && good && t.Method == http.MethodPost && t.Path == t.collection && a.status != http.StatusCreated {
		r.Errorf("%s by our %s: %d %s", a.what, role, a.status, a.body)
	}
}

// tryTheirs calls a route with our identifiers as a person of another employer: there is nothing of ours to find or to refer to.
func (r *rig) tryTheirs(t trial, role models.Role, may bool, n int) {
	r.Helper()
	p := r.theirs.people[role]
	if strings.HasSuffix(t.Path, "/sign-out") {
		defer r.enroll(r.theirs, p)
	}
	a := r.do(t.Method, t.path(r.ours), p, t.body(r.ours, n), "If-Match", `"1"`)
	switch {
	case !may:
		a.wants(http.StatusForbidden)
	case strings.Contains(t.Path, "{"):
		a.wants(http.StatusNotFound)
	case a.status == http.StatusUnauthorized || a.status == http.StatusForbidden:
		r.Errorf("%s by their %s: %d %s", a.what, role, a.status, a.body)
	}
	for _, find := range one {
		if id := find(r.ours).String(); bytes.Contains(a.body, []byte(id)) && !strings.Contains(a.what, id) {
			r.Errorf("%s by their %s tells of ours: %s", a.what, role, a.body)
		}
	}
}
