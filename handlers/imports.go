package handlers

import (
	"mime"
	"net/http"
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake/imports"
	"palmero/payroll"
)

const (
	importsPath  = "/api/v1/imports"
	mappingsPath = "/api/v1/import-mappings"
)

// mostOfAFile is how many bytes of a spreadsheet are taken.
const mostOfAFile = 16 << 20

func importRoutes() []Route {
	return []Route{
		{Method: "GET", Path: importsPath, Roles: office, Query: pageQuery(nil), Status: http.StatusOK, handle: listImports},
		{Method: "POST", Path: importsPath, Roles: office, Query: []string{"id", "kind", "reference", "dry_run", "accept", "on_match", "new_workers"}, Most: mostOfAFile, Status: http.StatusOK, handle: postImport},
		{Method: "GET", Path: importsPath + "/{id}", Roles: office, Status: http.StatusOK, handle: getImport},
		{Method: "GET", Path: mappingsPath, Roles: office, Status: http.StatusOK, handle: listMappings},
		{Method: "GET", Path: mappingsPath + "/{kind}", Roles: office, Status: http.StatusOK, handle: getMapping},
		{Method: "PUT", Path: mappingsPath + "/{kind}", Roles: office, Status: http.StatusOK, handle: putMapping},
	}
}

// spreadsheets are the types of body that an import takes. What the file is, its own bytes say.
var spreadsheets = []string{"text/csv", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}

// importReport is what became of a file, told in the reader's language.
type importReport struct {
	*imports.Report
	Problems []importFinding `json:"problems"`
	Notes    []importFinding `json:"notes"`
}

// importAnswer is a report with the identifier under which it can be asked for again.
type importAnswer struct {
	ID uuid.UUID `json:"id"`
	importReport
}

type importFinding struct {
	Line     int    `json:"line"`
	Column   string `json:"column,omitempty"`
	Heading  string `json:"heading,omitempty"`
	Question bool   `json:"question,omitempty"`
	Key      string `json:"key"`
	Detail   string `json:"detail"`
}

func postImport(rq *request) (*reply, error) {
	order, choices, err := rq.importOrder()
	if err != nil {
		return nil, err
	}
	if !slices.Contains(order.Kind.Takers(), rq.caller.Role) {
		return nil, &models.Error{Kind: models.Forbidden, Key: "problem.forbidden"}
	}
	if order.Data, err = rq.file(); err != nil {
		return nil, err
	}
	_, report, repeated, err := imports.Take(rq.ctx(), rq.Store, rq.scope, order, choices)
	if err != nil {
		return nil, err
	}
	if !report.Stored && !order.DryRun {
		faults := report.Faults()
		return nil, &models.Error{Kind: models.Invalid, Key: "problem.import_refused", Faults: faults[:min(len(faults), imports.MostFindings)]}
	}
	answer := plain(importAnswer{order.ID, rq.importReport(report)})
	answer.repeated = repeated
	return answer, nil
}

func (rq *request) importReport(r *imports.Report) importReport {
	return importReport{r, rq.findings(r.Problems), rq.findings(r.Notes)}
}

func (rq *request) findings(all []imports.Finding) []importFinding {
	told := make([]importFinding, min(len(all), imports.MostFindings))
	for i := range told {
		f := all[i]
		told[i] = importFinding{f.Line, f.Column, f.Heading, f.Question, f.Key, rq.say(f.Key, f.Terms)}
	}
	return told
}

func listImports(rq *request) (*reply, error) {
	p, _, err := rq.page()
	if err != nil {
		return nil, err
	}
	var list []imports.Import
	err = rq.view(func(tx *models.Tx) (err error) {
		list, err = imports.Imports(tx, p)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(list, p.Limit, func(i *imports.Import) int64 { return i.Seq }, func(i *imports.Import) any { return i })), nil
}

// importState is how far a file has come, and what it came to.
type importState struct {
	*imports.Import
	Report *importReport  `json:"report"` // null until it is there
	Reason *importFailure `json:"reason"` // why it could not be read; null where it could
}

type importFailure struct {
	Key    string       `json:"key"`
	Detail string       `json:"detail"`
	Errors []FaultEntry `json:"errors,omitempty"`
}

func getImport(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var state importState
	var outcome *imports.Outcome
	err = rq.view(func(tx *models.Tx) (err error) {
		if state.Import, err = imports.ImportOf(tx, id); err == nil {
			outcome, err = state.Outcome()
		}
		return err
	})
	switch {
	case err != nil:
		return nil, err
	case outcome == nil:
	case outcome.Report != nil:
		report := rq.importReport(outcome.Report)
		state.Report = &report
	default:
		state.Reason = &importFailure{outcome.Key, rq.say(outcome.Key, outcome.Terms), rq.entries(&failure{Faults: outcome.Faults})}
	}
	return plain(state), nil
}

// importOrder reads the query.
func (rq *request) importOrder() (o imports.Order, c imports.Choices, err error) {
	var faults []payroll.Fault
	fault := func(name, key string, terms payroll.Terms) {
		faults = append(faults, payroll.Fault{Pointer: name, Key: key, Terms: terms})
	}
	flag := func(name string) bool {
		s, given := rq.gin.GetQuery(name)
		if given && s != "true" && s != "false" {
			fault(name, "fault.not_one_of", payroll.Terms{"value": s, "allowed": []string{"true", "false"}})
		}
		return s == "true"
	}
	o.ID = models.NewID()
	if id, given := rq.gin.GetQuery("id"); given {
		if o.ID, err = uuid.Parse(id); err != nil || len(id) != uuidLength || len(checkID("id", o.ID)) > 0 {
			fault("id", "fault.id_not_made", nil)
		}
	}
	o.Kind, o.Reference = imports.Kind(rq.gin.Query("kind")), rq.gin.Query("reference")
	if !slices.Contains(imports.Kinds, o.Kind) {
		fault("kind", "fault.not_one_of", payroll.Terms{"value": string(o.Kind), "allowed": imports.KindNames()})
	}
	if o.Reference == "" {
		fault("reference", "fault.empty", nil)
	}
	o.DryRun, o.NewWorkers, c.OnMatch = flag("dry_run"), flag("new_workers"), rq.gin.Query("on_match")
	if o.OnMatch, err = imports.ParseAnswers(c.OnMatch); err != nil {
		fault("on_match", "fault.import_answers", payroll.Terms{"value": c.OnMatch})
	}
	if o.Accept, err = rq.acceptance(); err == nil {
		err = faultyQuery(faults)
	}
	c.Accept, c.NewWorkers = o.Accept, o.NewWorkers
	return o, c, err
}

// file reads a spreadsheet from the request's body.
func (rq *request) file() ([]byte, error) {
	kind, _, err := mime.ParseMediaType(rq.gin.GetHeader("Content-Type"))
	if err != nil || !slices.Contains(spreadsheets, kind) {
		f := failureOf(http.StatusUnsupportedMediaType)
		f.Key = "problem.import_media"
		return nil, f
	}
	return rq.body()
}

type mappingList struct {
	Items []imports.KeptMapping `json:"items"`
}

func listMappings(rq *request) (*reply, error) {
	var list mappingList
	err := rq.view(func(tx *models.Tx) (err error) {
		list.Items, err = imports.Mappings(tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(list), nil
}

// mappingKind is the kind of file in the path. What is no kind names nothing.
func (rq *request) mappingKind() (imports.Kind, error) {
	kind := imports.Kind(rq.gin.Param("kind"))
	if !slices.Contains(imports.Kinds, kind) {
		return "", errNotFound
	}
	return kind, nil
}

// getMapping answers how files of a kind are read. Where nothing is remembered that is an empty mapping, whose version is 0.
func getMapping(rq *request) (*reply, error) {
	kind, err := rq.mappingKind()
	if err != nil {
		return nil, err
	}
	var kept *imports.KeptMapping
	err = rq.view(func(tx *models.Tx) (err error) {
		kept, err = imports.MappingOf(tx, kind)
		return err
	})
	if err != nil {
		return nil, err
	}
	return mappingReply(kept), nil
}

func putMapping(rq *request) (*reply, error) {
	kind, err := rq.mappingKind()
	if err != nil {
		return nil, err
	}
	version, err := rq.ifMatch()
	if err != nil {
		return nil, err
	}
	in := imports.Mapping{}
	if err := rq.decode(&in); err != nil {
		return nil, err
	}
	if in.Kind != "" && in.Kind != kind {
		return nil, models.FaultAt("/kind", "fault.not_one_of", payroll.Terms{"value": string(in.Kind), "allowed": []string{string(kind)}})
	}
	in.Kind = kind
	var kept *imports.KeptMapping
	err = rq.in(func(tx *models.Tx) (err error) {
		kept, err = imports.UpdateMapping(tx, version, in)
		return err
	})
	if err != nil {
		return nil, err
	}
	return mappingReply(kept), nil
}

// mappingReply names the version even where it is 0: it is what a first mapping is made from.
func mappingReply(kept *imports.KeptMapping) *reply {
	return &reply{body: kept, header: http.Header{"Etag": {etag(kept.Version)}}}
}
