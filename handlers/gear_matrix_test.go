package handlers

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"maps"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
)

func init() {
	maps.Copy(allowed, map[string]string{
		"GET /api/v1/palms":                              "lcsa",
		"POST /api/v1/palms":                             "sa",
		"GET /api/v1/palms/{id}":                         "lcsa",
		"PUT /api/v1/palms/{id}":                         "sa",
		"POST /api/v1/palm-ranges":                       "sa",
		"GET /api/v1/palms/{id}/events":                  "lcsa",
		"POST /api/v1/palms/{id}/back-in-use":            "s",
		"GET /api/v1/palms-to-avoid":                     "lcsa",
		"POST /api/v1/palms-to-avoid":                    "ls",
		"GET /api/v1/equipment":                          "lcsa",
		"POST /api/v1/equipment":                         "s",
		"GET /api/v1/equipment/{id}":                     "lcsa",
		"PUT /api/v1/equipment/{id}":                     "s",
		"GET /api/v1/equipment/{id}/events":              "lcsa",
		"POST /api/v1/equipment/{id}/inspections":        "ls",
		"POST /api/v1/equipment/{id}/withdrawals":        "ls",
		"POST /api/v1/equipment/{id}/returns":            "s",
		"POST /api/v1/equipment/{id}/retirement":         "s",
		"GET /api/v1/equipment-findings":                 "lcsa",
		"POST /api/v1/equipment-findings/{id}/mending":   "s",
		"GET /api/v1/equipment-due":                      "lcsa",
		"GET /api/v1/gear-kinds":                         "lcsa",
		"POST /api/v1/gear-kinds":                        "s",
		"GET /api/v1/gear-kinds/{id}":                    "lcsa",
		"PUT /api/v1/gear-kinds/{id}":                    "s",
		"GET /api/v1/gear-kinds/{id}/stock":              "lcsa",
		"POST /api/v1/gear-kinds/{id}/stock":             "s",
		"GET /api/v1/gear-issues":                        "lcsa",
		"POST /api/v1/gear-issues":                       "ls",
		"POST /api/v1/gear-issues/{id}/acknowledgements": "ls",
		"POST /api/v1/gear-issues/{id}/return":           "ls",
		"GET /api/v1/my/gear":                            "wl",
		"POST /api/v1/my/gear/{id}/acknowledgements":     "wl",
		"GET /api/v1/photos":                             "lcsa",
		"POST /api/v1/photos":                            "ls",
		"GET /api/v1/photos/{id}":                        "lcsa",
	})
	maps.Copy(content, map[string]func(e *estate, n int) object{
		"/api/v1/palms": func(e *estate, n int) object { return object{"block_id": e.block, "label": fmt.Sprint("3-", n)} },
		"/api/v1/equipment": func(e *estate, n int) object {
			return object{"garden_id": e.garden, "kind": "harness", "code": fmt.Sprint("H-", n), "description": "Full body"}
		},
		"/api/v1/gear-kinds": func(_ *estate, n int) object {
			return object{"kind": "knife", "name": fmt.Sprint("Knife ", n), "size": "M", "protective": false}
		},
	})
	maps.Copy(steps, map[string]object{
		"/api/v1/palms/{id}/back-in-use":            {"id": models.NewID(), "competent_person": "Olga", "note": "The bees are gone"},
		"/api/v1/equipment/{id}/inspections":        {"id": models.NewID(), "kind": "pre_use"},
		"/api/v1/equipment/{id}/withdrawals":        {"id": models.NewID(), "kind": "withdrawn", "note": "Bent rail"},
		"/api/v1/equipment/{id}/returns":            {"id": models.NewID(), "competent_person": "Olga", "note": "New rail"},
		"/api/v1/equipment/{id}/retirement":         {"id": models.NewID(), "note": "Old"},
		"/api/v1/equipment-findings/{id}/mending":   {"id": models.NewID(), "person": "Beto"},
		"/api/v1/gear-kinds/{id}/stock":             {"id": models.NewID(), "move": "received", "quantity": 3},
		"/api/v1/gear-issues/{id}/acknowledgements": {"id": models.NewID(), "typed_name": "Ana"},
		"/api/v1/gear-issues/{id}/return":           {"id": models.NewID(), "reason": "worn"},
		"/api/v1/my/gear/{id}/acknowledgements":     {"id": models.NewID()},
	})
	for _, collection := range []string{"/api/v1/palms", "/api/v1/equipment", "/api/v1/gear-kinds", "/api/v1/gear-issues", "/api/v1/my/gear", "/api/v1/equipment-findings", "/api/v1/photos"} {
		one[collection] = func(e *estate) uuid.UUID { return e.more[collection] }
	}
	planting = append(planting, plantGear)
}

// pixel is the smallest picture that there is.
func pixel() []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 1, 1))); err != nil {
		panic(err) // written to memory
	}
	return b.Bytes()
}

// plantGear gives an estate a palm, a piece of equipment with something to mend and a photo of it, and a kind of gear of which the worker has a pair.
func plantGear(r *rig, e *estate) {
	r.Helper()
	officer := models.Scope{Employer: e.Employer, Actor: e.people[models.RoleSafetyOfficer].account}
	finding, issue, photo := models.NewID(), models.NewID(), models.NewID()
	r.in(officer, func(tx *models.Tx) error {
		e.more["/api/v1/palms"] = keep(r, tx, models.Create[models.PalmContent], models.PalmContent{BlockID: e.block, Label: "1-01"})
		e.more["/api/v1/equipment"] = keep(r, tx, models.Create[models.EquipmentContent], models.EquipmentContent{GardenID: e.garden, Kind: models.PortableLadder, Code: "L-01", Description: "Tripod"})
		e.more["/api/v1/gear-kinds"] = keep(r, tx, models.Create[models.GearKindContent], models.GearKindContent{Kind: "knife", Name: "Dethorning knife", Sheathed: new(true)})
		return nil
	})
	r.in(officer, func(tx *models.Tx) error {
		look := gear.Inspection{Stamp: gear.Stamp{ID: models.NewID()}, Kind: models.PreUseInspection, Findings: []gear.Finding{{ID: finding, Severity: models.ToMend, Note: "Loose foot"}}}
		_, _, err := gear.Inspect(tx, e.more["/api/v1/equipment"], look)
		return err
	})
	r.in(officer, func(tx *models.Tx) error {
		_, err := gear.Hand(tx, gear.Sheet{Issues: []gear.Issue{{ID: issue, WorkerID: e.worker, GearKindID: e.more["/api/v1/gear-kinds"], Quantity: 1, Condition: "new", IssuedOn: day("2026-03-01")}}})
		return err
	})
	r.in(officer, func(tx *models.Tx) error {
		_, _, err := gear.AddPhoto(tx, gear.Picture{ID: photo, SubjectKind: "equipment_finding", SubjectID: finding, Bytes: pixel()})
		return err
	})
	e.more["/api/v1/gear-issues"], e.more["/api/v1/my/gear"] = issue, issue
	e.more["/api/v1/equipment-findings"], e.more["/api/v1/photos"] = finding, photo
}
