package handlers

import (
	"io"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"

	"palmero/migrations"
	"palmero/models"
)

const workbookType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

// What the matrix and the description are to know of imports.
func init() {
	maps.Copy(allowed, map[string]string{
		"GET /api/v1/imports":                "ca",
		"POST /api/v1/imports":               "ca",
		"GET /api/v1/imports/{id}":           "ca",
		"GET /api/v1/import-mappings":        "ca",
		"GET /api/v1/import-mappings/{kind}": "ca",
		"PUT /api/v1/import-mappings/{kind}": "ca",
	})
	openapi3filter.RegisterBodyDecoder(workbookType, func(body io.Reader, _ http.Header, _ *openapi3.SchemaRef, _ openapi3filter.EncodingFn) (any, error) {
		b, err := io.ReadAll(body)
		return string(b), err
	})
}

const importPath = importsPath + "?kind=crew-sheets&reference=week+8"

func TestImports(t *testing.T) {
	each(t, func(r *rig) {
		csv := "name,date,block,operation,pieces,piece minutes\nAna Rojas,2026-02-23,B-07,Pol.,160,300\nBerta Luz,2/3/2026,B-07,Pol.,x,300\n"
		post := func(query, body string) *answer {
			r.Helper()
			return r.do("POST", importPath+query, r.clerk(), body, "Content-Type", "text/csv")
		}
		mapping := object{"values": object{"operation": object{"Pol.": "pollination"}}}
		r.do("PUT", mappingsPath+"/crew-sheets", r.clerk(), mapping, "If-Match", `"0"`).wants(http.StatusOK)
		if got := r.do("GET", mappingsPath, r.clerk(), nil).wants(http.StatusOK).object()["items"].([]any); len(got) != 1 {
			r.Errorf("%v", got)
		}
		dry := post("&dry_run=true", csv).wants(http.StatusOK).object()
		if len(dry["problems"].([]any)) != 2 || len(dry["notes"].([]any)) != 2 || dry["recorded"] != 1.0 || dry["stored"] != false {
			r.Errorf("%v", dry)
		}
		post("", csv).wantsKey(http.StatusUnprocessableEntity, "problem.import_refused").wantsFaults(http.StatusUnprocessableEntity, "/3/B", "/3/E")
		if got := r.do("GET", sheetsPath, r.clerk(), nil).items(); len(got) != 0 {
			r.Errorf("something was stored: %v", got)
		}
		if got := post("&accept=good_lines", csv).wants(http.StatusOK).object(); got["stored"] != true || got["refused"] != 1.0 {
			r.Errorf("%v", got)
		}
		again := importsPath + "?kind=crew-sheets&reference=other"
		good := "name,date,block,operation,pieces,piece minutes\nAna Rojas,2026-02-23,B-07,Pol.,160,300\n"
		r.do("POST", again, r.clerk(), good, "Content-Type", "text/csv").wantsFaults(http.StatusUnprocessableEntity, "/2/E")
		if got := r.do("POST", again+"&on_match=skip", r.clerk(), good, "Content-Type", "text/csv").wants(http.StatusOK).object(); got["skipped"] != 1.0 {
			r.Errorf("%v", got)
		}
	})
}

// What became of a file can be asked for, and a file that is sent again under its identifier is answered with it.
func TestImportStates(t *testing.T) {
	each(t, func(r *rig) {
		csv := "name,date,block,operation,pieces,piece minutes,not provided\nAna Rojas,2026-02-23,B-07,pollination,160,300,rest\nBerta Luz,2026-02-23,B-07,pollination,12.5,300,\n"
		id := models.NewID().String()
		path := importPath + "&id=" + id
		post := func(path, body string) *answer {
			r.Helper()
			return r.do("POST", path, r.clerk(), body, "Content-Type", "text/csv")
		}
		for _, repeated := range []string{"", "true"} {
			a := post(path, csv).wants(http.StatusOK)
			got := a.object()
			parts := got["parts"].(map[string]any)
			if a.header.Get("Repeated") != repeated || got["id"] != id || got["pieces"] != "172.5" || got["minutes"] != 600.0 {
				r.Errorf("%s: %v", a.header, got)
			}
			for part, n := range map[string]float64{"crew_sheets": 1, "time_entries": 2, "tallies": 2, "periods_not_provided": 1} {
				if c := parts[part].(map[string]any); c["recorded"] != n || c["repeated"] != 0.0 {
					r.Errorf("%s: %v", part, c)
				}
			}
		}
		post(path, csv+" ").wantsKey(http.StatusConflict, "problem.id_reused")
		post(importPath, "who,what\n1,2\n").wants(http.StatusUnprocessableEntity)
		post(importPath+"&dry_run=true", csv+"Ana Rojas,never,B-07,pollination,1,1,\n").wants(http.StatusOK)
		list := r.do("GET", importsPath, r.clerk(), nil).wants(http.StatusOK).object()["items"].([]any)
		var states []any
		for _, i := range list {
			states = append(states, i.(map[string]any)["state"])
			state := r.do("GET", importsPath+"/"+i.(map[string]any)["id"].(string), r.as(models.RoleAdministrator), nil).wants(http.StatusOK).object()
			if (state["state"] == "failed") != (state["reason"] != nil) || (state["state"] == "failed") != (state["report"] == nil) {
				r.Errorf("%v", state)
			}
		}
		if len(states) != 3 || states[0] != "stored" || states[1] != "failed" || states[2] != "checked" {
			r.Errorf("%v", states)
		}
		r.do("POST", importsPath+"?kind=workers&reference=x", r.as(models.RoleAdministrator), "a,b", "Content-Type", "text/csv").wants(http.StatusForbidden)
		r.do("POST", path[:len(path)-1]+"&dry_run=true", r.clerk(), csv, "Content-Type", "text/csv").wants(http.StatusBadRequest)
	})
}

// A mapping is changed from the version that was read, the first one from version 0.
func TestImportMappings(t *testing.T) {
	each(t, func(r *rig) {
		path := mappingsPath + "/crew-sheets"
		put := func(version string, mapping object) *answer {
			r.Helper()
			return r.do("PUT", path, r.clerk(), mapping, "If-Match", version)
		}
		versioned := func(a *answer, version string) {
			r.Helper()
			if got := a.wants(http.StatusOK).header.Get("ETag"); got != version {
				r.Errorf("ETag %s, not %s", got, version)
			}
		}
		versioned(r.do("GET", path, r.clerk(), nil), `"0"`)
		put(`"0"`, object{"columns": object{"wrong": "x"}, "date_order": "sideways"}).wantsFaults(http.StatusUnprocessableEntity, "/columns/wrong", "/date_order")
		put(`"0"`, object{"kind": "workers"}).wantsFaults(http.StatusUnprocessableEntity, "/kind")
		versioned(put(`"0"`, object{"date_order": "dmy"}), `"1"`)
		put(`"0"`, object{"date_order": "mdy"}).wantsKey(http.StatusPreconditionFailed, "problem.stale_version")
		r.do("PUT", path, r.clerk(), object{"date_order": "mdy"}).wants(http.StatusPreconditionRequired)
		versioned(put(`"1"`, object{"date_order": "dmy"}), `"1"`)
		versioned(put(`"1"`, object{"date_order": "mdy"}), `"2"`)
		got := r.do("GET", path, r.clerk(), nil)
		if versioned(got, `"2"`); got.object()["date_order"] != "mdy" || got.object()["version"] != 2.0 {
			r.Errorf("%v", got.object())
		}
		r.do("GET", mappingsPath+"/ladders", r.clerk(), nil).wants(http.StatusNotFound)
	})
}

func TestImportsThatAreNone(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	data, err := os.ReadFile(filepath.Join("..", "testdata", "imports", "week-8.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	r.do("POST", importPath+"&dry_run=true", r.clerk(), data, "Content-Type", workbookType).wants(http.StatusOK)
	r.do("POST", importPath, r.clerk(), object{}).wantsKey(http.StatusUnsupportedMediaType, "problem.import_media")
	r.do("POST", importsPath+"?kind=ladders&dry_run=maybe&on_match=perhaps", r.clerk(), "a,b", "Content-Type", "text/csv").
		wantsFaults(http.StatusBadRequest, "kind", "reference", "dry_run", "on_match")
	r.do("POST", importPath, r.clerk(), "a,b\n1,2\n", "Content-Type", "text/csv").wantsKey(http.StatusUnprocessableEntity, "problem.import_unreadable")
	r.do("POST", importPath, r.clerk(), make([]byte, mostOfAFile+1), "Content-Type", "text/csv").wants(http.StatusRequestEntityTooLarge)
	r.do("POST", importPath, r.as(models.RoleCrewLead), "a,b", "Content-Type", "text/csv").wants(http.StatusForbidden)
}
