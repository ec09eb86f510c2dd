package handlers

import (
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"

	"palmero/migrations"
	"palmero/models"
)

// Every fault is told at once, by pointer, in the reader's language, and nothing is kept.
func TestEveryFaultAtOnce(t *testing.T) {
	each(t, func(r *rig) {
		bad := object{
			"id": models.NewID(), "number": -1, "name": " ", "language": "fr", "started_on": "2206-03-01", "ended_on": "2026-02-01",
			"birth_date": "1890-01-01",
		}
		where := []string{"/number", "/name", "/address", "/language", "/started_on", "/ended_on", "/birth_date"}
		english := r.do("POST", "/api/v1/workers", r.clerk(), bad).wantsFaults(http.StatusUnprocessableEntity, where...)
		spanish := r.do("POST", "/api/v1/workers", r.clerk(), bad, "Accept-Language", "es-MX,es;q=0.9").wantsFaults(http.StatusUnprocessableEntity, where...)
		for i, e := range english.problem().Errors {
			if s := spanish.problem().Errors[i]; s.Key != e.Key || s.Detail == e.Detail {
				r.Errorf("%s is told as %q and %q", e.Key, e.Detail, s.Detail)
			}
		}
		if english.header.Get("Content-Language") != "en" || spanish.header.Get("Content-Language") != "es" {
			r.Errorf("%v, %v", english.header, spanish.header)
		}
		if got := r.do("GET", "/api/v1/workers", r.clerk(), nil).items(); len(got) != 2 {
			r.Errorf("a bad worker was kept: %v", got)
		}
		garden := object{"id": "00000000-0000-0000-0000-000000000000", "name": "", "time_zone": "Mars/Olympus", "rulebook": "atlantis"}
		r.do("POST", "/api/v1/gardens", r.admin(), garden).wantsFaults(http.StatusUnprocessableEntity, "/id", "/rulebook", "/name", "/time_zone")
	})
}

// The account's language is spoken where the request asks for none of ours.
func TestLanguage(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	for _, c := range []struct{ asked, want string }{{"", "es"}, {"fr", "es"}, {"en", "en"}, {"fr, en;q=0.5", "en"}, {"es-419", "es"}} {
		got := r.do("GET", "/api/v1/employer", r.as(models.RoleWorker), nil, "Accept-Language", c.asked).wants(http.StatusForbidden)
		if got.header.Get("Content-Language") != c.want {
			r.Errorf("asked for %q: %s", c.asked, got.body)
		}
	}
	if got := r.do("GET", "/api/v1/me", nil, nil, "Accept-Language", "es").wants(http.StatusUnauthorized); !strings.Contains(got.problem().Detail, "sesión") {
		r.Errorf("%s", got.body)
	}
}

// newRigOn is a rig on one of the databases, for what does not depend on which.
func newRigOn(t testing.TB, dialect migrations.Dialect) *rig {
	t.Helper()
	clock := newClock()
	return newRig(t, databases.Store(t, dialect, read(clock)), clock)
}

func TestDocumentsThatAreNone(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	id := models.NewID().String()
	for _, c := range []struct {
		what, body string
		status     int
		where      []string
	}{
		{"nothing", ``, http.StatusBadRequest, []string{""}},
		{"noise", `crew!`, http.StatusBadRequest, []string{""}},
		{"half", `{"id": "` + id, http.StatusBadRequest, []string{"/id"}},
		{"two", `{"id": "` + id + `", "name": "A"} {}`, http.StatusBadRequest, []string{""}},
		{"a list", `[]`, http.StatusUnprocessableEntity, []string{""}},
		{"null", `null`, http.StatusUnprocessableEntity, []string{""}},
		{"a name twice", `{"id": "` + id + `", "name": "A", "name": "B"}`, http.StatusUnprocessableEntity, []string{"/name"}},
		{"a miscased name", `{"id": "` + id + `", "Name": "A"}`, http.StatusUnprocessableEntity, []string{"/Name"}},
		{"a stranger", `{"id": "` + id + `", "name": "A", "employer_id": "` + id + `"}`, http.StatusUnprocessableEntity, []string{"/employer_id"}},
		{"what the server makes", `{"id": "` + id + `", "name": "A", "version": 7}`, http.StatusUnprocessableEntity, []string{"/version"}},
		{"wrong kinds", `{"id": 7, "name": ["A"], "number": "x"}`, http.StatusUnprocessableEntity, []string{"/id", "/name", "/number"}},
		{"nothing needed", `{}`, http.StatusUnprocessableEntity, []string{"/id", "/name"}},
		{"control characters", `{"id": "` + id + `", "name": "A\u0000B"}`, http.StatusUnprocessableEntity, []string{"/name"}},
		{"an absurd number", `{"id": "` + id + `", "name": "A", "number": 99999999999999999999}`, http.StatusUnprocessableEntity, []string{"/number"}},
		{"a name without end", `{"id": "` + id + `", "name": "` + strings.Repeat("ñ", 101) + `"}`, http.StatusUnprocessableEntity, []string{"/name"}},
		{"another UUID", `{"id": "{` + id + `}", "name": "A"}`, http.StatusUnprocessableEntity, []string{"/id"}},
	} {
		got := r.do("POST", "/api/v1/crews", r.admin(), c.body)
		got.what = c.what
		if got.status == http.StatusBadRequest && len(got.problem().Errors) > 0 {
			c.where = []string{pointer(got.problem().Errors[0])}
		}
		got.wantsFaults(c.status, c.where...)
	}
	if got := r.do("GET", "/api/v1/crews", r.admin(), nil).items(); !slices.Equal(got, []string{r.ours.crew.String()}) {
		r.Errorf("something was kept: %v", got)
	}
}

func pointer(e FaultEntry) string {
	if e.Pointer == nil {
		return ""
	}
	return *e.Pointer
}

func TestBodies(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	crew := object{"id": models.NewID(), "name": "Evening crew"}
	for _, kind := range []string{"", "text/plain", "application/xml", "application/json; charset=latin1", "application/jsonx", "multipart/form-data"} {
		r.do("POST", "/api/v1/crews", r.admin(), crew, "Content-Type", kind).wantsKey(http.StatusUnsupportedMediaType, "problem.unsupported_media")
	}
	crew["name"] = strings.Repeat("x", limit)
	r.do("POST", "/api/v1/crews", r.admin(), crew).wantsKey(http.StatusRequestEntityTooLarge, "problem.too_large")
	r.do("POST", "/api/v1/sign-in", nil, crew).wantsKey(http.StatusRequestEntityTooLarge, "problem.too_large")
	crew["name"] = "Evening crew"
	r.do("POST", "/api/v1/crews", r.admin(), crew, "Content-Type", "application/json; charset=UTF-8").wants(http.StatusCreated)
	r.do("GET", "/api/v1/ladders", r.admin(), nil).wantsKey(http.StatusNotFound, "problem.no_route")
	r.do("DELETE", "/api/v1/crews", r.admin(), nil).wantsKey(http.StatusMethodNotAllowed, "problem.method_not_allowed")
	if got := r.do("GET", "/healthz", nil, nil); got.status != http.StatusOK {
		r.Errorf("%d", got.status)
	}
	if got := r.do("GET", "/readyz", nil, nil); got.status != http.StatusOK {
		r.Errorf("%d %s", got.status, got.body)
	}
}

// Texts that a database may choke on are refused before they get there.
func TestTextsThatNoDatabaseTakes(t *testing.T) {
	each(t, func(r *rig) {
		for path, make := range content {
			as := r.admin()
			for _, role := range everyone {
				if strings.Contains(allowed["POST "+path], letters[role]) {
					as = r.as(role)
				}
			}
			for field, value := range make(r.ours, 1) {
				if _, ok := value.(string); !ok {
					continue
				}
				body := make(r.ours, 1)
				body["id"], body[field] = models.NewID(), "\x00"
				r.do("POST", path, as, body).wantsFaults(http.StatusUnprocessableEntity, "/"+field)
			}
		}
		for _, path := range []string{"sign-in", "first-sign-in"} {
			body := object{"employer": "\x00", "account": "\x00", "secret": strings.Repeat("\x00", 12)}
			if path == "first-sign-in" {
				body["code"] = "\x00"
			}
			r.do("POST", "/api/v1/"+path, nil, body).wants(http.StatusUnauthorized)
		}
	})
}

// What another employer has is not there to refer to, in any field.
func TestReferencesToAnotherEmployer(t *testing.T) {
	each(t, func(r *rig) {
		for path, fields := range map[string][]string{
			"/api/v1/blocks":       {"garden_id"},
			"/api/v1/crew-members": {"crew_id", "worker_id"},
			"/api/v1/accounts":     {"worker_id"},
			"/api/v1/piece-rates":  {"operation_id", "block_id"},
			"/api/v1/hourly-rates": {"worker_id"},
		} {
			body := content[path](r.theirs, 1)
			body["id"] = models.NewID()
			var where []string
			for _, f := range fields {
				where = append(where, "/"+f)
			}
			got := r.do("POST", path, r.admin(), body).wantsFaults(http.StatusUnprocessableEntity, where...)
			for _, e := range got.problem().Errors {
				if e.Key != "fault.unknown_reference" {
					r.Errorf("%s: %s", got.what, got.body)
				}
			}
		}
		worker := content["/api/v1/workers"](r.ours, 1)
		worker["id"], worker["same_as"] = models.NewID(), r.theirs.worker
		r.do("POST", "/api/v1/workers", r.clerk(), worker).wantsFaults(http.StatusUnprocessableEntity, "/same_as")
		worker["id"] = r.theirs.worker // one identifier may serve two employers, who cannot know of each other
		delete(worker, "same_as")
		r.do("POST", "/api/v1/workers", r.clerk(), worker).wants(http.StatusCreated)
	})
}

func TestWhatIsTaken(t *testing.T) {
	each(t, func(r *rig) {
		for path, change := range map[string]object{
			"/api/v1/gardens":    {"number": 1},
			"/api/v1/blocks":     {"code": "B-07"},
			"/api/v1/operations": {"code": "pollination"},
			"/api/v1/crews":      {"number": 1},
			"/api/v1/accounts":   {"sign_in_name": "worker"},
		} {
			body := content[path](r.ours, 1)
			body["id"] = models.NewID()
			var where string
			for field, value := range change {
				body[field], where = value, "/"+field
			}
			r.do("POST", path, r.admin(), body).wantsFaults(http.StatusUnprocessableEntity, where)
		}
	})
}

func TestDaysOutOfReason(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	for _, c := range []struct{ path, field, day string }{
		{"/api/v1/crew-members", "from_date", "1026-03-01"}, {"/api/v1/crew-members", "from_date", "2062-03-01"},
		{"/api/v1/piece-rates", "effective_on", "1989-12-31"}, {"/api/v1/hourly-rates", "effective_on", "2029-01-01"},
		{"/api/v1/piece-rates", "effective_on", "2026-02-30"}, {"/api/v1/piece-rates", "effective_on", "1/3/2026"},
		{"/api/v1/crew-members", "through_date", "2026-02-28"},
	} {
		body := content[c.path](r.ours, 1)
		body["id"], body[c.field] = models.NewID(), c.day
		r.do("POST", c.path, r.clerk(), body).wantsFaults(http.StatusUnprocessableEntity, "/"+c.field)
	}
	for _, c := range []struct {
		path, field string
		value       any
	}{
		{"/api/v1/piece-rates", "rate", "0"}, {"/api/v1/piece-rates", "rate", "-1.15"}, {"/api/v1/piece-rates", "rate", "1.15000"},
		{"/api/v1/piece-rates", "rate", 1.15}, {"/api/v1/hourly-rates", "rate", "1e3"}, {"/api/v1/hourly-rates", "rate", "99999999999"},
		{"/api/v1/piece-rates", "variety", "medjool"},
	} {
		body := content[c.path](r.ours, 1)
		body["id"], body[c.field] = models.NewID(), c.value
		r.do("POST", c.path, r.clerk(), body).wantsFaults(http.StatusUnprocessableEntity, "/"+c.field)
	}
}

// FuzzAPI: whatever comes in, the answer is one of those that are meant, and a problem can be read. For a long run add
// -fuzzminimizetime=1x: the database's own goroutines make most inputs look worth minimizing.
func FuzzAPI(f *testing.F) {
	paths := []string{"/api/v1/workers", "/api/v1/piece-rates", "/api/v1/accounts", "/api/v1/calculations/worker-week", "/api/v1/sign-in", "/api/v1/first-sign-in", "/api/v1/refresh"}
	var r *rig
	fresh := func(t testing.TB) {
		if r == nil {
			r = newRigOn(f, migrations.SQLite)
			r.hostile = true
		}
		r.TB = t
	}
	fresh(f)
	for i, path := range paths {
		if make, ok := content[path]; ok {
			body := make(r.ours, 1)
			body["id"] = models.NewID()
			seed, err := json.Marshal(body)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(byte(i), seed, "")
		}
	}
	f.Add(byte(3), []byte(`{"rulebook":"us-ca","week_start":"2026-02-15","days":[{"date":"2026-02-16","time":[{"kind":"piece","minutes":450}]}]}`), "")
	f.Add(byte(4), []byte(`{"employer":"tres-pozos","account":"worker","secret":"x\ud800"}`), "cursor=\xff")
	f.Add(byte(6), []byte("{\"refresh_token\":\"\xff\"}"), "limit=%zz;")
	f.Fuzz(func(t *testing.T, which byte, body []byte, query string) {
		fresh(t)
		path := paths[int(which)%len(paths)]
		as := r.clerk()
		if strings.Contains(path, "sign-in") || strings.Contains(path, "refresh") {
			as = nil
		}
		r.do("POST", path, as, body)
		hostile := httptestTarget(path, query)
		if as != nil && hostile != "" {
			r.do("GET", hostile, as, nil)
		}
	})
}
