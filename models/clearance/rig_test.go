package clearance_test

import (
	"context"
	"encoding/json"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/gear"
	"palmero/models/testdb"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

var (
	zone  = must(time.LoadLocation("America/Los_Angeles"))
	books = must(rulebook.Load())
	today = dated.MustDate("2026-03-03")
	dawn  = time.Date(2026, 3, 3, 6, 10, 0, 0, zone)
)

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func day(s string) models.Date { return models.Day(dated.MustDate(s)) }

// rig is an invented farm on a Tuesday at dawn: a crew of a lead and a hand, one attached ladder, everything in order. The clock can be moved.
type rig struct {
	testing.TB
	store                          *models.Store
	scope                          models.Scope
	clock                          *atomic.Int64
	garden, block, operation, crew uuid.UUID
	lead, ana                      uuid.UUID
	gloves, glasses, knife         uuid.UUID
	ladder, palms                  uuid.UUID
	setup                          uuid.UUID
	checklist, reading, plan       uuid.UUID
}

// each runs a test on both databases.
func each(t *testing.T, test func(r *rig)) {
	t.Helper()
	clock := new(atomic.Int64)
	databases.Each(t, func() time.Time { return time.Unix(0, clock.Load()) }, func(t *testing.T, store *models.Store) {
		clock.Store(dawn.UnixNano())
		test(newRig(t, store, clock))
	})
}

func newRig(t testing.TB, store *models.Store, clock *atomic.Int64) *rig {
	t.Helper()
	r := &rig{TB: t, store: store, scope: models.Scope{Employer: models.NewID()}, clock: clock, palms: models.NewID()}
	err := store.FoundEmployer(t.Context(), r.scope.Employer, "tres-pozos", models.EmployerContent{LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road", Size: 40, SecondApprover: true})
	if err != nil {
		t.Fatal(err)
	}
	r.in(func(tx *models.Tx) error {
		r.scope.Actor = keep(r, tx, models.Create[models.AccountContent], models.AccountContent{SignInName: "officer", Name: "Irma Robles", Role: models.RoleSafetyOfficer, Language: "es"})
		r.garden = keep(r, tx, models.Create[models.GardenContent], models.GardenContent{Name: "Home", TimeZone: zone.String(), Rulebook: "us-ca"})
		r.block = keep(r, tx, models.Create[models.BlockContent], models.BlockContent{GardenID: r.garden, Code: "B-07", Variety: "medjool", Palms: 300, TallestCM: 792})
		r.operation = keep(r, tx, models.Create[models.OperationContent], models.OperationContent{Code: "pollination", Unit: "bunch", DailyLimit: 400_000})
		r.crew = keep(r, tx, models.Create[models.CrewContent], models.CrewContent{Name: "North"})
		for who, name := range map[*uuid.UUID]string{&r.lead: "Irma Robles", &r.ana: "Ana Rojas"} {
			*who = keep(r, tx, models.Create[models.WorkerContent], models.WorkerContent{Name: name, Address: "1 Palm Lane", Language: "es", BirthDate: day("1991-04-02"), StartedOn: day("2026-01-05")})
			keep(r, tx, models.Create[models.CrewMemberContent], models.CrewMemberContent{CrewID: r.crew, WorkerID: *who, Leads: who == &r.lead, FromDate: day("2026-01-05")})
		}
		r.gloves = keep(r, tx, models.Create[models.GearKindContent], models.GearKindContent{Kind: "gloves", Name: "Thorn gloves", Protective: true, PunctureLevel: new(int64(4))})
		r.glasses = keep(r, tx, models.Create[models.GearKindContent], models.GearKindContent{Kind: "eye_protection", Name: "Goggles", Protective: true})
		r.knife = keep(r, tx, models.Create[models.GearKindContent], models.GearKindContent{Kind: "knife", Name: "Thorn knife", Sheathed: new(true)})
		keep(r, tx, models.Create[models.PowerLineContent], models.PowerLineContent{BlockID: r.block, Kind: models.NoPowerLine, Distance: *quantityOf("90")})
		return nil
	})
	r.in(func(tx *models.Tx) error { return r.equip(tx) })
	r.in(func(tx *models.Tx) error { return r.prepare(tx) })
	return r
}

func quantityOf(s string) *models.Quantity { return models.QuantityOf(must(quantity.Parse(s))) }

// equip gives everybody their gear, and the block a ladder that was looked over.
func (r *rig) equip(tx *models.Tx) error {
	if _, _, err := gear.AddPalms(tx, gear.PalmRange{ID: r.palms, BlockID: r.block, Prefix: "3-", First: 1, Last: 4}); err != nil {
		return err
	}
	palm := uuid.NewSHA1(r.palms, []byte("3-2"))
	var ratings safety.Ratings
	parse(`{"ladder": {"kind": "attached", "wires": 3, "wire_gauge": 12, "sections": 2, "section_length_ft": 15, "rung_spacing_in": 12, "rung_length_in": 12,
		"rated_load_lb": 250, "chain_ultimate_lb": 2500, "material": "metal"}}`, &ratings)
	r.ladder = keep(r, tx, models.Create[models.EquipmentContent], models.EquipmentContent{GardenID: r.garden, Kind: models.AttachedLadder, Code: "L-07", Description: "Steel, two sections", PalmID: &palm, Ratings: models.Ratings(ratings)})
	for _, in := range []gear.Inspection{
		{Stamp: r.stamp("2026-01-20 09:00"), Kind: models.PeriodicInspection, Person: "P. Soto"},
		{Stamp: r.stamp("2026-03-03 05:50"), Kind: models.PreUseInspection, Person: "Irma Robles"},
	} {
		if _, _, err := gear.Inspect(tx, r.ladder, in); err != nil {
			return err
		}
	}
	for _, worker := range []uuid.UUID{r.lead, r.ana} {
		for _, kind := range []uuid.UUID{r.gloves, r.glasses, r.knife} {
			issue := &models.GearIssue{Keyed: models.Keyed{ID: tx.NewID()}, WorkerID: worker, GearKindID: kind, Quantity: 1, Condition: "good", IssuedOn: day("2026-02-02"), RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
			if err := tx.DB().Create(issue).Error; err != nil {
				return err
			}
		}
		for _, topic := range []string{"fall_protection", "attached_ladder", "hand_tools", "heat_illness"} {
			record(r, tx, models.Record[models.SignOffContent], models.SignOffContent{WorkerID: worker, Trained: models.Trained{
				Topic: topic, HeldOn: day("2026-02-10"), Trainer: "P. Soto", Qualification: "20 years", Language: "es", Understanding: "showed it"}, Acknowledged: true})
		}
	}
	return nil
}

// prepare records work of the days before, the plan for the heat, a reading, the checklist and how the crew goes up.
func (r *rig) prepare(tx *models.Tx) error {
	for _, worker := range []uuid.UUID{r.lead, r.ana} {
		for _, d := range []string{"2026-01-06", "2026-03-02"} {
			t := models.Tally{Keyed: models.Keyed{ID: tx.NewID()}, Content: models.TallyContent{WorkerID: worker, OperationID: r.operation, BlockID: r.block, Workday: day(d), Pieces: new(payroll.Pieces(100_000))},
				RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: tx.Actor}
			if err := models.KeepWork(tx, models.Work{Tallies: []models.Tally{t}}, models.Work{}); err != nil {
				return err
			}
		}
	}
	r.plan = record(r, tx, models.Record[models.HeatPlanContent], models.HeatPlanContent{GardenID: r.garden, Workday: models.Day(today), ForecastHigh: quantityOf("79"), WaterReady: new(true), ShadeUp: new(true), HighHeatPlan: new(true)})
	r.reading = record(r, tx, models.Record[models.HeatReadingContent], models.HeatReadingContent{GardenID: r.garden, ReadAt: dawn.Add(-10 * time.Minute), Temperature: *quantityOf("61")})
	r.checklist = record(r, tx, models.Record[models.FilledChecklistContent], models.FilledChecklistContent{CrewID: r.crew, GardenID: r.garden, Workday: models.Day(today), FilledOn: models.Day(today), Way: "attached_ladder", Checklist: "attached_ladder", Digest: strings.Repeat("a", 64), Passed: true})
	r.setup = record(r, tx, models.Record[models.ClimbSetupContent], r.goingUp(""))
	return nil
}

// goingUp is the setup of the day, with what a JSON object changes in it.
func (r *rig) goingUp(changes string) models.ClimbSetupContent {
	var setup safety.Setup
	parse(`{"cutting_tool": true, "others_on_palm": 0, "heaviest_lb": 172, "ladder": {"workers": 1},
		"fall_protection": {"system": "positioning", "body": "belt", "saddle": true, "lanyard": "wire_rope", "free_fall_ft": 2, "anchor": "trunk", "anchor_judged_by": "I. Robles", "anchor_lb": 3000},
		"site": {"entry_posted": false, "gust_mph": 6, "lightning": false, "dark": false, "bees": false, "wet": false, "people_below": false},
		"crew": {"ground_person": true, "reach_by": "radio", "rescue_plan": true}}`, &setup)
	if changes != "" {
		parse(changes, &setup)
	}
	return models.ClimbSetupContent{
		CrewID: r.crew, Workday: models.Day(today), BlockID: r.block, OperationID: r.operation, Way: "attached_ladder", Equipment: models.IDs{r.ladder}, Setup: models.SetupFact(setup),
	}
}

func parse(text string, into any) {
	if err := json.Unmarshal([]byte(text), into); err != nil {
		panic(err)
	}
}

func (r *rig) stamp(clock string) gear.Stamp {
	return gear.Stamp{ID: models.NewID(), HappenedAt: new(must(time.ParseInLocation("2006-01-02 15:04", clock, zone)))}
}

func (r *rig) in(fn func(tx *models.Tx) error) {
	r.Helper()
	if err := r.store.In(context.Background(), r.scope, fn); err != nil {
		r.Fatal(err)
	}
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

// record records one thing, recorded now.
func record[C any](r *rig, tx *models.Tx, fn func(*models.Tx, uuid.UUID, C, models.Recording) (*models.Recorded[C], bool, error), c C) uuid.UUID {
	r.Helper()
	kept, _, err := fn(tx, models.NewID(), c, models.Recording{RecordedAt: tx.Now})
	if err != nil {
		r.Fatal(err)
	}
	return kept.ID
}

// instead records something in place of what stood.
func instead[C any](r *rig, fn func(*models.Tx, uuid.UUID, C, models.Recording) (*models.Recorded[C], bool, error), old uuid.UUID, c C) (id uuid.UUID) {
	r.Helper()
	r.in(func(tx *models.Tx) error {
		kept, _, err := fn(tx, models.NewID(), c, models.Recording{RecordedAt: tx.Now, Supersedes: &old, Reason: "it changed"})
		if err == nil {
			id = kept.ID
		}
		return err
	})
	return id
}

// look asks for the crew's clearance as of now.
func (r *rig) look() *clearance.Answer {
	r.Helper()
	return r.asked(clearance.Question{Crew: r.crew, Day: today})
}

func (r *rig) asked(q clearance.Question) (a *clearance.Answer) {
	r.Helper()
	err := r.store.View(r.Context(), r.scope, func(tx *models.Tx) (err error) {
		a, err = clearance.Look(tx, books, q)
		return err
	})
	if err != nil {
		r.Fatal(err)
	}
	a.Speak(say)
	return a
}

// say says messages by their keys.
func say(key string, _ safety.Terms) string { return key }

// against are the codes of the reasons against a worker, by the first way up; "" where the worker is cleared.
func against(a *clearance.Answer, worker uuid.UUID) string {
	for _, w := range a.Ways[0].Workers {
		if w.ID != worker {
			continue
		}
		var codes []string
		for _, reason := range w.Reasons {
			codes = append(codes, strings.TrimSpace(reason.Code+" "+reason.Fact))
		}
		slices.Sort(codes)
		if (len(codes) == 0) != w.Cleared {
			codes = append(codes, "cleared all the same")
		}
		return strings.Join(slices.Compact(codes), ", ")
	}
	return "nobody"
}
