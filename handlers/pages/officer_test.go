package pages_test

import "maps"

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /clearance":            "sa",
		"GET /clearance/{id}":       "sa",
		"GET /uncleared-work":       "sa",
		"GET /uncleared-work/{id}":  "sa",
		"POST /uncleared-work/{id}": "s",
		"GET /checklists":           "sa",
		"GET /checklists/{id}":      "sa",
		"POST /checklists/{id}":     "s",
		"GET /stops":                "sa",
		"GET /stops/new":            "s",
		"POST /stops/new":           "s",
		"GET /stops/{id}":           "sa",
		"POST /stops/{id}":          "s",
	})
}
