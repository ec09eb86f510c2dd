package handlers

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/gear"
)

func (r *rig) officer() *person { return r.as(models.RoleSafetyOfficer) }
func (r *rig) leader() *person  { return r.as(models.RoleCrewLead) }

// A lead stops a palm by the number painted on it; the officer finds it, and puts it back on what was looked at.
func TestNotThisPalm(t *testing.T) {
	each(t, func(r *rig) {
		r.do("POST", "/api/v1/palm-ranges", r.admin(), object{"id": models.NewID(), "block_id": r.ours.block, "prefix": "3-", "first": 1, "last": 300, "digits": 3}).wants(http.StatusCreated)
		word := object{"id": models.NewID(), "block_id": r.ours.block, "label": "3-217", "reason": "bees", "happened_at": "2026-03-04T07:10:00-08:00"}
		event := r.do("POST", "/api/v1/palms-to-avoid", r.leader(), word).wants(http.StatusCreated).object()
		if again := r.do("POST", "/api/v1/palms-to-avoid", r.leader(), word).wants(http.StatusOK); again.header.Get("Repeated") != "true" {
			r.Error("the repeat does not say so")
		}
		var list page[gear.PalmToAvoid]
		r.do("GET", "/api/v1/palms-to-avoid?garden_id="+r.ours.garden.String(), r.officer(), nil).wants(http.StatusOK).into(&list)
		if len(list.Items) != 1 || list.Items[0].Label != "3-217" || list.Items[0].RecordedBy != "The crew_lead" {
			r.Fatalf("%+v", list)
		}
		path := "/api/v1/palms/" + list.Items[0].ID.String()
		if one := r.do("GET", path, r.clerk(), nil).wants(http.StatusOK).object(); one["avoided_by"] != event["id"] {
			r.Errorf("%v", one)
		}
		unknown := object{"id": models.NewID(), "block_id": r.ours.block, "label": "9-001", "reason": "bees"}
		a := r.do("POST", "/api/v1/palms-to-avoid", r.leader(), unknown, "Accept-Language", "en").wantsFaults(http.StatusUnprocessableEntity, "/label")
		if !bytes.Contains(a.body, []byte("no palm 9-001 in block B-07")) {
			r.Errorf("%s", a.body)
		}
		back := object{"id": models.NewID(), "competent_person": "Olga Prieto", "note": "The swarm was taken away"}
		r.do("POST", path+"/back-in-use", r.officer(), back).wants(http.StatusPreconditionRequired)
		r.do("POST", path+"/back-in-use", r.officer(), back, "If-Match", `"1"`).wants(http.StatusPreconditionFailed)
		r.do("POST", path+"/back-in-use", r.officer(), back, "If-Match", `"2"`).wants(http.StatusCreated)
		r.do("POST", path+"/back-in-use", r.officer(), back, "If-Match", `"2"`).wants(http.StatusOK)
		events := r.do("GET", path+"/events", r.clerk(), nil).wants(http.StatusOK).object()
		if len(events["items"].([]any)) != 2 {
			r.Errorf("%v", events)
		}
	})
}

// Ratings are taken in either unit and told back in one; what cannot be is refused with its range, in the unit that was used.
func TestRatedEquipment(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	ladder := object{"id": models.NewID(), "garden_id": r.ours.garden, "kind": "portable_ladder", "code": "L-09", "description": "Tripod",
		"ratings": object{"ladder": object{"kind": "orchard", "duty_type": "IA", "length_m": 4.572}}}
	made := r.do("POST", "/api/v1/equipment", r.officer(), ladder).wants(http.StatusCreated).object()
	if l := made["ratings"].(object)["ladder"].(object); l["length_ft"] != 15.0 || made["state"] != "in_service" {
		r.Errorf("%v", made)
	}
	r.do("POST", "/api/v1/equipment", r.officer(), ladder).wants(http.StatusOK)
	ladder["id"], ladder["code"] = models.NewID(), "L-10"
	ladder["ratings"] = object{"ladder": object{"length_m": 900, "rungs": 0, "duty_type": "V"}, "lift": object{}}
	a := r.do("POST", "/api/v1/equipment", r.officer(), ladder, "Accept-Language", "en")
	a.wantsFaults(http.StatusUnprocessableEntity, "/ratings/ladder/duty_type", "/ratings/ladder/length_m", "/ratings/ladder/rungs", "/ratings/lift")
	if !bytes.Contains(a.body, []byte("60.96")) { // 200 ft
		r.Errorf("%s", a.body)
	}
}

// A lead looks at a ladder before it is used; what stops it stops it now, and only the officer puts it back. A lead's word is no competent person's.
func TestALadderIsStopped(t *testing.T) {
	each(t, func(r *rig) {
		path := "/api/v1/equipment/" + r.ours.more["/api/v1/equipment"].String()
		finding := models.NewID()
		look := object{"id": models.NewID(), "kind": "pre_use", "findings": []object{{"id": finding, "severity": "stopping", "note": "Rung 5 is split"}}}
		if e := r.do("POST", path+"/inspections", r.leader(), look).wants(http.StatusCreated).object(); e["passed"] != false || e["state"] != "out_of_service" {
			r.Errorf("%v", e)
		}
		r.do("POST", path+"/inspections", r.leader(), object{"id": models.NewID(), "kind": "periodic", "person": "Berta Luz"}).wants(http.StatusForbidden)
		r.do("POST", path+"/inspections", r.officer(), object{"id": models.NewID(), "kind": "periodic", "person": "Olga Prieto"}).wants(http.StatusCreated)
		one := r.do("GET", path, r.leader(), nil).wants(http.StatusOK)
		if o := one.object(); o["state"] != "out_of_service" || o["periodic_on"] != "2026-03-04" || o["pre_use_on"] != "2026-03-04" {
			r.Errorf("%v", o)
		}
		out := r.do("GET", "/api/v1/equipment?state=out_of_service", r.clerk(), nil).wants(http.StatusOK).object()
		if len(out["items"].([]any)) != 1 {
			r.Errorf("%v", out)
		}
		open := r.do("GET", "/api/v1/equipment-findings?open=true", r.officer(), nil).wants(http.StatusOK).object()
		if len(open["items"].([]any)) != 2 {
			r.Errorf("%v", open)
		}
		back := object{"id": models.NewID(), "competent_person": "Olga Prieto", "note": "New rung"}
		r.do("POST", path+"/returns", r.officer(), back, "If-Match", one.header.Get("ETag")).wants(http.StatusCreated)
		r.do("POST", path+"/returns", r.officer(), object{"id": models.NewID(), "competent_person": "Olga Prieto", "note": "Again"}, "If-Match", `"5"`).
			wantsKey(http.StatusConflict, "problem.equipment_not_out")
		events := r.do("GET", path+"/events?limit=2", r.clerk(), nil).wants(http.StatusOK).object()
		if len(events["items"].([]any)) != 2 || events["next"] == nil {
			r.Errorf("%v", events)
		}
		due := r.do("GET", "/api/v1/equipment-due?by=2027-03-06", r.officer(), nil).wants(http.StatusOK).object()
		if len(due["items"].([]any)) != 0 { // a portable ladder has no periodic inspection in the book
			r.Errorf("%v", due)
		}
		r.do("POST", path+"/withdrawals", r.leader(), object{"id": models.NewID(), "kind": "arrested_fall"}).wantsFaults(http.StatusUnprocessableEntity, "/note")
	})
}

// A crew gets its gloves in one call that may be sent again; the worker sees and acknowledges their own, and nobody else's.
func TestGlovesForACrew(t *testing.T) {
	each(t, func(r *rig) {
		kind := models.NewID()
		r.do("POST", "/api/v1/gear-kinds", r.officer(), object{"id": kind, "kind": "gloves", "name": "Thorn gloves", "size": "M", "protective": true, "cut_level": "A10"}).
			wantsFaults(http.StatusUnprocessableEntity, "/cut_level")
		r.do("POST", "/api/v1/gear-kinds", r.officer(), object{"id": kind, "kind": "gloves", "name": "Thorn gloves", "size": "M", "protective": true, "puncture_level": 6, "en388": "4543"}).
			wantsFaults(http.StatusUnprocessableEntity, "/puncture_level", "/en388")
		r.do("POST", "/api/v1/gear-kinds", r.officer(), object{"id": kind, "kind": "gloves", "name": "Thorn gloves", "size": "M", "protective": true, "puncture_level": 4, "en388": "4X43D", "low_at": 3}).
			wants(http.StatusCreated)
		r.do("POST", "/api/v1/gear-kinds/"+kind.String()+"/stock", r.officer(), object{"id": models.NewID(), "move": "counted", "quantity": 4}).wants(http.StatusCreated)
		ana, berta := models.NewID(), models.NewID()
		sheet := object{"issues": []object{
			{"id": ana, "worker_id": r.ours.worker, "gear_kind_id": kind, "quantity": 1, "condition": "new", "issued_on": "2026-03-04", "due_on": "2026-03-04"},
			{"id": berta, "worker_id": r.ours.lead, "gear_kind_id": kind, "quantity": 1, "condition": "good", "issued_on": "2026-03-04", "typed_name": "Berta Luz"},
		}}
		first := r.do("POST", "/api/v1/gear-issues", r.leader(), sheet).wants(http.StatusOK)
		second := r.do("POST", "/api/v1/gear-issues", r.leader(), sheet).wants(http.StatusOK)
		if bytes.Count(first.body, []byte(`"recorded"`)) != 2 || bytes.Count(second.body, []byte(`"repeated"`)) != 2 {
			r.Errorf("%s\n%s", first.body, second.body)
		}
		mine := r.do("GET", "/api/v1/my/gear?held=true", r.as(models.RoleWorker), nil).wants(http.StatusOK).object()["items"].([]any)
		if len(mine) != 2 || mine[1].(object)["gear"] != "Thorn gloves" || mine[1].(object)["issued_by"] != "The crew_lead" {
			r.Errorf("%v", mine)
		}
		r.do("POST", "/api/v1/my/gear/"+berta.String()+"/acknowledgements", r.as(models.RoleWorker), object{"id": models.NewID()}).wants(http.StatusNotFound)
		r.do("POST", "/api/v1/my/gear/"+ana.String()+"/acknowledgements", r.as(models.RoleWorker), object{"id": models.NewID()}).wants(http.StatusCreated)
		late := r.do("GET", "/api/v1/gear-issues?due_before=2026-03-05", r.clerk(), nil).wants(http.StatusOK).object()["items"].([]any)
		if len(late) != 1 || late[0].(object)["acknowledged_name"] != "" || late[0].(object)["worker"] != "Ana Rojas" {
			r.Errorf("%v", late)
		}
		r.do("POST", "/api/v1/gear-issues/"+ana.String()+"/return", r.leader(), object{"id": models.NewID(), "reason": "lost"}).wants(http.StatusCreated)
		low := r.do("GET", "/api/v1/gear-kinds?low=true", r.officer(), nil).wants(http.StatusOK).object()["items"].([]any)
		if len(low) != 1 || low[0].(object)["on_hand"] != 2.0 {
			r.Errorf("%v", low)
		}
	})
}

// endless is a body that never ends, and remembers how much of it was read.
type endless struct{ read int }

func (e *endless) Read(p []byte) (int, error) {
	if e.read > 64<<20 {
		return 0, errors.New("nobody stopped")
	}
	e.read += len(p)
	return len(p), nil
}

// A photo is told by its bytes, kept once, and served as nothing but a picture. What is over its limit is refused before it is read whole.
func TestPhotos(t *testing.T) {
	each(t, func(r *rig) {
		to := "/api/v1/photos?id=" + models.NewID().String() + "&subject_kind=equipment_finding&subject_id=" + r.ours.more["/api/v1/equipment-findings"].String()
		r.do("POST", to, r.leader(), pixel(), "Content-Type", "image/png").wants(http.StatusCreated)
		r.do("POST", to, r.leader(), pixel(), "Content-Type", "image/png").wants(http.StatusOK)
		list := r.do("GET", "/api/v1/photos?subject_id="+r.ours.more["/api/v1/equipment-findings"].String(), r.officer(), nil).wants(http.StatusOK).object()["items"].([]any)
		if len(list) != 2 {
			r.Errorf("%v", list)
		}
		got := r.do("GET", "/api/v1/photos/"+list[1].(object)["id"].(string), r.clerk(), nil).wants(http.StatusOK)
		if !bytes.Equal(got.body, pixel()) || got.header.Get("Content-Type") != "image/png" || got.header.Get("X-Content-Type-Options") != "nosniff" ||
			got.header.Get("Content-Security-Policy") != "default-src 'none'; sandbox" {
			r.Errorf("%v", got.header)
		}
		other := strings.Replace(to, "id=0", "id=f", 1)
		for _, body := range []string{"<html><script>alert(1)</script>", "\x89PNG\r\n\x1a\n<script>", ""} {
			r.do("POST", other, r.leader(), body, "Content-Type", "image/png").wantsFaults(http.StatusUnprocessableEntity, "")
		}
		r.do("POST", other, r.leader(), "GIF89a", "Content-Type", "image/gif").wantsKey(http.StatusUnsupportedMediaType, "problem.photo_media")
		r.do("POST", "/api/v1/photos?id=1&subject_kind=worker&subject_id=2", r.leader(), pixel(), "Content-Type", "image/png").wantsFaults(http.StatusBadRequest, "id", "subject_id", "subject_kind")
		gone := "/api/v1/photos?id=" + models.NewID().String() + "&subject_kind=palm_event&subject_id=" + models.NewID().String()
		r.do("POST", gone, r.leader(), pixel(), "Content-Type", "image/png").wantsFaults(http.StatusUnprocessableEntity, "/subject_id")
		r.do("POST", strings.Replace(gone, "palm_event", "checklist", 1), r.leader(), pixel(), "Content-Type", "image/png").wantsFaults(http.StatusUnprocessableEntity, "/subject_id")
		for path, most := range map[string]int{to: gear.MostOfAPhoto, "/api/v1/palms-to-avoid": wordsLimit} {
			media := "application/json"
			if path == to {
				media = "image/png"
			}
			for _, announced := range []int64{-1, 64 << 20} {
				body := &endless{}
				request := httptest.NewRequest("POST", path, io.NopCloser(body))
				request.ContentLength = announced
				request.Header.Set("Content-Type", media)
				request.Header.Set("Authorization", "Bearer "+r.leader().token)
				recorder := httptest.NewRecorder()
				r.handler.ServeHTTP(recorder, request)
				if recorder.Code != http.StatusRequestEntityTooLarge || body.read > 2*most {
					r.Errorf("%s: %d after %d bytes", path, recorder.Code, body.read)
				}
			}
		}
	})
}

// Whatever way somebody tries, there is no place for a charge for gear in what the API takes; the rulebooks name the provision by which it is refused.
func TestGearIsNeverCharged(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	issue := "/api/v1/gear-issues/" + r.ours.more["/api/v1/gear-issues"].String()
	r.do("POST", issue+"/return", r.leader(), object{"id": models.NewID(), "reason": "lost", "charge": "24.00"}).wantsFaults(http.StatusUnprocessableEntity, "/charge")
	r.do("POST", "/api/v1/gear-kinds", r.officer(), object{"id": models.NewID(), "kind": "gloves", "name": "Gloves", "protective": true, "price": "24.00"}).
		wantsFaults(http.StatusUnprocessableEntity, "/price")
	week := object{"id": "w", "rulebook": "us-ca", "week_start": "2026-02-15", "days": []object{{"date": "2026-02-16", "time": []object{{"kind": "hourly", "minutes": 480, "rate": "17.50"}}}}}
	r.do("POST", "/api/v1/calculations/worker-week", r.clerk(), week).wants(http.StatusOK)
	for field, value := range map[string]any{"deductions": []object{{"kind": "protective_gear", "amount": "24.00"}}, "bonuses": []object{{"kind": "gloves", "amount": "-24.00"}}} {
		charged := object{field: value}
		for name, said := range week {
			charged[name] = said
		}
		r.do("POST", "/api/v1/calculations/worker-week", r.clerk(), charged).wants(http.StatusUnprocessableEntity)
	}
	r.do("POST", "/api/v1/piece-rates", r.clerk(), object{"id": models.NewID(), "operation_id": r.ours.operation, "rate": "-1.00", "effective_on": "2026-03-01"}).
		wantsFaults(http.StatusUnprocessableEntity, "/rate")
	book := r.do("GET", "/api/v1/rulebooks/us-ca", r.as(models.RoleWorker), nil).wants(http.StatusOK)
	if !bytes.Contains(book.body, []byte("protective_gear")) || !bytes.Contains(book.body, []byte("Cal. Wage Order 14 sec. 9(B)")) {
		r.Error("California's book does not name the provision")
	}
}
