package handlers

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"
)

//go:embed openapi.yaml
var openAPI []byte

func descriptionRoutes() []Route {
	return []Route{
		{Method: "GET", Path: "/api/v1/openapi.yaml", Open: true, Status: http.StatusOK, handle: serving("application/yaml", func() []byte { return openAPI })},
		{Method: "GET", Path: "/api/v1/openapi.json", Open: true, Status: http.StatusOK, handle: serving("application/json", openAPIJSON)},
		{Method: "GET", Path: "/api/v1/docs", Open: true, Status: http.StatusOK, handle: docs},
		{Method: "GET", Path: "/api/v1/schemas/{name}", Open: true, Status: http.StatusOK, handle: getSchema},
	}
}

func serving(media string, raw func() []byte) handler {
	return func(*request) (*reply, error) { return document(media, raw()), nil }
}

// described is the description read once. The file is part of the program, so one that cannot be read is the program's fault.
var described = sync.OnceValue(func() map[string]any {
	var d map[string]any
	if err := yaml.Unmarshal(openAPI, &d); err != nil {
		panic(fmt.Sprintf("openapi.yaml: %v", err))
	}
	return d
})

var openAPIJSON = sync.OnceValue(func() []byte { return asJSON(described()) })

// asJSON writes what was read from YAML as JSON.
func asJSON(v any) []byte {
	b, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		panic(fmt.Sprintf("openapi.yaml: %v", err))
	}
	return b
}

// published are the schemas that stand by themselves as well, by the name under which they are served.
var published = map[string]string{
	"worker-week.json": "WorkerWeek", "statement.json": "Statement",
	"clearance.json": "Clearance", "clearance-answer.json": "ClearanceAnswer",
}

func getSchema(rq *request) (*reply, error) {
	name := rq.gin.Param("name")
	component, ok := published[name]
	if !ok {
		return nil, errNotFound
	}
	return document("application/schema+json", asJSON(schemaOf(name, component))), nil
}

const (
	componentPrefix  = "#/components/schemas/"
	definitionPrefix = "#/$defs/"
)

// schemaOf makes a JSON Schema (2020-12) of a component, with all that it refers to.
func schemaOf(name, component string) map[string]any {
	components := described()["components"].(map[string]any)["schemas"].(map[string]any)
	used := map[string]bool{}
	schema := map[string]any{"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": "/api/v1/schemas/" + name}
	for k, v := range rebased(components[component], used).(map[string]any) {
		schema[k] = v
	}
	definitions := map[string]any{}
	for len(definitions) < len(used) {
		for ref := range used {
			if definitions[ref] == nil {
				definitions[ref] = rebased(components[ref], used)
			}
		}
	}
	schema["$defs"] = definitions
	return schema
}

// rebased copies a schema with its references turned from the description's components to its own definitions, and notes their names.
func rebased(v any, used map[string]bool) any {
	switch v := v.(type) {
	case map[string]any:
		out := make(map[string]any, len(v))
		for k, inner := range v {
			ref, isRef := inner.(string)
			if name, ours := strings.CutPrefix(ref, componentPrefix); k == "$ref" && isRef && ours {
				used[name] = true
				out[k] = definitionPrefix + name
				continue
			}
			if k == "example" {
				out["examples"] = []any{inner}
				continue
			}
			out[k] = rebased(inner, used)
		}
		return out
	case []any:
		out := make([]any, len(v))
		for i := range v {
			out[i] = rebased(v[i], used)
		}
		return out
	}
	return v
}
