package handlers

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/gorillamux"
	"github.com/google/go-cmp/cmp"

	"palmero/handlers/text"
	"palmero/migrations"
	"palmero/models"
)

// Every request and answer of this package's tests is held to the description.
func init() {
	onExchange = holdToDescription
	asText := func(body io.Reader, _ http.Header, _ *openapi3.SchemaRef, _ openapi3filter.EncodingFn) (any, error) {
		b, err := io.ReadAll(body)
		return string(b), err
	}
	// kin-openapi reads JSON by itself; it would take a list in text/csv apart, and has nothing for these others.
	for _, media := range []string{"text/html", "text/csv", "application/yaml"} {
		openapi3filter.RegisterBodyDecoder(media, asText)
	}
	openapi3filter.RegisterBodyDecoder("application/schema+json", openapi3filter.JSONBodyDecoder)
}

var contract = sync.OnceValues(func() (*openapi3.T, error) {
	doc, err := openapi3.NewLoader().LoadFromData(openAPI)
	if err != nil {
		return nil, err
	}
	return doc, doc.Validate(context.Background())
})

var contractRouter = sync.OnceValues(func() (routers.Router, error) {
	doc, err := contract()
	if err != nil {
		return nil, err
	}
	return gorillamux.NewRouter(doc)
})

func holdToDescription(t testing.TB, e exchange) {
	t.Helper()
	router, err := contractRouter()
	if err != nil {
		t.Fatal(err)
	}
	route, parameters, err := router.FindRoute(e.request)
	if err != nil {
		return // an address that is none of the API's; TestDescriptionAndRoutesAgree sees to those that are
	}
	what := e.request.Method + " " + e.request.URL.Path
	e.request.Body = io.NopCloser(bytes.NewReader(e.sent))
	input := &openapi3filter.RequestValidationInput{
		Request: e.request, PathParams: parameters, Route: route,
		Options: &openapi3filter.Options{AuthenticationFunc: openapi3filter.NoopAuthenticationFunc, MultiError: true, IncludeResponseStatus: true},
	}
	if e.response.StatusCode < 300 { // what was refused may well look like nothing that is described
		if err := openapi3filter.ValidateRequest(t.Context(), input); err != nil {
			t.Errorf("%s: taken, and not as described: %v\n%s", what, err, e.sent)
		}
	}
	err = openapi3filter.ValidateResponse(t.Context(), &openapi3filter.ResponseValidationInput{
		RequestValidationInput: input, Status: e.response.StatusCode, Header: e.response.Header,
		Body: io.NopCloser(bytes.NewReader(e.received)), Options: input.Options,
	})
	if err != nil {
		t.Errorf("%s: %d is not as described: %v\n%s", what, e.response.StatusCode, err, e.received)
	}
	if operation := route.Operation; e.response.StatusCode == http.StatusNoContent && len(operation.Responses.Value("204").Value.Content) == 0 && len(e.received) > 0 {
		t.Errorf("%s: 204 with a body", what)
	}
}

// Described operations and registered routes are the same, with the same roles, query parameters and status of success.
func TestDescriptionAndRoutesAgree(t *testing.T) {
	doc, err := contract()
	if err != nil {
		t.Fatal(err)
	}
	type line struct {
		Roles, Query []string
		Status       string
	}
	registered, written := map[string]line{}, map[string]line{}
	for _, r := range Routes() {
		l := line{Query: slices.Sorted(slices.Values(r.Query)), Status: http.StatusText(r.Status)}
		for _, role := range r.Roles {
			l.Roles = append(l.Roles, string(role))
		}
		registered[r.Method+" "+r.Path] = l
	}
	for path, item := range doc.Paths.Map() {
		for method, o := range item.Operations() {
			written[method+" "+path] = line{rolesOf(t, o), queryOf(o), successOf(o)}
		}
	}
	if diff := cmp.Diff(registered, written); diff != "" {
		t.Errorf("routes of the table (-) and of the description (+):\n%s", diff)
	}
}

func rolesOf(t *testing.T, o *openapi3.Operation) []string {
	t.Helper()
	raw, ok := o.Extensions["x-roles"]
	if open := o.Security != nil && len(*o.Security) == 0; open == ok {
		t.Errorf("%s: has to be open to all or to name its roles", o.OperationID)
	}
	if !ok {
		return nil
	}
	b, err := json.Marshal(raw)
	if err != nil {
		t.Fatal(err)
	}
	var roles []string
	if err := json.Unmarshal(b, &roles); err != nil {
		t.Fatal(err)
	}
	return roles
}

func queryOf(o *openapi3.Operation) []string {
	var names []string
	for _, p := range o.Parameters {
		if p.Value.In == openapi3.ParameterInQuery {
			names = append(names, p.Value.Name)
		}
	}
	slices.Sort(names)
	return names
}

// successOf is the first status of success, other than that of a repeat.
func successOf(o *openapi3.Operation) string {
	for _, status := range []int{http.StatusCreated, http.StatusNoContent, http.StatusOK} {
		if o.Responses.Status(status) != nil {
			return http.StatusText(status)
		}
	}
	return ""
}

// Objects are closed, so that a misspelt field is a fault and not a silence.
func TestDescribedObjectsAreClosed(t *testing.T) {
	doc, err := contract()
	if err != nil {
		t.Fatal(err)
	}
	parts := map[string]bool{} // of other objects, by allOf
	for _, s := range doc.Components.Schemas {
		for _, part := range s.Value.AllOf {
			parts[strings.TrimPrefix(part.Ref, componentPrefix)] = true
		}
	}
	for name, s := range doc.Components.Schemas {
		closed := s.Value.AdditionalProperties.Has != nil || s.Value.UnevaluatedProperties.Has != nil
		if s.Value.Type.Is("object") && !closed && !parts[name] {
			t.Errorf("%s: takes any field", name)
		}
	}
}

func TestDescriptionIsServed(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	file := r.do("GET", "/api/v1/openapi.yaml", nil, nil).wants(http.StatusOK)
	if !bytes.Equal(file.body, openAPI) || file.header.Get("Content-Type") != "application/yaml" {
		r.Errorf("%v", file.header)
	}
	if !strings.Contains(string(file.body), "Local labor and safety codes govern") {
		r.Error("the caution is missing")
	}
	parsed := r.do("GET", "/api/v1/openapi.json", nil, nil).wants(http.StatusOK)
	if doc, err := openapi3.NewLoader().LoadFromData(parsed.body); err != nil || doc.Validate(t.Context()) != nil {
		r.Errorf("openapi.json: %v", err)
	}
	r.do("GET", "/api/v1/schemas/nothing.json", nil, nil).wants(http.StatusNotFound)
	r.do("GET", "/api/v1/docs?x=1", nil, nil).wants(http.StatusBadRequest)
}

func TestDocsPage(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	page := r.do("GET", "/api/v1/docs", nil, nil).wants(http.StatusOK)
	body := string(page.body)
	if page.header.Get("Content-Type") != "text/html; charset=utf-8" || !strings.HasPrefix(page.header.Get("Content-Security-Policy"), "default-src 'none'; style-src 'sha256-") {
		r.Errorf("%v", page.header)
	}
	for _, route := range Routes() {
		if !strings.Contains(body, "<code>"+route.Path+"</code>") {
			r.Errorf("the page does not tell of %s", route.Path)
		}
	}
	for _, never := range []string{"<script", "style=\"", "http://", "**", "ZgotmplZ"} {
		if strings.Contains(body, never) {
			r.Errorf("the page has %q", never)
		}
	}
	for _, ref := range strings.Split(body, `href="#`)[1:] {
		name, _, _ := strings.Cut(ref, `"`)
		if !strings.Contains(body, `id="`+name+`"`) {
			r.Errorf("the page points to %q, which is not there", name)
		}
	}
}

// What the problems link to and what the description promises of languages holds.
func TestEveryLanguageOfTheDescriptionIsSpoken(t *testing.T) {
	doc, err := contract()
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, l := range doc.Components.Parameters["Language"].Value.Schema.Value.Enum {
		said = append(said, l.(string))
	}
	if diff := cmp.Diff(text.Languages(), said); diff != "" {
		t.Error(diff)
	}
	var roles []models.Role
	for _, r := range doc.Components.Schemas["Role"].Value.Enum {
		roles = append(roles, models.Role(r.(string)))
	}
	if diff := cmp.Diff(everyone, roles); diff != "" {
		t.Error(diff)
	}
}

// The validator has two readings of a schema and picks the older one where it sees nothing in it that needs the newer. Both have to see
// a misspelt field, whether the schema is closed by itself or after putting others together, alone or in a list.
func TestMisspeltFieldsAreSeen(t *testing.T) {
	doc, err := contract()
	if err != nil {
		t.Fatal(err)
	}
	crew := func() object {
		return object{"id": models.NewID().String(), "created_at": "2026-03-01T00:00:00Z", "updated_at": "2026-03-01T00:00:00Z", "version": 1.0, "number": 1.0, "name": "North"}
	}
	misspelt := crew()
	misspelt["nmae"] = "South"
	totals := object{}
	for _, name := range []string{"straight_time", "premiums", "other", "gross", "taxes", "deductions", "reimbursements", "net"} {
		totals[name] = "0.00"
	}
	wrong := object{"nett": "0.00"}
	for k, v := range totals {
		wrong[k] = v
	}
	for _, c := range []struct {
		schema string
		value  any
		good   bool
	}{
		{"Crew", crew(), true},
		{"Crew", misspelt, false},
		{"CrewPage", object{"items": []any{crew()}}, true},
		{"CrewPage", object{"items": []any{misspelt}}, false},
		{"CrewPage", object{"items": []any{}, "nxet": "x"}, false},
		{"Totals", totals, true},
		{"Totals", wrong, false},
	} {
		err := doc.Components.Schemas[c.schema].Value.VisitJSON(c.value, openapi3.EnableJSONSchema2020())
		if (err == nil) != c.good {
			t.Errorf("%s %v: %v", c.schema, c.value, err)
		}
	}
}

// The schemas that stand by themselves refer to nothing outside.
func TestSchemasStandByThemselves(t *testing.T) {
	r := newRigOn(t, migrations.SQLite)
	for name := range published {
		a := r.do("GET", "/api/v1/schemas/"+name, nil, nil).wants(http.StatusOK)
		schema := a.object()
		if schema["$schema"] != "https://json-schema.org/draft/2020-12/schema" || schema["$id"] != "/api/v1/schemas/"+name || schema["type"] != "object" {
			r.Errorf("%s: %v", name, schema["$id"])
		}
		definitions := schema["$defs"].(object)
		for _, ref := range strings.Split(string(a.body), `"$ref": "`)[1:] {
			ref, _, _ = strings.Cut(ref, `"`)
			if name, ours := strings.CutPrefix(ref, definitionPrefix); !ours || definitions[name] == nil {
				r.Errorf("it refers to %s", ref)
			}
		}
	}
}
