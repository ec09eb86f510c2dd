package handlers

import (
	"net/http"
	"strings"
	"testing"

	"github.com/google/uuid"

	"palmero/models"
)

func TestMyTallies(t *testing.T) {
	each(t, func(r *rig) {
		hand := models.NewID()
		sheet := r.ours.sheet()
		sheet["new_workers"] = []object{{"id": hand, "name": "Ana, of the morning crew"}}
		sheet["tallies"] = append(sheet["tallies"].([]object), r.ours.tally(hand, 33))
		r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusCreated)
		old := sheet["tallies"].([]object)[0]
		correction := r.ours.tally(r.ours.worker, 158)
		correction["supersedes"], correction["reason"], correction["workday"], correction["recorded_at"] = old["id"], "two were cut", workday, workday+"T18:00:00-08:00"
		r.do("POST", "/api/v1/tallies", r.clerk(), correction).wants(http.StatusCreated)

		var page struct{ Items []myTally }
		read := func(query string) []myTally {
			r.Helper()
			page.Items = nil
			r.do("GET", "/api/v1/my/tallies"+query, r.worker(), nil).wants(http.StatusOK).into(&page)
			return page.Items
		}
		if got := read(""); len(got) != 3 {
			r.Fatalf("before the hand is settled: %+v", got)
		}
		v := r.do("GET", "/api/v1/workers/"+hand.String(), r.clerk(), nil).object()
		settled := object{"number": v["number"], "name": v["name"], "language": "es", "started_on": v["started_on"], "provisional": true, "same_as": r.ours.worker}
		r.do("PUT", "/api/v1/workers/"+hand.String(), r.clerk(), settled, "If-Match", `"1"`).wants(http.StatusOK)
		got := read("?from=2026-02-23&to=2026-02-23")
		if len(got) != 4 {
			r.Fatalf("after the hand is settled: %+v", got)
		}
		first, second, part, corrected := got[0], got[1], got[2], got[3]
		if first.Pieces != 160_000 || first.Block != "B-07" || first.Operation != "pollination" || first.Unit != "bunch" || first.Part != nil ||
			first.SupersededBy == nil || *first.SupersededBy != correction["id"].(uuid.UUID) || first.RecordedBy != "The crew_lead" {
			r.Errorf("%+v", first)
		}
		if second.Pieces != 33_000 || part.Part == nil || part.Part.Heads == nil || *part.Part.Heads != 2 || part.Pieces != 81_000 {
			r.Errorf("%+v, %+v", second, part)
		}
		if corrected.Pieces != 158_000 || corrected.SupersededBy != nil || corrected.Reason != "two were cut" {
			r.Errorf("%+v", corrected)
		}
		if got := read("?from=2026-02-24"); len(got) != 0 {
			r.Errorf("%+v", got)
		}
		r.do("GET", "/api/v1/my/tallies?from=soon&to=2026-13-01&worker_id=1", r.worker(), nil).wantsFaults(http.StatusBadRequest, "worker_id")
		r.do("GET", "/api/v1/my/tallies?from=soon&to=2026-13-01", r.worker(), nil).wantsFaults(http.StatusBadRequest, "from", "to")
		r.do("GET", "/api/v1/my/tallies", r.lead(), nil).wants(http.StatusOK).into(&page)
		if len(page.Items) != 1 {
			r.Errorf("the lead's own: %+v", page.Items)
		}
	})
}

func TestMyWeek(t *testing.T) {
	each(t, func(r *rig) {
		sheet := r.ours.sheet()
		open := entry(r.ours.lead, workday, "hourly", "15:00", "16:00")
		delete(open, "end")
		sheet["time"] = append(sheet["time"].([]object), open)
		r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusCreated)

		var week myWeekSoFar
		r.do("GET", "/api/v1/my/week", r.worker(), nil).wants(http.StatusOK).into(&week)
		if week.WeekStart.String() != "2026-03-01" || week.WeekEnd.String() != "2026-03-07" || week.Statement != nil || week.Held {
			r.Errorf("this week: %+v", week)
		}
		r.do("GET", "/api/v1/my/week?week_start="+payWeek, r.worker(), nil).wants(http.StatusOK).into(&week)
		if week.Held || week.Statement == nil || week.Statement.Totals.Gross != 240_61 || week.Statement.Lines[0].Basis != "160 racimos × $1.15" {
			r.Errorf("the worker's week: %+v", week)
		}
		held := r.do("GET", "/api/v1/my/week?week_start="+payWeek, r.lead(), nil).wants(http.StatusOK)
		held.into(&week)
		if !week.Held || len(week.Problems) == 0 || !strings.Contains(string(held.body), "A time entry of this day has no end.") {
			r.Errorf("the lead's week: %s", held.body)
		}
		r.do("GET", "/api/v1/my/week?week_start=2026-02-24", r.worker(), nil).wantsFaults(http.StatusBadRequest, "week_start")
		r.do("GET", "/api/v1/my/week?week_start=x", r.worker(), nil).wantsFaults(http.StatusBadRequest, "week_start")
	})
}
