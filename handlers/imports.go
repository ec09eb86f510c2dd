package handlers

import (
	"mime"
	"net/http"
	"slices"

	"palmero/models"
	"palmero/models/intake/imports"
	"palmero/payroll"
)

const (
	importsPath  = "/api/v1/imports"
	mappingsPath = "/api/v1/import-mappings"
)

func importRoutes() []Route {
	return []Route{
		{Method: "POST", Path: importsPath, Roles: clerks, Query: []string{"kind", "reference", "dry_run", "accept", "on_match", "new_workers"}, Status: http.StatusOK, handle: postImport},
		{Method: "GET", Path: mappingsPath, Roles: clerks, Status: http.StatusOK, handle: listMappings},
		{Method: "GET", Path: mappingsPath + "/{kind}", Roles: clerks, Status: http.StatusOK, handle: getMapping},
		{Method: "PUT", Path: mappingsPath + "/{kind}", Roles: clerks, Status: http.StatusOK, handle: putMapping},
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

type importFinding struct {
	Line     int    `json:"line"`
	Column   string `json:"column,omitempty"`
	Heading  string `json:"heading,omitempty"`
	Question bool   `json:"question,omitempty"`
	Key      string `json:"key"`
	Detail   string `json:"detail"`
}

// mostFindings is how many problems, and how many notes, one answer tells; the counts are of all.
const mostFindings = 1_000

func postImport(rq *request) (*reply, error) {
	order, err := rq.importOrder()
	if err != nil {
		return nil, err
	}
	if order.Data, err = rq.file(); err != nil {
		return nil, err
	}
	report, err := imports.Run(rq.ctx(), rq.Store, rq.scope, order)
	if err != nil {
		return nil, err
	}
	if !report.Stored && !order.DryRun {
		faults := report.Faults()
		return nil, &models.Error{Kind: models.Invalid, Key: "problem.import_refused", Faults: faults[:min(len(faults), mostFindings)]}
	}
	return plain(importReport{report, rq.findings(report.Problems), rq.findings(report.Notes)}), nil
}

func (rq *request) findings(all []imports.Finding) []importFinding {
	told := make([]importFinding, min(len(all), mostFindings))
	for i := range told {
		f := all[i]
		told[i] = importFinding{f.Line, f.Column, f.Heading, f.Question, f.Key, rq.say(f.Key, f.Terms)}
	}
	return told
}

// importOrder reads the query.
func (rq *request) importOrder() (o imports.Order, err error) {
	var faults []payroll.Fault
	flag := func(name string) bool {
		s, given := rq.gin.GetQuery(name)
		if given && s != "true" && s != "false" {
			faults = append(faults, payroll.Fault{Pointer: name, Key: "fault.not_one_of", Terms: payroll.Terms{"value": s, "allowed": []string{"true", "false"}}})
		}
		return s == "true"
	}
	o.Kind, o.Reference = imports.Kind(rq.gin.Query("kind")), rq.gin.Query("reference")
	if !slices.Contains(imports.Kinds, o.Kind) {
		var allowed []string
		for _, k := range imports.Kinds {
			allowed = append(allowed, string(k))
		}
		faults = append(faults, payroll.Fault{Pointer: "kind", Key: "fault.not_one_of", Terms: payroll.Terms{"value": string(o.Kind), "allowed": allowed}})
	}
	if o.Reference == "" {
		faults = append(faults, payroll.Fault{Pointer: "reference", Key: "fault.empty"})
	}
	o.DryRun, o.NewWorkers = flag("dry_run"), flag("new_workers")
	if o.OnMatch, err = imports.ParseAnswers(rq.gin.Query("on_match")); err != nil {
		faults = append(faults, payroll.Fault{Pointer: "on_match", Key: "fault.import_answers", Terms: payroll.Terms{"value": rq.gin.Query("on_match")}})
	}
	if o.Accept, err = rq.acceptance(); err == nil {
		err = faultyQuery(faults)
	}
	return o, err
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
