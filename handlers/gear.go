package handlers

import (
	"net/http"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
)

// sheetOfGearLimit is how many bytes a sheet of gear handed to a crew may have.
const sheetOfGearLimit = 512 << 10

var issueFilters = []filter{
	renamed(byID("worker_id"), "i.worker_id"), renamed(byID("gear_kind_id"), "i.gear_kind_id"), byFlag("held", models.Held), byFlag("unacknowledged", models.Unacknowledged),
	byDay("due_before", models.DueBefore),
}

// gearRoutes: kinds of gear with their stock, what is handed out, and what becomes of it.
func gearRoutes() []Route {
	const one = "/api/v1/gear-issues/{id}"
	return slices.Concat(
		kept[models.GearKindContent]{
			path: "/api/v1/gear-kinds", read: staff, write: officers, show: showGearKind, filters: []filter{byWord("kind", models.GearKinds...), byFlag("low", models.LowStock)},
			create: creating(models.Create[models.GearKindContent]), update: updating(models.Update[models.GearKindContent]),
		}.routes(),
		[]Route{
			{Method: "GET", Path: "/api/v1/gear-kinds/{id}/stock", Roles: staff, Query: pageQuery(nil), Status: http.StatusOK, handle: listStock},
			{Method: "POST", Path: "/api/v1/gear-kinds/{id}/stock", Roles: officers, Status: http.StatusCreated, Most: wordsLimit, handle: happens(gear.MoveStock)},
			{Method: "GET", Path: "/api/v1/gear-issues", Roles: staff, Query: pageQuery(issueFilters), Status: http.StatusOK, handle: listIssues},
			{Method: "POST", Path: "/api/v1/gear-issues", Roles: field, Status: http.StatusOK, Most: sheetOfGearLimit, handle: taking(postIssues)},
			{Method: "POST", Path: one + "/acknowledgements", Roles: field, Status: http.StatusCreated, Most: wordsLimit, handle: happens(acknowledgeForWorker)},
			{Method: "POST", Path: one + "/return", Roles: field, Status: http.StatusCreated, Most: wordsLimit, handle: happens(gear.TakeBack)},
			{Method: "GET", Path: "/api/v1/my/gear", Roles: hands, Query: []string{"cursor", "limit", "held"}, Status: http.StatusOK, handle: listMyGear},
			{Method: "POST", Path: "/api/v1/my/gear/{id}/acknowledgements", Roles: hands, Status: http.StatusCreated, Most: wordsLimit, handle: acknowledgeOwn},
		},
	)
}

// gearKindView is a kind of gear with how many are on hand.
type gearKindView struct {
	versioned
	models.GearKindContent
	OnHand int64 `json:"on_hand"`
}

func showGearKind(_ *request, k *models.GearKind) any {
	return gearKindView{versionOf(k), k.Content, k.Content.OnHand}
}

func listStock(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	p, _, err := rq.page()
	if err != nil {
		return nil, err
	}
	var moves []models.GearStockMove
	err = rq.view(func(tx *models.Tx) (err error) {
		if _, err = models.Get[models.GearKindContent](tx, id); err == nil {
			moves, err = models.List[models.GearStockMove](tx, p, models.Equal("gear_kind_id", id))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(m *models.GearStockMove) int64 { return m.Seq }
	return plain(paged(moves, p.Limit, seq, func(m *models.GearStockMove) *models.GearStockMove { return m })), nil
}

func listIssues(rq *request) (*reply, error) { return rq.issues(issueFilters) }

// issues answers with the issues that the filters and the conditions keep.
func (rq *request) issues(filters []filter, own ...condition) (*reply, error) {
	p, conditions, err := rq.page(filters...)
	if err != nil {
		return nil, err
	}
	var issues []gear.IssueTold
	err = rq.view(func(tx *models.Tx) (err error) {
		issues, err = gear.Issues(tx, p, append(conditions, own...)...)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(issues, p.Limit, func(i *gear.IssueTold) int64 { return i.Seq }, func(i *gear.IssueTold) *gear.IssueTold { return i })), nil
}

// handedOut says what became of each line of a sheet.
type handedOut struct {
	Lines []gear.Line `json:"lines"`
}

func postIssues(rq *request, in gear.Sheet) (*reply, error) {
	var out handedOut
	err := rq.in(func(tx *models.Tx) (err error) {
		out.Lines, err = gear.Hand(tx, in)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(out), nil
}

func acknowledgeForWorker(tx *models.Tx, issue uuid.UUID, in gear.Acknowledgement) (*models.GearIssueEvent, bool, error) {
	return gear.Acknowledge(tx, nil, issue, in)
}

func listMyGear(rq *request) (*reply, error) {
	return rq.issues([]filter{byFlag("held", models.Held)}, models.Equal("i.worker_id", *rq.caller.Worker))
}

func acknowledgeOwn(rq *request) (*reply, error) {
	return happens(func(tx *models.Tx, issue uuid.UUID, in gear.Acknowledgement) (*models.GearIssueEvent, bool, error) {
		return gear.Acknowledge(tx, rq.caller.Worker, issue, in)
	})(rq)
}
