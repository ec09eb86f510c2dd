package handlers

import (
	"net/http"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/bunches"
	"palmero/models/heatday"
	"palmero/payroll"
	"palmero/payroll/dated"
)

const bunchChecksPath = "/api/v1/bunch-checks"

// coaches see bunch checks: a crew lead those of crews that they led on the day, an administrator all. The office that reckons pay and the safety officer, who has
// checklists, do not.
var coaches = []models.Role{models.RoleCrewLead, models.RoleAdministrator}

var bunchFilters = []filter{
	byID("crew_id"), byID("worker_id"), byID("operation_id"), byID("block_id"), byDay("from", models.WorkedFrom), byDay("to", models.WorkedThrough), byFlag("standing", models.Standing),
}

// bunchRoutes: what is asked of a bunch at an operation, samples looked at against it, and what they come to. Pay knows nothing of any of it.
func bunchRoutes() []Route {
	standards := recorded[models.WorkStandardContent]{
		path: "/api/v1/work-standards", record: bunches.SetStandard,
		filters: []filter{byID("operation_id"), byDay("on", models.StandardOn), byFlag("standing", models.Standing)},
	}
	return []Route{
		{Method: "GET", Path: standards.path, Roles: coaches, Query: pageQuery(standards.filters), Status: http.StatusOK, handle: standards.list},
		{Method: "POST", Path: standards.path, Roles: admins, Most: noteLimit, Status: http.StatusCreated, handle: taking(standards.post)},
		{Method: "GET", Path: standards.path + "/{id}", Roles: coaches, Status: http.StatusOK, handle: standards.get},
		{Method: "GET", Path: standards.path + "/{id}/chain", Roles: admins, Status: http.StatusOK, handle: standards.chain},
		{Method: "GET", Path: bunchChecksPath, Roles: coaches, Query: pageQuery(bunchFilters), Status: http.StatusOK, handle: listBunchChecks},
		{Method: "POST", Path: bunchChecksPath, Roles: crewLeads, Most: sampleLimit, Status: http.StatusCreated, handle: taking(postBunchCheck)},
		{Method: "GET", Path: bunchChecksPath + "/{id}", Roles: coaches, Status: http.StatusOK, handle: getBunchCheck},
		{Method: "GET", Path: bunchChecksPath + "/{id}/chain", Roles: coaches, Status: http.StatusOK, handle: bunchCheckChain},
		{Method: "GET", Path: "/api/v1/bunch-results", Roles: coaches, Query: []string{"by", "from", "to", "crew_id", "worker_id", "operation_id", "block_id"}, Status: http.StatusOK, handle: bunchResults},
		{Method: "GET", Path: "/api/v1/my/bunch-checks", Roles: hands, Query: pageQuery(nil), Status: http.StatusOK, handle: myBunchChecks},
	}
}

// sampleLimit is how many bytes the largest sample may have.
const sampleLimit = 128 << 10

// bunchCheck is a bunch check with what it found of each point.
type bunchCheck struct{ bunches.Told }

// MarshalJSON writes the record and its points as one object.
func (b bunchCheck) MarshalJSON() ([]byte, error) {
	points := make([]bunchPoint, len(b.Points))
	for i, p := range b.Points {
		points[i] = bunchPoint{p.Asked.NameEN, p.Asked.NameES, p.PointCount}
	}
	return models.Joined(b.BunchCheck, struct {
		Points []bunchPoint `json:"points"`
	}{points})
}

// bunchPoint is a point of a standard with what was found of it.
type bunchPoint struct {
	NameEN string `json:"name_en"`
	NameES string `json:"name_es"`
	models.PointCount
}

// showBunchChecks puts checks beside their standards.
func showBunchChecks(tx *models.Tx, checks []models.BunchCheck) ([]bunchCheck, error) {
	told, err := bunches.Tell(tx, checks)
	shown := make([]bunchCheck, len(told))
	for i := range told {
		shown[i] = bunchCheck{told[i]}
	}
	return shown, err
}

func postBunchCheck(rq *request, in bunches.Look) (*reply, error) {
	var shown []bunchCheck
	var repeated bool
	err := rq.in(func(tx *models.Tx) error {
		if _, err := rq.leadOf(tx, in.CrewID, in.Workday); err != nil {
			return err
		}
		check, again, err := bunches.Record(tx, in)
		repeated = again
		if err = withFaults(err, repeated, checkID("/id", in.ID)); err == nil {
			shown, err = showBunchChecks(tx, []models.BunchCheck{*check})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(shown[0]).at(bunchChecksPath, shown[0].ID, repeated), nil
}

func listBunchChecks(rq *request) (*reply, error) {
	return rq.bunchChecks(bunchFilters, models.LedBy("bunch_checks", rq.lead()))
}

// myBunchChecks are those of the caller's own bunches that stand.
func myBunchChecks(rq *request) (*reply, error) {
	return rq.bunchChecks(nil, bunches.OfWorker(rq.scope.Employer, *rq.caller.Worker), models.Standing(true))
}

func (rq *request) bunchChecks(filters []filter, more ...condition) (*reply, error) {
	p, conditions, err := rq.page(filters...)
	if err != nil {
		return nil, err
	}
	var shown []bunchCheck
	err = rq.view(func(tx *models.Tx) error {
		checks, err := models.List[models.BunchCheck](tx, p, slices.Concat(conditions, more)...)
		if err == nil {
			shown, err = showBunchChecks(tx, checks)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(b *bunchCheck) int64 { return b.Seq }
	return plain(paged(shown, p.Limit, seq, func(b *bunchCheck) *bunchCheck { return b })), nil
}

// bunchCheckOf reads the check that the path names, where the caller may see it.
func (rq *request) bunchCheckOf(tx *models.Tx) (*bunchCheck, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	checks, err := models.List[models.BunchCheck](tx, models.Page{Limit: 1}, models.Equal("id", id), models.LedBy("bunch_checks", rq.lead()))
	if err != nil {
		return nil, err
	}
	if len(checks) == 0 {
		return nil, errNotFound
	}
	shown, err := showBunchChecks(tx, checks)
	if err != nil {
		return nil, err
	}
	return &shown[0], nil
}

func getBunchCheck(rq *request) (*reply, error) {
	var shown *bunchCheck
	err := rq.view(func(tx *models.Tx) (err error) {
		shown, err = rq.bunchCheckOf(tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(shown), nil
}

// bunchCheckChain is of one crew and day throughout, so that whoever may see one of it may see all.
func bunchCheckChain(rq *request) (*reply, error) {
	var links []link[models.BunchCheckContent]
	err := rq.view(func(tx *models.Tx) error {
		check, err := rq.bunchCheckOf(tx)
		if err == nil {
			links, err = linksOf[models.BunchCheckContent](tx, check.ID)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(page[link[models.BunchCheckContent]]{Items: links}), nil
}

// bunchGroup is what the checks of a crew, a worker, an operation or a block came to.
type bunchGroup struct {
	ID     *uuid.UUID       `json:"id"` // null: nobody named
	Total  bunches.Counts   `json:"total"`
	Share  *int             `json:"share"` // in percent, null where no bunch was looked at
	Trend  bunches.Trend    `json:"trend"`
	Weeks  []bunches.Week   `json:"weeks"`
	Points []operationPoint `json:"points"`
}

type operationPoint struct {
	OperationID uuid.UUID `json:"operation_id"`
	bunchPoint
}

// bunchResults adds checks up over weeks: of the last eight where no days are named.
func bunchResults(rq *request) (*reply, error) {
	ask := bunches.Results{By: "crew", Lead: rq.lead()}
	var crew, worker, operation, block uuid.UUID
	_, _, err := rq.page(readsWord("by", &ask.By, bunches.Groupings...), readsDay("from", &ask.First), readsDay("to", &ask.Last),
		readsID("crew_id", &crew), readsID("worker_id", &worker), readsID("operation_id", &operation), readsID("block_id", &block))
	if err != nil {
		return nil, err
	}
	ask.Crew, ask.Worker, ask.Operation, ask.Block = given(crew), given(worker), given(operation), given(block)
	var groups []bunches.Group
	err = rq.view(func(tx *models.Tx) (err error) {
		today, err := heatday.Today(tx)
		if err != nil {
			return err
		}
		if err := rq.spanOf(&ask, today); err != nil {
			return err
		}
		groups, err = ask.Find(tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	shown := make([]bunchGroup, len(groups))
	for i, g := range groups {
		shown[i] = showBunchGroup(&g)
	}
	return plain(page[bunchGroup]{Items: shown}), nil
}

// spanOf fills in the days that were not named, and wants no more weeks than can be told at once.
func (rq *request) spanOf(ask *bunches.Results, today dated.Date) error {
	if ask.Last.IsZero() {
		ask.Last = today
	}
	if ask.First.IsZero() {
		ask.First = ask.Last.AddDays(-7 * (bunches.UsualWeeks - 1))
	}
	switch days := ask.Last.DaysSince(ask.First); {
	case days < 0:
		return faultyQuery([]payroll.Fault{{Pointer: "to", Key: "fault.ends_before_start"}})
	case days > 7*(bunches.MostWeeks-1):
		return faultyQuery([]payroll.Fault{{Pointer: "from", Key: "fault.weeks_at_most", Terms: payroll.Terms{"limit": bunches.MostWeeks}}})
	}
	return nil
}

func showBunchGroup(g *bunches.Group) bunchGroup {
	shown := bunchGroup{ID: given(g.ID), Total: g.Total, Trend: g.Trend, Weeks: g.Weeks, Points: make([]operationPoint, len(g.Points))}
	if share := g.Total.Share(); share >= 0 {
		shown.Share = &share
	}
	for i, p := range g.Points {
		shown.Points[i] = operationPoint{p.OperationID, bunchPoint{p.NameEN, p.NameES, p.PointCount}}
	}
	return shown
}
