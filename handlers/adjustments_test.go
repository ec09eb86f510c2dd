package handlers

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"palmero/models"
)

func (r *rig) approved(v run) run {
	r.Helper()
	return r.do("POST", v.path("/approve"), r.admin(), nil, "If-Match", v.match()).wants(http.StatusOK).run()
}

// paid pays all that stands of an approved run by check.
func (r *rig) paid(v run) run {
	r.Helper()
	payments := []object{}
	for _, b := range r.briefs(v) {
		if b.Void == nil {
			payments = append(payments, object{"statement_id": b.ID, "paid_on": "2026-03-04", "method": "check", "reference": "1001"})
		}
	}
	return r.do("POST", v.path("/payments"), r.clerk(), object{"payments": payments}).wants(http.StatusOK).run()
}

// reviewed reviews the pay week.
func (r *rig) reviewed() []difference {
	r.Helper()
	var found review
	r.do("POST", adjustmentsPath+"/reviews", r.clerk(), object{"week_start": payWeek}).wants(http.StatusOK).into(&found)
	return found.Differences
}

// lateTally records a tally of the worker's for Monday, and returns what the review of the week finds.
func (r *rig) lateTally(pieces int) difference {
	r.Helper()
	late := r.ours.tally(r.ours.worker, pieces)
	late["workday"], late["recorded_at"] = workday, workday+"T17:00:00-08:00"
	r.do("POST", "/api/v1/tallies", r.clerk(), late).wants(http.StatusCreated)
	found := r.reviewed()
	if len(found) != 1 || found[0].AdjustmentID == nil {
		r.Fatalf("the review finds %+v", found)
	}
	return found[0]
}

func adjustmentPath(d difference) string { return fmt.Sprint(adjustmentsPath, "/", d.AdjustmentID) }

func TestALateTallyIsPaidByACorrection(t *testing.T) {
	each(t, func(r *rig) {
		_, v := r.drafted()
		r.paid(r.approved(v))
		if found := r.reviewed(); len(found) != 0 {
			r.Fatalf("a week that did not move differs: %+v", found)
		}
		// By hand: 20 × 1.15 = 23.00 more; 20 rest minutes at 253.58 / 460 min = 11.03 (11.0252), from 10.03.
		d := r.lateTally(20)
		if d.Worker.Name != "Ana Rojas" || d.Paid != 240_61 || d.Now == nil || *d.Now != 264_61 || d.Parts == nil || *d.Parts != (parts{Records: 24_00}) {
			r.Errorf("%+v", d)
		}
		if len(d.Lines) != 2 || d.Lines[0].Was != 184_00 || d.Lines[0].Now != 207_00 || !strings.HasSuffix(d.Lines[0].Text, ": pollination") || d.Lines[1].Now-d.Lines[1].Was != 1_00 {
			r.Errorf("line by line: %+v", d.Lines)
		}
		if again := r.reviewed(); len(again) != 1 || *again[0].AdjustmentID != *d.AdjustmentID {
			r.Errorf("the same review again: %+v", again)
		}
		path := adjustmentPath(d)
		if a := r.do("GET", path, r.admin(), nil, "Accept-Language", "es").wants(http.StatusOK); a.header.Get("ETag") != `"1"` || !strings.Contains(string(a.body), ": polinización") {
			r.Errorf("%v %s", a.header, a.body)
		}
		accept := object{"state": "accepted", "reason": "sheet found in the truck"}
		r.do("POST", path+"/decision", r.clerk(), accept).wants(http.StatusPreconditionRequired)
		decided := r.do("POST", path+"/decision", r.clerk(), accept, "If-Match", `"1"`).wants(http.StatusOK)
		if o := decided.object(); o["amount"] != "24.00" || o["state"] != "accepted" || fmt.Sprint(o["chosen"]) != "[records]" || decided.header.Get("ETag") != `"2"` {
			r.Errorf("%s", decided.body)
		}
		r.do("POST", path+"/decision", r.clerk(), accept, "If-Match", `"1"`).wantsKey(http.StatusPreconditionFailed, "problem.stale_version")
		if found := r.reviewed(); len(found) != 0 {
			r.Errorf("after the acceptance: %+v", found)
		}

		correction := object{"id": models.NewID(), "kind": "correction", "week_start": "2026-03-01"}
		run := r.approved(r.do("POST", runsPath, r.clerk(), correction).wants(http.StatusCreated).run())
		briefs := r.briefs(run)
		if len(briefs) != 1 || briefs[0].Totals.Gross != 24_00 {
			r.Fatalf("%+v", briefs)
		}
		r.do("POST", path+"/decision", r.clerk(), object{"state": "carried", "reason": "later"}, "If-Match", `"2"`).wantsKey(http.StatusConflict, "problem.adjustment_paid")
		statement := fmt.Sprint("/api/v1/my/statements/", briefs[0].ID)
		for lang, want := range map[string]string{"en": "Feb 22, 2026", "es": "22 feb 2026"} {
			var whole wholeStatement
			r.do("GET", statement, r.worker(), nil, "Accept-Language", lang).wants(http.StatusOK).into(&whole)
			if lines := whole.Statement.Lines; len(lines) != 1 || !strings.Contains(lines[0].Basis, want) || lines[0].Authority == "" {
				r.Errorf("%s: the line does not name its week: %+v", lang, lines)
			}
		}
		if r.paid(run).State != "paid" {
			r.Error("the correction is not paid")
		}
		if again := r.do("POST", runsPath, r.clerk(), correction).wants(http.StatusOK); again.run().State != "paid" {
			r.Errorf("the correction drafted again: %s", again.body)
		}
	})
}

func TestAdjustmentsAreDecided(t *testing.T) {
	each(t, func(r *rig) {
		r.do("POST", adjustmentsPath+"/reviews", r.clerk(), object{"week_start": "2026-02-24"}).wantsFaults(http.StatusUnprocessableEntity, "/week_start")
		r.do("POST", adjustmentsPath+"/reviews", r.clerk(), object{"week_start": "1026-02-22"}).wantsFaults(http.StatusUnprocessableEntity, "/week_start")
		sheet, v := r.drafted()
		r.approved(v)
		first, second := r.lateTally(20), r.lateTally(10)
		if *first.AdjustmentID == *second.AdjustmentID {
			r.Fatal("another difference is the same adjustment")
		}
		decide := func(d difference, body object, version string) *answer {
			return r.do("POST", adjustmentPath(d)+"/decision", r.clerk(), body, "If-Match", version)
		}
		decide(first, object{"state": "accepted", "reason": "x"}, `"2"`).wantsKey(http.StatusConflict, "problem.adjustment_overtaken")
		decide(second, object{"state": "paid", "parts": []string{"taxes"}, "reason": " "}, `"1"`).wantsFaults(http.StatusUnprocessableEntity, "/state", "/reason", "/parts/0")
		decide(second, object{"state": "accepted", "parts": []string{"rules", "engine"}, "reason": "x"}, `"1"`).wantsFaults(http.StatusUnprocessableEntity, "/parts")
		decide(second, object{"state": "carried", "reason": "ask the lead first"}, `"1"`).wants(http.StatusOK)
		decide(second, object{"state": "accepted", "reason": "the lead confirms it"}, `"2"`).wants(http.StatusOK)
		for query, want := range map[string]int{"": 2, "?week_start=" + payWeek: 2, "?week_start=2026-03-01": 0, "?limit=1": 1} {
			if got := r.do("GET", adjustmentsPath+query, r.admin(), nil).wants(http.StatusOK).items(); len(got) != want {
				r.Errorf("%s: %v", query, got)
			}
		}
		r.do("GET", adjustmentsPath+"?week_start=soon", r.admin(), nil).wantsFaults(http.StatusBadRequest, "week_start")
		r.do("GET", adjustmentsPath+"/1", r.admin(), nil).wants(http.StatusNotFound)

		// What is against the worker is told, and there is nothing to decide.
		tally := sheet["tallies"].([]object)[0]["id"]
		r.do("POST", "/api/v1/tallies", r.clerk(), correcting(tally, "counted twice", r.ours.tally(r.ours.worker, 60))).wants(http.StatusCreated)
		if found := r.reviewed(); len(found) != 1 || found[0].Parts == nil || found[0].Parts.Records >= 0 || found[0].AdjustmentID != nil {
			r.Errorf("a difference against the worker: %+v", found)
		}
		// What cannot be reckoned says why.
		open := entry(r.ours.worker, workday, "hourly", "15:00", "16:00")
		delete(open, "end")
		open["workday"], open["garden_id"], open["recorded_at"] = workday, r.ours.garden, workday+"T16:00:00-08:00"
		r.do("POST", "/api/v1/time-entries", r.clerk(), open).wants(http.StatusCreated)
		if found := r.reviewed(); len(found) != 1 || found[0].Now != nil || found[0].Parts != nil || len(found[0].Problems) != 1 || found[0].Problems[0].Code != "pay_problem.time_open" {
			r.Errorf("a week that is held: %+v", found)
		}
	})
}
