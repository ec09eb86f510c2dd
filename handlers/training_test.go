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

func init() {
	content["/api/v1/training-topics"] = func(_ *estate, n int) object {
		return object{
			"topic": fmt.Sprint("topic_", n), "title_en": "First aid", "title_es": "Primeros auxilios", "source": "Our program", "section": "chapter 4",
			"ways": []string{"climb"}, "carries": []string{"through_date"}, "holds_months": 24, "keep_months": 12,
		}
	}
}

// training is a training as it is sent in.
func training(topic, on string) object {
	return object{
		"id": models.NewID(), "topic": topic, "held_on": on, "trainer": "Iris Robles", "qualification": "foreman of the ladders for twelve years", "language": "es",
		"understanding": "each showed it on the palm", "recorded_at": start,
	}
}

func (r *rig) expiring(query string) (found []string) {
	r.Helper()
	var list struct {
		Items []struct {
			Worker   struct{ Name string }
			Topic    string
			DaysLeft int `json:"days_left"`
		}
	}
	r.do("GET", "/api/v1/training-expiring"+query, r.officer(), nil).wants(http.StatusOK).into(&list)
	for _, e := range list.Items {
		found = append(found, fmt.Sprint(e.Worker.Name, " ", e.Topic, " ", e.DaysLeft))
	}
	return found
}

func TestAMeetingOfACrew(t *testing.T) {
	each(t, func(r *rig) {
		const path = "/api/v1/training-meetings"
		meeting := training("heat_illness", "2025-03-10")
		meeting["attendees"] = []object{{"id": models.NewID(), "worker_id": r.ours.worker, "acknowledged": true}}
		r.do("POST", path, r.officer(), meeting).wants(http.StatusCreated)
		a := r.do("POST", path, r.officer(), meeting).wants(http.StatusOK)
		if a.header.Get("Repeated") != "true" {
			t.Error("a repeat was not said to be one")
		}
		meeting["attendees"] = append(meeting["attendees"].([]object), object{"id": models.NewID(), "worker_id": r.ours.lead, "acknowledged": true})
		r.do("POST", path, r.officer(), meeting).wants(http.StatusCreated)
		meeting["trainer"] = "Somebody else"
		r.do("POST", path, r.officer(), meeting).wantsKey(http.StatusConflict, "problem.id_reused")

		var list struct{ Items []struct{ ID uuid.UUID } }
		r.do("GET", "/api/v1/training-sign-offs?topic=heat_illness", r.clerk(), nil).wants(http.StatusOK).into(&list)
		if len(list.Items) != 2 {
			t.Fatalf("%+v", list)
		}
		if got, want := r.expiring("?on=2026-03-04&within=6"), []string{"Ana Rojas heat_illness 6", "Berta Luz heat_illness 6"}; !sameWords(got, want) {
			t.Errorf("%q, want %q", got, want)
		}
		if got := r.expiring("?on=2026-03-04&within=5"); len(got) != 0 {
			t.Errorf("%q", got)
		}
		if got := r.expiring("?on=2026-03-11&within=0"); !sameWords(got, []string{"Ana Rojas heat_illness -1", "Berta Luz heat_illness -1"}) {
			t.Errorf("%q", got)
		}
		r.do("GET", "/api/v1/training-expiring", r.officer(), nil).wants(http.StatusBadRequest)
		r.do("GET", "/api/v1/training-expiring?within=-1", r.officer(), nil).wants(http.StatusBadRequest)

		wrong := training("flying", "2026-03-01")
		wrong["understanding"] = ""
		same := object{"id": models.NewID(), "worker_id": models.NewID()}
		wrong["attendees"] = []object{same, same}
		r.do("POST", path, r.officer(), wrong).wantsFaults(http.StatusUnprocessableEntity, "/understanding", "/attendees/0/worker_id", "/attendees/1/id", "/attendees/1/worker_id", "/topic")
	})
}

func TestSignOffsAreCorrectedAndWithdrawn(t *testing.T) {
	each(t, func(r *rig) {
		const path = "/api/v1/training-sign-offs"
		lift := training("lift_operator", "2025-03-01")
		lift["worker_id"] = r.ours.worker
		r.do("POST", path, r.officer(), lift).wantsFaults(http.StatusUnprocessableEntity, "/detail")
		lift["detail"] = "boom lift, model 45"
		var kept struct{ ID uuid.UUID }
		r.do("POST", path, r.officer(), lift).wants(http.StatusCreated).into(&kept)
		r.do("POST", path, r.officer(), lift).wants(http.StatusOK)
		acknowledgement, word := "/api/v1/my/training/"+kept.ID.String()+"/acknowledgement", object{"id": models.NewID()}
		r.do("POST", acknowledgement, r.worker(), word).wants(http.StatusCreated)
		r.do("POST", acknowledgement, r.worker(), word).wants(http.StatusOK)
		r.do("POST", acknowledgement, r.worker(), object{"id": models.NewID()}).wants(http.StatusConflict)
		r.do("POST", "/api/v1/my/training/"+models.NewID().String()+"/acknowledgement", r.worker(), object{"id": models.NewID()}).wants(http.StatusNotFound)
		pesticide := training("pesticide_worker", "2025-06-01")
		pesticide["worker_id"], pesticide["detail"] = r.ours.worker, "the film of 2024"
		r.do("POST", path, r.officer(), pesticide).wantsFaults(http.StatusUnprocessableEntity, "/acknowledged")
		unknown := training("lift_operator", "2025-03-01")
		unknown["worker_id"], unknown["detail"] = r.theirs.worker, "x"
		r.do("POST", path, r.officer(), unknown).wantsFaults(http.StatusUnprocessableEntity, "/worker_id")

		back := training("lift_operator", "2025-03-01")
		back["worker_id"], back["withdrawn"] = r.ours.worker, true
		r.do("POST", path, r.officer(), back).wantsFaults(http.StatusUnprocessableEntity, "/supersedes")
		back["supersedes"] = kept.ID
		r.do("POST", path, r.officer(), back).wantsFaults(http.StatusUnprocessableEntity, "/reason")
		back["reason"] = "another worker of that name"
		r.do("POST", path, r.officer(), back).wants(http.StatusCreated)
		var own struct{ Entries []object }
		r.do("GET", "/api/v1/my/training", r.worker(), nil).wants(http.StatusOK).into(&own)
		if len(own.Entries) != 0 {
			t.Errorf("%+v", own)
		}
		var chain struct{ Items []object }
		r.do("GET", path+"/"+kept.ID.String()+"/chain", r.admin(), nil).wants(http.StatusOK).into(&chain)
		if len(chain.Items) != 2 {
			t.Errorf("%+v", chain)
		}
	})
}

// An employer's own topic adds to those of the rulebooks; a card ends when it says.
func TestOwnTopicsAndCards(t *testing.T) {
	each(t, func(r *rig) {
		topic := content["/api/v1/training-topics"](r.ours, 7)
		topic["id"] = models.NewID()
		r.do("POST", "/api/v1/training-topics", r.officer(), topic).wants(http.StatusCreated)
		twice := content["/api/v1/training-topics"](r.ours, 7)
		twice["id"] = models.NewID()
		r.do("POST", "/api/v1/training-topics", r.officer(), twice).wantsFaults(http.StatusUnprocessableEntity, "/topic")
		bad := content["/api/v1/training-topics"](r.ours, 8)
		bad["id"], bad["topic"], bad["ways"], bad["operations"], bad["carries"], bad["holds_months"] = models.NewID(), "First Aid", []string{"stilts"}, []string{"x"}, []string{"song"}, 9999
		r.do("POST", "/api/v1/training-topics", r.officer(), bad).wantsFaults(http.StatusUnprocessableEntity, "/ways/0", "/topic", "/holds_months", "/carries/0", "/operations/0")

		var needs struct {
			Items []struct {
				Topic string
				Asked []struct{ By, Section string }
			}
			NoticeDays int `json:"notice_days"`
		}
		r.do("GET", "/api/v1/training-needs?on=2026-03-04", r.worker(), nil).wants(http.StatusOK).into(&needs)
		if len(needs.Items) != 9 || needs.NoticeDays != 30 {
			t.Errorf("%+v", needs)
		}
		card := training("topic_7", "2026-03-01")
		card["worker_id"] = r.ours.worker
		r.do("POST", "/api/v1/training-sign-offs", r.officer(), card).wantsFaults(http.StatusUnprocessableEntity, "/through_date")
		card["through_date"] = "2026-03-20"
		r.do("POST", "/api/v1/training-sign-offs", r.officer(), card).wants(http.StatusCreated)
		if got := r.expiring("?on=2026-03-04&within=30"); !sameWords(got, []string{"Ana Rojas topic_7 16"}) {
			t.Errorf("%q", got)
		}
		page := r.do("GET", "/api/v1/my/training?on=2026-04-01&language=es", r.worker(), nil, "Accept", "text/html").wants(http.StatusOK)
		for _, said := range []string{"Constancia de capacitación", "Primeros auxilios", "vencida", "Ana Rojas"} {
			if !strings.Contains(string(page.body), said) {
				t.Errorf("the page does not say %q", said)
			}
		}
		r.do("GET", "/api/v1/workers/"+r.ours.worker.String()+"/training", r.officer(), nil).wants(http.StatusOK)
	})
}

func sameWords(got, want []string) bool {
	got = slices.Sorted(slices.Values(got))
	return slices.Equal(got, want)
}
