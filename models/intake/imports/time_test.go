package imports_test

import (
	"testing"

	"palmero/migrations"
	"palmero/models"
	"palmero/models/intake/imports"
)

func TestWaysToTellTime(t *testing.T) {
	const heading = "worker,date,block,operation,pieces,kind,start,meal start,meal end,end,hours,piece minutes,rest minutes,meal minutes,waived\n"
	for _, c := range []struct {
		name, row string
		overnight bool
		problems  []string
		notes     []string
		standing  []string
	}{
		{name: "clock times and a length that cannot be placed", row: "1,2026-02-16,A-1,pollination,,piece,6:00,,,14:30,,,20,30,",
			notes: []string{"2 G note.import_clock_not_kept"}, standing: []string{"1 2026-02-16 meal 30", "1 2026-02-16 piece 460", "1 2026-02-16 rest 20"}},
		{name: "hours that agree with the clock", row: "1,2026-02-16,,,,,6:00,10:00,10:30,14:00,7.5,,,,first",
			standing: []string{"1 2026-02-16 first_meal_waived", "1 2026-02-16 hourly 06:00-10:00", "1 2026-02-16 hourly 10:30-14:00", "1 2026-02-16 meal 10:00-10:30"}},
		{name: "past midnight", row: "1,2026-02-16,,,,waiting,22:00,,,2:00,,,,,", overnight: true, standing: []string{"1 2026-02-16 nonproductive 22:00-02:00"}},
		{name: "past midnight, unsaid", row: "1,2026-02-16,,,,,22:00,,,2:00,,,,,", problems: []string{"2 J fault.clock_backwards"}},
		{name: "half a clock", row: "1,2026-02-16,,,,,6:00,,,,,,,,", problems: []string{"2 J fault.clock_half"}},
		{name: "half a meal", row: "1,2026-02-16,,,,,6:00,10:00,,14:00,,,,,", problems: []string{"2 I fault.clock_half"}},
		{name: "a meal without a day", row: "1,2026-02-16,,,,,,10:00,10:30,,,,,,", problems: []string{"2 G fault.cell_needed"}},
		{name: "time told twice", row: "1,2026-02-16,,,,,6:00,,,14:00,,480,,,", problems: []string{"2 L fault.time_told_twice"}},
		{name: "more rest than time", row: "1,2026-02-16,,,,,6:00,,,7:00,,,70,,", problems: []string{"2 M fault.more_than_clock"}},
		{name: "an unknown kind and waiver", row: "1,2026-02-16,,,,overtime,,,,,8,,,,third", problems: []string{"2 F fault.not_one_of", "2 O fault.unknown_word"}, notes: []string{"2 K note.import_minutes_only"}},
		{name: "a count without a place", row: "1,2026-02-16,,pollination,5,,,,,,,,,,", problems: []string{"2 C fault.cell_needed"}},
		{name: "a name of two", row: "Eva Solis,2026-02-16,,,,,,,,,8,,,,", problems: []string{"2 A fault.name_of_several"}, notes: []string{"2 K note.import_minutes_only"}},
		{name: "nothing", row: "1,2026-02-16,,,,,,,,,,,,,", problems: []string{"2  fault.row_says_nothing"}},
		{name: "a day to come", row: "1,2027-02-16,,,,,,,,,8,,,,", problems: []string{"2 B fault.day_implausible"}, notes: []string{"2 K note.import_minutes_only"}},
		{name: "minutes alone", row: "1,2026-02-16,,,,,,,,,,90,,,", notes: []string{"2 L note.import_minutes_only"}, standing: []string{"1 2026-02-16 piece 90"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFarm(t, databases.Store(t, migrations.SQLite, now))
			r := f.take(imports.Order{Data: []byte(heading + c.row + "\n"), Mapping: &imports.Mapping{Overnight: c.overnight}})
			f.wants(told(t, r.Problems), c.problems)
			f.wants(told(t, r.Notes), c.notes)
			f.wants(f.standing(), c.standing)
		})
	}
}

// One employer's mapping is nobody else's.
func TestMappingsAreTheEmployersOwn(t *testing.T) {
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.in(func(tx *models.Tx) error {
			_, err := imports.UpdateMapping(tx, 0, imports.Mapping{Kind: imports.Workers, DateOrder: "dmy"})
			return err
		})
		other := models.Scope{Employer: models.NewID()}
		content := models.EmployerContent{LegalName: "Four Wells LLC", Address: "9 Canal Road", Size: 4, SecondApprover: true}
		if err := store.FoundEmployer(t.Context(), other.Employer, "four-wells", content); err != nil {
			t.Fatal(err)
		}
		for scope, want := range map[models.Scope]int{f.scope: 1, other: 0} {
			err := store.View(t.Context(), scope, func(tx *models.Tx) error {
				all, err := imports.Mappings(tx)
				if len(all) != want {
					t.Errorf("%v: %+v", scope, all)
				}
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
		}
	})
}
