package models_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// garden is an employer with a garden of two blocks, and somebody who records.
type garden struct {
	models.Scope
	id, a, b uuid.UUID
}

func plant(t *testing.T, store *models.Store) garden {
	t.Helper()
	g := garden{Scope: found(t, store, "tres-pozos")}
	in(t, store, g.Scope, func(tx *models.Tx) error {
		g.id = kept(t, tx, models.GardenContent{Name: "Home garden", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"}, models.Create)
		g.a = kept(t, tx, models.BlockContent{GardenID: g.id, Code: "A", Variety: "medjool", Palms: 10, TallestCM: 900}, models.Create)
		g.b = kept(t, tx, models.BlockContent{GardenID: g.id, Code: "B", Variety: "medjool", Palms: 10, TallestCM: 900}, models.Create)
		g.Actor = kept(t, tx, models.AccountContent{SignInName: "officer", Name: "The officer", Role: models.RoleSafetyOfficer, Language: "en"}, models.Create)
		return nil
	})
	return g
}

func kept[C any](t *testing.T, tx *models.Tx, c C, create func(*models.Tx, uuid.UUID, C) (*models.Kept[C], bool, error)) uuid.UUID {
	t.Helper()
	k, _, err := create(tx, models.NewID(), c)
	if err != nil {
		t.Fatal(err)
	}
	return k.ID
}

func feet(thousandths int64) models.Quantity {
	return *models.QuantityOf(quantity.Thousandths(thousandths))
}

func TestEntryRestrictions(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		g := plant(t, store)
		sprayed := models.EntryRestrictionContent{
			BlockID: g.a, Product: "Sulfur dust", RestrictedFrom: noon.Add(-24*time.Hour + 20*time.Second), RestrictedUntil: noon, IntervalHours: 24,
			Source: "label of the product", PostedBy: "Berta Luz",
		}
		how := models.Recording{RecordedAt: noon}
		wrong, right := models.NewID(), models.NewID()
		in(t, store, g.Scope, func(tx *models.Tx) error {
			_, _, err := models.Record(tx, wrong, sprayed, how)
			return err
		})
		in(t, store, g.Scope, func(tx *models.Tx) error {
			_, repeated, err := models.Record(tx, wrong, sprayed, how)
			if err != nil || !repeated {
				t.Errorf("the same again: %v, %v", repeated, err)
			}
			short := sprayed
			short.RestrictedUntil = noon.Add(-time.Hour)
			if _, _, err := models.Record(tx, models.NewID(), short, how); models.KindOf(err) != models.Invalid {
				t.Errorf("an end before the interval is over: %v", err)
			}
			return nil
		})
		// It is over at its very end, and not a minute before.
		for at, want := range map[time.Time]int{noon.Add(-time.Minute): 1, noon: 0, noon.Add(-25 * time.Hour): 0} {
			in(t, store, g.Scope, func(tx *models.Tx) error {
				until, err := models.RestrictedUntil(tx, []uuid.UUID{g.a, g.b}, at)
				if err != nil || len(until) != want {
					t.Errorf("%s: %v, %v", at, until, err)
				}
				return nil
			})
		}
		// It was the other block.
		in(t, store, g.Scope, func(tx *models.Tx) error {
			sprayed.BlockID = g.b
			_, _, err := models.Record(tx, right, sprayed, models.Recording{RecordedAt: noon, Supersedes: &wrong, Reason: "block B"})
			return err
		})
		in(t, store, g.Scope, func(tx *models.Tx) error {
			until, err := models.RestrictedUntil(tx, []uuid.UUID{g.a, g.b}, noon.Add(-time.Hour))
			if diff := cmp.Diff(map[uuid.UUID]time.Time{g.b: noon}, until); diff != "" || err != nil {
				t.Error(diff, err)
			}
			return nil
		})
	})
}

func TestNearestPowerLine(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		g := plant(t, store)
		today := dated.DateOf(noon)
		in(t, store, g.Scope, func(tx *models.Tx) error {
			if near, err := models.NearestPowerLine(tx, []uuid.UUID{g.a, g.b}, today); err != nil || len(near) != 0 {
				t.Errorf("nobody has looked: %v, %v", near, err)
			}
			kept(t, tx, models.PowerLineContent{BlockID: g.a, Kind: "overhead", Distance: feet(32_500)}, models.Create)
			kept(t, tx, models.PowerLineContent{BlockID: g.a, Kind: "service_drop", Distance: feet(9_843), RemovedOn: models.Day(today)}, models.Create)
			kept(t, tx, models.PowerLineContent{BlockID: g.b, Kind: models.NoPowerLine, Distance: feet(300_000)}, models.Create)
			for day, want := range map[dated.Date]string{today: "32.5", today.AddDays(-1): "9.843"} {
				near, err := models.NearestPowerLine(tx, []uuid.UUID{g.a, g.b}, day)
				if err != nil || near[g.a].String() != want || near[g.b].String() != "300" {
					t.Errorf("%s: %v, %v", day, near, err)
				}
			}
			return nil
		})
	})
}

// The hottest reading of an hour counts; an hour is one of the garden's clock.
func TestHeatOn(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		g := plant(t, store)
		at := noon.Add(-10 * time.Hour)
		in(t, store, g.Scope, func(tx *models.Tx) error {
			for i, f := range []int64{94_900, 95_000, 90_000} {
				_, _, err := models.Record(tx, models.NewID(), models.HeatReadingContent{
					GardenID: g.id, ReadAt: at.Add(time.Duration(i) * 30 * time.Minute), Temperature: feet(f), Humidity: new(int64(12)),
				}, models.Recording{RecordedAt: noon})
				if err != nil {
					return err
				}
			}
			hours, err := models.HeatOn(tx, []uuid.UUID{g.id}, at, noon)
			got, _ := json.Marshal(hours)
			want := `[{"garden_id":"` + g.id.String() + `","hour":"2026-03-04T02:00:00Z","temperature_f":95,"relative_humidity":12,"readings":2},` +
				`{"garden_id":"` + g.id.String() + `","hour":"2026-03-04T03:00:00Z","temperature_f":90,"relative_humidity":12,"readings":1}]`
			if diff := cmp.Diff(want, string(got)); diff != "" || err != nil {
				t.Error(diff, err)
			}
			for _, bad := range []models.HeatReadingContent{
				{GardenID: g.id, ReadAt: noon, Temperature: feet(150_001)}, {GardenID: g.id, ReadAt: noon, Humidity: new(int64(101))},
				{GardenID: g.id, ReadAt: noon.Add(time.Hour)}, {GardenID: models.NewID(), ReadAt: noon},
			} {
				if _, _, err := models.Record(tx, models.NewID(), bad, models.Recording{RecordedAt: noon}); models.KindOf(err) != models.Invalid {
					t.Errorf("%+v: %v", bad, err)
				}
			}
			return nil
		})
	})
}

func TestHourOfHalfHourZones(t *testing.T) {
	zone, err := models.Zone("Asia/Kolkata") // five and a half hours ahead
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 7, 1, 9, 20, 0, 0, time.UTC) // 14:50 there
	if got := models.HourOf(at, zone); !got.Equal(time.Date(2026, 7, 1, 8, 30, 0, 0, time.UTC)) {
		t.Errorf("the hour begins at %s", got)
	}
}

func TestHeatPlansOn(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		g := plant(t, store)
		today := models.Day(dated.DateOf(noon))
		in(t, store, g.Scope, func(tx *models.Tx) error {
			w := kept(t, tx, worker("Ana Rojas"), models.Create)
			for _, shade := range []bool{false, true} {
				plan := models.HeatPlanContent{GardenID: g.id, Workday: today, ForecastHigh: new(feet(101_300)), ShadeUp: &shade, Observers: models.IDs{w}}
				if _, _, err := models.Record(tx, models.NewID(), plan, models.Recording{RecordedAt: noon}); err != nil {
					return err
				}
			}
			plans, err := models.HeatPlansOn(tx, []uuid.UUID{g.id}, today.Date)
			if err != nil || len(plans) != 1 {
				t.Fatalf("%v, %v", plans, err)
			}
			c := plans[g.id].Content
			if !*c.ShadeUp || c.ForecastHigh.String() != "101.3" || c.WaterReady != nil || cmp.Diff(models.IDs{w}, c.Observers) != "" {
				t.Errorf("the plan that came in last: %+v", c)
			}
			stranger := models.HeatPlanContent{GardenID: g.id, Workday: today, Observers: models.IDs{w, models.NewID()}}
			_, _, err = models.Record(tx, models.NewID(), stranger, models.Recording{RecordedAt: noon})
			if models.KindOf(err) != models.Invalid {
				t.Errorf("an observer who is nobody: %v", err)
			}
			return nil
		})
	})
}
