package handlers

import (
	"net/http"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/payroll"
)

var sheetFilters = []filter{byID("crew_id"), byDay("from", models.WorkedFrom), byDay("to", models.WorkedThrough)}

func sheetRoutes() []Route {
	return []Route{
		{Method: "GET", Path: "/api/v1/crew-sheets", Roles: staff, Query: pageQuery(sheetFilters), Status: http.StatusOK, handle: listSheets},
		{Method: "POST", Path: "/api/v1/crew-sheets", Roles: recorders, Query: []string{"accept"}, Status: http.StatusCreated, handle: taking(postSheet)},
		{Method: "GET", Path: "/api/v1/crew-sheets/{id}", Roles: staff, Status: http.StatusOK, handle: getSheet},
	}
}

// recorders are those who send in what a crew did.
var recorders = []models.Role{models.RoleCrewLead, models.RoleClerk}

// sheetReceipt says what became of each line, in the reader's language where one was refused.
type sheetReceipt struct {
	*intake.Receipt
	Errors []FaultEntry `json:"errors,omitempty"`
}

func postSheet(rq *request, in intake.Sheet) (*reply, error) {
	mode, err := rq.acceptance()
	if err != nil {
		return nil, err
	}
	var receipt *intake.Receipt
	err = rq.in(func(tx *models.Tx) (err error) {
		lead, err := rq.leadOf(tx, in.CrewID, in.Workday)
		if err != nil {
			return err
		}
		submit := intake.Submit
		if lead {
			submit = intake.SubmitAsLead
		}
		receipt, err = submit(tx, in, mode)
		return withFaults(err, false, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	body := sheetReceipt{receipt, rq.entries(&failure{Faults: receipt.Faults})}
	return plain(body).at("/api/v1/crew-sheets", receipt.ID, receipt.Repeated), nil
}

// acceptance is what is to become of a sheet with bad lines.
func (rq *request) acceptance() (intake.Acceptance, error) {
	s, given := rq.gin.GetQuery("accept")
	switch mode := intake.Acceptance(s); {
	case !given:
		return intake.Whole, nil
	case mode == intake.Whole, mode == intake.GoodLines:
		return mode, nil
	}
	allowed := []string{string(intake.Whole), string(intake.GoodLines)}
	return "", faultyQuery([]payroll.Fault{{Pointer: "accept", Key: "fault.not_one_of", Terms: payroll.Terms{"value": s, "allowed": allowed}}})
}

// leadOf tells whether the caller sends as the lead of a crew. A crew lead who did not lead a crew that day is refused.
func (rq *request) leadOf(tx *models.Tx, crew uuid.UUID, workday models.Date) (bool, error) {
	if rq.caller.Role != models.RoleCrewLead {
		return false, nil
	}
	leads, err := tx.Leads(*rq.caller.Worker, crew, workday.Date)
	if err != nil || leads {
		return true, err
	}
	missing, err := tx.Missing("crews", []uuid.UUID{crew})
	if err != nil || missing[crew] {
		return true, err // which the intake tells with everything else that is wrong
	}
	return true, &models.Error{Kind: models.Forbidden, Key: "problem.not_your_crew"}
}

// lead is the worker whose crews' sheets the caller may read; nil: everybody's.
func (rq *request) lead() *uuid.UUID {
	if rq.caller.Role == models.RoleCrewLead {
		return rq.caller.Worker
	}
	return nil
}

func listSheets(rq *request) (*reply, error) {
	p, conditions, err := rq.page(sheetFilters...)
	if err != nil {
		return nil, err
	}
	var sheets []models.CrewSheet
	err = rq.view(func(tx *models.Tx) (err error) {
		sheets, err = intake.Sheets(tx, p, rq.lead(), conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	seq := func(s *models.CrewSheet) int64 { return s.Seq }
	return plain(paged(sheets, p.Limit, seq, func(s *models.CrewSheet) *models.CrewSheet { return s })), nil
}

func getSheet(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var sheet *intake.KeptSheet
	err = rq.view(func(tx *models.Tx) (err error) {
		sheet, err = intake.ReadSheet(tx, id, rq.lead())
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(sheet), nil
}
