package imports_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/handlers/text"
	"palmero/models"
	"palmero/models/intake"
	"palmero/models/intake/imports"
	"palmero/models/testdb"
	"palmero/payroll/dated"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

// now is Saturday evening, 21 February 2026.
func now() time.Time { return time.Date(2026, 2, 22, 2, 0, 0, 0, time.UTC) }

func day(s string) models.Date { return models.Day(dated.MustDate(s)) }

// farm is an invented employer with two blocks, two operations, one crew and six workers.
type farm struct {
	*testing.T
	store *models.Store
	scope models.Scope
	crew  uuid.UUID
	first uuid.UUID // worker 1
	block uuid.UUID
}

func newFarm(t *testing.T, store *models.Store) *farm {
	t.Helper()
	f := &farm{T: t, store: store, scope: models.Scope{Employer: models.NewID()}}
	err := store.FoundEmployer(t.Context(), f.scope.Employer, "tres-pozos", models.EmployerContent{
		LegalName: "Huerta Tres Pozos LLC", Address: "88 Canal Road", Size: 40, Payday: time.Friday, SecondApprover: true,
	})
	if err != nil {
		t.Fatal(err)
	}
	f.in(func(tx *models.Tx) error {
		clerk, err := create(tx, models.AccountContent{SignInName: "clerk", Name: "Clerk", Role: models.RoleClerk, Language: "en"})
		f.scope.Actor = clerk
		garden, err2 := create(tx, models.GardenContent{Name: "Tres Pozos", TimeZone: "America/Los_Angeles", Rulebook: "us-ca"})
		var errs = []error{err, err2}
		for _, code := range []string{"A-1", "B-07"} {
			id, err := create(tx, models.BlockContent{GardenID: garden, Code: code, Variety: "Medjool", Palms: 120, TallestCM: 900})
			errs = append(errs, err)
			f.block = id
		}
		for _, code := range []string{"pollination", "thinning"} {
			_, err := create(tx, models.OperationContent{Code: code, Unit: "bunch", DailyLimit: 400_000})
			errs = append(errs, err)
		}
		f.crew, err = create(tx, models.CrewContent{Name: "North"})
		errs = append(errs, err)
		for i, name := range []string{"Ana Rojas", "Beto Luz", "Cruz Peña", "Dora Ibáñez", "Eva Solís", "Eva Solís"} {
			id, err := create(tx, models.WorkerContent{Name: name, Address: "1 Palm Lane", Language: "es", StartedOn: day("2026-02-01")})
			errs = append(errs, err)
			if i == 0 {
				f.first = id
			}
		}
		return errors.Join(errs...)
	})
	return f
}

type creatable interface {
	models.AccountContent | models.GardenContent | models.BlockContent | models.OperationContent | models.CrewContent | models.WorkerContent
}

func create[C creatable](tx *models.Tx, c C) (uuid.UUID, error) {
	id := models.NewID()
	var err error
	switch c := any(c).(type) {
	case models.AccountContent:
		_, _, err = models.Create(tx, id, c)
	case models.GardenContent:
		_, _, err = models.Create(tx, id, c)
	case models.BlockContent:
		_, _, err = models.Create(tx, id, c)
	case models.OperationContent:
		_, _, err = models.Create(tx, id, c)
	case models.CrewContent:
		_, _, err = models.Create(tx, id, c)
	case models.WorkerContent:
		_, _, err = models.Create(tx, id, c)
	}
	return id, err
}

func (f *farm) in(fn func(tx *models.Tx) error) {
	f.Helper()
	if err := f.store.In(f.Context(), f.scope, fn); err != nil {
		f.Fatal(err)
	}
}

// each runs a test on both databases.
func each(t *testing.T, test func(f *farm)) {
	t.Helper()
	databases.Each(t, now, func(t *testing.T, store *models.Store) { test(newFarm(t, store)) })
}

func (f *farm) take(o imports.Order) *imports.Report {
	f.Helper()
	if o.Kind == "" {
		o.Kind = imports.CrewSheets
	}
	if o.Reference == "" {
		o.Reference = "sheet 1"
	}
	r, err := imports.Run(context.Background(), f.store, f.scope, o)
	if err != nil {
		f.Fatal(err)
	}
	return r
}

func (f *farm) csv(s string) *imports.Report {
	f.Helper()
	return f.take(imports.Order{Data: []byte(s)})
}

func file(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("../../../testdata/imports", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// standing lists the worked time, the counts and the breaks that stand, in words.
func (f *farm) standing() []string {
	f.Helper()
	var out []string
	f.in(func(tx *models.Tx) error {
		workers, err := models.All[models.WorkerContent](tx)
		if err != nil {
			return err
		}
		blocks, err := models.All[models.BlockContent](tx)
		if err != nil {
			return err
		}
		loc, err := time.LoadLocation("America/Los_Angeles")
		if err != nil {
			return err
		}
		var times []models.TimeEntry
		var tallies []models.Tally
		var breaks []models.BreakRecord
		for _, into := range []any{&times, &tallies, &breaks} {
			if err := tx.DB().Where("superseded_by IS NULL").Find(into).Error; err != nil {
				return err
			}
		}
		for _, e := range times {
			c := e.Content
			what := fmt.Sprint(workers[c.WorkerID].Content.Number, " ", c.Workday, " ", c.Kind, " ")
			if c.Minutes != nil {
				out = append(out, what+fmt.Sprint(int(*c.Minutes)))
			} else {
				out = append(out, what+c.StartedAt.In(loc).Format("15:04")+"-"+c.EndedAt.In(loc).Format("15:04"))
			}
		}
		for _, e := range tallies {
			c := e.Content
			what := fmt.Sprint(workers[c.WorkerID].Content.Number, " ", c.Workday, " ", blocks[c.BlockID].Content.Code, " ")
			switch {
			case c.LotID == nil:
				out = append(out, what+c.Pieces.String())
			case c.PartMinutes != nil:
				out = append(out, what+fmt.Sprint("lot ", int(*c.PartMinutes), "/", int(*c.LotMinutes)))
			default:
				out = append(out, what+"lot part")
			}
		}
		for _, e := range breaks {
			out = append(out, fmt.Sprint(workers[e.Content.WorkerID].Content.Number, " ", e.Content.Workday, " ", e.Content.Fact))
		}
		return nil
	})
	slices.Sort(out)
	return out
}

// told lists findings as LINE COLUMN key, each with a message in both languages.
func told(t *testing.T, findings []imports.Finding) []string {
	t.Helper()
	var out []string
	for _, f := range findings {
		out = append(out, fmt.Sprint(f.Line, " ", f.Column, " ", f.Key))
		for _, lang := range text.Languages() {
			if said := text.For(lang).Say(f.Key, f.Terms); said == f.Key {
				t.Errorf("%s has no message in %s", f.Key, lang)
			}
		}
	}
	return out
}

func (f *farm) wants(got, want any) {
	f.Helper()
	if diff := cmp.Diff(want, got); diff != "" {
		f.Errorf("-want +got\n%s", diff)
	}
}

const monday = "worker,date,block,operation,pieces,start,meal start,meal end,end\n" +
	"1,2026-02-16,A-1,pollination,160,6:00,10:00,10:30,14:00\n" +
	"Beto Luz,2026-02-16,A-1,pollination,150,6:00,10:00,10:30,14:00\n"

func TestACrewSheet(t *testing.T) {
	each(t, func(f *farm) {
		dry := f.take(imports.Order{Data: []byte(monday), DryRun: true})
		if dry.Stored || dry.Recorded != 2 || len(f.standing()) != 0 {
			f.Fatalf("%+v, %v", dry, f.standing())
		}
		if r := f.csv(monday); !r.Stored || r.Recorded != 2 || len(r.Problems)+len(r.Notes) != 0 {
			f.Fatalf("%+v", r)
		}
		want := []string{
			"1 2026-02-16 A-1 160", "1 2026-02-16 meal 10:00-10:30", "1 2026-02-16 piece 06:00-10:00", "1 2026-02-16 piece 10:30-14:00",
			"2 2026-02-16 A-1 150", "2 2026-02-16 meal 10:00-10:30", "2 2026-02-16 piece 06:00-10:00", "2 2026-02-16 piece 10:30-14:00",
		}
		f.wants(f.standing(), want)
		if r := f.csv(monday); r.Repeated != 2 || r.Recorded != 0 || !r.Stored {
			f.Errorf("again: %+v", r)
		}
		f.wants(f.standing(), want)
	})
}

func TestMatchingWorkIsAQuestion(t *testing.T) {
	each(t, func(f *farm) {
		f.csv(monday)
		other := []byte("worker,date,block,operation,pieces,start,meal start,meal end,end\n" +
			"1,2026-02-16,A-1,pollination,170,6:00,9:30,10:00,14:00\n" +
			"2,2026-02-16,B-07,pollination,20,14:00,,,15:00\n")
		order := imports.Order{Data: other, Reference: "sheet 2"}
		r := f.take(order)
		f.wants(told(f.T, r.Problems), []string{"2 E fault.import_matches"})
		if r.Stored || !r.Problems[0].Question {
			f.Errorf("%+v", r)
		}
		for _, c := range []struct {
			answer  string
			want    string
			skipped int
			stored  bool
		}{{"skip", "", 1, true}, {"add", "2 F fault.overlaps_recorded", 0, false}} {
			order.OnMatch, _ = imports.ParseAnswers(c.answer)
			order.DryRun = true
			r := f.take(order)
			if c.want == "" && len(r.Problems) > 0 || c.want != "" && !slices.Contains(told(f.T, r.Problems), c.want) || r.Skipped != c.skipped {
				f.Errorf("%s: %v %+v", c.answer, told(f.T, r.Problems), r)
			}
		}
		order.DryRun = false
		order.OnMatch, _ = imports.ParseAnswers("skip,2=replace")
		for _, recorded := range []int{2, 0} {
			if r := f.take(order); !r.Stored || r.Recorded != recorded {
				f.Errorf("%v %+v", told(f.T, r.Problems), r)
			}
			f.wants(f.standing(), []string{
				"1 2026-02-16 A-1 170", "1 2026-02-16 meal 09:30-10:00", "1 2026-02-16 piece 06:00-09:30", "1 2026-02-16 piece 10:00-14:00",
				"2 2026-02-16 A-1 150", "2 2026-02-16 B-07 20", "2 2026-02-16 meal 10:00-10:30", "2 2026-02-16 piece 06:00-10:00", "2 2026-02-16 piece 10:30-14:00",
				"2 2026-02-16 piece 14:00-15:00",
			})
		}
	})
}

func TestGoodLinesAndLots(t *testing.T) {
	each(t, func(f *farm) {
		data := []byte("no;name;fecha;block;operation;lot;lot minutes;pieces;piece minutes;not provided\n" +
			"1;Ana Rojas;16/02/2026;A-1;thinning;L1;200;90,5;200;\n" +
			"2;;16/02/2026;A-1;thinning;L1;100;;100;rest, meal\n" +
			"3;Beto Luz;16/02/2026;B-07;thinning;;;12;;\n" +
			"4;Dora Ibanez;16/02/2026;B-07;thinning;L2;;30;;\n" +
			"9;;16/02/2026;B-07;thinning;L2;;;;\n" +
			"Total;;;;;;;;;\n")
		r := f.take(imports.Order{Data: data, Accept: intake.GoodLines})
		f.wants(told(f.T, r.Problems), []string{"4 B fault.name_of_another", "6 A fault.unknown_worker_number"})
		f.wants(told(f.T, r.Notes), []string{"2 I note.import_minutes_only", "3 I note.import_minutes_only", "5 F note.import_lot_left_out", "7  note.import_line_left_aside"})
		if !r.Stored || r.Recorded != 2 || r.Refused != 3 || r.Separator != ";" {
			f.Errorf("%+v", r)
		}
		want := []string{
			"1 2026-02-16 A-1 lot 200/300", "1 2026-02-16 piece 200", "2 2026-02-16 A-1 lot 100/300",
			"2 2026-02-16 meal_not_provided", "2 2026-02-16 piece 100", "2 2026-02-16 rest_not_provided",
		}
		f.wants(f.standing(), want)
		if r := f.take(imports.Order{Data: data, Accept: intake.GoodLines}); r.Repeated != 2 {
			f.Errorf("again: %+v", r)
		}
		f.wants(f.standing(), want)
	})
}

func TestANewHand(t *testing.T) {
	each(t, func(f *farm) {
		data := []byte("worker,date,hours\nZoila Mar,2026-02-16,7.5\n\"Mar, Zoila\",2026-02-17,8\n")
		r := f.take(imports.Order{Data: data})
		f.wants(told(f.T, r.Problems), []string{"2 A fault.unknown_worker_name", "3 A fault.unknown_worker_name"})
		if r := f.take(imports.Order{Data: data, NewWorkers: true}); !r.Stored || r.Recorded != 2 {
			f.Fatalf("%v", told(f.T, r.Problems))
		}
		f.wants(f.standing(), []string{"7 2026-02-16 hourly 450", "7 2026-02-17 hourly 480"})
		if r := f.take(imports.Order{Data: data}); r.Repeated != 2 {
			f.Errorf("again: %v", told(f.T, r.Problems))
		}
	})
}

func TestMappingsAreRemembered(t *testing.T) {
	each(t, func(f *farm) {
		data := []byte("Who,When,What,How many\nAna Rojas,2/3/2026,Pol.,160\n")
		m := &imports.Mapping{
			Columns: map[string]string{"worker": "who", "date": "when", "operation": "what", "pieces": "how many"}, DateOrder: "dmy",
			Values: map[string]imports.Words{"operation": {"pol": "pollination"}},
		}
		_, err := imports.Run(f.Context(), f.store, f.scope, imports.Order{Kind: imports.CrewSheets, Reference: "x", Data: data})
		if models.KindOf(err) != models.Invalid {
			f.Errorf("%v", err)
		}
		f.wants(told(f.T, f.take(imports.Order{Data: data, Mapping: m}).Problems), []string{"2  fault.cell_needed", "2 B fault.day_implausible"})
		m.DateOrder = "mdy"
		m.Columns["block"] = "where"
		data = []byte("Who,When,What,How many,Where\nAna Rojas,2/3/2026,Pol.,160,a 1\n")
		f.take(imports.Order{Data: data, Mapping: m})
		f.wants(f.standing(), []string{"1 2026-02-03 A-1 160"})
		if r := f.take(imports.Order{Data: data}); r.Repeated != 1 {
			f.Errorf("%v", told(f.T, r.Problems))
		}
		f.in(func(tx *models.Tx) error {
			all, err := imports.Mappings(tx)
			if len(all) != 1 || all[0].DateOrder != "mdy" {
				f.Errorf("%+v", all)
			}
			return err
		})
	})
}

func TestSetUp(t *testing.T) {
	each(t, func(f *farm) {
		workers := []byte("No,Name,Address,Started on\n14,Gil Mora,3 Palm Lane,2026-02-01\n1,Ana Rojas,9 New Road,2026-02-01\n,Hilda Paz,,2026-02-01\n")
		r := f.take(imports.Order{Kind: imports.Workers, Data: workers})
		f.wants(told(f.T, r.Problems), []string{"3 A fault.import_matches", "4 C fault.cell_needed"})
		workers = []byte("No,Name,Address,Started on\n14,Gil Mora,3 Palm Lane,2026-02-01\n1,Ana Rojas,9 New Road,2026-02-01\n,Hilda Paz,4 Palm Lane,2026-02-01\n")
		replace, _ := imports.ParseAnswers("replace")
		for _, want := range [][2]int{{3, 0}, {0, 3}} {
			if r := f.take(imports.Order{Kind: imports.Workers, Data: workers, OnMatch: replace}); r.Recorded != want[0] || r.Repeated != want[1] {
				f.Errorf("%v %+v", told(f.T, r.Problems), r)
			}
		}
		blocks := []byte("block\tvariety\tpalms\ttallest cm\nC-2\tDeglet Noor\t80\t1100\nA-1\tMedjool\t120\t900\n")
		if r := f.take(imports.Order{Kind: imports.Blocks, Data: blocks}); r.Recorded != 1 || r.Repeated != 1 {
			f.Errorf("%v %+v", told(f.T, r.Problems), r)
		}
		ended := models.Day(dated.MustDate("2026-02-20"))
		f.in(func(tx *models.Tx) error {
			c2, err := models.All[models.BlockContent](tx, models.Equal("code", "C-2"))
			for id, b := range c2 {
				if b.Content.EndedOn = ended; err == nil {
					_, err = models.Update(tx, id, b.Version, b.Content)
				}
			}
			return err
		})
		blocks = []byte("block\tvariety\tpalms\ttallest cm\nC-2\tDeglet Noor\t79\t1100\n")
		if r := f.take(imports.Order{Kind: imports.Blocks, Data: blocks, OnMatch: replace}); r.Recorded != 1 {
			f.Errorf("%v %+v", told(f.T, r.Problems), r)
		}
		f.in(func(tx *models.Tx) error {
			c2, err := models.All[models.BlockContent](tx, models.Equal("code", "C-2"))
			for _, b := range c2 {
				if b.Content.EndedOn != ended || b.Content.Palms != 79 {
					f.Errorf("the block of the file is %+v", b.Content)
				}
			}
			return err
		})
		rates := []byte("operation,block,rate,effective on\npollination,,$1.15,2026-02-01\npollination,C-2,1.25,2026-02-01\n")
		for _, want := range [][2]int{{2, 0}, {0, 2}} {
			if r := f.take(imports.Order{Kind: imports.PieceRates, Data: rates}); r.Recorded != want[0] || r.Repeated != want[1] {
				f.Errorf("%v %+v", told(f.T, r.Problems), r)
			}
		}
		rates = []byte("operation,block,rate,effective on\npollination,C-2,1.30,2026-02-01\n")
		f.wants(told(f.T, f.take(imports.Order{Kind: imports.PieceRates, Data: rates}).Problems), []string{"2 C fault.import_matches"})
		for _, want := range [][2]int{{1, 0}, {0, 1}} {
			if r := f.take(imports.Order{Kind: imports.PieceRates, Data: rates, OnMatch: replace}); r.Recorded != want[0] || r.Repeated != want[1] {
				f.Errorf("%v %+v", told(f.T, r.Problems), r)
			}
		}
		hourly := []byte("worker,rate,effective on\n,17.50,2026-02-01\nGil Mora,18.25,2026-02-01\n")
		if r := f.take(imports.Order{Kind: imports.HourlyRates, Data: hourly}); r.Recorded != 2 {
			f.Errorf("%v %+v", told(f.T, r.Problems), r)
		}
	})
}
