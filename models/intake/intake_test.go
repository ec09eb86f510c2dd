package intake_test

import (
	"context"
	"errors"
	"os"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/intake"
	"palmero/models/testdb"
	"palmero/payroll"
	"palmero/payroll/dated"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

var (
	monday = models.Day(dated.MustDate("2026-02-16"))
	zone   = must(time.LoadLocation("America/Los_Angeles"))
)

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// evening is the instant at which these tests take place: Monday, 16 February 2026, six in the evening in the garden.
func evening() time.Time { return time.Date(2026, 2, 16, 18, 0, 0, 0, zone) }

// at is an instant on that Monday, on the garden's clock.
func at(clock string) *time.Time {
	t := must(time.ParseInLocation("2006-01-02 15:04", "2026-02-16 "+clock, zone))
	return &t
}

// ground is a small invented employer to record work for.
type ground struct {
	store                            *models.Store
	scope                            models.Scope
	crew, garden, block, pollination uuid.UUID
	ana, beto                        uuid.UUID
}

func newGround(t testing.TB, store *models.Store, name string) *ground {
	t.Helper()
	g := &ground{store: store, scope: models.Scope{Employer: models.NewID()}}
	err := store.FoundEmployer(context.Background(), g.scope.Employer, name, models.EmployerContent{
		LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road", Size: 40, Payday: time.Friday, SecondApprover: true,
	})
	if err != nil {
		t.Fatal(err)
	}
	err = store.In(context.Background(), g.scope, func(tx *models.Tx) error {
		var err error
		add := func(id *uuid.UUID, create func(id uuid.UUID) error) {
			*id = models.NewID()
			err = errors.Join(err, create(*id))
		}
		day := models.Day(dated.MustDate("2026-02-01"))
		add(&g.scope.Actor, func(id uuid.UUID) error {
			_, _, err := models.Create(tx, id, models.AccountContent{SignInName: "clerk", Name: "Clerk", Role: models.RoleClerk, Language: "en"})
			return err
		})
		add(&g.garden, func(id uuid.UUID) error {
			_, _, err := models.Create(tx, id, models.GardenContent{Name: "Tres Pozos", TimeZone: zone.String(), Rulebook: "us-ca"})
			return err
		})
		add(&g.block, func(id uuid.UUID) error {
			_, _, err := models.Create(tx, id, models.BlockContent{GardenID: g.garden, Code: "A-1", Variety: "Medjool", Palms: 120, TallestCM: 900})
			return err
		})
		add(&g.pollination, func(id uuid.UUID) error {
			_, _, err := models.Create(tx, id, models.OperationContent{Code: "pollination", Unit: "bunch", DailyLimit: 400_000})
			return err
		})
		add(&g.crew, func(id uuid.UUID) error {
			_, _, err := models.Create(tx, id, models.CrewContent{Name: "North"})
			return err
		})
		add(&g.ana, func(id uuid.UUID) error {
			_, _, err := models.Create(tx, id, models.WorkerContent{Name: "Ana Rojas", Address: "1 Palm Lane", Language: "es", StartedOn: day})
			return err
		})
		add(&g.beto, func(id uuid.UUID) error {
			_, _, err := models.Create(tx, id, models.WorkerContent{Name: "Beto Luz", Address: "2 Palm Lane", Language: "es", StartedOn: day})
			return err
		})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// each runs a test on both databases.
func each(t *testing.T, test func(t *testing.T, g *ground)) {
	t.Helper()
	databases.Each(t, evening, func(t *testing.T, store *models.Store) {
		g := newGround(t, store, "tres-pozos")
		test(t, g)
		g.ledgersAgree(t)
	})
}

// ledgersAgree holds the ledgers of time and of counts to the records that stand, whatever was corrected.
func (g *ground) ledgersAgree(t *testing.T) {
	t.Helper()
	var minutes, entered, pieces, counted int64
	err := g.store.View(context.Background(), g.scope, func(tx *models.Tx) error {
		var entries []models.TimeEntry
		var tallies []models.Tally
		var lots []models.Lot
		for _, list := range []any{&entries, &tallies, &lots} {
			if err := tx.DB().Where("superseded_by IS NULL").Find(list).Error; err != nil {
				return err
			}
		}
		for _, e := range entries {
			if c := e.Content; c.Kind != payroll.MealPeriod && c.Minutes != nil {
				minutes += int64(*c.Minutes)
			} else if c.Kind != payroll.MealPeriod && c.EndedAt != nil {
				minutes += int64(c.EndedAt.Sub(*c.StartedAt).Minutes())
			}
		}
		for _, c := range tallies {
			if c.Content.Pieces != nil {
				pieces += int64(*c.Content.Pieces)
			}
		}
		for _, l := range lots {
			pieces += int64(l.Content.Pieces)
		}
		worked, err := models.MinutesWorked(tx, monday.AddDays(-400), monday.AddDays(400))
		if err != nil {
			return err
		}
		for _, m := range worked {
			entered += m
		}
		sums, err := models.CountedBetween(tx, monday.AddDays(-400), monday.AddDays(400))
		for _, s := range sums {
			counted += int64(s.Pieces)
		}
		return err
	})
	if err != nil || minutes != entered || pieces != counted {
		t.Errorf("%d minutes are on record and %d entered, %d pieces and %d: %v", minutes, entered, pieces, counted, err)
	}
}

// sheet is a plain day: Ana works from six to two, with a meal period, and counts 160 bunches.
func (g *ground) sheet() intake.Sheet {
	return intake.Sheet{
		ID: models.NewID(), CrewID: g.crew, GardenID: g.garden, Workday: monday, RecordedAt: *at("14:05"), Roll: []uuid.UUID{g.ana},
		Time: []intake.TimeLine{
			{ID: models.NewID(), WorkerID: g.ana, Kind: payroll.Piece, Start: at("06:00"), End: at("10:00")},
			{ID: models.NewID(), WorkerID: g.ana, Kind: payroll.MealPeriod, Start: at("10:00"), End: at("10:30")},
			{ID: models.NewID(), WorkerID: g.ana, Kind: payroll.Piece, Start: at("10:30"), End: at("14:00")},
		},
		Tallies: []intake.TallyLine{{ID: models.NewID(), WorkerID: g.ana, BlockID: g.block, OperationID: g.pollination, Pieces: 160_000}},
	}
}

func (g *ground) submit(s intake.Sheet, mode intake.Acceptance) (*intake.Receipt, error) {
	var r *intake.Receipt
	err := g.store.In(context.Background(), g.scope, func(tx *models.Tx) (err error) {
		r, err = intake.Submit(tx, s, mode)
		return err
	})
	return r, err
}

func (g *ground) count(t testing.TB, table string) (n int64) {
	t.Helper()
	err := g.store.View(context.Background(), g.scope, func(tx *models.Tx) error {
		return tx.DB().Raw("SELECT count(*) FROM "+table+" WHERE employer_id = ?", g.scope.Employer).Scan(&n).Error
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func outcomes(r *intake.Receipt) map[intake.Outcome]int {
	m := map[intake.Outcome]int{}
	for _, l := range r.Lines {
		m[l.Outcome]++
	}
	return m
}

// faultsOf lists the pointers and keys of an Invalid error's faults, in order.
func faultsOf(err error) []string {
	var e *models.Error
	if !errors.As(err, &e) {
		return []string{err.Error()}
	}
	out := make([]string, 0, len(e.Faults))
	for _, f := range e.Faults {
		out = append(out, f.Pointer+" "+f.Key)
	}
	slices.Sort(out)
	return out
}

func TestASheetSentTwiceIsKeptOnce(t *testing.T) {
	each(t, func(t *testing.T, g *ground) {
		s := g.sheet()
		first, err := g.submit(s, intake.Whole)
		if err != nil || outcomes(first)[intake.Recorded] != 4 {
			t.Fatalf("first: %+v, %v", first, err)
		}
		entries := g.count(t, "audit_entries")
		again, err := g.submit(s, intake.Whole)
		if err != nil || outcomes(again)[intake.Repeated] != 4 {
			t.Errorf("again: %+v, %v", again, err)
		}
		if g.count(t, "audit_entries") != entries {
			t.Error("a repeat that kept nothing left an audit entry")
		}
		s.Tallies = append(s.Tallies, intake.TallyLine{ID: models.NewID(), WorkerID: g.ana, BlockID: g.block, OperationID: g.pollination, Pieces: 12_000})
		more, err := g.submit(s, intake.Whole)
		if err != nil || outcomes(more)[intake.Recorded] != 1 || outcomes(more)[intake.Repeated] != 4 {
			t.Errorf("with one more line: %+v, %v", more, err)
		}
		s.Tallies[0].Pieces = 161_000
		if _, err := g.submit(s, intake.Whole); !slices.Equal(faultsOf(err), []string{"/tallies/0/id fault.id_reused"}) {
			t.Errorf("the same identifier with another count: %v", faultsOf(err))
		}
		if n := g.count(t, "tallies"); n != 2 {
			t.Errorf("%d tallies are kept", n)
		}
	})
}

func TestASheetSentThroughTwoConnectionsAtOnce(t *testing.T) {
	each(t, func(t *testing.T, g *ground) {
		s := g.sheet()
		var wait sync.WaitGroup
		for range 6 {
			wait.Go(func() {
				if _, err := g.submit(s, intake.Whole); err != nil {
					t.Error(err)
				}
			})
		}
		wait.Wait()
		if g.count(t, "crew_sheets") != 1 || g.count(t, "time_entries") != 3 || g.count(t, "tallies") != 1 {
			t.Errorf("kept %d sheets, %d time entries, %d tallies", g.count(t, "crew_sheets"), g.count(t, "time_entries"), g.count(t, "tallies"))
		}
	})
}

func TestBadLinesAreAllTold(t *testing.T) {
	each(t, func(t *testing.T, g *ground) {
		other := newGround(t, g.store, "otra-huerta")
		s := g.sheet()
		minutes := payroll.Minutes(30)
		s.Time = append(s.Time,
			intake.TimeLine{ID: models.NewID(), WorkerID: g.ana, Kind: payroll.Piece, Start: at("09:00"), End: at("09:30")},          // 3 overlaps
			intake.TimeLine{ID: models.NewID(), WorkerID: g.beto, Kind: payroll.Piece, Start: at("09:00"), End: at("08:30")},         // 4 backwards
			intake.TimeLine{ID: models.NewID(), WorkerID: g.beto, Kind: "siesta", Minutes: &minutes},                                 // 5 unknown kind
			intake.TimeLine{ID: models.NewID(), WorkerID: other.ana, Kind: payroll.Hourly, Minutes: &minutes, BlockID: &other.block}, // 6 another employer's
			intake.TimeLine{ID: models.NewID(), WorkerID: g.beto, Kind: payroll.Hourly, Minutes: &minutes, Start: at("07:00")},       // 7 both ways
			intake.TimeLine{ID: models.NewID(), WorkerID: g.beto, Kind: payroll.Hourly, Start: at("19:00"), End: at("19:30")},        // 8 in the future
			intake.TimeLine{ID: s.Time[0].ID, WorkerID: g.beto, Kind: payroll.Hourly, Minutes: &minutes},                             // 9 identifier twice
			intake.TimeLine{ID: models.NewID(), WorkerID: g.beto, Kind: payroll.Piece, Start: at("06:00"), End: at("06:00")},         // 10 no length
		)
		s.Tallies = append(s.Tallies,
			intake.TallyLine{ID: models.NewID(), WorkerID: g.ana, BlockID: g.block, OperationID: g.pollination, Pieces: -1},
			intake.TallyLine{ID: models.NewID(), WorkerID: g.ana, BlockID: g.block, OperationID: g.pollination, Pieces: 4_001_000},
			intake.TallyLine{ID: models.NewID(), WorkerID: g.ana, BlockID: other.block, OperationID: other.pollination, Pieces: 1},
		)
		half := payroll.Share(500_000)
		s.Lots = []intake.LotLine{
			{ID: models.NewID(), BlockID: g.block, OperationID: g.pollination, Pieces: 1000, Parting: "luck"},
			{ID: models.NewID(), BlockID: g.block, OperationID: g.pollination, Pieces: 1000, Parting: intake.ByShare, Parts: []intake.LotPart{{ID: models.NewID(), WorkerID: g.ana, Share: &half}}},
			{ID: models.NewID(), BlockID: g.block, OperationID: g.pollination, Pieces: 1000, Parting: intake.ByHeads, Parts: []intake.LotPart{{ID: models.NewID(), WorkerID: g.ana}, {ID: models.NewID(), WorkerID: g.ana}}},
			{ID: models.NewID(), BlockID: g.block, OperationID: g.pollination, Pieces: 1000, Parting: intake.ByMinutes, Parts: []intake.LotPart{{ID: models.NewID(), WorkerID: g.ana}}},
		}
		s.Breaks = []intake.BreakLine{{ID: models.NewID(), WorkerID: g.ana, Fact: "no_shade"}}
		s.NewWorkers = []intake.NewWorker{{ID: models.NewID(), Name: "  "}}

		_, err := g.submit(s, intake.Whole)
		want := []string{
			"/breaks/0/fact fault.not_one_of",
			"/lots/0/parting fault.not_one_of",
			"/lots/1/parts fault.shares_not_whole",
			"/lots/2/parts/1/worker_id fault.worker_twice",
			"/lots/3/parts fault.no_lot_minutes",
			"/lots/3/parts/0 fault.part_not_as_parted",
			"/new_workers/0/name fault.empty",
			"/tallies/1/pieces fault.negative",
			"/tallies/2/pieces fault.absurd_count",
			"/tallies/3/block_id fault.unknown_reference",
			"/tallies/3/operation_id fault.unknown_reference",
			"/time/10/end fault.ends_before_start",
			"/time/3/start fault.overlap",
			"/time/4/end fault.ends_before_start",
			"/time/5/kind fault.not_one_of",
			"/time/6/block_id fault.unknown_reference",
			"/time/6/worker_id fault.unknown_reference",
			"/time/7 fault.minutes_or_clock",
			"/time/8/start fault.in_the_future",
			"/time/9/id fault.id_twice",
		}
		if diff := cmp.Diff(want, faultsOf(err)); diff != "" {
			t.Errorf("faults (-want +got):\n%s", diff)
		}
		for _, table := range []string{"crew_sheets", "time_entries", "tallies", "lots", "break_records"} {
			if n := g.count(t, table); n != 0 {
				t.Errorf("%d rows of a refused sheet are in %s", n, table)
			}
		}

		r, err := g.submit(s, intake.GoodLines)
		if err != nil || outcomes(r)[intake.Recorded] != 4 || len(r.Faults) != len(want) {
			t.Errorf("good lines only: %v, %d faults, %v", outcomes(r), len(r.Faults), err)
		}
	})
}

func TestADayThatCannotBe(t *testing.T) {
	each(t, func(t *testing.T, g *ground) {
		for _, day := range []string{"1926-02-16", "2126-02-16"} {
			s := g.sheet()
			s.Workday = models.Day(dated.MustDate(day))
			if _, err := g.submit(s, intake.Whole); !slices.Contains(faultsOf(err), "/workday fault.day_implausible") {
				t.Errorf("%s: %v", day, faultsOf(err))
			}
		}
		s := g.sheet()
		s.Workday = models.Day(monday.AddDays(-1))
		if _, err := g.submit(s, intake.Whole); !slices.Contains(faultsOf(err), "/time/0/start fault.outside_workday") {
			t.Errorf("clock times of another day: %v", faultsOf(err))
		}
		s = g.sheet()
		s.CrewID = models.NewID()
		if _, err := g.submit(s, intake.Whole); !slices.Equal(faultsOf(err), []string{"/crew_id fault.unknown_reference"}) {
			t.Errorf("an unknown crew: %v", faultsOf(err))
		}
	})
}

func TestANewHandIsTakenInByName(t *testing.T) {
	each(t, func(t *testing.T, g *ground) {
		s := g.sheet()
		hand := models.NewID()
		s.NewWorkers = []intake.NewWorker{{ID: hand, Name: "Chuy"}}
		s.Tallies = append(s.Tallies, intake.TallyLine{ID: models.NewID(), WorkerID: hand, BlockID: g.block, OperationID: g.pollination, Pieces: 90_000})
		if _, err := g.submit(s, intake.Whole); err != nil {
			t.Fatal(err)
		}
		r, err := g.submit(s, intake.Whole)
		if err != nil || outcomes(r)[intake.Repeated] != 6 {
			t.Errorf("again: %v, %v", outcomes(r), err)
		}
		err = g.store.View(t.Context(), g.scope, func(tx *models.Tx) error {
			w, err := models.Get[models.WorkerContent](tx, hand)
			if err == nil && (!w.Content.Provisional || w.Content.Number != 3) {
				t.Errorf("kept as %+v", w.Content)
			}
			return err
		})
		if err != nil {
			t.Error(err)
		}
	})
}

func TestCorrections(t *testing.T) {
	each(t, func(t *testing.T, g *ground) {
		s := g.sheet()
		if _, err := g.submit(s, intake.Whole); err != nil {
			t.Fatal(err)
		}
		tally := intake.SingleTally{Workday: monday, RecordedAt: evening(), TallyLine: s.Tallies[0]}
		old := tally.ID
		tally.ID, tally.Pieces, tally.Supersedes = models.NewID(), 150_000, &old
		record := func(c intake.SingleTally) (repeated bool, err error) {
			err = g.store.In(context.Background(), g.scope, func(tx *models.Tx) error {
				_, repeated, err = intake.RecordTally(tx, c)
				return err
			})
			return repeated, err
		}
		if _, err := record(tally); !slices.Equal(faultsOf(err), []string{"/reason fault.reason_needed"}) {
			t.Errorf("a correction without a reason: %v", faultsOf(err))
		}
		tally.Reason = "ten bunches were counted twice"
		if repeated, err := record(tally); err != nil || repeated {
			t.Errorf("correct: repeated %v, %v", repeated, err)
		}
		if repeated, err := record(tally); err != nil || !repeated {
			t.Errorf("correct again: repeated %v, %v", repeated, err)
		}
		rival := tally
		rival.ID, rival.Pieces = models.NewID(), 140_000
		if _, err := record(rival); !slices.Equal(faultsOf(err), []string{"/supersedes fault.superseded_already"}) {
			t.Errorf("a second correction of the same tally: %v", faultsOf(err))
		}
		r, err := g.submit(s, intake.Whole)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(r.Lines, func(l intake.LineReceipt) bool { return l.ID == old })
		if l := r.Lines[i]; l.Outcome != intake.Repeated || l.SupersededBy == nil || *l.SupersededBy != tally.ID {
			t.Errorf("the sheet again, after the correction: %+v", l)
		}
	})
}

func TestCorrectingALotTakesItsPartsAlong(t *testing.T) {
	each(t, func(t *testing.T, g *ground) {
		s := g.sheet()
		part := func(w uuid.UUID) intake.LotPart { return intake.LotPart{ID: models.NewID(), WorkerID: w} }
		s.Lots = []intake.LotLine{{ID: models.NewID(), BlockID: g.block, OperationID: g.pollination, Pieces: 300_000, Parting: intake.ByHeads,
			Parts: []intake.LotPart{part(g.ana), part(g.beto)}}}
		if _, err := g.submit(s, intake.Whole); err != nil {
			t.Fatal(err)
		}
		old := s.Lots[0].ID
		next := g.sheet()
		next.Time, next.Tallies = nil, nil
		next.Lots = []intake.LotLine{{ID: models.NewID(), BlockID: g.block, OperationID: g.pollination, Pieces: 280_000, Parting: intake.ByHeads,
			Parts: []intake.LotPart{part(g.ana)}, Correction: intake.Correction{Supersedes: &old, Reason: "Beto was not at it"}}}
		if _, err := g.submit(next, intake.Whole); err != nil {
			t.Fatal(err)
		}
		err := g.store.View(t.Context(), g.scope, func(tx *models.Tx) error {
			var standing []models.Tally
			err := tx.DB().Where("lot_id IS NOT NULL AND superseded_by IS NULL").Find(&standing).Error
			if len(standing) != 1 || standing[0].ID != next.Lots[0].Parts[0].ID || *standing[0].Content.Heads != 1 {
				t.Errorf("parts that stand: %+v", standing)
			}
			return err
		})
		if err != nil {
			t.Error(err)
		}
	})
}

func TestOneEntryMayBeOpen(t *testing.T) {
	each(t, func(t *testing.T, g *ground) {
		open := func(clock string) error {
			s := g.sheet()
			s.Tallies = nil
			s.Time = []intake.TimeLine{{ID: models.NewID(), WorkerID: g.ana, Kind: payroll.Piece, Start: at(clock)}}
			_, err := g.submit(s, intake.Whole)
			return err
		}
		if err := open("06:00"); err != nil {
			t.Fatal(err)
		}
		if err := open("07:00"); !slices.Equal(faultsOf(err), []string{"/time/0/end fault.open_already"}) {
			t.Errorf("a second open entry: %v", faultsOf(err))
		}
	})
}
