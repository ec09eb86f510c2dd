package handlers

import (
	"net/http"
	"slices"
	"sync"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/climbs"
	"palmero/payroll"
	"palmero/payroll/dated"
)

var (
	crewLeads      = []models.Role{models.RoleCrewLead}
	safetyOfficers = []models.Role{models.RoleSafetyOfficer}
)

var (
	filledFilters   = []filter{byID("crew_id"), byDay("from", models.WorkedFrom), byDay("to", models.WorkedThrough), byFlag("standing", models.Standing), byFlag("reviewed", models.Reviewed)}
	stopFilters     = []filter{byID("crew_id"), byDay("from", models.WorkedFrom), byDay("to", models.WorkedThrough), byFlag("lifted", models.Lifted)}
	overrideFilters = []filter{byID("crew_id"), byDay("from", models.WorkedFrom), byDay("to", models.WorkedThrough), byFlag("standing", models.Standing)}
)

// checklistRoutes: crew leads fill lists before a climb, the safety officer speaks on them, stops climbs and sets rules of the house aside.
func checklistRoutes() []Route {
	overrides := recorded[models.RuleOverrideContent]{path: "/api/v1/rule-overrides", filters: overrideFilters}
	return []Route{
		{Method: "GET", Path: "/api/v1/filled-checklists", Roles: staff, Query: pageQuery(filledFilters), Status: http.StatusOK, handle: listFilled},
		{Method: "POST", Path: "/api/v1/filled-checklists", Roles: crewLeads, Status: http.StatusCreated, handle: taking(postFilled)},
		{Method: "GET", Path: "/api/v1/filled-checklists/{id}", Roles: staff, Status: http.StatusOK, handle: getFilled},
		{Method: "GET", Path: "/api/v1/filled-checklists/{id}/chain", Roles: overseers, Status: http.StatusOK, handle: filledChain},
		{Method: "POST", Path: "/api/v1/filled-checklists/{id}/review", Roles: safetyOfficers, Status: http.StatusCreated, handle: taking(postReview)},
		{Method: "GET", Path: "/api/v1/stops", Roles: overseers, Query: pageQuery(append([]filter{{name: "on"}}, stopFilters...)), Status: http.StatusOK, handle: listStops},
		{Method: "POST", Path: "/api/v1/stops", Roles: safetyOfficers, Status: http.StatusCreated, handle: taking(postStop)},
		{Method: "GET", Path: "/api/v1/stops/{id}", Roles: overseers, Query: []string{"on"}, Status: http.StatusOK, handle: getStop},
		{Method: "POST", Path: "/api/v1/stops/{id}/lift", Roles: safetyOfficers, Status: http.StatusCreated, handle: taking(postLift)},
		{Method: "GET", Path: "/api/v1/my/climbing-day", Roles: crewLeads, Query: []string{"on"}, Status: http.StatusOK, handle: myClimbingDay},
		{Method: "POST", Path: "/api/v1/my/stops/{id}/acknowledgement", Roles: crewLeads, Status: http.StatusCreated, handle: taking(acknowledgeStop)},
		{Method: "GET", Path: overrides.path, Roles: staff, Query: pageQuery(overrides.filters), Status: http.StatusOK, handle: overrides.list},
		{Method: "POST", Path: overrides.path, Roles: safetyOfficers, Status: http.StatusCreated, handle: taking(postOverride)},
		{Method: "GET", Path: overrides.path + "/{id}", Roles: staff, Status: http.StatusOK, handle: overrides.get},
		{Method: "GET", Path: overrides.path + "/{id}/chain", Roles: overseers, Status: http.StatusOK, handle: overrides.chain},
	}
}

// climbBooks are the safety rulebooks and the lists that come with the program.
var climbBooks = sync.OnceValue(func() climbs.Books {
	return climbs.Books{Rules: figuring.Books(), Lists: figuring.Lists()}
})

func postFilled(rq *request, in climbs.Filling) (*reply, error) {
	var shown []climbs.ReviewedChecklist
	var repeated bool
	err := rq.in(func(tx *models.Tx) error {
		if _, err := rq.leadOf(tx, in.CrewID, in.Workday); err != nil {
			return err
		}
		filled, again, err := climbs.Fill(tx, climbBooks(), in)
		repeated = again
		if err = withFaults(err, repeated, checkID("/id", in.ID)); err == nil {
			shown, err = climbs.WithReviews(tx, []models.FilledChecklist{*filled})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(shown[0]).at("/api/v1/filled-checklists", shown[0].ID, repeated), nil
}

func listFilled(rq *request) (*reply, error) {
	p, conditions, err := rq.page(filledFilters...)
	if err != nil {
		return nil, err
	}
	var shown []climbs.ReviewedChecklist
	err = rq.view(func(tx *models.Tx) error {
		filled, err := models.List[models.FilledChecklist](tx, p, append(conditions, models.LedBy("filled_checklists", rq.lead()))...)
		if err == nil {
			shown, err = climbs.WithReviews(tx, filled)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(c *climbs.ReviewedChecklist) int64 { return c.Seq }
	return plain(paged(shown, p.Limit, seq, func(c *climbs.ReviewedChecklist) *climbs.ReviewedChecklist { return c })), nil
}

func getFilled(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var shown []climbs.ReviewedChecklist
	err = rq.view(func(tx *models.Tx) error {
		filled, err := models.List[models.FilledChecklist](tx, models.Page{Limit: 1}, models.Equal("id", id), models.LedBy("filled_checklists", rq.lead()))
		if err == nil {
			shown, err = climbs.WithReviews(tx, filled)
		}
		return err
	})
	if err == nil && len(shown) == 0 {
		err = errNotFound
	}
	if err != nil {
		return nil, err
	}
	return plain(shown[0]), nil
}

// filledLink is a filled list of a chain of corrections, with its review and the name of the account that filled it.
type filledLink struct {
	Author string                   `json:"author"`
	Record climbs.ReviewedChecklist `json:"record"`
}

func filledChain(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var links []filledLink
	err = rq.view(func(tx *models.Tx) error {
		chain, err := linksOf[models.FilledChecklistContent](tx, id)
		if err != nil {
			return err
		}
		filled := make([]models.FilledChecklist, len(chain))
		for i := range chain {
			filled[i] = chain[i].Record
		}
		reviewed, err := climbs.WithReviews(tx, filled)
		links = make([]filledLink, len(reviewed))
		for i := range reviewed {
			links[i] = filledLink{chain[i].Author, reviewed[i]}
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(page[filledLink]{Items: links}), nil
}

func postReview(rq *request, in climbs.Reviewing) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var reviewed *climbs.Reviewed
	var repeated bool
	err = rq.in(func(tx *models.Tx) (err error) {
		reviewed, repeated, err = climbs.Review(tx, id, in)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: reviewed, repeated: repeated}, nil
}

func listStops(rq *request) (*reply, error) {
	p, conditions, err := rq.page(stopFilters...)
	if err != nil {
		return nil, err
	}
	on, err := rq.askedOn()
	if err != nil {
		return nil, err
	}
	var shown []climbs.StandingStop
	err = rq.view(func(tx *models.Tx) error {
		stops, err := models.List[models.Stop](tx, p, conditions...)
		if err == nil {
			shown, err = climbs.WithNotices(tx, stops, dayOr(tx, on))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(s *climbs.StandingStop) int64 { return s.Seq }
	return plain(paged(shown, p.Limit, seq, func(s *climbs.StandingStop) *climbs.StandingStop { return s })), nil
}

func getStop(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	on, err := rq.askedOn()
	if err != nil {
		return nil, err
	}
	var shown []climbs.StandingStop
	err = rq.view(func(tx *models.Tx) (err error) {
		shown, err = stopsShown(tx, id, dayOr(tx, on))
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(shown[0]), nil
}

// stopsShown is the stop of an identifier, or an error where there is none.
func stopsShown(tx *models.Tx, id uuid.UUID, day dated.Date) ([]climbs.StandingStop, error) {
	stops, err := models.List[models.Stop](tx, models.Page{Limit: 1}, models.Equal("id", id))
	if err == nil && len(stops) == 0 {
		err = errNotFound
	}
	if err != nil {
		return nil, err
	}
	return climbs.WithNotices(tx, stops, day)
}

func postStop(rq *request, in climbs.Stopping) (*reply, error) {
	var shown []climbs.StandingStop
	var repeated bool
	err := rq.in(func(tx *models.Tx) error {
		stop, again, err := climbs.StopClimb(tx, climbBooks(), in)
		repeated = again
		if err = withFaults(err, repeated, checkID("/id", in.ID)); err == nil {
			shown, err = climbs.WithNotices(tx, []models.Stop{*stop}, stop.Workday.Date)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(shown[0]).at("/api/v1/stops", shown[0].ID, repeated), nil
}

func postLift(rq *request, in climbs.Lifting) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var lift *models.StopLift
	var repeated bool
	err = rq.in(func(tx *models.Tx) (err error) {
		lift, repeated, err = climbs.Lift(tx, id, in)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: lift, repeated: repeated}, nil
}

// myClimbingDay tells a crew lead's phone of the day. That it has heard of a stop is noted the first time; asking again changes nothing.
func myClimbingDay(rq *request) (*reply, error) {
	var on dated.Date
	if _, _, err := rq.page(readsDay("on", &on)); err != nil {
		return nil, err
	}
	if on.IsZero() {
		return nil, faultyQuery([]payroll.Fault{{Pointer: "on", Key: "fault.empty"}})
	}
	var day *climbs.Day
	err := rq.view(func(tx *models.Tx) (err error) {
		day, err = climbs.DayOf(tx, *rq.caller.Worker, on)
		return err
	})
	if err != nil {
		return nil, err
	}
	if unheard := day.Unheard(); len(unheard) > 0 {
		if err := rq.in(func(tx *models.Tx) error { return climbs.Hear(tx, *rq.caller.Worker, unheard) }); err != nil {
			return nil, err
		}
	}
	return plain(day), nil
}

func acknowledgeStop(rq *request, in climbs.Acknowledging) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var ack *models.StopAcknowledgement
	var repeated bool
	err = rq.in(func(tx *models.Tx) (err error) {
		ack, repeated, err = climbs.Acknowledge(tx, *rq.caller.Worker, id, in)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: ack, repeated: repeated}, nil
}

func postOverride(rq *request, in climbs.Setting) (*reply, error) {
	var override *models.RuleOverride
	var repeated bool
	err := rq.in(func(tx *models.Tx) error {
		reason, err := trimmedReason(tx, &in.Reason)
		if err != nil {
			return err
		}
		override, repeated, err = climbs.SetAside(tx, climbBooks(), in)
		return withFaults(err, repeated, slices.Concat(checkID("/id", in.ID), reason))
	})
	if err != nil {
		return nil, err
	}
	return plain(override).at("/api/v1/rule-overrides", override.ID, repeated), nil
}

// trimmedReason trims the reason of a correction and tells what is wrong with it.
func trimmedReason(tx *models.Tx, reason *string) ([]payroll.Fault, error) {
	c := models.NewChecker(tx)
	c.OptionalText("/reason", reason, reasonLimit)
	return c.Done()
}
