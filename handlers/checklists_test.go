package handlers

import (
	"maps"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/safety/checklists"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /api/v1/filled-checklists":                 "lcsa",
		"POST /api/v1/filled-checklists":                "l",
		"GET /api/v1/filled-checklists/{id}":            "lcsa",
		"GET /api/v1/filled-checklists/{id}/chain":      "csa",
		"POST /api/v1/filled-checklists/{id}/review":    "s",
		"GET /api/v1/stops":                             "csa",
		"POST /api/v1/stops":                            "s",
		"GET /api/v1/stops/{id}":                        "csa",
		"POST /api/v1/stops/{id}/lift":                  "s",
		"GET /api/v1/my/climbing-day":                   "l",
		"POST /api/v1/my/stops/{id}/acknowledgement":    "l",
		"GET /api/v1/rule-overrides":                    "lcsa",
		"POST /api/v1/rule-overrides":                   "s",
		"GET /api/v1/rule-overrides/{id}":               "lcsa",
		"GET /api/v1/rule-overrides/{id}/chain":         "csa",
		"GET /api/v1/training-topics":                   "lcsa",
		"POST /api/v1/training-topics":                  "s",
		"GET /api/v1/training-topics/{id}":              "lcsa",
		"PUT /api/v1/training-topics/{id}":              "s",
		"GET /api/v1/training-needs":                    "wlcsa",
		"GET /api/v1/training-sign-offs":                "csa",
		"POST /api/v1/training-sign-offs":               "s",
		"GET /api/v1/training-sign-offs/{id}":           "csa",
		"GET /api/v1/training-sign-offs/{id}/chain":     "csa",
		"GET /api/v1/training-meetings":                 "csa",
		"POST /api/v1/training-meetings":                "s",
		"GET /api/v1/training-expiring":                 "csa",
		"GET /api/v1/workers/{id}/training":             "csa",
		"GET /api/v1/my/training":                       "wl",
		"POST /api/v1/my/training/{id}/acknowledgement": "wl",
	})
	steps["/api/v1/filled-checklists/{id}/review"] = object{"id": models.NewID(), "decision": "accepted", "reason": "in order"}
	steps["/api/v1/stops/{id}/lift"] = object{"id": models.NewID(), "competent_person": "Iris Robles", "reason": "mended"}
	steps["/api/v1/my/training/{id}/acknowledgement"] = object{"id": models.NewID()}
	steps["/api/v1/my/stops/{id}/acknowledgement"] = object{"id": models.NewID(), "name": "Berta Luz", "recorded_at": start}
}

// filling is the list of a way gone through by the estate's crew on the day of the rig's clock, with nothing amiss.
func (e *estate) filling(list string) object {
	asked := figuring.Lists()[list]
	answers := []object{}
	for _, item := range asked.Items {
		answer := object{"item": item.ID, "answer": "ok"}
		if item.Note == checklists.Always {
			answer["note"] = "looked at"
		}
		answers = append(answers, answer)
	}
	return object{
		"id": models.NewID(), "crew_id": e.crew, "garden_id": e.garden, "workday": "2026-03-04", "way": list, "checklist": list, "digest": asked.Digest,
		"answers": answers, "recorded_at": start.Add(-time.Hour),
	}
}

// A crew lead fills a list, the officer stops the climb, the lead's phone hears of it and the lead acknowledges by name, the list is corrected, the stop lifted.
func TestAListFromTheLeadToTheOfficerAndBack(t *testing.T) {
	each(t, func(r *rig) {
		const path = "/api/v1/filled-checklists"
		filling := r.ours.filling("attached_ladder")
		var kept struct {
			ID       uuid.UUID
			FilledOn string `json:"filled_on"`
			Passed   bool
			Review   *struct{ Decision string }
		}
		r.do("POST", path, r.lead(), filling).wants(http.StatusCreated).into(&kept)
		if !kept.Passed || kept.FilledOn != "2026-03-04" || kept.Review != nil {
			t.Errorf("%+v", kept)
		}
		r.do("POST", path, r.lead(), filling).wants(http.StatusOK)
		other := r.ours.filling("attached_ladder")
		other["id"] = filling["id"]
		other["way"] = "climb"
		r.do("POST", path, r.lead(), other).wants(http.StatusConflict)

		one := path + "/" + kept.ID.String()
		r.do("POST", one+"/review", r.officer(), object{"id": models.NewID(), "decision": "accepted"}).wantsFaults(http.StatusUnprocessableEntity, "/reason")
		review := object{"id": models.NewID(), "decision": "stopped", "reason": "the chain is slack"}
		var reviewed struct {
			Stop struct{ ID uuid.UUID }
		}
		r.do("POST", one+"/review", r.officer(), review).wants(http.StatusCreated).into(&reviewed)
		r.do("POST", one+"/review", r.officer(), review).wants(http.StatusOK)
		r.do("POST", one+"/review", r.officer(), object{"id": models.NewID(), "decision": "accepted", "reason": "fine"}).wantsKey(http.StatusConflict, "problem.reviewed")

		stop := "/api/v1/stops/" + reviewed.Stop.ID.String()
		notice := func() (heard, acknowledged bool) {
			var s struct {
				Notices []struct {
					Worker         string
					HeardAt        *time.Time `json:"heard_at"`
					AcknowledgedAt *time.Time `json:"acknowledged_at"`
				}
			}
			r.do("GET", stop, r.officer(), nil).wants(http.StatusOK).into(&s)
			if len(s.Notices) != 1 || s.Notices[0].Worker != "Berta Luz" {
				t.Fatalf("%+v", s)
			}
			return s.Notices[0].HeardAt != nil, s.Notices[0].AcknowledgedAt != nil
		}
		if heard, acknowledged := notice(); heard || acknowledged {
			t.Error("nobody has fetched anything yet")
		}
		r.do("GET", "/api/v1/my/climbing-day", r.lead(), nil).wants(http.StatusBadRequest)
		for range 2 {
			r.do("GET", "/api/v1/my/climbing-day?on=2026-03-04", r.lead(), nil).wants(http.StatusOK)
			if heard, acknowledged := notice(); !heard || acknowledged {
				t.Errorf("heard %v, acknowledged %v", heard, acknowledged)
			}
		}
		acknowledgement := object{"id": models.NewID(), "name": "Berta Luz", "recorded_at": start}
		mine := "/api/v1/my/stops/" + reviewed.Stop.ID.String() + "/acknowledgement"
		r.do("POST", mine, r.lead(), acknowledgement).wants(http.StatusCreated)
		r.do("POST", mine, r.lead(), acknowledgement).wants(http.StatusOK)
		r.do("POST", mine, r.lead(), object{"id": models.NewID(), "name": "B. Luz", "recorded_at": start}).wantsKey(http.StatusConflict, "problem.stop_acknowledged")
		if _, acknowledged := notice(); !acknowledged {
			t.Error("not acknowledged")
		}

		correction := r.ours.filling("attached_ladder")
		correction["supersedes"], correction["reason"] = kept.ID, "the chain was tightened"
		r.do("POST", path, r.lead(), correction).wants(http.StatusCreated)
		r.do("POST", one+"/review", r.officer(), object{"id": models.NewID(), "decision": "accepted", "reason": "fine"}).wantsKey(http.StatusConflict, "problem.superseded")
		var chain struct{ Items []struct{ Author string } }
		r.do("GET", one+"/chain", r.clerk(), nil).wants(http.StatusOK).into(&chain)
		if len(chain.Items) != 2 || chain.Items[0].Author != "The crew_lead" {
			t.Errorf("%+v", chain)
		}

		lift := object{"id": models.NewID(), "competent_person": "Iris Robles", "reason": "tightened and looked at"}
		r.do("POST", stop+"/lift", r.officer(), object{"id": models.NewID(), "reason": "because"}).wantsFaults(http.StatusUnprocessableEntity, "/competent_person")
		r.do("POST", stop+"/lift", r.officer(), lift).wants(http.StatusCreated)
		r.do("POST", stop+"/lift", r.officer(), lift).wants(http.StatusOK)
		r.do("POST", stop+"/lift", r.officer(), object{"id": models.NewID(), "competent_person": "Iris Robles", "reason": "again"}).wantsKey(http.StatusConflict, "problem.stop_lifted")
		var day struct{ Stops, Checklists []object }
		r.do("GET", "/api/v1/my/climbing-day?on=2026-03-04", r.lead(), nil).wants(http.StatusOK).into(&day)
		if len(day.Stops) != 0 || len(day.Checklists) != 1 {
			t.Errorf("%+v", day)
		}
	})
}

func TestWrongLists(t *testing.T) {
	each(t, func(r *rig) {
		const path = "/api/v1/filled-checklists"
		bad := r.ours.filling("attached_ladder")
		bad["answers"] = []object{
			{"item": "bees", "answer": "maybe"}, {"item": "wires", "answer": "defect"}, {"item": "wires", "answer": "ok"}, {"item": "sails", "answer": "ok"},
			{"item": "rungs", "answer": "ok", "equipment_id": models.NewID()},
		}
		bad["equipment_ids"] = []uuid.UUID{models.NewID()}
		bad["way"] = "stilts"
		r.do("POST", path, r.lead(), bad).wantsFaults(http.StatusUnprocessableEntity,
			"/answers/0/answer", "/answers/1/note", "/answers/2/item", "/answers/3/item", "/answers/4/equipment_id", "/equipment_ids/0", "/way")
		unknown := r.ours.filling("climb")
		unknown["digest"] = "00"
		r.do("POST", path, r.lead(), unknown).wantsFaults(http.StatusUnprocessableEntity, "/digest")
		swapped := r.ours.filling("climb")
		swapped["way"] = "lift"
		r.do("POST", path, r.lead(), swapped).wantsFaults(http.StatusUnprocessableEntity, "/checklist")
		theirs := r.theirs.filling("climb")
		theirs["crew_id"] = r.ours.crew
		r.do("POST", path, r.lead(), theirs).wantsFaults(http.StatusUnprocessableEntity, "/garden_id")
	})
}

// What the law asks nobody sets aside; the refusal names the provision.
func TestSettingRulesAside(t *testing.T) {
	each(t, func(r *rig) {
		const path = "/api/v1/rule-overrides"
		override := func(code string) object {
			return object{
				"id": models.NewID(), "garden_id": r.ours.garden, "crew_id": r.ours.crew, "workday": "2026-03-04", "way": "attached_ladder", "code": code,
				"competent_person": "Iris Robles", "grounds": "the course is held this evening",
			}
		}
		house := override("training_expired")
		var kept struct{ ID uuid.UUID }
		r.do("POST", path, r.officer(), house).wants(http.StatusCreated).into(&kept)
		r.do("POST", path, r.officer(), house).wants(http.StatusOK)
		for _, law := range []string{"ladder_wires", "training_missing", "too_dark"} {
			a := r.do("POST", path, r.officer(), override(law))
			a.wantsFaults(http.StatusUnprocessableEntity, "/code")
			if !strings.Contains(string(a.body), "8 CCR") {
				t.Errorf("%s is refused without its provision: %s", law, a.body)
			}
		}
		r.do("POST", path, r.officer(), override("boredom")).wantsFaults(http.StatusUnprocessableEntity, "/code")
		nameless := override("training_expired")
		nameless["competent_person"], nameless["grounds"] = " ", ""
		r.do("POST", path, r.officer(), nameless).wantsFaults(http.StatusUnprocessableEntity, "/competent_person", "/grounds")
		back := override("training_expired")
		back["withdrawn"] = true
		r.do("POST", path, r.officer(), back).wantsFaults(http.StatusUnprocessableEntity, "/supersedes")
		back["supersedes"], back["reason"] = kept.ID, "the course fell through"
		r.do("POST", path, r.officer(), back).wants(http.StatusCreated)
		var day struct{ Overrides []object }
		r.do("GET", "/api/v1/my/climbing-day?on=2026-03-04", r.lead(), nil).wants(http.StatusOK).into(&day)
		if len(day.Overrides) != 0 {
			t.Errorf("%+v", day)
		}
	})
}

// A defect that stops the climb takes the piece that it was found on out of service at once, and no other; a list with nothing amiss is a look at the piece before use.
func TestADefectOnAListTakesEquipmentOutOfService(t *testing.T) {
	each(t, func(r *rig) {
		pieces := map[string]uuid.UUID{}
		r.in(r.ours.Scope, func(tx *models.Tx) error {
			for code, kind := range map[string]models.EquipmentKind{"L-1": models.PortableLadder, "C-1": models.Lanyard, "C-2": models.Lanyard} {
				pieces[code] = keep(r, tx, models.Create[models.EquipmentContent], models.EquipmentContent{GardenID: r.ours.garden, Kind: kind, Code: code, Description: "of the crew"})
			}
			return nil
		})
		filling := r.ours.filling("portable_ladder")
		filling["equipment_ids"] = []uuid.UUID{pieces["L-1"], pieces["C-1"], pieces["C-2"]}
		for _, answer := range filling["answers"].([]object) {
			if answer["item"] == "lanyard" {
				answer["answer"], answer["note"], answer["equipment_id"] = "defect", "cut half through", pieces["C-2"]
			}
		}
		r.do("POST", "/api/v1/filled-checklists", r.lead(), filling).wants(http.StatusCreated)
		r.do("POST", "/api/v1/filled-checklists", r.lead(), filling).wants(http.StatusOK)
		r.in(r.ours.Scope, func(tx *models.Tx) error {
			for code, want := range map[string]models.EquipmentState{"L-1": models.InService, "C-1": models.InService, "C-2": models.OutOfService} {
				piece, err := models.Get[models.EquipmentContent](tx, pieces[code])
				if err != nil {
					return err
				}
				if c := piece.Content; c.State != want || c.PreUseOn.IsZero() != (want == models.OutOfService) {
					t.Errorf("%s is %s, looked over on %s", code, c.State, c.PreUseOn)
				}
			}
			return nil
		})
	})
}
