package handlers

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /api/v1/local-books":                "wlcsa",
		"POST /api/v1/local-books":               "ca",
		"GET /api/v1/local-books/{id}":           "wlcsa",
		"GET /api/v1/local-books/{id}/chain":     "wlcsa",
		"POST /api/v1/local-books/{id}/withdraw": "ca",
	})
	content[localBooksPath] = func(_ *estate, n int) object { return object{"form": announced(fmt.Sprint("us-ca-", n))} }
	steps[localBooksPath+"/{id}/withdraw"] = object{"id": models.NewID(), "reason": "entered twice"}
	one[localBooksPath] = func(e *estate) uuid.UUID { return e.localBook }
}

// announced is a form with a wage for 2027. The figure is invented.
func announced(key string) object {
	return object{
		"key": key, "title": "Wage announced for 2027", "parent": "us-ca", "kind": "announcement", "parameter": "minimum_wage",
		"from": "2027-01-01", "through": "2027-12-31", "value": "17.30", "read": "2026-12-01", "standing": "read",
		"source": object{"title": "Announcement of the agency", "section": "Notice 2027", "link": "https://law.example/2027"},
	}
}

// book is a local book as its answers tell it.
type book struct {
	ID, SupersededBy        uuid.UUID
	Key, Kind, Text, Digest string
	Withdrawn               bool
	GardenIDs               []uuid.UUID `json:"garden_ids"`
}

func (r *rig) enter(p *person, body object) *answer {
	r.Helper()
	if body["id"] == nil {
		body["id"] = models.NewID()
	}
	return r.do(http.MethodPost, localBooksPath, p, body)
}

func (r *rig) entered(p *person, body object) (b book) {
	r.Helper()
	r.enter(p, body).wants(http.StatusCreated).into(&b)
	return b
}

func TestALocalBookIsEnteredSupersededAndWithdrawn(t *testing.T) {
	each(t, func(r *rig) {
		text := strings.Replace(localWage, "WAGE", "17.50", 1)
		body := object{"id": models.NewID(), "text": text}
		first := r.entered(r.admin(), body)
		if first.Key != "oasis" || first.Kind != "ordinance" || first.Text != text || len(first.Digest) != 64 {
			t.Errorf("%+v", first)
		}
		if a := r.enter(r.admin(), body).wants(http.StatusOK); a.header.Get("Repeated") != "true" {
			t.Error("a repeat is not told as one")
		}
		r.enter(r.admin(), object{"id": body["id"], "text": text + "# other\n"}).wantsKey(http.StatusConflict, "problem.id_reused")
		r.enter(r.admin(), object{"text": text}).wantsFaults(http.StatusUnprocessableEntity, "/supersedes")
		newer := strings.Replace(localWage, "WAGE", "17.75", 1)
		r.enter(r.admin(), object{"text": newer, "supersedes": first.ID}).wantsFaults(http.StatusUnprocessableEntity, "/reason")
		second := r.entered(r.admin(), object{"text": newer, "supersedes": first.ID, "reason": "the council raised it"})
		r.enter(r.admin(), object{"text": text, "supersedes": first.ID, "reason": "again"}).wants(http.StatusUnprocessableEntity)
		other := strings.Replace(newer, "book: oasis", "book: dunes", 1)
		r.enter(r.admin(), object{"text": other, "supersedes": second.ID, "reason": "renamed"}).wantsFaults(http.StatusUnprocessableEntity, "/text")

		garden := object{"name": "Home garden", "time_zone": "America/Los_Angeles", "rulebook": "oasis"}
		r.do(http.MethodPut, "/api/v1/gardens/"+r.ours.garden.String(), r.admin(), garden, "If-Match", `"1"`).wants(http.StatusOK)
		withdraw := localBooksPath + "/" + second.ID.String() + "/withdraw"
		r.do(http.MethodPost, withdraw, r.admin(), object{"id": models.NewID(), "reason": "repealed"}).wantsKey(http.StatusConflict, "problem.local_book_in_use")
		garden["rulebook"] = "us-ca"
		r.do(http.MethodPut, "/api/v1/gardens/"+r.ours.garden.String(), r.admin(), garden, "If-Match", `"2"`).wants(http.StatusOK)
		r.do(http.MethodPost, withdraw, r.clerk(), object{"id": models.NewID(), "reason": "repealed"}).wantsKey(http.StatusForbidden, "problem.local_book_kind")
		r.do(http.MethodPost, withdraw, r.admin(), object{"id": models.NewID(), "reason": " "}).wantsFaults(http.StatusUnprocessableEntity, "/reason")
		withdrawal := object{"id": models.NewID(), "reason": "repealed"}
		var last book
		r.do(http.MethodPost, withdraw, r.admin(), withdrawal).wants(http.StatusCreated).into(&last)
		r.do(http.MethodPost, withdraw, r.admin(), withdrawal).wants(http.StatusOK)
		if !last.Withdrawn || last.Text != "" || last.Key != "oasis" {
			t.Errorf("%+v", last)
		}
		r.do(http.MethodPost, localBooksPath+"/"+last.ID.String()+"/withdraw", r.admin(), object{"id": models.NewID(), "reason": "twice"}).
			wantsKey(http.StatusConflict, "problem.local_book_withdrawn")

		var chain struct {
			Items []struct {
				Author string
				Record book
			}
		}
		r.do(http.MethodGet, localBooksPath+"/"+first.ID.String()+"/chain", r.as(models.RoleWorker), nil).wants(http.StatusOK).into(&chain)
		if len(chain.Items) != 3 || chain.Items[0].Record.ID != first.ID || chain.Items[2].Record.ID != last.ID || chain.Items[1].Author != "The administrator" {
			t.Errorf("%+v", chain)
		}
		var standing struct{ Items []book }
		r.do(http.MethodGet, localBooksPath+"?standing=true", r.as(models.RoleWorker), nil).wants(http.StatusOK).into(&standing)
		for _, b := range standing.Items {
			if b.Key == "oasis" {
				t.Errorf("a withdrawn book stands: %+v", b)
			}
		}
		r.entered(r.admin(), object{"text": text}) // taken up again
	})
}

func TestLocalBooksThatAreRefused(t *testing.T) {
	each(t, func(r *rig) {
		good := strings.Replace(localWage, "WAGE", "17.50", 1)
		with := func(key string, value any) object {
			form := announced("us-ca-2027")
			form[key] = value
			return object{"form": form}
		}
		tests := map[string]struct {
			body  object
			where string
			says  string
		}{
			"neither text nor form":    {object{}, "/text", "uno de los dos"},
			"no YAML":                  {object{"text": "{"}, "/text", "YAML"},
			"looser":                   {object{"text": strings.Replace(good, "17.50", "16.00", 1)}, "/text", "Salario mínimo: 16.00 el 1 jul 2026 protege menos que 16.90, lo que tiene el reglamento us-ca"},
			"below the last value":     {with("value", "16.80"), "/form", "protege menos que 16.90, el último valor"},
			"no source":                {object{"text": strings.Replace(good, "source: ordinance, ", "", 1)}, "/text", "Renglón 12"},
			"not local":                {object{"text": strings.Replace(strings.Replace(good, "local: ordinance\n", "", 1), "us-ca", "us", 1)}, "/text", "no es un reglamento local"},
			"no parent":                {object{"text": strings.Replace(good, "parent: us-ca\n", "", 1)}, "/text", "us-ca"},
			"a parent that is not":     {with("parent", "us-xx"), "/form", "us-xx"},
			"a key of the program":     {object{"text": strings.Replace(strings.Replace(good, "book: oasis", "book: us-nv", 1), "WAGE", "17.50", 1)}, "/text", "otro nombre"},
			"a bad key":                {with("key", "Oasis City"), "/form", "minúsculas"},
			"an unknown parameter":     {with("parameter", "minimum_wages"), "/form", "minimum_wages"},
			"days the wrong way round": {with("through", "2026-12-31"), "/form", "through"},
			"gardens of an ordinance":  {object{"text": good, "garden_ids": []uuid.UUID{r.ours.garden}}, "/garden_ids", "Solo un contrato"},
			"gardens of others":        {object{"text": strings.Replace(good, "local: ordinance", "local: contract", 1), "garden_ids": []uuid.UUID{r.theirs.garden}}, "/garden_ids", ""},
			"a garden elsewhere": {object{"text": strings.NewReplacer("local: ordinance", "local: contract", "us-ca", "us-nv").Replace(good), "garden_ids": []uuid.UUID{r.ours.garden}},
				"/garden_ids", "Home garden"},
		}
		for name, test := range tests {
			test.body["id"] = models.NewID()
			a := r.do(http.MethodPost, localBooksPath, r.admin(), test.body, "Accept-Language", "es").wants(http.StatusUnprocessableEntity)
			var details []string
			for _, e := range a.problem().Errors {
				details = append(details, e.Detail)
				if *e.Pointer != test.where {
					t.Errorf("%s: at %s: %s", name, *e.Pointer, a.body)
				}
			}
			if !strings.Contains(strings.Join(details, "\n"), test.says) {
				t.Errorf("%s: %s", name, details)
			}
		}
		r.enter(r.clerk(), object{"text": good}).wantsKey(http.StatusForbidden, "problem.local_book_kind")
	})
}

// When a yearly value has ended, the run says what is missing and what to do; the clerk does it, and the draft works.
func TestAMissingJanuary(t *testing.T) {
	each(t, func(r *rig) {
		r.clock.Store(time.Date(2027, 1, 11, 20, 0, 0, 0, time.UTC).UnixNano())
		for role, p := range r.ours.people {
			r.enroll(r.ours, p)
			r.enroll(r.theirs, r.theirs.people[role])
		}
		const monday = "2027-01-04"
		sheet := object{"id": models.NewID(), "crew_id": r.ours.crew, "workday": monday, "garden_id": r.ours.garden, "recorded_at": monday + "T15:00:00-08:00",
			"time":    []object{{"id": models.NewID(), "worker_id": r.ours.worker, "kind": "piece", "start": monday + "T06:00:00-08:00", "end": monday + "T12:00:00-08:00"}},
			"tallies": []object{r.ours.tally(r.ours.worker, 10)}}
		r.do(http.MethodPost, sheetsPath, r.lead(), sheet).wants(http.StatusCreated)
		v := r.do(http.MethodPost, runsPath, r.clerk(), object{"id": models.NewID(), "kind": "regular", "week_start": "2027-01-03"}).wants(http.StatusCreated).run()
		var problems struct {
			Items []struct{ Kind, Code, Text string }
		}
		r.do(http.MethodGet, v.path("/problems"), r.clerk(), nil).wants(http.StatusOK).into(&problems)
		if len(problems.Items) == 0 || problems.Items[0].Kind != "holds" || !strings.Contains(problems.Items[0].Text, "The rulebook us-ca has no value for") ||
			!strings.Contains(problems.Items[0].Text, "Jan 4, 2027") || !strings.Contains(problems.Items[0].Text, "as a local book") {
			t.Fatalf("%+v", problems)
		}
		made := r.entered(r.clerk(), object{"form": announced("us-ca-2027")})
		v = r.do(http.MethodPost, v.path("/redraft"), r.clerk(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
		statements := r.briefs(v)
		var whole struct {
			Heading struct {
				RulebookTitle string                         `json:"rulebook_title"`
				LocalBooks    []struct{ Key, Digest string } `json:"local_books"`
			}
			Statement struct {
				Rulebook string
				Lines    []struct {
					Code, Authority string
					AuthorityLink   string `json:"authority_link"`
					RulebookEntry   string `json:"rulebook_entry"`
				}
				Rates struct {
					MinimumWage map[string]string `json:"minimum_wage"`
				}
			}
		}
		r.do(http.MethodGet, "/api/v1/statements/"+statements[0].ID.String(), r.clerk(), nil).wants(http.StatusOK).into(&whole)
		if whole.Statement.Rulebook != "us-ca" || whole.Statement.Rates.MinimumWage[monday] != "17.3000" || len(whole.Heading.LocalBooks) != 1 || whole.Heading.LocalBooks[0].Digest != made.Digest ||
			whole.Heading.RulebookTitle != "California + Wage announced for 2027" {
			t.Errorf("%+v", whole)
		}
		paper := r.do(http.MethodGet, "/api/v1/statements/"+statements[0].ID.String(), r.clerk(), nil, "Accept", "text/html").wants(http.StatusOK)
		for _, link := range []string{`<a href="https://leginfo.legislature.ca.gov/`, `<a href="/rulebooks/us-ca#makeup">`} {
			if !strings.Contains(string(paper.body), link) {
				t.Errorf("%s is not on the statement", link)
			}
		}
		for _, l := range whole.Statement.Lines {
			if l.AuthorityLink == "" || !strings.HasPrefix(l.RulebookEntry, "/api/v1/rulebooks/us") {
				t.Errorf("%+v", l)
			}
		}
		// Another figure in its place: the draft is no longer what would be paid.
		form := announced("us-ca-2027")
		form["value"] = "17.40"
		corrected := r.entered(r.clerk(), object{"form": form, "supersedes": made.ID, "reason": "a slip of the finger"})
		r.do(http.MethodPost, v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wantsKey(http.StatusPreconditionFailed, "problem.inputs_moved")
		v = r.do(http.MethodPost, v.path("/redraft"), r.clerk(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
		r.do(http.MethodPost, v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wants(http.StatusOK).run()

		// A calculation knows it too, and nobody else's does.
		week := object{"rulebook": "us-ca", "week_start": "2027-01-03", "days": []object{{"date": monday, "time": []object{{"kind": "hourly", "minutes": 60}}}}}
		r.do(http.MethodPost, "/api/v1/calculations/worker-week", r.as(models.RoleWorker), week).wants(http.StatusOK)
		r.do(http.MethodPost, "/api/v1/calculations/worker-week", r.theirs.people[models.RoleWorker], week).wants(http.StatusUnprocessableEntity)
		var shown struct {
			InForce []struct {
				Parameter, Book string
				Value           any
			} `json:"in_force"`
			LocalBooks []struct{ Key string } `json:"local_books"`
		}
		r.do(http.MethodGet, "/api/v1/rulebooks/us-ca?on=2027-01-04", r.as(models.RoleWorker), nil).wants(http.StatusOK).into(&shown)
		if len(shown.LocalBooks) != 1 || !slices.ContainsFunc(shown.InForce, func(h struct {
			Parameter, Book string
			Value           any
		}) bool {
			return h.Book == "us-ca-2027" && h.Value == "17.40"
		}) {
			t.Errorf("%+v", shown)
		}
		page := r.do(http.MethodGet, "/api/v1/rulebooks/us-ca?on=2027-01-04", r.as(models.RoleWorker), nil, "Accept", "text/html").wants(http.StatusOK)
		if !strings.Contains(string(page.body), `href="us-ca-2027#minimum_wage"`) {
			t.Error("the page does not show the local book")
		}

		// A higher figure for the same days after approval is a difference of the rules, which waits to be chosen.
		form["value"] = "40.00"
		r.entered(r.clerk(), object{"form": form, "supersedes": corrected.ID, "reason": "the agency corrected it"})
		var reviewed struct {
			Differences []struct {
				Parts        struct{ Rules, Records, Engine string }
				AdjustmentID uuid.UUID `json:"adjustment_id"`
			}
		}
		a := r.do(http.MethodPost, "/api/v1/adjustments/reviews", r.clerk(), object{"week_start": "2027-01-03"}).wants(http.StatusOK)
		a.into(&reviewed)
		// By hand: 6 hours and the premiums of the meal and the rest that nobody recorded, 8 × ($40.00 − $17.40).
		if len(reviewed.Differences) != 1 || reviewed.Differences[0].Parts != struct{ Rules, Records, Engine string }{"180.80", "0.00", "0.00"} {
			t.Fatalf("%s", a.body)
		}
		var waits struct{ State, Amount string }
		if r.do(http.MethodGet, "/api/v1/adjustments/"+reviewed.Differences[0].AdjustmentID.String(), r.clerk(), nil).into(&waits); waits.State != "proposed" || waits.Amount != "0.00" {
			t.Errorf("%+v", waits)
		}
	})
}
