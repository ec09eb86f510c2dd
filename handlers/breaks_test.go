package handlers

import (
	"fmt"
	"maps"
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
)

// What the matrix is to know of questions about breaks.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /api/v1/pay-runs/{id}/break-questions": "ca",
		"GET /api/v1/break-questions":               "ca",
		"GET /api/v1/break-answers":                 "ca",
		"POST /api/v1/break-answers":                "c",
	})
}

func (r *rig) questions(path string) []breakQuestion {
	r.Helper()
	var p page[breakQuestion]
	r.do("GET", path, r.clerk(), nil).wants(http.StatusOK).into(&p)
	return p.Items
}

func (r *rig) answers(outcome, reason, note string, questions ...string) object {
	body := object{"id": models.NewID(), "outcome": outcome, "questions": questions}
	if reason != "" {
		body["reason"] = reason
	}
	if note != "" {
		body["note"] = note
	}
	return body
}

// unbroken is a Tuesday on which the worker's six hours show neither a meal nor a rest period, and a draft of the week.
func (r *rig) unbroken() run {
	r.Helper()
	r.do("POST", sheetsPath, r.lead(), r.ours.sheet()).wants(http.StatusCreated)
	r.do("POST", sheetsPath, r.lead(), object{
		"id": models.NewID(), "crew_id": r.ours.crew, "workday": "2026-02-24", "garden_id": r.ours.garden, "recorded_at": "2026-02-24T15:00:00-08:00",
		"time": []object{entry(r.ours.worker, "2026-02-24", "piece", "06:00", "12:00")}, "tallies": []object{r.ours.tally(r.ours.worker, 160)},
	}).wants(http.StatusCreated)
	return r.do("POST", runsPath, r.clerk(), draftRequest()).wants(http.StatusCreated).run()
}

func (r *rig) gross(v run) payroll.Cents {
	r.Helper()
	var sum struct{ Gross payroll.Cents }
	r.do("GET", v.path(""), r.clerk(), nil).wants(http.StatusOK).into(&sum)
	return sum.Gross
}

// A question that nobody answers is paid; an answer enters the next draft, and after payment the review.
func TestBreaksAreAskedAndAnswered(t *testing.T) {
	each(t, func(r *rig) {
		v := r.unbroken()
		asked := r.questions(v.path("/break-questions?open=true"))
		if len(asked) != 2 || asked[0].Period != "meal" || asked[1].Period != "rest" || asked[0].Premium == 0 || asked[0].Basis == "" || asked[0].Authority == "" || fmt.Sprint(asked[0].Reasons) != "[waived provided on_duty declined]" || !strings.Contains(asked[1].Text, "0:10") {
			r.Fatalf("%+v", asked)
		}
		meal, rest, proposed := asked[0].Question, asked[1].Question, r.gross(v)
		week := breakQuestionsPath + "?week_start=" + payWeek
		for query, want := range map[string]int{
			"": 2, "&period=meal": 1, "&date=2026-02-23": 0, "&open=false": 0, "&limit=1": 1, "&crew_id=" + r.ours.crew.String(): 2, "&worker_id=" + r.ours.worker.String(): 2, "&crew_id=" + uuid.NewString(): 0,
		} {
			if got := r.questions(week + query); len(got) != want {
				r.Errorf("%s: %+v", query, got)
			}
		}
		post := func(body object) *answer { r.Helper(); return r.do("POST", breakAnswersPath, r.clerk(), body) }
		post(r.answers("not_owed", "declined", "", meal)).wantsFaults(http.StatusUnprocessableEntity, "/note")
		post(r.answers("not_owed", "entry_wrong", "x", meal)).wantsFaults(http.StatusUnprocessableEntity, "/reason")
		post(r.answers("owed", "declined", "", meal)).wantsFaults(http.StatusUnprocessableEntity, "/reason")
		post(r.answers("not_owed", "waived", "x", meal, rest)).wantsFaults(http.StatusUnprocessableEntity, "/questions/1")
		post(r.answers("owed", "", "", "nonsense", meal, meal, meal[:len(meal)-1]+"x")).wantsFaults(http.StatusUnprocessableEntity, "/questions/0", "/questions/2", "/questions/3")
		post(r.answers("owed", "", "", meal[:len(meal)-1]+"x")).wantsFaults(http.StatusUnprocessableEntity, "/questions/0")
		post(r.answers("owed", "", "")).wants(http.StatusUnprocessableEntity)

		both := r.answers("not_owed", "declined", "Ana and the lead say that she wished to go home early", meal, rest)
		post(both).wants(http.StatusCreated)
		if again := post(both).wants(http.StatusOK); again.header.Get("Repeated") != "true" {
			r.Errorf("%v", again.header)
		}
		both["note"] = "otherwise"
		post(both).wantsKey(http.StatusConflict, "problem.id_reused")
		taken := r.answers("not_owed", "taken_unrecorded", "the lead attests ten minutes at nine", rest)
		post(taken).wantsFaults(http.StatusUnprocessableEntity, "/questions/0")
		taken["id"], taken["replace"] = models.NewID(), true
		post(taken).wants(http.StatusCreated)
		if got := r.questions(v.path("/break-questions?open=false")); len(got) != 2 || got[1].Answer.Reason != "taken_unrecorded" {
			r.Fatalf("%+v", got)
		}
		if s := r.do("GET", v.path(""), r.admin(), nil).object(); s["undecided"] != 0.0 {
			r.Errorf("%v", s)
		}

		r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wantsKey(http.StatusPreconditionFailed, "problem.inputs_moved")
		v = r.do("POST", v.path("/redraft"), r.clerk(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
		// By hand: make-up on 5:50 instead of 6:00 h of piece work, less 10 min × 16.90; ten minutes of rest at the average; both premiums gone.
		if less := proposed - r.gross(v); less <= asked[0].Premium || less >= 2*asked[0].Premium+500 {
			r.Errorf("%s less, of premiums of %s", less, asked[0].Premium)
		}
		r.paid(r.approved(v))
		if found := r.reviewed(); len(found) != 0 {
			r.Fatalf("nothing moved, and the review finds %+v", found)
		}
		now := r.questions(week + "&period=meal")
		owed := r.answers("owed", "", "she says that nobody relieved her", now[0].Question)
		owed["replace"] = true
		post(owed).wants(http.StatusCreated)
		found := r.reviewed()
		if len(found) != 1 || found[0].Parts == nil || found[0].Parts.Records != now[0].Premium || found[0].Parts.Rules != 0 || found[0].AdjustmentID == nil {
			r.Errorf("%+v, premium %s", found, now[0].Premium)
		}
		var history page[answeredBreak]
		r.do("GET", breakAnswersPath+"?from=2026-02-24&to=2026-02-24&worker_id="+r.ours.worker.String(), r.admin(), nil, "Accept-Language", "es").wants(http.StatusOK).into(&history)
		if len(history.Items) != 4 || history.Items[0].SupersededBy == nil || history.Items[2].SupersededBy != nil || !strings.HasPrefix(history.Items[2].Answer.Text, "Se tomó") {
			r.Errorf("%+v", history.Items)
		}
	})
}

// Where the records move, the question is another, and the answer to the old one holds no more.
func TestAnAnswerHoldsForWhatTheRecordsShow(t *testing.T) {
	each(t, func(r *rig) {
		v := r.unbroken()
		meal := r.questions(v.path("/break-questions?period=meal"))[0].Question
		r.do("POST", breakAnswersPath, r.clerk(), r.answers("not_owed", "waived", "signed that morning", meal)).wants(http.StatusCreated)
		more := entry(r.ours.worker, "2026-02-24", "piece", "12:00", "13:00")
		more["workday"], more["garden_id"], more["recorded_at"] = "2026-02-24", r.ours.garden, "2026-02-24T16:00:00-08:00"
		r.do("POST", "/api/v1/time-entries", r.clerk(), more).wants(http.StatusCreated)
		now := r.questions(breakQuestionsPath + "?week_start=" + payWeek + "&period=meal&open=true")
		if len(now) != 1 || now[0].Question == meal || fmt.Sprint(now[0].Reasons) != "[provided on_duty declined]" {
			r.Fatalf("seven hours cannot be waived: %+v", now)
		}
		r.do("POST", breakAnswersPath, r.clerk(), r.answers("owed", "", "", meal)).wantsFaults(http.StatusUnprocessableEntity, "/questions/0")
		r.do("POST", breakAnswersPath, r.clerk(), r.answers("owed", "", "", now[0].Question)).wants(http.StatusCreated)
	})
}
