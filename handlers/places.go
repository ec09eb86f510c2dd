package handlers

import (
	"net/http"
	"slices"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/heatday"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// Who sees to the places and days of the work.
var (
	guards  = []models.Role{models.RoleSafetyOfficer, models.RoleAdministrator}
	onGuard = []models.Role{models.RoleCrewLead, models.RoleSafetyOfficer, models.RoleAdministrator}
)

// placeRoutes: where nobody may enter, power lines, the heat and what is ready for it.
func placeRoutes() []Route {
	standing := byFlag("standing", models.Standing)
	return slices.Concat(
		evidence(staff, onGuard, recorded[models.EntryRestrictionContent]{
			path: "/api/v1/entry-restrictions", filters: []filter{byID("block_id"), byMoment("at", models.RestrictedAt), standing}, record: models.Record[models.EntryRestrictionContent],
		}),
		kept[models.PowerLineContent]{
			path: "/api/v1/power-lines", read: staff, write: guards, filters: []filter{byID("block_id")},
			create: creating(models.Create[models.PowerLineContent]), update: updating(models.Update[models.PowerLineContent]),
		}.routes(),
		evidence(staff, onGuard, recorded[models.HeatReadingContent]{
			path: "/api/v1/heat-readings", record: models.Record[models.HeatReadingContent],
			filters: []filter{byID("garden_id"), byMoment("read_from", models.ReadFrom), byMoment("read_before", models.ReadBefore), standing},
		}),
		evidence(onGuard, onGuard, recorded[models.HeatPlanContent]{
			path: "/api/v1/heat-plans", record: models.Record[models.HeatPlanContent],
			filters: []filter{byID("garden_id"), byDay("from", models.WorkedFrom), byDay("to", models.WorkedThrough), standing},
		}),
		[]Route{
			{Method: "POST", Path: "/api/v1/heat-imports", Roles: guards, Status: http.StatusCreated, handle: taking(postHeatImport)},
			{Method: "GET", Path: "/api/v1/gardens/{id}/heat-day", Roles: onGuard, Query: []string{"day", "crew_id"}, Status: http.StatusOK, handle: heatDay},
			{Method: "GET", Path: "/api/v1/cool-downs", Roles: staff, Query: []string{"day", "garden_id"}, Status: http.StatusOK, handle: listCoolDowns},
		},
	)
}

// evidence are the routes of a kind of record that is never changed, whose chains of corrections are for those who answer for safety.
func evidence[C any](read, write []models.Role, r recorded[C]) []Route {
	return []Route{
		{Method: "GET", Path: r.path, Roles: read, Query: pageQuery(r.filters), Status: http.StatusOK, handle: r.list},
		{Method: "POST", Path: r.path, Roles: write, Most: noteLimit, Status: http.StatusCreated, handle: taking(r.post)},
		{Method: "GET", Path: r.path + "/{id}", Roles: read, Status: http.StatusOK, handle: r.get},
		{Method: "GET", Path: r.path + "/{id}/chain", Roles: guards, Status: http.StatusOK, handle: r.chain},
	}
}

// noteLimit is how many bytes a single record of safety may have: anything longer is refused before it is read whole.
const noteLimit = 32 << 10

// byMoment filters by an instant.
func byMoment(name string, keeps func(time.Time) condition) filter {
	return filter{name, func(value string) (condition, *payroll.Fault) {
		at, err := time.Parse(time.RFC3339, value)
		if err != nil {
			return nil, &payroll.Fault{Key: "input.not_time", Terms: payroll.Terms{"value": value}}
		}
		return keeps(at), nil
	}}
}

func postHeatImport(rq *request, in heatday.Import) (*reply, error) {
	var kept *models.HeatImport
	var repeated bool
	err := rq.in(func(tx *models.Tx) (err error) {
		kept, repeated, err = heatday.TakeIn(tx, in)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: kept, repeated: repeated}, nil
}

// given is an identifier that was asked for, nil where none was.
func given(id uuid.UUID) *uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return &id
}

// heatDuty is a duty in the heat with its words.
type heatDuty struct {
	heatday.Duty
	Text string `json:"text"`
}

// watchedWorker is somebody to be watched closely, with the reason in words.
type watchedWorker struct {
	heatday.Watched
	Text string `json:"text"`
}

// heatDayPlan is a garden's day in the heat in the reader's language.
type heatDayPlan struct {
	*heatday.Plan
	Duties  []heatDuty      `json:"duties"`
	Watched []watchedWorker `json:"watched"`
	Advice  string          `json:"advice"`
}

func heatDay(rq *request) (*reply, error) {
	garden, err := rq.id()
	if err != nil {
		return nil, err
	}
	var day dated.Date
	var crew uuid.UUID
	if _, _, err := rq.page(readsDay("day", &day), readsID("crew_id", &crew)); err != nil {
		return nil, err
	}
	var plan *heatday.Plan
	err = rq.view(func(tx *models.Tx) (err error) {
		if day, err = dayAsked(tx, day); err == nil {
			plan, err = heatday.FindPlan(tx, figuring.Books(), garden, day, given(crew))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(rq.showHeatDay(plan)), nil
}

func (rq *request) showHeatDay(plan *heatday.Plan) heatDayPlan {
	shown := heatDayPlan{Plan: plan, Duties: make([]heatDuty, len(plan.Duties)), Watched: make([]watchedWorker, len(plan.Watched)), Advice: rq.say("safety.advice", nil)}
	for i, d := range plan.Duties {
		shown.Duties[i] = heatDuty{d, rq.say("duty."+d.Code, d.Terms)}
	}
	for i, w := range plan.Watched {
		shown.Watched[i] = watchedWorker{w, rq.say(w.Key(), payroll.Terms{"day": w.Day, "days": w.Days})}
	}
	return shown
}

// coolDownRow is a worker's cool-down rests of a day.
type coolDownRow struct {
	heatday.Owed
	Unrecorded bool `json:"unrecorded"` // whether one was due that is recorded neither as taken nor as not provided
}

func listCoolDowns(rq *request) (*reply, error) {
	var day dated.Date
	var garden uuid.UUID
	if _, _, err := rq.page(readsDay("day", &day), readsID("garden_id", &garden)); err != nil {
		return nil, err
	}
	var owed []heatday.Owed
	err := rq.view(func(tx *models.Tx) (err error) {
		if day, err = dayAsked(tx, day); err == nil {
			owed, err = heatday.FindOwed(tx, figuring.Books(), day, given(garden))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	rows := make([]coolDownRow, len(owed))
	for i := range owed {
		rows[i] = coolDownRow{owed[i], owed[i].Unrecorded()}
	}
	return plain(page[coolDownRow]{Items: rows}), nil
}

// dayAsked is the day that is asked for, or the workday that it is now.
func dayAsked(tx *models.Tx, asked dated.Date) (dated.Date, error) {
	if !asked.IsZero() {
		return asked, nil
	}
	return heatday.Today(tx)
}
