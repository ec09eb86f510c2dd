package gear_test

import (
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/models/testdb"
	"palmero/payroll/dated"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

// now is the instant at which these tests take place: noon in the garden on 4 March 2026.
var now = time.Date(2026, 3, 4, 20, 0, 0, 0, time.UTC)

var today = dated.MustDate("2026-03-04")

// rig is a store with a garden, a block of ten palms, a ladder on one of them, a harness, gloves and two workers.
type rig struct {
	*testing.T
	store           *models.Store
	scope           models.Scope
	garden, block   uuid.UUID
	ladder, harness uuid.UUID
	gloves, strap   uuid.UUID
	ana, berta      uuid.UUID
	palms           uuid.UUID // the range
}

func each(t *testing.T, test func(r *rig)) {
	t.Helper()
	databases.Each(t, func() time.Time { return now }, func(t *testing.T, store *models.Store) { test(newRig(t, store)) })
}

func newRig(t *testing.T, store *models.Store) *rig {
	t.Helper()
	r := &rig{T: t, store: store, scope: models.Scope{Employer: models.NewID()}, palms: models.NewID()}
	err := store.FoundEmployer(t.Context(), r.scope.Employer, "tres-pozos", models.EmployerContent{
		LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road, Mesa Verde", TaxNumber: "00-0000001", InsuranceCarrier: "Mutual of the Valley",
		Size: 40, WeekStart: time.Sunday, Payday: time.Friday, SecondApprover: true,
	})
	if err != nil {
		t.Fatal(err)
	}
	r.in(func(tx *models.Tx) error {
		account := keep(r, tx, models.Create[models.AccountContent], models.AccountContent{SignInName: "officer", Name: "Olga Prieto", Role: models.RoleSafetyOfficer, Language: "es"})
		r.scope.Actor = account
		r.garden = keep(r, tx, models.Create[models.GardenContent], models.GardenContent{Name: "Home", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"})
		r.block = keep(r, tx, models.Create[models.BlockContent], models.BlockContent{GardenID: r.garden, Code: "B-07", Variety: "medjool", Palms: 300, TallestCM: 900})
		for who, name := range map[*uuid.UUID]string{&r.ana: "Ana Rojas", &r.berta: "Berta Luz"} {
			*who = keep(r, tx, models.Create[models.WorkerContent], models.WorkerContent{Name: name, Address: "1 Palm Lane", Language: "es", StartedOn: models.Day(dated.MustDate("2026-02-01"))})
		}
		return nil
	})
	r.in(func(tx *models.Tx) error {
		_, _, err := gear.AddPalms(tx, gear.PalmRange{ID: r.palms, BlockID: r.block, Prefix: "3-", First: 1, Last: 10, Digits: 2})
		if err != nil {
			return err
		}
		palm := r.palm("3-04")
		r.ladder = keep(r, tx, models.Create[models.EquipmentContent], models.EquipmentContent{GardenID: r.garden, Kind: models.AttachedLadder, Code: "L-07", Description: "Steel, two sections", PalmID: &palm})
		r.harness = keep(r, tx, models.Create[models.EquipmentContent], models.EquipmentContent{GardenID: r.garden, Kind: models.Harness, Code: "H-02", Description: "Full body, medium"})
		r.gloves = keep(r, tx, models.Create[models.GearKindContent], models.GearKindContent{Kind: "gloves", Name: "Thorn gloves", Size: "L", Protective: true, CutLevel: "A5", PunctureLevel: new(int64(4)), LowAt: new(int64(6))})
		r.strap = keep(r, tx, models.Create[models.GearKindContent], models.GearKindContent{Kind: "harness", Name: "Harness", Protective: true})
		return nil
	})
	return r
}

// palm is the identifier of a palm of the range.
func (r *rig) palm(label string) uuid.UUID { return uuid.NewSHA1(r.palms, []byte(label)) }

func (r *rig) in(fn func(tx *models.Tx) error) {
	r.Helper()
	if err := r.try(fn); err != nil {
		r.Fatal(err)
	}
}

func (r *rig) try(fn func(tx *models.Tx) error) error {
	return r.store.In(r.Context(), r.scope, fn)
}

// refused wants fn to fail with a fault or a problem of a key, which it names.
func (r *rig) refused(want string, fn func(tx *models.Tx) error) {
	r.Helper()
	err := r.try(fn)
	var e *models.Error
	if !errors.As(err, &e) {
		r.Errorf("%v; want %s", err, want)
		return
	}
	got := []string{e.Key}
	for _, f := range e.Faults {
		got = append(got, f.Pointer+" "+f.Key)
	}
	if said := strings.Join(got, ", "); !strings.Contains(said, want) {
		r.Errorf("%s; want %s", said, want)
	}
}

// audited is how many entries the trail has.
func (r *rig) audited() (n int64) {
	r.in(func(tx *models.Tx) error { return tx.DB().Model(&models.AuditEntry{}).Count(&n).Error })
	return n
}

// keep creates one record of the set-up.
func keep[C any](r *rig, tx *models.Tx, create func(*models.Tx, uuid.UUID, C) (*models.Kept[C], bool, error), c C) uuid.UUID {
	r.Helper()
	kept, _, err := create(tx, models.NewID(), c)
	if err != nil {
		r.Fatal(err)
	}
	return kept.ID
}
