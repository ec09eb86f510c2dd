package handlers

import (
	"net/http"
	"slices"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll/dated"
)

var findingFilters = []filter{byID("equipment_id"), byFlag("open", models.OpenFindings)}

// equipmentRoutes: the register of equipment, and what happens to it.
func equipmentRoutes() []Route {
	const one = "/api/v1/equipment/{id}"
	return slices.Concat(
		kept[models.EquipmentContent]{
			path: "/api/v1/equipment", read: staff, write: officers, show: showEquipment,
			filters: []filter{
				byID("garden_id"), byID("palm_id"), byWord("kind", models.Words(models.EquipmentKinds)...),
				byWord("state", string(models.InService), string(models.OutOfService), string(models.Retired)),
			},
			create: creating(models.Create[models.EquipmentContent]), update: updating(models.Update[models.EquipmentContent]),
		}.routes(),
		[]Route{
			{Method: "GET", Path: one + "/events", Roles: staff, Query: pageQuery(nil), Status: http.StatusOK, handle: listEquipmentEvents},
			{Method: "POST", Path: one + "/inspections", Roles: field, Status: http.StatusCreated, Most: 4 * wordsLimit, handle: postInspection},
			{Method: "POST", Path: one + "/withdrawals", Roles: field, Status: http.StatusCreated, Most: wordsLimit, handle: happens(gear.Withdraw)},
			{Method: "POST", Path: one + "/returns", Roles: officers, Status: http.StatusCreated, Most: wordsLimit, handle: decides(gear.PutBack)},
			{Method: "POST", Path: one + "/retirement", Roles: officers, Status: http.StatusCreated, Most: wordsLimit, handle: decides(gear.Retire)},
			{Method: "GET", Path: "/api/v1/equipment-findings", Roles: staff, Query: pageQuery(findingFilters), Status: http.StatusOK, handle: listFindings},
			{Method: "POST", Path: "/api/v1/equipment-findings/{id}/mending", Roles: officers, Status: http.StatusCreated, Most: wordsLimit, handle: happens(gear.Mend)},
			{Method: "GET", Path: "/api/v1/equipment-due", Roles: staff, Query: []string{"garden_id", "by"}, Status: http.StatusOK, handle: listDue},
		},
	)
}

// equipmentView is a piece of equipment with the state that its events made of it.
type equipmentView struct {
	versioned
	models.EquipmentContent
	State      models.EquipmentState `json:"state"`
	StateEvent *uuid.UUID            `json:"state_event"`
	PreUseOn   *dated.Date           `json:"pre_use_on"`
	PeriodicOn *dated.Date           `json:"periodic_on"`
}

func showEquipment(_ *request, e *models.Equipment) any {
	c := e.Content
	return equipmentView{versionOf(e), c, c.State, c.StateEvent, dateOrNull(c.PreUseOn.Date), dateOrNull(c.PeriodicOn.Date)}
}

// postInspection keeps periodic inspections to those who may say that somebody is competent.
func postInspection(rq *request) (*reply, error) {
	return happens(func(tx *models.Tx, id uuid.UUID, in gear.Inspection) (*gear.Event, bool, error) {
		if in.Kind == models.PeriodicInspection && !slices.Contains(officers, rq.caller.Role) {
			return nil, false, &models.Error{Kind: models.Forbidden, Key: "problem.forbidden"}
		}
		return gear.Inspect(tx, id, in)
	})(rq)
}

func listEquipmentEvents(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	p, _, err := rq.page()
	if err != nil {
		return nil, err
	}
	var events []gear.Event
	err = rq.view(func(tx *models.Tx) (err error) {
		events, err = gear.Events(tx, id, p)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(events, p.Limit, func(e *gear.Event) int64 { return e.Seq }, func(e *gear.Event) *gear.Event { return e })), nil
}

func listFindings(rq *request) (*reply, error) {
	p, conditions, err := rq.page(findingFilters...)
	if err != nil {
		return nil, err
	}
	var findings []models.EquipmentFinding
	err = rq.view(func(tx *models.Tx) (err error) {
		findings, err = models.List[models.EquipmentFinding](tx, p, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(f *models.EquipmentFinding) int64 { return f.Seq }
	return plain(paged(findings, p.Limit, seq, func(f *models.EquipmentFinding) *models.EquipmentFinding { return f })), nil
}

// listDue lists what is overdue today, or by the day that is asked for. Today is UTC's: it is a day ahead in the evening, and warns that much earlier.
func listDue(rq *request) (*reply, error) {
	var by dated.Date
	_, conditions, err := rq.page(byID("garden_id"), readsDay("by", &by))
	if err != nil {
		return nil, err
	}
	var due []gear.Due
	err = rq.view(func(tx *models.Tx) (err error) {
		if by.IsZero() {
			by = dated.DateOf(tx.Now)
		}
		due, err = gear.Overdue(tx, figuring.Books(), by, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(page[gear.Due]{Items: due}), nil
}
