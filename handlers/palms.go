package handlers

import (
	"net/http"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll"
)

// planters enter palms: whoever sets up blocks, and the officer who has to find them.
var planters = []models.Role{models.RoleSafetyOfficer, models.RoleAdministrator}

var avoidedFilters = []filter{renamed(byID("block_id"), "p.block_id"), renamed(byID("garden_id"), "b.garden_id")}

// palmRoutes: the register of palms, the word against one, and a competent person's word for it.
func palmRoutes() []Route {
	return slices.Concat(
		kept[models.PalmContent]{
			path: "/api/v1/palms", read: staff, write: planters, show: showPalm,
			filters: []filter{byID("block_id"), byFlag("avoid", models.AvoidedPalms)},
			create:  creating(models.Create[models.PalmContent]), update: updating(models.Update[models.PalmContent]),
		}.routes(),
		[]Route{
			{Method: "POST", Path: "/api/v1/palm-ranges", Roles: planters, Status: http.StatusCreated, Most: wordsLimit, handle: taking(postPalmRange)},
			{Method: "GET", Path: "/api/v1/palms/{id}/events", Roles: staff, Status: http.StatusOK, handle: listPalmEvents},
			{Method: "POST", Path: "/api/v1/palms/{id}/back-in-use", Roles: officers, Status: http.StatusCreated, Most: wordsLimit, handle: decides(gear.ReleasePalm)},
			{Method: "GET", Path: "/api/v1/palms-to-avoid", Roles: staff, Query: pageQuery(avoidedFilters), Status: http.StatusOK, handle: listPalmsToAvoid},
			{Method: "POST", Path: "/api/v1/palms-to-avoid", Roles: field, Status: http.StatusCreated, Most: wordsLimit, handle: taking(postPalmToAvoid)},
		},
	)
}

// palmView is a palm with the event for which it is to be avoided, null where it is in use.
type palmView struct {
	versioned
	models.PalmContent
	AvoidedBy *uuid.UUID `json:"avoided_by"`
}

func showPalm(_ *request, p *models.Palm) any {
	return palmView{versionOf(p), p.Content, p.Content.AvoidedBy}
}

func postPalmRange(rq *request, in gear.PalmRange) (*reply, error) {
	return recordEvent(rq, func(tx *models.Tx) (*models.PalmRange, bool, error) { return gear.AddPalms(tx, in) })
}

func postPalmToAvoid(rq *request, in gear.Avoid) (*reply, error) {
	return recordEvent(rq, func(tx *models.Tx) (*models.PalmEvent, bool, error) { return gear.AvoidPalm(tx, in) })
}

func listPalmEvents(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var events []models.PalmEvent
	err = rq.view(func(tx *models.Tx) (err error) {
		events, err = gear.PalmEvents(tx, id)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(page[models.PalmEvent]{Items: append([]models.PalmEvent{}, events...)}), nil
}

func listPalmsToAvoid(rq *request) (*reply, error) {
	p, conditions, err := rq.page(avoidedFilters...)
	if err != nil {
		return nil, err
	}
	var palms []gear.PalmToAvoid
	err = rq.view(func(tx *models.Tx) (err error) {
		palms, err = gear.PalmsToAvoid(tx, p, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(palms, p.Limit, func(p *gear.PalmToAvoid) int64 { return p.Seq }, func(p *gear.PalmToAvoid) *gear.PalmToAvoid { return p })), nil
}

// renamed is a filter by the identifier in a column that goes by another name in the query.
func renamed(f filter, column string) filter {
	return filter{f.name, func(value string) (condition, *payroll.Fault) {
		_, fault := f.read(value)
		if fault != nil {
			return nil, fault
		}
		return models.Equal(column, uuid.MustParse(value)), nil
	}}
}
