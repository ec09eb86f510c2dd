package handlers

import (
	"encoding/base64"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/clearance"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety"
)

const setupsPath, clearancesPath, exceptionsPath = "/api/v1/climb-setups", "/api/v1/clearances", "/api/v1/clearance-exceptions"

var (
	setups = recorded[models.ClimbSetupContent]{
		path: setupsPath, read: staff, write: field,
		filters: []filter{byID("crew_id"), byID("block_id"), byDay("from", models.WorkedFrom), byDay("to", models.WorkedThrough), byFlag("standing", models.Standing)},
	}
	clearanceFilters = []filter{byID("crew_id"), byDay("from", models.WorkedFrom), byDay("to", models.WorkedThrough)}
)

// clearanceRoutes: how crews go up, who of them may, the clearances that were given, and work done without one.
func clearanceRoutes() []Route {
	return []Route{
		{Method: "GET", Path: setupsPath, Roles: staff, Query: pageQuery(setups.filters), Status: http.StatusOK, handle: setups.list},
		{Method: "POST", Path: setupsPath, Roles: field, Status: http.StatusCreated, Most: wordsLimit, handle: taking(postSetup)},
		{Method: "GET", Path: setupsPath + "/{id}", Roles: staff, Status: http.StatusOK, handle: setups.get},
		{Method: "GET", Path: setupsPath + "/{id}/chain", Roles: staff, Status: http.StatusOK, handle: setups.chain},
		{Method: "GET", Path: "/api/v1/clearance", Roles: staff, Query: []string{"crew_id", "on", "at"}, Status: http.StatusOK, handle: getClearance},
		{Method: "GET", Path: "/api/v1/my/clearance", Roles: hands, Query: []string{"on"}, Status: http.StatusOK, handle: getMyClearance},
		{Method: "GET", Path: clearancesPath, Roles: staff, Query: pageQuery(clearanceFilters), Status: http.StatusOK, handle: listClearances},
		{Method: "POST", Path: clearancesPath, Roles: field, Status: http.StatusCreated, Most: wordsLimit, handle: taking(postClearance)},
		{Method: "GET", Path: exceptionsPath, Roles: planters, Query: []string{"from", "to", "cursor", "limit"}, Status: http.StatusOK, handle: listExceptions},
		{Method: "POST", Path: exceptionsPath, Roles: officers, Status: http.StatusCreated, Most: wordsLimit, handle: taking(postException)},
		{Method: "POST", Path: "/api/v1/clearance-exception-sets", Roles: officers, Status: http.StatusCreated, Most: sheetOfGearLimit, handle: taking(postExceptions)},
	}
}

func postSetup(rq *request, in recording[models.ClimbSetupContent]) (*reply, error) {
	r := setups
	r.record = func(tx *models.Tx, id uuid.UUID, c models.ClimbSetupContent, how models.Recording) (*models.ClimbSetup, bool, error) {
		if _, err := rq.leadOf(tx, c.CrewID, c.Workday); err != nil {
			return nil, false, err
		}
		return clearance.RecordSetup(tx, figuring.Books(), id, c, how)
	}
	return r.post(rq, in)
}

// getClearance answers as things stand; nothing is kept of it.
func getClearance(rq *request) (*reply, error) {
	q, err := rq.clearanceQuestion()
	if err != nil {
		return nil, err
	}
	var answer *clearance.Answer
	err = rq.view(func(tx *models.Tx) (err error) {
		if _, err := rq.leadOf(tx, q.Crew, models.Day(q.Day)); err != nil {
			return err
		}
		answer, err = clearance.Look(tx, figuring.Books(), q)
		return err
	})
	if err != nil {
		return nil, err
	}
	answer.Speak(rq.speaking())
	return plain(answer), nil
}

// speaking puts the safety engine's messages into the request's language.
func (rq *request) speaking() safety.Say {
	return func(key string, terms safety.Terms) string { return rq.say(key, payroll.Terms(terms)) }
}

func (rq *request) clearanceQuestion() (q clearance.Question, err error) {
	var faults []payroll.Fault
	given := rq.gin.Query("crew_id")
	if q.Crew, err = uuid.Parse(given); err != nil || len(given) != uuidLength {
		faults = append(faults, payroll.Fault{Pointer: "crew_id", Key: "input.not_uuid", Terms: payroll.Terms{"value": given}})
	}
	day, fault := rq.dayAsked("on")
	q.Day, faults = day, append(faults, fault...)
	if s, ok := rq.gin.GetQuery("at"); ok {
		at, err := time.Parse(time.RFC3339, s)
		if err != nil {
			faults = append(faults, payroll.Fault{Pointer: "at", Key: "input.not_time", Terms: payroll.Terms{"value": s}})
		}
		q.At = &at
	}
	return q, faultyQuery(faults)
}

// dayAsked is the day that a query parameter must give.
func (rq *request) dayAsked(name string) (dated.Date, []payroll.Fault) {
	day, err := dated.ParseDate(rq.gin.Query(name))
	if err != nil {
		return day, []payroll.Fault{{Pointer: name, Key: "input.not_date", Terms: payroll.Terms{"value": rq.gin.Query(name)}}}
	}
	return day, nil
}

// getMyClearance answers for the caller alone, in each crew that they belong to on the day.
func getMyClearance(rq *request) (*reply, error) {
	day, faults := rq.dayAsked("on")
	if err := faultyQuery(faults); err != nil {
		return nil, err
	}
	var answers []*clearance.Answer
	err := rq.view(func(tx *models.Tx) (err error) {
		answers, err = clearance.Own(tx, figuring.Books(), *rq.caller.Worker, day)
		return err
	})
	if err != nil {
		return nil, err
	}
	for _, a := range answers {
		a.Speak(rq.speaking())
	}
	return plain(page[*clearance.Answer]{Items: append([]*clearance.Answer{}, answers...)}), nil
}

func listClearances(rq *request) (*reply, error) {
	p, conditions, err := rq.page(clearanceFilters...)
	if err != nil {
		return nil, err
	}
	var given []models.Clearance
	err = rq.view(func(tx *models.Tx) (err error) {
		given, err = models.List[models.Clearance](tx, p, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(given, p.Limit, func(c *models.Clearance) int64 { return c.Seq }, func(c *models.Clearance) *models.Clearance { return c })), nil
}

// askingClearance asks for a clearance to go by.
type askingClearance struct {
	ID      uuid.UUID   `json:"id"`
	CrewID  uuid.UUID   `json:"crew_id"`
	Workday models.Date `json:"workday"`
}

func postClearance(rq *request, in askingClearance) (*reply, error) {
	if err := models.Faulty(checkID("/id", in.ID)); err != nil {
		return nil, err
	}
	return recordEvent(rq, func(tx *models.Tx) (*models.Clearance, bool, error) {
		if _, err := rq.leadOf(tx, in.CrewID, in.Workday); err != nil {
			return nil, false, err
		}
		return clearance.Give(tx, figuring.Books(), in.ID, in.CrewID, in.Workday.Date, rq.speaking())
	})
}

// listExceptions lists the open ones of some days, of the last weeks where none are named.
func listExceptions(rq *request) (*reply, error) {
	from, through, after, limit, err := rq.exceptionsAsked()
	if err != nil {
		return nil, err
	}
	var open []clearance.Exception
	err = rq.view(func(tx *models.Tx) (err error) {
		if from.IsZero() {
			from = clearance.Recent(tx.Now)
		}
		if through.IsZero() {
			through = dated.DateOf(tx.Now).AddDays(1)
		}
		open, err = clearance.Exceptions(tx, from, through, after, limit)
		return err
	})
	if err != nil {
		return nil, err
	}
	list := page[clearance.Exception]{Items: append([]clearance.Exception{}, open[:min(limit, len(open))]...)}
	if len(open) > limit {
		last := &open[limit-1]
		list.Next = base64.RawURLEncoding.EncodeToString([]byte(last.Workday.String() + " " + last.WorkerID.String()))
	}
	return plain(list), nil
}

// exceptionsAsked reads which exceptions are asked for. They have no sequence of their own, being the absence of a record: the list goes on after a day and a worker.
func (rq *request) exceptionsAsked() (from, through dated.Date, after *clearance.Exception, limit int, err error) {
	var faults []payroll.Fault
	for name, day := range map[string]*dated.Date{"from": &from, "to": &through} {
		if rq.gin.Query(name) != "" {
			var fault []payroll.Fault
			*day, fault = rq.dayAsked(name)
			faults = append(faults, fault...)
		}
	}
	if s, ok := rq.gin.GetQuery("cursor"); ok {
		if after = readPlace(s); after == nil {
			faults = append(faults, payroll.Fault{Pointer: "cursor", Key: "fault.cursor"})
		}
	}
	limit = defaultLimit
	if s, ok := rq.gin.GetQuery("limit"); ok {
		if limit, err = strconv.Atoi(s); err != nil || limit < 1 || limit > maxLimit {
			faults = append(faults, payroll.Fault{Pointer: "limit", Key: "fault.not_between", Terms: payroll.Terms{"low": 1, "high": maxLimit}})
		}
	}
	slices.SortFunc(faults, func(a, b payroll.Fault) int { return strings.Compare(a.Pointer, b.Pointer) })
	return from, through, after, limit, faultyQuery(faults)
}

// readPlace reads the place in the list of exceptions that a cursor names, nil where it names none.
func readPlace(cursor string) *clearance.Exception {
	text, err := base64.RawURLEncoding.Strict().DecodeString(cursor)
	if err != nil {
		return nil
	}
	day, worker, _ := strings.Cut(string(text), " ")
	on, err := dated.ParseDate(day)
	if err != nil {
		return nil
	}
	id, err := uuid.Parse(worker)
	if err != nil {
		return nil
	}
	return &clearance.Exception{WorkerID: id, Workday: models.Day(on)}
}

func postException(rq *request, in clearance.Settlement) (*reply, error) {
	if err := models.Faulty(checkID("/id", in.ID)); err != nil {
		return nil, err
	}
	return recordEvent(rq, func(tx *models.Tx) (*models.ClearanceException, bool, error) { return clearance.Settle(tx, in) })
}

// settledDays are the days that one word settled.
type settledDays struct {
	Items []models.ClearanceException `json:"items"`
}

func postExceptions(rq *request, in clearance.Settlements) (*reply, error) {
	if err := models.Faulty(checkID("/id", in.ID)); err != nil {
		return nil, err
	}
	var kept []models.ClearanceException
	var repeated bool
	err := rq.in(func(tx *models.Tx) (err error) {
		kept, repeated, err = clearance.SettleMany(tx, in)
		return err
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: settledDays{kept}, repeated: repeated}, nil
}
