package injuries

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
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
	hurt = dated.MustDate("2026-03-02") // a Monday
	ten  = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)
)

// clock shows ten in the morning, ten days after.
func clock() time.Time { return ten.AddDate(0, 0, 10) }

func turn(status string, day int) models.IncidentEvent {
	return models.IncidentEvent{Content: models.IncidentEventContent{Kind: models.WorkEvent, WorkStatus: status, FromDate: models.Day(hurt.AddDays(day))}}
}

// 29 CFR 1904.7(b)(3), from memory but for the cap: calendar days, weekends and days off included, from the day after the injury; the day of return is not counted; 180 at the most for one case, days away
// and restricted together.
func TestCountDays(t *testing.T) {
	away, restricted, back := models.Away, models.Restricted, models.Back
	for name, c := range map[string]struct {
		turns   []models.IncidentEvent
		through int
		want    Days
	}{
		"nobody has said":                       {nil, 10, Days{}},
		"the day itself is not counted":         {[]models.IncidentEvent{turn(away, 0)}, 0, Days{}},
		"hurt on Friday, back on Monday":        {[]models.IncidentEvent{turn(away, 0), turn(back, 3)}, 10, Days{2, 0}},
		"back the next day":                     {[]models.IncidentEvent{turn(away, 0), turn(back, 1)}, 10, Days{}},
		"still away":                            {[]models.IncidentEvent{turn(away, 1)}, 10, Days{10, 0}},
		"away, then restricted, then back":      {[]models.IncidentEvent{turn(away, 0), turn(restricted, 6), turn(back, 9)}, 30, Days{5, 3}},
		"told in another order":                 {[]models.IncidentEvent{turn(back, 9), turn(away, 0), turn(restricted, 6)}, 30, Days{5, 3}},
		"the later word on a day holds":         {[]models.IncidentEvent{turn(away, 1), turn(back, 1), turn(away, 4), turn(back, 6)}, 30, Days{2, 0}},
		"worse again":                           {[]models.IncidentEvent{turn(restricted, 0), turn(back, 3), turn(away, 8)}, 9, Days{2, 2}},
		"what lies ahead is not counted yet":    {[]models.IncidentEvent{turn(away, 0), turn(back, 20)}, 10, Days{10, 0}},
		"away from a day that is still to come": {[]models.IncidentEvent{turn(away, 12)}, 10, Days{}},
	} {
		if got := countDays(stretchesOf(hurt, c.turns, hurt.AddDays(c.through))); got != c.want {
			t.Errorf("%s: %+v", name, got)
		}
	}
	for in, want := range map[Days]Days{{179, 0}: {179, 0}, {180, 1}: {180, 0}, {181, 5}: {180, 0}, {100, 100}: {100, 80}, {0, 400}: {0, 180}} {
		if got := in.capped(180); got != want {
			t.Errorf("%+v: %+v", in, got)
		}
	}
}

// farm is an employer with a garden and two workers.
type farm struct {
	models.Scope
	t        *testing.T
	store    *models.Store
	books    *rulebook.Library
	garden   uuid.UUID
	ana, ben uuid.UUID
}

func each(t *testing.T, test func(f *farm)) {
	t.Helper()
	databases.Each(t, clock, func(t *testing.T, store *models.Store) { test(plant(t, store, "us-ca")) })
}

func plant(t *testing.T, store *models.Store, book string) *farm {
	t.Helper()
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	f := &farm{Scope: models.Scope{Employer: models.NewID()}, t: t, store: store, books: books}
	content := models.EmployerContent{LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road", Size: 40, SecondApprover: true}
	if err := store.FoundEmployer(t.Context(), f.Employer, "tres-pozos", content); err != nil {
		t.Fatal(err)
	}
	f.in(func(tx *models.Tx) error {
		f.Actor = keep(t, tx, models.AccountContent{SignInName: "officer", Name: "The officer", Role: models.RoleSafetyOfficer, Language: "en"}, models.Create)
		f.garden = keep(t, tx, models.GardenContent{Name: "Home garden", TimeZone: "America/Los_Angeles", Rulebook: book}, models.Create)
		worker := func(name string) uuid.UUID {
			return keep(t, tx, models.WorkerContent{Name: name, Address: "1 Palm Lane", Language: "es", StartedOn: models.Day(hurt.AddDays(-100))}, models.Create)
		}
		f.ana, f.ben = worker("Ana Rojas"), worker("Benito Luz")
		return nil
	})
	return f
}

func keep[C any](t *testing.T, tx *models.Tx, c C, create func(*models.Tx, uuid.UUID, C) (*models.Kept[C], bool, error)) uuid.UUID {
	t.Helper()
	k, _, err := create(tx, models.NewID(), c)
	if err != nil {
		t.Fatal(err)
	}
	return k.ID
}

func (f *farm) in(fn func(tx *models.Tx) error) {
	f.t.Helper()
	if err := f.store.In(f.t.Context(), f.Scope, fn); err != nil {
		f.t.Fatal(err)
	}
}

// report is a knife cut of Ana's.
func (f *farm) report() NewReport {
	return NewReport{IncidentReport: models.IncidentReport{
		Kind: "knife_cut", HappenedAt: ten, WorkerID: &f.ana, GardenID: f.garden, JobTitle: "palmera", Description: "The knife slipped while de-thorning", BodyPart: "left thumb", Cause: "thorn knife",
	}}
}

// tell reports something and returns its case.
func (f *farm) tell(in NewReport) uuid.UUID {
	f.t.Helper()
	id := models.NewID()
	f.in(func(tx *models.Tx) error {
		_, _, err := Report(tx, f.books, id, in, models.Recording{RecordedAt: tx.Now}, uuid.Nil)
		return err
	})
	return id
}

// add adds an event to a case.
func (f *farm) add(id uuid.UUID, e models.IncidentEventContent) {
	f.t.Helper()
	if e.HappenedAt.IsZero() {
		e.HappenedAt = ten
	}
	f.in(func(tx *models.Tx) error {
		_, _, err := Add(tx, f.books, id, models.NewID(), e)
		return err
	})
}

func (f *farm) work(id uuid.UUID, status string, day int) {
	f.t.Helper()
	f.add(id, turn(status, day).Content)
}

func (f *farm) find(id uuid.UUID) (c *Case) {
	f.t.Helper()
	f.in(func(tx *models.Tx) (err error) {
		c, err = Find(tx, f.books, id)
		return err
	})
	return c
}

// facts are those of a case in which nothing grave happened.
func facts(treatment string) models.CaseFacts {
	no := func() *bool { return new(false) }
	return models.CaseFacts{Treatment: treatment, Unconscious: no(), Death: no(), Inpatient: no(), Amputation: no(), EyeLoss: no(), Disfigurement: no()}
}

// The examples of the recordkeeping rule's first-aid list (29 CFR 1904.7(b)(5)(ii), letters D, K and N), as records: what was reported and became known reaches the engine to the letter.
func TestRecordable(t *testing.T) {
	yes, no := new(true), new(false)
	each(t, func(f *farm) {
		for name, c := range map[string]struct {
			treatment string
			away      bool
			want      *bool
		}{
			"a thorn drawn with tweezers":     {"splinter_removal", false, no},
			"the same, with days away":        {"splinter_removal", true, yes},
			"a cut that is sewn":              {"medical", false, yes},
			"water against the heat":          {"drinking_fluids", false, no},
			"nobody knows how it was treated": {"", false, nil},
		} {
			in := f.report()
			in.Facts = facts(c.treatment)
			id := f.tell(in)
			status := models.Back
			if c.away {
				status = models.Away
			}
			f.work(id, status, 1)
			got := f.find(id)
			if diff := cmp.Diff(c.want, got.Assessment.Recordable); diff != "" {
				t.Errorf("%s: %s %+v", name, diff, got.Assessment.Reasons)
			}
		}
		// Nobody has said whether the worker stayed away: that is no pass.
		in := f.report()
		in.Facts = facts("bandage")
		if got := f.find(f.tell(in)); got.Assessment.Recordable != nil {
			t.Errorf("%+v", got.Assessment)
		}
		near := f.report()
		near.Kind, near.WorkerID = models.NearMiss, nil
		if got := f.find(f.tell(near)); got.Assessment != nil || got.Logged() {
			t.Errorf("a near miss: %+v", got.Assessment)
		}
	})
}

func TestReportsComeAgainAndAreCorrected(t *testing.T) {
	each(t, func(f *farm) {
		in := f.report()
		in.Facts.Treatment = "bandage"
		first := f.tell(in)
		how := models.Recording{RecordedAt: clock()}
		f.in(func(tx *models.Tx) error {
			_, repeated, err := Report(tx, f.books, first, in, how, uuid.Nil)
			if err != nil || !repeated {
				t.Errorf("the same again: %v, %v", repeated, err)
			}
			other := in
			other.BodyPart = "right thumb"
			if _, _, err := Report(tx, f.books, first, other, how, uuid.Nil); models.KindOf(err) != models.Conflict {
				t.Errorf("other content: %v", err)
			}
			return nil
		})
		in.BodyPart, in.Facts = "right thumb", models.CaseFacts{}
		second := models.NewID()
		how.Supersedes, how.Reason = &first, "the other hand"
		f.in(func(tx *models.Tx) error {
			if _, _, err := Report(tx, f.books, second, in, how, models.NewID()); models.KindOf(err) != models.Invalid {
				t.Errorf("somebody else's report: %v", err)
			}
			_, _, err := Report(tx, f.books, second, in, how, f.Actor)
			return err
		})
		for _, id := range []uuid.UUID{first, second} {
			c := f.find(id)
			if c.Incident.ID != second || c.Incident.Content.CaseID != first || c.Incident.Content.Number != 1 || c.Facts.Treatment != "bandage" || c.Incident.Content.BodyPart != "right thumb" {
				t.Errorf("by %s: %+v", id, c.Incident.Content)
			}
		}
		// The trail says which case it was, and nothing of the hand.
		var trail []models.AuditEntry
		f.in(func(tx *models.Tx) error {
			return tx.DB().Where("subject_kind = 'incidents'").Find(&trail).Error
		})
		if len(trail) != 2 {
			t.Errorf("%d entries", len(trail))
		}
		for _, e := range trail {
			if text := string(e.BeforeDoc) + string(e.AfterDoc); strings.Contains(text, "thumb") || strings.Contains(text, "bandage") || strings.Contains(text, "knife") {
				t.Errorf("the trail tells %s", text)
			}
		}
	})
}

func TestWhatCannotBe(t *testing.T) {
	each(t, func(f *farm) {
		for name, spoil := range map[string]func(*NewReport){
			"an unknown kind":        func(r *NewReport) { r.Kind = "bite" },
			"nobody hurt":            func(r *NewReport) { r.WorkerID = nil },
			"an unknown worker":      func(r *NewReport) { r.WorkerID = new(models.NewID()) },
			"an unknown garden":      func(r *NewReport) { r.GardenID = models.NewID() },
			"tomorrow":               func(r *NewReport) { r.HappenedAt = clock().Add(time.Hour) },
			"a fall from the clouds": func(r *NewReport) { r.Height = models.QuantityOf(quantity.Of(201)) },
			"unknown equipment":      func(r *NewReport) { r.EquipmentIDs = models.IDs{models.NewID()} },
			"an unknown treatment":   func(r *NewReport) { r.Facts.Treatment = "prayer" },
			"an unknown ground":      func(r *NewReport) { r.Privacy = "shy" },
			"too much":               func(r *NewReport) { r.Description = strings.Repeat("a", 2001) },
			"nothing":                func(r *NewReport) { r.Description = " " },
		} {
			in := f.report()
			spoil(&in)
			f.in(func(tx *models.Tx) error {
				if _, _, err := Report(tx, f.books, models.NewID(), in, models.Recording{RecordedAt: clock()}, uuid.Nil); models.KindOf(err) != models.Invalid {
					t.Errorf("%s: %v", name, err)
				}
				return nil
			})
		}
		id := f.tell(f.report())
		for name, e := range map[string]models.IncidentEventContent{
			"an unknown kind":              {Kind: "party"},
			"no facts":                     {Kind: models.FactsEvent},
			"an agency's number of a note": {Kind: models.NoteEvent, Note: "x", AgencyReference: "1"},
			"facts of another kind":        {Kind: models.AgencyEvent, ReportedTo: "the agency", CaseFacts: facts("bandage")},
			"work without a day":           {Kind: models.WorkEvent, WorkStatus: models.Away},
			"away before it happened":      {Kind: models.WorkEvent, WorkStatus: models.Away, FromDate: models.Day(hurt.AddDays(-1))},
			"known before it happened":     {Kind: models.FactsEvent, CaseFacts: facts("bandage"), HappenedAt: ten.Add(-time.Minute)},
			"a decision without why":       {Kind: models.Decision, Recordable: new(true)},
		} {
			if e.HappenedAt.IsZero() {
				e.HappenedAt = ten
			}
			f.in(func(tx *models.Tx) error {
				if _, _, err := Add(tx, f.books, id, models.NewID(), e); models.KindOf(err) != models.Invalid {
					t.Errorf("%s: %v", name, err)
				}
				return nil
			})
		}
	})
}

// What arrested a fall is out of service, in the same command, and with one entry in the trail.
func TestAnArrestedFallTakesTheGearOut(t *testing.T) {
	each(t, func(f *farm) {
		var harness uuid.UUID
		f.in(func(tx *models.Tx) error {
			harness = keep(t, tx, models.EquipmentContent{GardenID: f.garden, Kind: models.Harness, Code: "H-1", Description: "harness"}, models.Create)
			return nil
		})
		in := f.report()
		in.Kind, in.Arrested, in.EquipmentIDs = "fall", new(true), models.IDs{harness}
		id := f.tell(in)
		in.Description = "The ladder slipped"
		f.in(func(tx *models.Tx) error { // a correction does not take it out twice
			_, _, err := Report(tx, f.books, models.NewID(), in, models.Recording{RecordedAt: tx.Now, Supersedes: &id, Reason: "it was the ladder"}, uuid.Nil)
			return err
		})
		f.in(func(tx *models.Tx) error {
			piece, err := models.Get[models.EquipmentContent](tx, harness)
			if err != nil {
				return err
			}
			var events []models.EquipmentEvent
			if err := tx.DB().Find(&events).Error; err != nil {
				return err
			}
			if piece.Content.State != models.OutOfService || len(events) != 1 || events[0].Kind != models.ArrestedFall || events[0].Note != "#1" {
				t.Errorf("%s, %+v", piece.Content.State, events)
			}
			with, err := List(tx, f.books, models.Page{Limit: 10}, models.IncidentsWith(tx, harness))
			if err != nil || len(with) != 1 || cmp.Diff(models.IDs{harness}, with[0].Incident.Content.EquipmentIDs) != "" {
				t.Errorf("%+v, %v", with, err)
			}
			var trail int64
			err = tx.DB().Model(&models.AuditEntry{}).Where("subject_kind IN ('incidents', 'equipment') AND action <> 'create'").Count(&trail).Error
			if trail != 2 {
				t.Errorf("%d entries in the trail", trail)
			}
			return err
		})
	})
}

// worked records so many hours of Benito's on each of some days.
func (f *farm) worked(day dated.Date, days, hours int) {
	f.t.Helper()
	f.in(func(tx *models.Tx) error {
		var rows []models.TimeEntry
		for i := range days {
			start := models.WorkdayBegin(day.AddDays(i), 6*60, time.UTC)
			add := func(kind payroll.TimeKind, from, to time.Time) {
				rows = append(rows, models.TimeEntry{Keyed: models.Keyed{ID: models.NewID()}, RecordedAt: to, ReceivedAt: to, RecordedBy: f.Actor,
					Content: models.TimeEntryContent{WorkerID: f.ben, Workday: models.Day(day.AddDays(i)), Kind: kind, GardenID: f.garden, StartedAt: &from, EndedAt: &to}})
			}
			noon := start.Add(time.Duration(hours) * time.Hour)
			add(payroll.Piece, start, noon.Add(-time.Hour))
			add(payroll.Rest, noon.Add(-time.Hour), noon)
			add(payroll.MealPeriod, noon, noon.Add(30*time.Minute))
		}
		return models.KeepWork(tx, models.Work{Time: rows}, models.Work{})
	})
}

// COMAR 09.12.24.09 (http://www.dsd.state.md.us/comar/comarhtml/09/09.12.24.09.htm): one restricted case in 10,000 hours is 20.0, by total recordable cases as by days away and restricted. Here the case and the
// hours come from the records; meal periods are no hours worked.
func TestRatesFromRecords(t *testing.T) {
	each(t, func(f *farm) {
		f.worked(dated.MustDate("2026-01-01"), 365, 20)
		f.worked(dated.MustDate("2025-01-01"), 10, 20) // another year's
		f.in(func(tx *models.Tx) error {
			row := models.TimeEntry{Keyed: models.Keyed{ID: models.NewID()}, RecordedAt: ten, ReceivedAt: ten, RecordedBy: f.Actor,
				Content: models.TimeEntryContent{WorkerID: f.ana, Workday: models.Day(hurt), Kind: payroll.Hourly, GardenID: f.garden, Minutes: new(payroll.Minutes(2700 * 60))}}
			return models.KeepWork(tx, models.Work{Time: []models.TimeEntry{row}}, models.Work{}) // only a length is known of it
		})
		in := f.report()
		in.Facts = facts("medical")
		id := f.tell(in)
		f.work(id, models.Restricted, 1)
		f.work(id, models.Back, 6)
		f.in(func(tx *models.Tx) error {
			l, err := FindLog(tx, f.books, 2026, nil)
			if err != nil {
				return err
			}
			if l.Minutes != 10_000*60 || l.Rates.TotalRecordable.String() != "20" || l.Rates.AwayOrRestricted.String() != "20" || l.Rates.DaysAway.String() != "0" {
				t.Errorf("%d minutes: %+v", l.Minutes, l.Rates)
			}
			if cmp.Diff(map[Class]int{RestrictedCase: 1}, l.Totals.Classes) != "" || l.Totals.DaysRestricted != 5 || !*l.Required || l.KeepUntil != dated.MustDate("2031-12-31") {
				t.Errorf("%+v", l)
			}
			if empty, err := FindLog(tx, f.books, 2024, nil); err != nil || empty.Rates != nil || len(empty.Entries) != 0 {
				t.Errorf("a year without anything: %+v, %v", empty, err)
			}
			return nil
		})
	})
}

func TestTheLogKeepsNamesPrivate(t *testing.T) {
	each(t, func(f *farm) {
		open := f.report()
		open.Facts = facts("medical")
		f.work(f.tell(open), models.Away, 1)
		secret := f.report()
		secret.Kind, secret.WorkerID, secret.Privacy, secret.Facts = "other", &f.ben, "infection", facts("medical")
		f.work(f.tell(secret), models.Back, 1)
		slight := f.report()
		slight.Facts = facts("bandage")
		slightly := f.tell(slight)
		f.work(slightly, models.Back, 1)
		unknown := f.tell(f.report())
		f.in(func(tx *models.Tx) error {
			l, err := FindLog(tx, f.books, 2026, &f.garden)
			if err != nil {
				return err
			}
			type row struct {
				Number int64
				Name   string
				Class  Class
				Away   int
				Where  string
			}
			var got []row
			for _, e := range l.Entries {
				got = append(got, row{e.Number, e.Name, e.Class, e.DaysAway, e.Where})
			}
			want := []row{{1, "Ana Rojas", AwayCase, 10, "Home garden"}, {2, "", OtherCase, 0, "Home garden"}}
			if diff := cmp.Diff(want, got); diff != "" || l.Undecided != 1 {
				t.Errorf("%d undecided\n%s", l.Undecided, diff)
			}
			if private := l.Confidential(); len(private) != 1 || private[0].Name != "Benito Luz" || private[0].Privacy != "infection" {
				t.Errorf("%+v", private)
			}
			return nil
		})
		// The officer decides otherwise.
		f.add(unknown, models.IncidentEventContent{Kind: models.Decision, Recordable: new(true), Note: "sewn at the clinic"})
		f.in(func(tx *models.Tx) error {
			l, err := FindLog(tx, f.books, 2026, nil)
			if err != nil || len(l.Entries) != 3 || l.Undecided != 0 {
				t.Errorf("%+v, %v", l, err)
			}
			return nil
		})
	})
}

// 29 CFR 1904.39 has 8 hours for a death and 24 for an admission; 8 CCR 342 has 8 for both (from memory). 1904.29(b)(3) has seven calendar days for the log (from memory).
func TestDeadlines(t *testing.T) {
	databases.Each(t, clock, func(t *testing.T, store *models.Store) {
		f := plant(t, store, "us")
		in := f.report()
		in.Facts = facts("medical")
		in.Facts.Inpatient = new(true)
		id := f.tell(in)
		f.worked(dated.MustDate("2025-05-01"), 1, 8)
		type row struct{ Code, On, At string }
		look := func(want ...row) {
			t.Helper()
			f.in(func(tx *models.Tx) error {
				all, err := Deadlines(tx, f.books)
				var got []row
				for _, d := range all {
					got = append(got, row{d.Code, d.DueOn.String(), d.DueAt})
				}
				if diff := cmp.Diff(want, got); diff != "" || err != nil {
					t.Error(diff, err)
				}
				return nil
			})
		}
		posting := row{"post_summary", "2026-02-02", "00:00"}
		recording := row{"record_case", "2026-03-10", "00:00"} // daylight saving time began on the 8th
		look(posting, row{"report_inpatient", "2026-03-03", "10:00"}, recording)
		f.add(id, models.IncidentEventContent{Kind: models.AgencyEvent, ReportedTo: "the agency", HappenedAt: ten.Add(time.Hour)})
		look(posting, recording)
		// The worker dies two days later: that is another report.
		f.add(id, models.IncidentEventContent{Kind: models.FactsEvent, CaseFacts: models.CaseFacts{Death: new(true)}, HappenedAt: ten.Add(48 * time.Hour)})
		look(posting, row{"report_death", "2026-03-04", "18:00"}, recording)
		f.add(id, models.IncidentEventContent{Kind: models.Decision, Recordable: new(true), Note: "in the log"})
		look(posting, row{"report_death", "2026-03-04", "18:00"})
		f.add(id, models.IncidentEventContent{Kind: models.AgencyEvent, ReportedTo: "the agency", HappenedAt: ten.Add(50 * time.Hour)})
		look(posting)
		f.in(func(tx *models.Tx) error {
			s := models.InjurySummaryContent{Year: 2025, AverageEmployees: 38, CertifiedBy: "Owner", CertifiedTitle: "owner", CertifiedOn: models.Day(hurt), PostedOn: models.Day(hurt)}
			_, _, err := models.Record(tx, models.NewID(), s, models.Recording{RecordedAt: tx.Now})
			return err
		})
		look(row{"keep_posted", "2026-05-01", "00:00"})
	})
}

// The hours of the deadlines are those of the engine, outcome by outcome and book by book.
func TestDeadlinesAgreeWithTheEngine(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range books.Keys() {
		book, _ := books.Book(key)
		for _, s := range serious {
			f := facts(medical)
			*s.is(f) = true
			zero := 0
			answer, err := ask(books, "recordable", &safety.Recordable{Head: safety.Head{Rulebook: key, On: hurt}, Treatment: medical, DaysAway: &zero, RestrictedDays: &zero,
				Unconscious: f.Unconscious, Death: f.Death, Inpatient: f.Inpatient, Amputation: f.Amputation, EyeLoss: f.EyeLoss, Disfigurement: f.Disfigurement})
			if err != nil {
				t.Fatal(err)
			}
			within := answer.(*safety.RecordableAnswer).ReportWithinHours
			if v, err := book.Number(s.hours, hurt); (err != nil) != (within == nil) || err == nil && within.Cmp(v.Value) != 0 {
				t.Errorf("%s %s: %v, %v", key, s.code, within, err)
			}
		}
	}
}
