package handlers

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
)

// The pay week of these tests is the one that ended on the Saturday before the rig's clock begins.
const (
	payWeek = "2026-02-22"
	workday = "2026-02-23"
)

// entry is a line of time on a workday, by the garden's clock.
func entry(worker uuid.UUID, day, kind, start, end string) object {
	at := func(clock string) string { return day + "T" + clock + ":00-08:00" }
	return object{"id": models.NewID(), "worker_id": worker, "kind": kind, "start": at(start), "end": at(end)}
}

// fullDay is eight hours of piece work with its breaks.
func fullDay(worker uuid.UUID, day string) []object {
	return []object{
		entry(worker, day, "piece", "06:00", "08:00"), entry(worker, day, "rest", "08:00", "08:10"), entry(worker, day, "piece", "08:10", "10:30"),
		entry(worker, day, "meal", "10:30", "11:00"), entry(worker, day, "piece", "11:00", "13:00"), entry(worker, day, "rest", "13:00", "13:10"),
		entry(worker, day, "piece", "13:10", "14:30"),
	}
}

func (e *estate) tally(worker uuid.UUID, pieces any) object {
	return object{"id": models.NewID(), "worker_id": worker, "block_id": e.block, "operation_id": e.operation, "pieces": pieces}
}

// sheet is the crew's Monday: both worked a full day, the worker counted 160 bunches, and the two made a lot of 81 together.
func (e *estate) sheet() object {
	return object{
		"id": models.NewID(), "crew_id": e.crew, "workday": workday, "garden_id": e.garden,
		"recorded_at": workday + "T15:00:00-08:00", "roll": []uuid.UUID{e.worker, e.lead},
		"time":    append(fullDay(e.worker, workday), fullDay(e.lead, workday)...),
		"tallies": []object{e.tally(e.worker, 160)},
		"lots": []object{{
			"id": models.NewID(), "block_id": e.block, "operation_id": e.operation, "pieces": "81", "parting": "heads",
			"parts": []object{{"id": models.NewID(), "worker_id": e.worker}, {"id": models.NewID(), "worker_id": e.lead}},
		}},
		"breaks": []object{{"id": models.NewID(), "worker_id": e.lead, "fact": "rest_not_provided"}},
	}
}

const sheetsPath = "/api/v1/crew-sheets"

func (r *rig) lead() *person   { return r.as(models.RoleCrewLead) }
func (r *rig) worker() *person { return r.as(models.RoleWorker) }

// outcomes are what became of the lines of a sheet.
func (a *answer) outcomes() []string {
	a.Helper()
	var receipt struct {
		Lines []struct{ Pointer, Outcome string }
	}
	a.into(&receipt)
	var all []string
	for _, l := range receipt.Lines {
		all = append(all, l.Pointer+" "+l.Outcome)
	}
	return all
}

func TestASheetGoesInOnce(t *testing.T) {
	each(t, func(r *rig) {
		sheet := r.ours.sheet()
		first := r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusCreated)
		if got := first.outcomes(); len(got) != 17 || slices.ContainsFunc(got, func(s string) bool { return !strings.HasSuffix(s, " recorded") }) {
			r.Errorf("outcomes %q", got)
		}
		if first.header.Get("Location") != fmt.Sprint(sheetsPath, "/", sheet["id"]) || first.header.Get("Repeated") != "" {
			r.Errorf("%v", first.header)
		}
		again := r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusOK)
		if again.header.Get("Repeated") != "true" || again.outcomes()[16] != "/breaks/0 repeated" {
			r.Errorf("again: %v %q", again.header, again.outcomes())
		}
		sheet["tallies"] = append(sheet["tallies"].([]object), r.ours.tally(r.ours.lead, "12.5"))
		more := r.do("POST", sheetsPath, r.clerk(), sheet).wants(http.StatusCreated).outcomes()
		if !slices.Contains(more, "/tallies/0 repeated") || !slices.Contains(more, "/tallies/1 recorded") {
			r.Errorf("with one line more: %q", more)
		}
		sheet["tallies"].([]object)[0]["pieces"] = 161
		r.do("POST", sheetsPath, r.lead(), sheet).wantsFaults(http.StatusUnprocessableEntity, "/tallies/0/id")
		sheet["workday"] = "2026-02-24"
		r.do("POST", sheetsPath, r.lead(), sheet).wantsKey(http.StatusConflict, "problem.sheet_reused")
		if got := r.do("GET", "/api/v1/tallies", r.clerk(), nil).items(); len(got) != 4 {
			r.Errorf("%d tallies kept: %v", len(got), got)
		}
	})
}

func TestASheetSentTwiceAtOnce(t *testing.T) {
	each(t, func(r *rig) {
		sheet := r.ours.sheet()
		var wait sync.WaitGroup
		statuses := make([]int, 4)
		for i := range statuses {
			wait.Go(func() { statuses[i] = r.do("POST", sheetsPath, r.lead(), sheet).status })
		}
		wait.Wait()
		slices.Sort(statuses)
		if diff := cmp.Diff([]int{200, 200, 200, 201}, statuses); diff != "" {
			r.Error(diff)
		}
		if got := r.do("GET", "/api/v1/tallies", r.clerk(), nil).items(); len(got) != 3 {
			r.Errorf("%d tallies kept", len(got))
		}
	})
}

func TestASheetIsReadWithItsCorrections(t *testing.T) {
	each(t, func(r *rig) {
		sheet := r.ours.sheet()
		r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusCreated)
		old := sheet["tallies"].([]object)[0]
		correction := r.ours.tally(r.ours.worker, 150)
		correction["supersedes"], correction["reason"] = old["id"], "counted twice in row 4"
		correcting := r.ours.sheet()
		correcting["tallies"] = []object{correction}
		for _, list := range []string{"time", "lots", "breaks"} {
			delete(correcting, list)
		}
		r.do("POST", sheetsPath, r.lead(), correcting).wants(http.StatusCreated)

		again := r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusOK)
		var receipt struct {
			Lines []struct {
				Pointer      string
				SupersededBy uuid.UUID `json:"superseded_by"`
			}
		}
		if again.into(&receipt); receipt.Lines[14].Pointer != "/tallies/0" || receipt.Lines[14].SupersededBy != correction["id"] {
			r.Errorf("the first sheet again, after the correction: %s", again.body)
		}
		var kept struct {
			Roll        []uuid.UUID
			TimeEntries []object `json:"time_entries"`
			Tallies     []object
			Lots        []object
			Breaks      []object
		}
		r.do("GET", fmt.Sprint(sheetsPath, "/", sheet["id"]), r.lead(), nil).wants(http.StatusOK).into(&kept)
		if len(kept.TimeEntries) != 14 || len(kept.Tallies) != 3 || len(kept.Lots) != 1 || len(kept.Breaks) != 1 || len(kept.Roll) != 2 {
			r.Errorf("%+v", kept)
		}
		if kept.Tallies[0]["superseded_by"] != correction["id"].(uuid.UUID).String() {
			r.Errorf("%v", kept.Tallies[0])
		}
		second := r.ours.tally(r.ours.worker, 140)
		second["supersedes"], second["reason"], second["workday"], second["recorded_at"] = old["id"], "no, 140", workday, workday+"T16:00:00-08:00"
		r.do("POST", "/api/v1/tallies", r.clerk(), second).wantsFaults(http.StatusUnprocessableEntity, "/supersedes")
		second["supersedes"] = correction["id"]
		r.do("POST", "/api/v1/tallies", r.clerk(), second).wants(http.StatusCreated)
		if got := r.do("POST", "/api/v1/tallies", r.clerk(), second).wants(http.StatusOK); got.header.Get("Repeated") != "true" {
			r.Errorf("%v", got.header)
		}
		for query, want := range map[string]int{
			"standing=true": 3, "standing=false": 2, "from=2026-02-24": 0, "to=2026-02-22": 0, "from=2026-02-23&to=2026-02-23": 5, "worker_id=" + r.ours.lead.String(): 1,
		} {
			if got := r.do("GET", "/api/v1/tallies?"+query, r.clerk(), nil).items(); len(got) != want {
				r.Errorf("%s: %d tallies, want %d", query, len(got), want)
			}
		}
		r.do("GET", fmt.Sprint("/api/v1/tallies/", second["id"]), r.clerk(), nil).wants(http.StatusOK)
	})
}

// badSheet has one of each thing that can be wrong with a line; the pointers stand in the order in which they are told.
func badSheet(r *rig) (sheet object, pointers []string) {
	e := r.ours
	stranger := models.NewID()
	overlapping := entry(e.worker, workday, "piece", "07:00", "09:00")
	backwards := entry(e.worker, workday, "piece", "16:00", "15:00")
	tomorrow := entry(e.worker, "2026-03-06", "piece", "06:00", "07:00")
	kind := entry(e.worker, workday, "nap", "15:00", "15:30")
	theirs := entry(r.theirs.worker, workday, "piece", "06:00", "07:00")
	theirs["block_id"] = r.theirs.block
	both := entry(e.lead, workday, "piece", "15:00", "16:00")
	both["minutes"] = 60
	twice := entry(e.lead, workday, "piece", "17:00", "18:00")
	first := entry(e.worker, workday, "piece", "06:00", "08:00")
	twice["id"] = first["id"]
	negative, absurd, unknown := e.tally(e.worker, -1), e.tally(e.worker, 999_999), e.tally(stranger, 1)
	unknown["operation_id"] = r.theirs.operation
	noReason, nothing := e.tally(e.worker, 1), e.tally(e.worker, 1)
	noReason["supersedes"] = models.NewID()
	nothing["supersedes"], nothing["reason"] = models.NewID(), strings.Repeat("a", 501)
	lot := object{"id": models.NewID(), "block_id": e.block, "operation_id": e.operation, "pieces": 10, "parting": "share", "parts": []object{
		{"id": models.NewID(), "worker_id": e.worker, "share": "0.6"}, {"id": models.NewID(), "worker_id": e.worker, "share": "0.3"},
		{"id": models.NewID(), "worker_id": e.lead, "minutes": 5},
	}}
	sheet = object{
		"id": models.NewID(), "crew_id": e.crew, "workday": workday, "garden_id": e.garden, "recorded_at": workday + "T15:00:00-08:00",
		"roll": []uuid.UUID{e.worker, r.theirs.worker}, "new_workers": []object{{"id": models.NewID(), "name": " ", "language": "fr"}},
		"time":    []object{first, overlapping, backwards, tomorrow, kind, theirs, both, twice},
		"tallies": []object{negative, absurd, unknown, noReason, nothing},
		"lots":    []object{lot, {"id": models.NewID(), "block_id": e.block, "operation_id": e.operation, "pieces": 1, "parting": "luck", "parts": []object{}}},
		"breaks":  []object{{"id": models.NewID(), "worker_id": stranger, "fact": "no_coffee"}},
	}
	return sheet, []string{
		"/new_workers/0/name", "/new_workers/0/language", "/roll/1", "/time/1/start", "/time/2/end", "/time/3/start", "/time/3/start", "/time/4/kind",
		"/time/5/worker_id", "/time/5/block_id", "/time/6", "/time/7/id", "/tallies/0/pieces", "/tallies/1/pieces", "/tallies/2/worker_id",
		"/tallies/2/operation_id", "/tallies/3/reason", "/tallies/3/supersedes", "/tallies/4/reason", "/tallies/4/supersedes", "/lots/0/parts/1/worker_id",
		"/lots/0/parts/2", "/lots/0/parts", "/lots/1/parting", "/breaks/0/fact", "/breaks/0/worker_id",
	}
}

func TestEveryFaultOfASheetAtOnce(t *testing.T) {
	each(t, func(r *rig) {
		sheet, want := badSheet(r)
		told := map[string][]string{}
		for _, lang := range []string{"en", "es"} {
			a := r.do("POST", sheetsPath, r.clerk(), sheet, "Accept-Language", lang).wants(http.StatusUnprocessableEntity)
			var got []string
			for _, e := range a.problem().Errors {
				got = append(got, *e.Pointer)
				told[lang] = append(told[lang], e.Detail)
			}
			slices.Sort(got)
			sorted := slices.Sorted(slices.Values(want))
			if diff := cmp.Diff(sorted, got); diff != "" {
				r.Fatalf("%s pointers (-want +got):\n%s\n%s", lang, diff, a.body)
			}
		}
		for i, english := range told["en"] {
			if english == told["es"][i] {
				r.Errorf("said alike in both languages: %q", english)
			}
		}
		for _, path := range []string{sheetsPath, "/api/v1/tallies", "/api/v1/time-entries"} {
			if got := r.do("GET", path, r.clerk(), nil).items(); len(got) != 0 {
				r.Errorf("%s: %d were kept", path, len(got))
			}
		}
		if got := r.do("GET", "/api/v1/workers?provisional=true", r.clerk(), nil).items(); len(got) != 0 {
			r.Errorf("a hand was kept: %v", got)
		}
	})
}

// What is wrong with the sheet itself is told together with what is wrong with its lines, and refuses all of it.
func TestASheetWithoutItsDay(t *testing.T) {
	each(t, func(r *rig) {
		sheet := r.ours.sheet()
		sheet["id"], sheet["crew_id"], sheet["workday"] = uuid.Nil, r.theirs.crew, "2062-02-23"
		sheet["recorded_at"], sheet["garden_id"] = "1970-01-01T00:00:00Z", r.theirs.garden
		sheet["tallies"].([]object)[0]["pieces"] = -3
		delete(sheet, "time")
		for _, accept := range []string{"whole", "good_lines"} {
			r.do("POST", sheetsPath+"?accept="+accept, r.clerk(), sheet).
				wantsFaults(http.StatusUnprocessableEntity, "/id", "/crew_id", "/workday", "/garden_id", "/recorded_at", "/tallies/0/pieces")
		}
		r.do("POST", sheetsPath+"?accept=some", r.clerk(), r.ours.sheet()).wantsFaults(http.StatusBadRequest, "accept")
		r.do("POST", sheetsPath, r.clerk(), `{"id":1,"tallies":[{"Pieces":1,"pieces":"x","pieces":2}],"time":{}}`).wants(http.StatusUnprocessableEntity)
	})
}

func TestGoodLines(t *testing.T) {
	each(t, func(r *rig) {
		sheet := r.ours.sheet()
		hand := models.NewID()
		sheet["new_workers"] = []object{{"id": hand, "name": "Chava, from the other farm"}}
		bad := r.ours.tally(models.NewID(), 5)
		sheet["tallies"] = append(sheet["tallies"].([]object), bad, r.ours.tally(hand, 20))
		sheet["roll"] = []uuid.UUID{r.ours.worker, models.NewID()}
		r.do("POST", sheetsPath, r.lead(), sheet).wantsFaults(http.StatusUnprocessableEntity, "/roll/1", "/tallies/1/worker_id")

		a := r.do("POST", sheetsPath+"?accept=good_lines", r.lead(), sheet, "Accept-Language", "es").wants(http.StatusCreated)
		var receipt struct{ Errors []FaultEntry }
		a.into(&receipt)
		if len(receipt.Errors) != 2 || *receipt.Errors[1].Pointer != "/tallies/1/worker_id" || !strings.Contains(receipt.Errors[1].Detail, "registro") {
			r.Errorf("%s", a.body)
		}
		if got := a.outcomes(); !slices.Contains(got, "/tallies/1 refused") || !slices.Contains(got, "/tallies/2 recorded") || !slices.Contains(got, "/new_workers/0 recorded") {
			r.Errorf("%q", got)
		}
		again := r.do("POST", sheetsPath+"?accept=good_lines", r.lead(), sheet).wants(http.StatusCreated)
		if again.header.Get("Repeated") != "" || !slices.Contains(again.outcomes(), "/tallies/2 repeated") {
			r.Errorf("again, with the bad line still in: %v %q", again.header, again.outcomes())
		}
		var kept struct{ Roll []uuid.UUID }
		r.do("GET", fmt.Sprint(sheetsPath, "/", sheet["id"]), r.lead(), nil).into(&kept)
		if diff := cmp.Diff([]uuid.UUID{r.ours.worker}, kept.Roll); diff != "" {
			r.Error(diff)
		}
	})
}

// Another crew of ours, with a lead of its own.
func (r *rig) secondCrew() (crew uuid.UUID, lead *person) {
	r.Helper()
	var member uuid.UUID
	lead = &person{name: r.lead().name}
	lead.name.Account = "second-lead"
	r.in(r.ours.Scope, func(tx *models.Tx) error {
		crew = keep(r, tx, models.Create[models.CrewContent], models.CrewContent{Name: "Evening crew"})
		member = keep(r, tx, models.Create[models.WorkerContent], worker("Carlos Peña"))
		keep(r, tx, models.Create[models.CrewMemberContent], models.CrewMemberContent{CrewID: crew, WorkerID: member, Leads: true, FromDate: day("2026-02-24")})
		lead.account = keep(r, tx, models.Create[models.AccountContent], models.AccountContent{
			SignInName: "second-lead", Name: "The second lead", Role: models.RoleCrewLead, Language: "en", WorkerID: &member,
		})
		return nil
	})
	r.enroll(r.ours, lead)
	return crew, lead
}

func TestALeadSendsTheirOwnCrewsSheets(t *testing.T) {
	each(t, func(r *rig) {
		crew, other := r.secondCrew()
		sheet := r.ours.sheet()
		r.do("POST", sheetsPath, other, sheet).wantsKey(http.StatusForbidden, "problem.not_your_crew")
		r.do("POST", sheetsPath, r.lead(), sheet).wants(http.StatusCreated)
		r.do("GET", fmt.Sprint(sheetsPath, "/", sheet["id"]), other, nil).wants(http.StatusNotFound)
		if got := r.do("GET", sheetsPath, other, nil).items(); len(got) != 0 {
			r.Errorf("another crew's sheets are told: %v", got)
		}
		for _, who := range []*person{r.lead(), r.clerk(), r.admin(), r.as(models.RoleSafetyOfficer)} {
			if got := r.do("GET", sheetsPath+"?from=2026-02-23&to=2026-02-23&crew_id="+r.ours.crew.String(), who, nil).items(); len(got) != 1 {
				r.Errorf("%s reads %v", who.name.Account, got)
			}
		}
		own := r.ours.sheet()
		own["crew_id"] = crew
		r.do("POST", sheetsPath, other, own).wantsKey(http.StatusForbidden, "problem.not_your_crew") // the day before leading began
		correction := r.ours.tally(r.ours.worker, 1)
		correction["supersedes"], correction["reason"] = sheet["tallies"].([]object)[0]["id"], "not theirs to correct"
		foreign := object{
			"id": models.NewID(), "crew_id": crew, "workday": "2026-02-24", "garden_id": r.ours.garden, "recorded_at": "2026-02-24T15:00:00-08:00",
			"tallies": []object{correction},
		}
		r.do("POST", sheetsPath, other, foreign).wantsFaults(http.StatusUnprocessableEntity, "/tallies/0/supersedes")
		r.do("POST", sheetsPath, r.clerk(), foreign).wants(http.StatusCreated)
	})
}

func TestSingleTimeEntries(t *testing.T) {
	each(t, func(r *rig) {
		const path = "/api/v1/time-entries"
		single := func(kind, start, end string) object {
			e := entry(r.ours.worker, workday, kind, start, end)
			e["workday"], e["garden_id"], e["recorded_at"] = workday, r.ours.garden, workday+"T15:00:00-08:00"
			return e
		}
		first := single("hourly", "06:00", "08:00")
		r.do("POST", path, r.clerk(), first).wants(http.StatusCreated)
		r.do("POST", path, r.clerk(), first).wants(http.StatusOK)
		r.do("POST", path, r.clerk(), single("hourly", "07:00", "09:00")).wantsFaults(http.StatusUnprocessableEntity, "/start")
		bad := single("hourly", "23:30", "08:00")
		bad["id"], bad["garden_id"], bad["recorded_at"], bad["worker_id"] = "ffffffff-ffff-ffff-ffff-ffffffffffff", r.theirs.garden, "2026-03-09T00:00:00Z", r.theirs.worker
		r.do("POST", path, r.clerk(), bad).wantsFaults(http.StatusUnprocessableEntity, "/id", "/garden_id", "/recorded_at", "/worker_id", "/end")
		correction := single("hourly", "06:00", "08:30")
		correction["supersedes"], correction["reason"] = first["id"], "left later"
		r.do("POST", path, r.clerk(), correction).wants(http.StatusCreated)
		first["end"] = workday + "T08:15:00-08:00"
		r.do("POST", path, r.clerk(), first).wantsFaults(http.StatusUnprocessableEntity, "/id")
		open := single("piece", "09:00", "10:00")
		delete(open, "end")
		r.do("POST", path, r.clerk(), open).wants(http.StatusCreated)
		second := single("piece", "10:00", "11:00")
		delete(second, "end")
		r.do("POST", path, r.clerk(), second).wantsFaults(http.StatusUnprocessableEntity, "/end")
		if got := r.do("GET", path+"?standing=true&worker_id="+r.ours.worker.String(), r.admin(), nil).items(); len(got) != 2 {
			r.Errorf("%v", got)
		}
	})
}
