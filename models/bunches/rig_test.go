package bunches_test

import (
	"errors"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/bunches"
	"palmero/models/testdb"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

// noon is in the garden, on Wednesday 4 March 2026.
var noon = time.Date(2026, 3, 4, 20, 0, 0, 0, time.UTC)

func day(s string) models.Date { return models.Day(dated.MustDate(s)) }

// rig is a store with a garden of two varieties, two crews and a lead of the first.
type rig struct {
	testing.TB
	store                     *models.Store
	scope                     models.Scope
	clock                     *atomic.Int64
	garden, tall, heavy, palm uuid.UUID
	pollination, bagging      uuid.UUID
	crew, other               uuid.UUID
	lead, ana                 uuid.UUID
}

func each(t *testing.T, test func(r *rig)) {
	t.Helper()
	var clock atomic.Int64
	databases.Each(t, func() time.Time { return time.Unix(0, clock.Load()) }, func(t *testing.T, store *models.Store) {
		clock.Store(noon.UnixNano())
		r := &rig{TB: t, store: store, clock: &clock}
		r.plant()
		test(r)
	})
}

func (r *rig) plant() {
	r.Helper()
	r.scope = models.Scope{Employer: models.NewID()}
	err := r.store.FoundEmployer(r.Context(), r.scope.Employer, "tres-pozos", models.EmployerContent{
		LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road, Mesa Verde", TaxNumber: "00-0000001", InsuranceCarrier: "Mutual of the Valley",
		Size: 40, WeekStart: time.Sunday, Payday: time.Friday, SecondApprover: true,
	})
	if err != nil {
		r.Fatal(err)
	}
	r.in(func(tx *models.Tx) error {
		r.garden = keep(r, tx, models.Create[models.GardenContent], models.GardenContent{Name: "Home", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"})
		r.tall = keep(r, tx, models.Create[models.BlockContent], models.BlockContent{GardenID: r.garden, Code: "B-1", Variety: "deglet noor", Palms: 100, TallestCM: 1200})
		r.heavy = keep(r, tx, models.Create[models.BlockContent], models.BlockContent{GardenID: r.garden, Code: "C-1", Variety: "barhi", Palms: 60, TallestCM: 500})
		r.palm = keep(r, tx, models.Create[models.PalmContent], models.PalmContent{BlockID: r.heavy, Label: "3-12"})
		r.pollination = keep(r, tx, models.Create[models.OperationContent], models.OperationContent{Code: "pollination", Unit: "bunch", DailyLimit: 220_000})
		r.bagging = keep(r, tx, models.Create[models.OperationContent], models.OperationContent{Code: "bagging", Unit: "bunch", DailyLimit: 700_000})
		r.crew = keep(r, tx, models.Create[models.CrewContent], models.CrewContent{Name: "Norte"})
		r.other = keep(r, tx, models.Create[models.CrewContent], models.CrewContent{Name: "Sur"})
		for who, name := range map[*uuid.UUID]string{&r.lead: "Luis Luna", &r.ana: "Ana Rojas"} {
			*who = keep(r, tx, models.Create[models.WorkerContent], models.WorkerContent{Name: name, Address: "1 Palm Lane", Language: "es", StartedOn: day("2026-02-01")})
		}
		keep(r, tx, models.Create[models.CrewMemberContent], models.CrewMemberContent{CrewID: r.crew, WorkerID: r.lead, FromDate: day("2026-02-01"), Leads: true})
		r.scope.Actor = keep(r, tx, models.Create[models.AccountContent], models.AccountContent{SignInName: "lead", Name: "Luis Luna", Role: models.RoleCrewLead, Language: "es", WorkerID: &r.lead})
		return nil
	})
}

func (r *rig) in(fn func(tx *models.Tx) error) {
	r.Helper()
	if err := r.try(fn); err != nil {
		r.Fatal(err)
	}
}

func (r *rig) try(fn func(tx *models.Tx) error) error { return r.store.In(r.Context(), r.scope, fn) }

func (r *rig) view(fn func(tx *models.Tx) error) {
	r.Helper()
	if err := r.store.View(r.Context(), r.scope, fn); err != nil {
		r.Fatal(err)
	}
}

// faults are what an error says: its key, and its faults as "pointer key".
func faults(err error) string {
	var e *models.Error
	if !errors.As(err, &e) {
		return "none"
	}
	said := []string{e.Key}
	for _, f := range e.Faults {
		said = append(said, f.Pointer+" "+f.Key)
	}
	return strings.Join(said, ", ")
}

// keep keeps a record of the set-up by the function that is its own.
func keep[C any](r *rig, tx *models.Tx, create func(*models.Tx, uuid.UUID, C) (*models.Kept[C], bool, error), c C) uuid.UUID {
	r.Helper()
	k, _, err := create(tx, models.NewID(), c)
	if err != nil {
		r.Fatal(err)
	}
	return k.ID
}

// set records a standard that holds from a day on.
func (r *rig) set(c models.WorkStandardContent) *models.WorkStandard {
	r.Helper()
	var kept *models.WorkStandard
	r.in(func(tx *models.Tx) (err error) {
		kept, _, err = bunches.SetStandard(tx, models.NewID(), c, models.Recording{RecordedAt: tx.Now})
		return err
	})
	return kept
}

// Points of the trade: common practice, no source.
var (
	strands = models.StandardPoint{Point: "strands_kept", NameEN: "Strands kept", NameES: "Hebras que quedan", Kind: models.NumberPoint, Unit: "strand", Low: whole(30), High: whole(35), Reason: "Common practice, no source"}
	cut     = models.StandardPoint{Point: "share_cut", NameEN: "Flowers cut", NameES: "Flor cortada", Kind: models.NumberPoint, Unit: "percent", Low: whole(35), High: whole(45), Reason: "Common practice, no source"}
	thorns  = models.StandardPoint{Point: "thorns_off", NameEN: "Thorns off first", NameES: "Sin espinas antes", Kind: models.YesNoPoint, Reason: "Common practice, no source"}
	tie     = models.StandardPoint{Point: "tie_length", NameEN: "Length of the tie", NameES: "Largo del amarre", Kind: models.NumberPoint, Unit: "in", Low: whole(16), High: whole(20), Reason: "Common practice, no source"}
)

func whole(n int64) *models.Quantity { return models.QuantityOf(quantity.Of(n)) }

func thousandths(n int64) *models.Quantity { return models.QuantityOf(quantity.Thousandths(n)) }

func yes(point string, so bool) models.BunchMark { return models.BunchMark{Point: point, Yes: &so} }

func number(point string, n int64) models.BunchMark {
	return models.BunchMark{Point: point, Number: whole(n)}
}

func bunch(marks ...models.BunchMark) models.SampledBunch { return models.SampledBunch{Marks: marks} }
