package models_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/safety"
	"palmero/safety/quantity"
)

// ground is a garden with a block and a palm.
func ground(t *testing.T, store *models.Store, scope models.Scope) (garden, block, palm uuid.UUID) {
	t.Helper()
	in(t, store, scope, func(tx *models.Tx) error {
		g, _, err := models.Create(tx, models.NewID(), models.GardenContent{Name: "Home", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"})
		if err != nil {
			return err
		}
		b, _, err := models.Create(tx, models.NewID(), models.BlockContent{GardenID: g.ID, Code: "B-07", Variety: "medjool", Palms: 300, TallestCM: 900})
		if err != nil {
			return err
		}
		p, _, err := models.Create(tx, models.NewID(), models.PalmContent{BlockID: b.ID, Label: "3-12"})
		garden, block, palm = g.ID, b.ID, p.ID
		return err
	})
	return garden, block, palm
}

// Ratings come back as they were given, in customary units.
func TestRatingsAreKept(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		garden, _, palm := ground(t, store, scope)
		load, err := quantity.Parse("250.5")
		if err != nil {
			t.Fatal(err)
		}
		c := models.EquipmentContent{GardenID: garden, Kind: models.AttachedLadder, Code: "L-07", Description: "Steel, two sections", PalmID: &palm}
		c.Ratings.Ladder = &safety.RatedLadder{Wires: new(3), RatedLoad: &load}
		id := models.NewID()
		in(t, store, scope, func(tx *models.Tx) error {
			_, _, err := models.Create(tx, id, c)
			return err
		})
		in(t, store, scope, func(tx *models.Tx) error {
			kept, err := models.Get[models.EquipmentContent](tx, id)
			if err != nil {
				return err
			}
			l := kept.Content.Ratings.Ladder
			if kept.Content.State != models.InService || l == nil || *l.Wires != 3 || l.RatedLoad.Cmp(load) != 0 || kept.Content.Ratings.Lift != nil {
				t.Errorf("%+v", kept.Content)
			}
			return nil
		})
		wrong := c
		wrong.Code, wrong.Ratings.Ladder = "L-08", &safety.RatedLadder{Wires: new(-1), Kind: "single"}
		wrong.Ratings.Lift = &safety.RatedLift{}
		err = store.In(t.Context(), scope, func(tx *models.Tx) error {
			_, _, err := models.Create(tx, models.NewID(), wrong)
			return err
		})
		if got := pointers(err); got != "/ratings/ladder/wires /ratings/lift /ratings/ladder/kind" {
			t.Errorf("faults at %q: %v", got, err)
		}
	})
}

// pointers are where the faults of an error lie.
func pointers(err error) string {
	var e *models.Error
	if !errors.As(err, &e) {
		return ""
	}
	var all []string
	for _, f := range e.Faults {
		all = append(all, f.Pointer)
	}
	return strings.Join(all, " ")
}
