package handlers

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"palmero/models"
)

// problemOf is a run's problem of a code, if there is one.
func (r *rig) problemOf(v run, code, language string) (runProblem, bool) {
	r.Helper()
	var page struct{ Items []runProblem }
	r.do("GET", v.path("/problems?limit=200"), r.clerk(), nil, "Accept-Language", language).wants(http.StatusOK).into(&page)
	i := slices.IndexFunc(page.Items, func(p runProblem) bool { return p.Code == code })
	if i < 0 {
		return runProblem{}, false
	}
	return page.Items[i], true
}

func (r *rig) redraft(v run) run {
	r.Helper()
	return r.do("POST", v.path("/redraft"), r.clerk(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
}

// correcting makes a record that takes another's place.
func correcting(old any, reason string, record object) object {
	record["supersedes"], record["reason"], record["workday"], record["recorded_at"] = old, reason, workday, workday+"T18:00:00-08:00"
	return record
}

func TestADisputeIsDecidedAndCorrected(t *testing.T) {
	each(t, func(r *rig) {
		sheet, v := r.drafted()
		old := sheet["tallies"].([]object)[0]["id"]
		mine := fmt.Sprint("/api/v1/my/tallies/", old)
		answer := func(p *person, body object) *answer { return r.do("POST", mine+"/answers", p, body) }
		answer(r.worker(), object{"id": uuid.Nil, "answer": "perhaps"}).wantsFaults(http.StatusUnprocessableEntity, "/id", "/answer")
		answer(r.worker(), object{"id": models.NewID(), "answer": "disputed", "note": " "}).wantsFaults(http.StatusUnprocessableEntity, "/note")
		dispute := object{"id": models.NewID(), "answer": "disputed", "note": "eran 190"}
		answer(r.lead(), dispute).wants(http.StatusNotFound)
		first := answer(r.worker(), dispute).wants(http.StatusCreated)
		if again := answer(r.worker(), dispute).wants(http.StatusOK); again.header.Get("Repeated") != "true" || again.object()["id"] != first.object()["id"] {
			r.Errorf("the answer again: %s", again.body)
		}
		dispute["note"] = "eran 200"
		answer(r.worker(), dispute).wantsKey(http.StatusConflict, "problem.id_reused")

		v = r.redraft(v)
		for language, want := range map[string]string{"en": "a count of pollination in block B-07 on this day: “eran 190”", "es": "una cuenta de polinización en el cuadro B-07 este día: «eran 190»"} {
			if p, found := r.problemOf(v, "pay_problem.tally_disputed", language); !found || p.Kind != "decide" || !strings.Contains(p.Text, want) {
				r.Errorf("%s: %+v", language, p)
			}
		}
		if got := r.briefs(v)[0].Totals.Gross; got != 240_61 {
			r.Errorf("paid meanwhile: %v", got)
		}
		correction := correcting(old, "the lead's slip says 190", r.ours.tally(r.ours.worker, 190))
		r.do("POST", "/api/v1/tallies", r.clerk(), correction).wants(http.StatusCreated)
		answer(r.worker(), object{"id": models.NewID(), "answer": "confirmed"}).wantsKey(http.StatusConflict, "problem.superseded")
		v = r.redraft(v)
		if p, found := r.problemOf(v, "pay_problem.tally_disputed", "en"); found {
			r.Errorf("after the correction: %+v", p)
		}

		for _, id := range []any{old, correction["id"]} {
			var own struct{ Items []myTally }
			r.do("GET", fmt.Sprint("/api/v1/my/tallies/", id, "/chain"), r.worker(), nil).wants(http.StatusOK).into(&own)
			if len(own.Items) != 2 || own.Items[0].Answer == nil || own.Items[0].Answer.Note != "eran 190" || own.Items[0].Answer.Author != "The worker" ||
				own.Items[1].Answer != nil || own.Items[1].RecordedBy != "The payroll_clerk" || own.Items[1].Reason != "the lead's slip says 190" {
				r.Errorf("the worker reads %+v", own.Items)
			}
			r.do("GET", fmt.Sprint("/api/v1/my/tallies/", id, "/chain"), r.lead(), nil).wants(http.StatusNotFound)
			for _, p := range []*person{r.clerk(), r.admin(), r.as(models.RoleSafetyOfficer)} {
				r.wantsChain(fmt.Sprint("/api/v1/tallies/", id), p, "The crew_lead", "The payroll_clerk: the lead's slip says 190")
			}
		}
		if got := r.do("GET", fmt.Sprint("/api/v1/tallies/", old, "/answers"), r.as(models.RoleSafetyOfficer), nil).items(); len(got) != 1 {
			r.Errorf("%v", got)
		}
		r.do("GET", fmt.Sprint("/api/v1/tallies/", models.NewID(), "/answers"), r.clerk(), nil).wants(http.StatusNotFound)
		var list struct{ Items []myTally }
		r.do("GET", "/api/v1/my/tallies", r.worker(), nil).wants(http.StatusOK).into(&list)
		if len(list.Items) != 3 || list.Items[0].Answer == nil || list.Items[0].Answer.Answer != models.Disputed || list.Items[1].Answer != nil {
			r.Errorf("%+v", list.Items)
		}
	})
}

// wantsChain reads a record's chain: who recorded each link, and why.
func (r *rig) wantsChain(path string, p *person, want ...string) {
	r.Helper()
	var chain struct {
		Items []struct {
			Author string
			Record struct{ Reason string }
		}
	}
	r.do("GET", path+"/chain", p, nil).wants(http.StatusOK).into(&chain)
	var got []string
	for _, l := range chain.Items {
		got = append(got, strings.TrimSuffix(l.Author+": "+l.Record.Reason, ": "))
	}
	if !slices.Equal(got, want) {
		r.Errorf("%s: %q; want %q", path, got, want)
	}
}

func TestEveryKindOfRecordHasItsChain(t *testing.T) {
	each(t, func(r *rig) {
		sheet, _ := r.drafted()
		entries, lot := sheet["time"].([]object), sheet["lots"].([]object)[0]
		stop := correcting(entries[6]["id"], "she stopped at half past", entry(r.ours.worker, workday, "piece", "13:10", "14:00"))
		stop["garden_id"] = r.ours.garden
		r.do("POST", "/api/v1/time-entries", r.clerk(), stop).wants(http.StatusCreated)
		r.wantsChain(fmt.Sprint("/api/v1/time-entries/", entries[6]["id"]), r.admin(), "The crew_lead", "The payroll_clerk: she stopped at half past")

		// The lot is parted anew, and all of it turns out to be the lead's.
		whole := object{
			"id": models.NewID(), "block_id": r.ours.block, "operation_id": r.ours.operation, "pieces": "80", "parting": "heads", "supersedes": lot["id"], "reason": "Ana was elsewhere",
			"parts": []object{{"id": models.NewID(), "worker_id": r.ours.lead}},
		}
		again := object{"id": models.NewID(), "crew_id": r.ours.crew, "workday": workday, "garden_id": r.ours.garden, "recorded_at": workday + "T18:00:00-08:00", "lots": []object{whole}}
		r.do("POST", sheetsPath, r.lead(), again).wants(http.StatusCreated)
		for _, id := range []any{lot["id"], whole["id"]} {
			var chain struct{ Items []lotLink }
			r.do("GET", fmt.Sprint("/api/v1/lots/", id, "/chain"), r.as(models.RoleSafetyOfficer), nil).wants(http.StatusOK).into(&chain)
			if len(chain.Items) != 2 || len(chain.Items[0].Parts) != 2 || len(chain.Items[1].Parts) != 1 || chain.Items[1].Author != "The crew_lead" {
				r.Errorf("%+v", chain.Items)
			}
		}
		part := lot["parts"].([]object)[0]["id"]
		if got := r.do("GET", fmt.Sprint("/api/v1/my/tallies/", part, "/chain"), r.worker(), nil).items(); len(got) != 1 {
			r.Errorf("the worker reads of the lead's part: %v", got)
		}
		r.wantsChain(fmt.Sprint("/api/v1/tallies/", part), r.clerk(), "The crew_lead", "The crew_lead: Ana was elsewhere")
		heir := whole["parts"].([]object)[0]["id"]
		r.wantsChain(fmt.Sprint("/api/v1/tallies/", heir), r.clerk(), "The crew_lead", "The crew_lead", "The crew_lead: Ana was elsewhere")
		if got := r.do("GET", fmt.Sprint("/api/v1/my/tallies/", heir, "/chain"), r.lead(), nil).items(); len(got) != 2 {
			r.Errorf("the lead reads of the worker's part: %v", got)
		}

		for path, old := range map[string]uuid.UUID{"/api/v1/piece-rates": r.ours.pieceRate, "/api/v1/hourly-rates": r.ours.hourlyRate} {
			raise := object{"id": models.NewID(), "rate": "20.00", "effective_on": "2026-02-01", "supersedes": old, "reason": "agreed in January"}
			if path == "/api/v1/piece-rates" {
				raise["operation_id"] = r.ours.operation
			}
			r.do("POST", path, r.admin(), raise).wants(http.StatusCreated)
			r.wantsChain(fmt.Sprint(path, "/", raise["id"]), r.clerk(), "The payroll_clerk", "The administrator: agreed in January")
		}
		for _, path := range []string{"time-entries", "tallies", "lots", "piece-rates", "hourly-rates", "my/tallies"} {
			p := r.clerk()
			if path == "my/tallies" {
				p = r.worker()
			}
			for _, id := range []string{models.NewID().String(), "1"} {
				r.do("GET", "/api/v1/"+path+"/"+id+"/chain", p, nil).wants(http.StatusNotFound)
			}
		}
	})
}
