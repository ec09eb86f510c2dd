package handlers

import (
	"net/http"
	"slices"

	"palmero/models"
	"palmero/models/intake"
)

// overseers read what everybody recorded; crew leads read their own crews' sheets instead.
var overseers = []models.Role{models.RoleClerk, models.RoleSafetyOfficer, models.RoleAdministrator}

var workFilters = []filter{
	byID("worker_id"), byDay("from", models.WorkedFrom), byDay("to", models.WorkedThrough), byFlag("standing", models.Standing),
}

// workRoutes: time entries and tallies by themselves, as the office records what no sheet brought, and corrects what one did.
func workRoutes() []Route {
	times := recorded[models.TimeEntryContent]{path: "/api/v1/time-entries", filters: workFilters}
	tallies := recorded[models.TallyContent]{path: "/api/v1/tallies", filters: workFilters}
	return slices.Concat(
		work(times, taking(postTimeEntry)),
		work(tallies, taking(postTally)),
		[]Route{
			{Method: "GET", Path: "/api/v1/tallies/{id}/answers", Roles: overseers, Status: http.StatusOK, handle: listAnswers},
			{Method: "GET", Path: "/api/v1/lots/{id}/chain", Roles: overseers, Status: http.StatusOK, handle: lotChain},
		},
	)
}

// work are the routes of a kind of record, with its own way to be sent in.
func work[C any](r recorded[C], post handler) []Route {
	return []Route{
		{Method: "GET", Path: r.path, Roles: overseers, Query: pageQuery(r.filters), Status: http.StatusOK, handle: r.list},
		{Method: "POST", Path: r.path, Roles: clerks, Status: http.StatusCreated, handle: post},
		{Method: "GET", Path: r.path + "/{id}", Roles: overseers, Status: http.StatusOK, handle: r.get},
		{Method: "GET", Path: r.path + "/{id}/chain", Roles: overseers, Status: http.StatusOK, handle: r.chain},
	}
}

func postTimeEntry(rq *request, in intake.SingleTime) (*reply, error) {
	var entry *models.TimeEntry
	var repeated bool
	err := rq.in(func(tx *models.Tx) (err error) {
		entry, repeated, err = intake.RecordTime(tx, in)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return plain(entry).at("/api/v1/time-entries", entry.ID, repeated), nil
}

func postTally(rq *request, in intake.SingleTally) (*reply, error) {
	var tally *models.Tally
	var repeated bool
	err := rq.in(func(tx *models.Tx) (err error) {
		tally, repeated, err = intake.RecordTally(tx, in)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return plain(tally).at("/api/v1/tallies", tally.ID, repeated), nil
}
