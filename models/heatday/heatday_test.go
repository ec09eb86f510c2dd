package heatday

import (
	"os"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/testdb"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

var (
	today = dated.MustDate("2026-07-14")
	six   = time.Date(2026, 7, 14, 13, 0, 0, 0, time.UTC) // six in the morning in California
)

func clock() time.Time { return six.Add(15 * time.Hour) }

func books(t *testing.T) *rulebook.Library {
	t.Helper()
	l, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func californian(t *testing.T) rule {
	t.Helper()
	book, _ := books(t).For("us-ca")
	r, ok, err := coolDownRule(book, today)
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	return r
}

// line is a stretch of a day in minutes from six o'clock.
func line(from, to int, rests, counts bool) stretch {
	at := func(m int) time.Time { return six.Add(time.Duration(m) * time.Minute) }
	return stretch{start: at(from), end: at(to), minutes: int64(to - from), rests: rests, counts: counts}
}

func work(from, to int) stretch { return line(from, to, false, true) }
func rest(from, to int) stretch { return line(from, to, true, true) }
func meal(from, to int) stretch { return line(from, to, true, false) }

// 8 CCR 3395(e)(6) by the agency's guide to high heat (http://www.dir.ca.gov/dosh/etools/08-006/EWP_highHeat.htm): ten minutes every two hours, a further one at the end of the eighth hour where the
// work goes past it, and at the end of the tenth. The shift of eight hours itself has no more.
func TestCoolDownsByTheGuide(t *testing.T) {
	r := californian(t)
	always := func(uuid.UUID, time.Time) (bool, bool) { return true, true }
	if r.minutes != 10 || r.every != 120 {
		t.Fatalf("%d minutes every %d", r.minutes, r.every)
	}
	for hours, want := range map[int]int{1: 0, 2: 0, 3: 1, 4: 1, 5: 2, 8: 3} {
		if c := coolDowns([]stretch{work(0, hours*60)}, r, always); c.Due != want || c.Missing != want {
			t.Errorf("%d hours: %+v", hours, c)
		}
	}
	for minutes, want := range map[int]int{8*60 + 1: 4, 10 * 60: 4, 10*60 + 1: 5} {
		if c := coolDowns([]stretch{work(0, minutes)}, r, always); c.Due != want {
			t.Errorf("%d minutes: %+v", minutes, c)
		}
	}
}

func TestCoolDownsTaken(t *testing.T) {
	r := californian(t)
	noon := six.Add(6 * time.Hour)
	always := func(uuid.UUID, time.Time) (bool, bool) { return true, true }
	fromNoon := func(_ uuid.UUID, at time.Time) (bool, bool) { return !at.Before(noon), true }
	unmeasured := func(uuid.UUID, time.Time) (bool, bool) { return false, false }
	for name, c := range map[string]struct {
		day                   []stretch
		hot                   air
		due, missing, unknown int
		by                    []int
	}{
		"none":                       {[]stretch{work(0, 480)}, always, 3, 3, 0, []int{120, 240, 360}},
		"a rest in each":             {[]stretch{work(0, 100), rest(100, 110), work(110, 230), rest(230, 240), work(240, 350), rest(350, 360), work(360, 480)}, always, 3, 0, 0, nil},
		"rests just as they are due": {[]stretch{work(0, 120), rest(120, 130), work(130, 240), rest(240, 250), work(250, 360), rest(360, 370), work(370, 480)}, always, 3, 0, 0, nil},
		"a few minutes late":         {[]stretch{work(0, 128), rest(128, 138), work(138, 248), rest(248, 258), work(258, 368), rest(368, 378), work(378, 480)}, always, 3, 0, 0, nil},
		"much too late":              {[]stretch{work(0, 140), rest(140, 150), work(150, 241)}, always, 2, 1, 0, []int{120}},
		"too short":                  {[]stretch{work(0, 100), rest(100, 109), work(109, 130)}, always, 1, 1, 0, []int{120}},
		"a meal is one":              {[]stretch{work(0, 110), meal(110, 140), work(140, 200)}, always, 1, 0, 0, nil},
		"a meal is no work":          {[]stretch{work(0, 60), meal(60, 90), work(90, 150)}, always, 0, 0, 0, nil},
		"two in one period":          {[]stretch{work(0, 50), rest(50, 60), work(60, 100), rest(100, 110), work(110, 250)}, always, 2, 1, 0, []int{240}},
		"hot from noon":              {[]stretch{work(0, 600)}, fromNoon, 1, 1, 0, []int{480}},
		"hot from within the third":  {[]stretch{work(10, 480)}, fromNoon, 1, 1, 0, []int{370}},
		"nobody measured":            {[]stretch{work(0, 480)}, unmeasured, 0, 0, 3, nil},
		"rested without measuring":   {[]stretch{work(0, 100), rest(100, 110), work(110, 250)}, unmeasured, 0, 0, 1, nil},
		"resting first of all":       {[]stretch{rest(0, 20), work(20, 130)}, always, 1, 1, 0, []int{120}},
		"only lengths":               {[]stretch{{minutes: 300, counts: true}, {minutes: 15, rests: true, counts: true}}, always, 2, 1, 0, nil},
		"only lengths, unmeasured":   {[]stretch{{minutes: 300, counts: true}}, unmeasured, 0, 0, 2, nil},
		"nothing":                    {nil, always, 0, 0, 0, nil},
	} {
		t.Run(name, func(t *testing.T) {
			got := coolDowns(slices.Clone(c.day), r, c.hot)
			var by []int
			for _, at := range got.DueBy {
				by = append(by, int(at.Sub(six)/time.Minute))
			}
			if got.Due != c.due || got.Missing != c.missing || got.Unknown != c.unknown || got.Due != got.Taken+got.Missing || cmp.Diff(c.by, by) != "" {
				t.Errorf("%+v, by %v", got, by)
			}
		})
	}
}

// An hour that nobody measured is as hot as the hotter of its neighbors; one cool neighbor alone says nothing.
func TestHeatBetweenReadings(t *testing.T) {
	g := uuid.New()
	reading := func(h int, f int64) models.HeatHour {
		return models.HeatHour{GardenID: g, Hour: six.Add(time.Duration(h) * time.Hour), Temperature: *models.QuantityOf(quantity.Of(f))}
	}
	h := heat{map[uuid.UUID][]models.HeatHour{g: {reading(0, 80), reading(3, 96), reading(9, 90)}}, 4 * time.Hour}
	for _, c := range []struct {
		hour         float64
		want         int64
		known, whole bool
	}{{0.5, 80, true, true}, {1, 96, true, true}, {3.9, 96, true, true}, {5, 96, true, true}, {8, 90, true, false}, {13.9, 90, true, false}, {14, 0, false, false}, {-3, 80, true, false}, {-5, 0, false, false}} {
		got, known, whole := h.at(g, six.Add(time.Duration(c.hour*float64(time.Hour))))
		if known != c.known || whole != c.whole || known && got.Cmp(quantity.Of(c.want)) != 0 {
			t.Errorf("hour %v: %s, %v, %v", c.hour, got, known, whole)
		}
	}
}

// farm is an employer with a garden, a crew and four workers.
type farm struct {
	models.Scope
	garden, cool uuid.UUID
	workers      []uuid.UUID
}

func plant(t *testing.T, store *models.Store) *farm {
	t.Helper()
	f := &farm{Scope: models.Scope{Employer: models.NewID()}}
	content := models.EmployerContent{LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road", Size: 40, SecondApprover: true}
	if err := store.FoundEmployer(t.Context(), f.Employer, "tres-pozos", content); err != nil {
		t.Fatal(err)
	}
	f.do(t, store, func(tx *models.Tx) {
		f.Actor = keep(t, tx, models.AccountContent{SignInName: "officer", Name: "The officer", Role: models.RoleSafetyOfficer, Language: "en"}, models.Create)
		f.garden = keep(t, tx, models.GardenContent{Name: "Home garden", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"}, models.Create)
		f.cool = keep(t, tx, models.GardenContent{Name: "By the river", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"}, models.Create)
		crew := keep(t, tx, models.CrewContent{Name: "Morning crew"}, models.Create)
		for _, name := range []string{"Ana Rojas", "Berta Luz", "Carlos Peña", "Delia Ruiz"} {
			w := keep(t, tx, models.WorkerContent{Name: name, Address: "1 Palm Lane", Language: "es", StartedOn: models.Day(today.AddDays(-100))}, models.Create)
			keep(t, tx, models.CrewMemberContent{CrewID: crew, WorkerID: w, FromDate: models.Day(today.AddDays(-100))}, models.Create)
			f.workers = append(f.workers, w)
		}
	})
	return f
}

func (f *farm) do(t *testing.T, store *models.Store, fn func(tx *models.Tx)) {
	t.Helper()
	err := store.In(t.Context(), f.Scope, func(tx *models.Tx) error {
		tx.Actor = f.Actor
		fn(tx)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func keep[C any](t *testing.T, tx *models.Tx, c C, create func(*models.Tx, uuid.UUID, C) (*models.Kept[C], bool, error)) uuid.UUID {
	t.Helper()
	k, _, err := create(tx, models.NewID(), c)
	if err != nil {
		t.Fatal(err)
	}
	return k.ID
}

// entry records a stretch of a worker's day, from and to minutes from six.
func (f *farm) entry(t *testing.T, tx *models.Tx, worker int, day dated.Date, garden uuid.UUID, kind payroll.TimeKind, from, to int) {
	t.Helper()
	shift := time.Duration(day.DaysSince(today)) * 24 * time.Hour
	start, end := six.Add(shift+time.Duration(from)*time.Minute), six.Add(shift+time.Duration(to)*time.Minute)
	e := models.TimeEntry{Keyed: models.Keyed{ID: models.NewID()}, RecordedAt: end, ReceivedAt: end, RecordedBy: f.Actor, Content: models.TimeEntryContent{
		WorkerID: f.workers[worker], Workday: models.Day(day), Kind: kind, GardenID: garden, StartedAt: &start, EndedAt: &end,
	}}
	if err := models.KeepWork(tx, models.Work{Time: []models.TimeEntry{e}}, models.Work{}); err != nil {
		t.Fatal(err)
	}
}

func (f *farm) reading(t *testing.T, tx *models.Tx, garden uuid.UUID, hour int, fahrenheit int64) {
	t.Helper()
	c := models.HeatReadingContent{GardenID: garden, ReadAt: six.Add(time.Duration(hour) * time.Hour), Temperature: *models.QuantityOf(quantity.Of(fahrenheit))}
	if _, _, err := models.Record(tx, models.NewID(), c, models.Recording{RecordedAt: six}); err != nil {
		t.Fatal(err)
	}
}

// Who is owed a rest that nobody recorded; the same minutes in a cooler garden owe none.
func TestFindOwed(t *testing.T) {
	databases.Each(t, clock, func(t *testing.T, store *models.Store) {
		f := plant(t, store)
		f.do(t, store, func(tx *models.Tx) {
			for h := range 10 {
				f.reading(t, tx, f.garden, h, 95)
				f.reading(t, tx, f.cool, h, 94)
			}
			f.entry(t, tx, 0, today, f.garden, payroll.Piece, 0, 300) // two due, none taken
			f.entry(t, tx, 1, today, f.garden, payroll.Piece, 0, 110)
			f.entry(t, tx, 1, today, f.garden, payroll.Recovery, 110, 120)
			f.entry(t, tx, 1, today, f.garden, payroll.Piece, 120, 200)
			f.entry(t, tx, 2, today, f.cool, payroll.Piece, 0, 300)
			f.entry(t, tx, 3, today, f.garden, payroll.Piece, 0, 130)
			missed := models.BreakRecord{Keyed: models.Keyed{ID: models.NewID()}, RecordedAt: six, ReceivedAt: six, RecordedBy: f.Actor,
				Content: models.BreakContent{WorkerID: f.workers[3], Workday: models.Day(today), Fact: models.RecoveryNotProvided}}
			if err := tx.DB().Create(&missed).Error; err != nil {
				t.Fatal(err)
			}
		})
		f.do(t, store, func(tx *models.Tx) {
			owed, err := FindOwed(tx, books(t), today, nil)
			if err != nil {
				t.Fatal(err)
			}
			type row struct {
				Name         string
				Due, Missing int
				Unrecorded   bool
			}
			var got []row
			for _, o := range owed {
				got = append(got, row{o.Name, o.Due, o.Missing, o.Unrecorded()})
			}
			want := []row{{"Ana Rojas", 2, 2, true}, {"Delia Ruiz", 1, 1, false}, {"Berta Luz", 1, 0, false}}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Error(diff)
			}
			if elsewhere, err := FindOwed(tx, books(t), today, &f.cool); err != nil || len(elsewhere) != 0 {
				t.Errorf("in the cooler garden: %+v, %v", elsewhere, err)
			}
			if none, err := FindOwed(tx, books(t), today.AddDays(-1), nil); err != nil || len(none) != 0 {
				t.Errorf("yesterday: %+v, %v", none, err)
			}
		})
	})
}

func TestFindPlan(t *testing.T) {
	databases.Each(t, clock, func(t *testing.T, store *models.Store) {
		f := plant(t, store)
		f.do(t, store, func(tx *models.Tx) {
			// Ana has been at it; Berta is in her fourteenth day, Carlos is back after eight days, Delia has never worked.
			for ago := 1; ago < 40; ago++ {
				f.entry(t, tx, 0, today.AddDays(-ago), f.garden, payroll.Piece, 0, 300)
				if ago <= 13 {
					f.entry(t, tx, 1, today.AddDays(-ago), f.garden, payroll.Piece, 0, 300)
				}
				if ago >= 8 {
					f.entry(t, tx, 2, today.AddDays(-ago), f.garden, payroll.Piece, 0, 300)
				}
			}
			p, err := FindPlan(tx, books(t), f.garden, today, nil)
			if err != nil {
				t.Fatal(err)
			}
			var watched []Watched
			for _, w := range p.Watched {
				watched = append(watched, Watched{Name: w.Name, Why: w.Why, Day: w.Day, Days: w.Days})
			}
			want := []Watched{{Name: "Berta Luz", Why: "new", Day: 14, Days: 14}, {Name: "Delia Ruiz", Why: "new", Day: 1, Days: 14}, {Name: "Carlos Peña", Why: "returning", Days: 8}}
			if diff := cmp.Diff(want, watched); diff != "" || p.People != 4 {
				t.Errorf("%d people\n%s", p.People, diff)
			}
			if len(p.Duties) != 5 || p.Temperature != nil || p.Duties[0].Ready != nil {
				t.Errorf("nobody knows how hot it will be: %+v", p.Duties)
			}
		})
		// At 80 no shade is due, and above it is; at 95 everything is.
		for _, c := range []struct {
			temperature int64
			want        []string
		}{{80_000, []string{"water"}}, {80_100, []string{"water", "shade"}}, {95_000, []string{"water", "shade", "high_heat_plan", "observation", "cool_down"}}} {
			f.do(t, store, func(tx *models.Tx) {
				ready := models.HeatPlanContent{GardenID: f.garden, Workday: models.Day(today), ForecastHigh: models.QuantityOf(quantity.Thousandths(c.temperature)), WaterReady: new(true), ShadeUp: new(false)}
				if _, _, err := models.Record(tx, models.NewID(), ready, models.Recording{RecordedAt: six}); err != nil {
					t.Fatal(err)
				}
				p, err := FindPlan(tx, books(t), f.garden, today, nil)
				if err != nil {
					t.Fatal(err)
				}
				var codes []string
				for _, d := range p.Duties {
					codes = append(codes, d.Code)
					switch d.Code {
					case "water":
						if !*d.Ready || d.Amount.String() != "4" {
							t.Errorf("water: %+v", d)
						}
					case "observation":
						if *d.Ready || d.Amount.String() != "1" {
							t.Errorf("observation: %+v", d)
						}
					}
				}
				if diff := cmp.Diff(c.want, codes); diff != "" {
					t.Error(c.temperature, diff)
				}
			})
		}
	})
}

// The agency's guide to high heat has one observer for 20 people or fewer: 41 people need three. Water is a quart an hour for each, 8 CCR 3395(c): twelve people over ten hours need 120 quarts.
func TestMeasuresByTheGuide(t *testing.T) {
	book, _ := books(t).For("us-ca")
	for _, c := range []struct {
		code   string
		people int
		want   string
	}{{"observation", 41, "3"}, {"observation", 40, "2"}, {"observation", 1, "1"}, {"water", 12, "12"}} {
		d := Duty{Code: c.code}
		p := Plan{People: c.people}
		if err := p.measure(&d, book, today); err != nil || d.Amount.String() != c.want {
			t.Errorf("%s for %d: %s, %v", c.code, c.people, d.Amount, err)
		}
	}
}
