package payrun

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/localbooks"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// scene is a set of records made by hand, without a database.
type scene struct {
	records
	garden, block, operation, ana uuid.UUID
}

func newScene(zone string, workdayStart int64) *scene {
	s := &scene{records: records{ground: &ground{books: &localbooks.Library{}, pieceRates: map[uuid.UUID][]models.PieceRate{}, hourlyRates: map[uuid.UUID][]models.HourlyRate{}}}, garden: models.NewID(), block: models.NewID(), operation: models.NewID(), ana: models.NewID()}
	s.profile = &models.EmployerProfile{Content: models.EmployerContent{Size: 40, WorkdayStart: workdayStart, Payday: time.Friday}}
	s.gardens = map[uuid.UUID]*models.Garden{s.garden: {Keyed: models.Keyed{ID: s.garden}, Content: models.GardenContent{Name: "Tres Pozos", TimeZone: zone, Rulebook: "us-ca"}}}
	s.blocks = map[uuid.UUID]*models.Block{s.block: {Keyed: models.Keyed{ID: s.block}, Content: models.BlockContent{GardenID: s.garden, Code: "A-1", Variety: "Medjool"}}}
	s.operations = map[uuid.UUID]*models.Operation{s.operation: {Keyed: models.Keyed{ID: s.operation}, Content: models.OperationContent{Code: "pollination", Unit: "bunch", DailyLimit: 400_000}}}
	s.workers = map[uuid.UUID]*models.Worker{s.ana: {Keyed: models.Keyed{ID: s.ana}, Content: models.WorkerContent{Number: 1, Name: "Ana Rojas", StartedOn: day("2026-01-01")}}}
	return s
}

func day(s string) models.Date { return models.Day(dated.MustDate(s)) }

func (s *scene) works(workday, zone, start, end string) {
	loc, err := time.LoadLocation(zone)
	if err != nil {
		panic(err)
	}
	parse := func(clock string) *time.Time {
		t, err := time.ParseInLocation("2006-01-02 15:04", clock, loc)
		if err != nil {
			panic(err)
		}
		t = t.UTC()
		return &t
	}
	s.time = append(s.time, models.TimeEntry{Keyed: models.Keyed{ID: models.NewID()}, Content: models.TimeEntryContent{
		WorkerID: s.ana, Workday: day(workday), Kind: payroll.Hourly, GardenID: s.garden, StartedAt: parse(start), EndedAt: parse(end)}})
}

// minutesByDay are the minutes of each day of the only worker's week.
func (s *scene) minutesByDay(weekStart string) map[string]payroll.Minutes {
	m := map[string]payroll.Minutes{}
	for _, w := range weeksOf(&s.records, selection{weekStart: dated.MustDate(weekStart)}) {
		for _, d := range w.week.Days {
			for _, t := range d.Time {
				m[d.Date.String()] += payroll.Minutes(t.End.Sub(*t.Start) / time.Minute)
			}
		}
	}
	return m
}

func TestWorkAcrossTheStartOfAWorkdayIsSplit(t *testing.T) {
	const zone = "America/Los_Angeles"
	for _, test := range []struct {
		name               string
		workdayStart       int64
		workday, from, end string
		want               map[string]payroll.Minutes
	}{
		{"within a day", 0, "2026-02-16", "2026-02-16 06:00", "2026-02-16 14:00", map[string]payroll.Minutes{"2026-02-16": 480}},
		{"over midnight", 0, "2026-02-16", "2026-02-16 22:00", "2026-02-17 02:00", map[string]payroll.Minutes{"2026-02-16": 120, "2026-02-17": 120}},
		{"a workday from four to four", 240, "2026-02-16", "2026-02-16 22:00", "2026-02-17 05:00", map[string]payroll.Minutes{"2026-02-16": 360, "2026-02-17": 60}},
		{"from the week before", 0, "2026-02-14", "2026-02-14 22:00", "2026-02-15 02:00", map[string]payroll.Minutes{"2026-02-15": 120}},
		{"into the week after", 0, "2026-02-21", "2026-02-21 22:00", "2026-02-22 02:00", map[string]payroll.Minutes{"2026-02-21": 120}},
		{"wholly in the week before", 0, "2026-02-14", "2026-02-14 06:00", "2026-02-14 14:00", map[string]payroll.Minutes{}},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := newScene(zone, test.workdayStart)
			s.works(test.workday, zone, test.from, test.end)
			if diff := cmp.Diff(test.want, s.minutesByDay("2026-02-15")); diff != "" {
				t.Errorf("minutes (-want +got):\n%s", diff)
			}
		})
	}
}

// On 8 March 2026 clocks in California go from two to three at night, on 1 November back from two to one (Energy Policy Act of 2005, sec. 110): work
// through the night is an hour shorter or longer than the clock says, and that is what was worked.
func TestTheNightsWhenClocksChange(t *testing.T) {
	const zone = "America/Los_Angeles"
	spring := newScene(zone, 0)
	spring.works("2026-03-08", zone, "2026-03-08 00:00", "2026-03-08 06:00")
	if got := spring.minutesByDay("2026-03-08")["2026-03-08"]; got != 300 {
		t.Errorf("from midnight to six in the night to summer time: %d minutes", got)
	}
	autumn := newScene(zone, 0)
	autumn.works("2026-11-01", zone, "2026-11-01 00:00", "2026-11-01 06:00")
	if got := autumn.minutesByDay("2026-11-01")["2026-11-01"]; got != 420 {
		t.Errorf("from midnight to six in the night to winter time: %d minutes", got)
	}
	across := newScene(zone, 0)
	across.works("2026-03-07", zone, "2026-03-07 20:00", "2026-03-08 04:00")
	if diff := cmp.Diff(map[string]payroll.Minutes{"2026-03-08": 180}, across.minutesByDay("2026-03-08")); diff != "" {
		t.Errorf("a shift into the week, over the change (-want +got):\n%s", diff)
	}
}

func TestTheNarrowestPieceRateWins(t *testing.T) {
	s := newScene("America/Los_Angeles", 0)
	other := models.NewID()
	add := func(rate payroll.Rate, on string, block *uuid.UUID, variety string) {
		s.pieceRates[s.operation] = append(s.pieceRates[s.operation], models.PieceRate{Content: models.PieceRateContent{OperationID: s.operation, Rate: rate, EffectiveOn: day(on), BlockID: block, Variety: variety}})
	}
	rate := func(on string) payroll.Rate {
		r, _ := s.pieceRate(s.operation, s.blocks[s.block], dated.MustDate(on))
		return r
	}
	add(10000, "2026-02-01", nil, "")
	add(11000, "2026-02-10", nil, "")
	add(99000, "2026-02-01", &other, "")
	add(98000, "2026-02-01", nil, "Barhi")
	for _, test := range []struct {
		on   string
		want payroll.Rate
	}{{"2026-01-31", 0}, {"2026-02-01", 10000}, {"2026-02-09", 10000}, {"2026-02-10", 11000}} {
		if got := rate(test.on); got != test.want {
			t.Errorf("everywhere, on %s: %v, want %v", test.on, got, test.want)
		}
	}
	add(12000, "2026-02-05", nil, "Medjool")
	if got := rate("2026-02-10"); got != 12000 {
		t.Errorf("for the variety, before a later one for everywhere: %v", got)
	}
	add(13000, "2026-02-03", &s.block, "")
	if got := rate("2026-02-10"); got != 13000 {
		t.Errorf("for the block: %v", got)
	}
	add(13500, "2026-02-03", &s.block, "")
	if got := rate("2026-02-10"); got != 13500 {
		t.Errorf("of two from the same day, the one recorded last: %v", got)
	}
}

func TestAWorkersOwnHourlyRateWins(t *testing.T) {
	s := newScene("America/Los_Angeles", 0)
	other := models.NewID()
	add := func(rate payroll.Rate, on string, worker *uuid.UUID) {
		of := uuid.Nil
		if worker != nil {
			of = *worker
		}
		s.hourlyRates[of] = append(s.hourlyRates[of], models.HourlyRate{Content: models.HourlyRateContent{WorkerID: worker, Rate: rate, EffectiveOn: day(on)}})
	}
	if got := s.hourlyRate(s.ana, dated.MustDate("2026-02-16")); got != nil {
		t.Errorf("without any rate: %v", got)
	}
	add(170000, "2026-02-01", nil)
	add(250000, "2026-02-01", &other)
	add(190000, "2026-02-10", &s.ana)
	add(175000, "2026-02-12", nil)
	for on, want := range map[string]payroll.Rate{"2026-02-09": 170000, "2026-02-10": 190000, "2026-02-16": 190000} {
		if got := s.hourlyRate(s.ana, dated.MustDate(on)); got == nil || *got != want {
			t.Errorf("on %s: %v, want %v", on, got, want)
		}
	}
}

func TestWhatHoldsAWorker(t *testing.T) {
	codes := func(s *scene) []string {
		var out []string
		for _, w := range weeksOf(&s.records, selection{weekStart: dated.MustDate("2026-02-15")}) {
			for _, p := range w.problems {
				if p.Kind == Holds {
					out = append(out, p.Code)
				}
			}
		}
		return out
	}
	pieces := payroll.Pieces(10_000)
	tally := func(s *scene) {
		s.tallies = append(s.tallies, models.Tally{Content: models.TallyContent{WorkerID: s.ana, Workday: day("2026-02-16"), BlockID: s.block, OperationID: s.operation, Pieces: &pieces}})
	}
	for _, test := range []struct {
		name string
		set  func(s *scene)
		want []string
	}{
		{"nothing", func(s *scene) { s.works("2026-02-16", "UTC", "2026-02-16 16:00", "2026-02-16 20:00") }, nil},
		{"an entry left open", func(s *scene) {
			s.works("2026-02-16", "UTC", "2026-02-16 16:00", "2026-02-16 20:00")
			s.time[0].Content.EndedAt = nil
		}, []string{"pay_problem.time_open"}},
		{"no rate", tally, []string{"pay_problem.no_piece_rate"}},
		{"a new hand", func(s *scene) {
			s.works("2026-02-16", "UTC", "2026-02-16 16:00", "2026-02-16 20:00")
			s.workers[s.ana].Content.Provisional = true
		}, []string{"pay_problem.worker_provisional"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := newScene("UTC", 0)
			test.set(s)
			if diff := cmp.Diff(test.want, codes(s)); diff != "" {
				t.Errorf("holds (-want +got):\n%s", diff)
			}
		})
	}
}

func TestAProvisionalHandWhoTurnedOutToBeSomebody(t *testing.T) {
	s := newScene("UTC", 0)
	hand := models.NewID()
	s.workers[hand] = &models.Worker{Keyed: models.Keyed{ID: hand}, Content: models.WorkerContent{Number: 9, Name: "Anita", Provisional: true, SameAs: &s.ana}}
	s.works("2026-02-16", "UTC", "2026-02-16 16:00", "2026-02-16 20:00")
	s.works("2026-02-17", "UTC", "2026-02-17 16:00", "2026-02-17 20:00")
	s.time[1].Content.WorkerID = hand
	weeks := weeksOf(&s.records, selection{weekStart: dated.MustDate("2026-02-15")})
	if len(weeks) != 1 || weeks[0].worker.ID != s.ana || len(weeks[0].week.Days) != 2 || weeks[0].held {
		t.Errorf("%d weeks, the first %+v", len(weeks), weeks[0])
	}
}

func TestTheOrderOfRecordsDoesNotMatter(t *testing.T) {
	digestOf := func(reverse bool) string {
		s := newScene("UTC", 0)
		s.garden = uuid.MustParse("01900000-0000-7000-8000-000000000001")
		s.works("2026-02-16", "UTC", "2026-02-16 16:00", "2026-02-16 20:00")
		s.works("2026-02-16", "UTC", "2026-02-16 20:00", "2026-02-16 22:00")
		s.works("2026-02-18", "UTC", "2026-02-18 16:00", "2026-02-18 20:00")
		for i := range s.time {
			s.time[i].Content.GardenID = s.garden
			s.gardens[s.garden] = &models.Garden{Keyed: models.Keyed{ID: s.garden}, Content: models.GardenContent{TimeZone: "UTC", Rulebook: "us-ca"}}
		}
		if reverse {
			s.time[0], s.time[2] = s.time[2], s.time[0]
		}
		d := newDigest(s.profile)
		for _, w := range weeksOf(&s.records, selection{weekStart: dated.MustDate("2026-02-15")}) {
			w.week.ID = ""
			d.write(jsonOf(w.week), jsonOf(w.details))
		}
		return d.sum()
	}
	if digestOf(false) != digestOf(true) {
		t.Error("the same records in another order give another digest")
	}
}
