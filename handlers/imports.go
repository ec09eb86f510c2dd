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
		{Method: "PUT", Path: mappingsPath, Roles: clerks, Status: http.StatusOK, handle: taking(putMapping)},
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
	Items []imports.Mapping `json:"items"`
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

// putMapping keeps a mapping. It needs no version: it is of its kind alone, sent whole, and wrong only until the next dry run.
func putMapping(rq *request, in imports.Mapping) (*reply, error) {
	var kept *imports.Mapping
	err := rq.in(func(tx *models.Tx) (err error) {
		kept, err = imports.Remember(tx, in)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(kept), nil
}
