package gear_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
	"palmero/payroll/dated"
	"palmero/safety/rulebook"
)

func (r *rig) state(id uuid.UUID) (c models.EquipmentContent, version int64) {
	r.Helper()
	r.in(func(tx *models.Tx) error {
		kept, err := models.Get[models.EquipmentContent](tx, id)
		if err == nil {
			c, version = kept.Content, kept.Version
		}
		return err
	})
	return c, version
}

func (r *rig) inspect(id uuid.UUID, in gear.Inspection) (e *gear.Event) {
	r.Helper()
	if in.ID == uuid.Nil {
		in.ID = models.NewID()
	}
	r.in(func(tx *models.Tx) (err error) {
		e, _, err = gear.Inspect(tx, id, in)
		return err
	})
	return e
}

func found(severity models.Severity, note string) gear.Finding {
	return gear.Finding{ID: models.NewID(), Severity: severity, Note: note}
}

// A stopping finding takes the ladder out at once, in the same transaction; a good look does not bring it back, a competent person does.
func TestAStoppingDefect(t *testing.T) {
	each(t, func(r *rig) {
		before := r.audited()
		in := gear.Inspection{Kind: models.PreUseInspection, Findings: []gear.Finding{found(models.Stopping, "The middle wire is gone"), found(models.ToMend, "Rung 4 is dirty")}}
		in.ID = models.NewID()
		e := r.inspect(r.ladder, in)
		again := r.inspect(r.ladder, in)
		if *e.Passed || len(e.Findings) != 2 || len(again.Findings) != 2 || e.HappenedOn.Date != today {
			t.Errorf("%+v, then %+v", e, again)
		}
		if c, _ := r.state(r.ladder); c.State != models.OutOfService || !c.PreUseOn.IsZero() || *c.StateEvent != e.ID {
			t.Errorf("%+v", c)
		}
		r.inspect(r.ladder, gear.Inspection{Kind: models.PreUseInspection})
		c, version := r.state(r.ladder)
		if c.State != models.OutOfService || c.PreUseOn.Date != today || version != 3 {
			t.Errorf("after a good look: %+v, version %d", c, version)
		}
		back := gear.Return{CompetentPerson: "Olga Prieto", Note: "New wire, pulled at 250 lb"}
		back.ID = models.NewID()
		put := func(version int64, in gear.Return) func(tx *models.Tx) error {
			return func(tx *models.Tx) error {
				_, _, err := gear.PutBack(tx, r.ladder, version, in)
				return err
			}
		}
		r.refused("problem.stale_version", put(2, back))
		unnamed := back
		unnamed.ID, unnamed.CompetentPerson, unnamed.Note = models.NewID(), "", ""
		r.refused("/competent_person fault.empty, /note fault.empty", put(3, unnamed))
		r.in(put(3, back))
		r.in(put(3, back))
		twice := back
		twice.ID = models.NewID()
		r.refused("problem.equipment_not_out", put(4, twice))
		r.in(func(tx *models.Tx) error {
			open, err := models.List[models.EquipmentFinding](tx, models.Page{Limit: 9}, models.OpenFindings(true))
			if err != nil || len(open) != 1 || open[0].Severity != models.ToMend {
				t.Errorf("still open: %+v, %v", open, err)
			}
			_, _, err = gear.Mend(tx, open[0].ID, gear.Mending{Stamp: gear.Stamp{ID: models.NewID()}, Person: "Beto"})
			return err
		})
		r.refused("problem.finding_settled", func(tx *models.Tx) error {
			_, _, err := gear.Mend(tx, in.Findings[1].ID, gear.Mending{Stamp: gear.Stamp{ID: models.NewID()}, Person: "Beto"})
			return err
		})
		if after := r.audited(); after != before+4 {
			t.Errorf("%d entries in the trail for four commands", after-before)
		}
	})
}

// What a phone sends late never makes a piece look better than it is: a defect that arrives after the return takes it out again.
func TestADefectThatArrivesLate(t *testing.T) {
	each(t, func(r *rig) {
		out := gear.Withdrawal{Stamp: gear.Stamp{ID: models.NewID()}, Kind: models.ArrestedFall, Note: "Held Berta on the third rung"}
		r.in(func(tx *models.Tx) error {
			_, _, err := gear.Withdraw(tx, r.harness, out)
			return err
		})
		_, version := r.state(r.harness)
		r.in(func(tx *models.Tx) error {
			_, _, err := gear.PutBack(tx, r.harness, version, gear.Return{Stamp: gear.Stamp{ID: models.NewID()}, CompetentPerson: "Olga Prieto", Note: "Webbing and stitches looked over"})
			return err
		})
		on := func(day dated.Date) (p gear.Piece) {
			r.in(func(tx *models.Tx) error {
				pieces, err := gear.PiecesOn(tx, day, models.Equal("e.id", r.harness))
				if err == nil && len(pieces) == 1 {
					p = pieces[0]
				}
				return err
			})
			return p
		}
		if p := on(today); !*p.Equipment.InService || !*p.Equipment.ImpactLoaded || p.Equipment.ReturnedBy != "Olga Prieto" || p.Equipment.ID != "H-02" {
			t.Errorf("after the return: %+v", p.Equipment)
		}
		early := now.Add(-3 * time.Hour)
		late := gear.Inspection{Stamp: gear.Stamp{ID: models.NewID(), HappenedAt: &early}, Kind: models.PreUseInspection, Findings: []gear.Finding{found(models.Stopping, "Cut strap")}}
		r.inspect(r.harness, late)
		if p := on(today); *p.Equipment.InService || p.Equipment.ReturnedBy != "" {
			t.Errorf("after the late defect: %+v", p.Equipment)
		}
		if p := on(today.AddDays(-1)); !*p.Equipment.InService || *p.Equipment.ImpactLoaded {
			t.Errorf("the day before: %+v", p.Equipment)
		}
	})
}

func TestRetiredIsForGood(t *testing.T) {
	each(t, func(r *rig) {
		r.in(func(tx *models.Tx) error {
			_, _, err := gear.Retire(tx, r.harness, 1, gear.Retirement{Stamp: gear.Stamp{ID: models.NewID()}, Note: "Ten years old"})
			return err
		})
		r.in(func(tx *models.Tx) error { // somebody wore it all the same: that is kept, and changes nothing
			_, _, err := gear.Withdraw(tx, r.harness, gear.Withdrawal{Stamp: gear.Stamp{ID: models.NewID()}, Kind: models.ArrestedFall, Note: "Was in the truck"})
			return err
		})
		c, version := r.state(r.harness)
		if c.State != models.Retired {
			t.Errorf("%+v", c)
		}
		r.refused("problem.equipment_not_out", func(tx *models.Tx) error {
			_, _, err := gear.PutBack(tx, r.harness, version, gear.Return{Stamp: gear.Stamp{ID: models.NewID()}, CompetentPerson: "Olga", Note: "Looks good"})
			return err
		})
		r.in(func(tx *models.Tx) error {
			pieces, err := gear.PiecesOn(tx, today)
			if len(pieces) != 1 || pieces[0].Equipment.ID != "L-07" {
				t.Errorf("%+v", pieces)
			}
			return err
		})
	})
}

func TestWrongInspections(t *testing.T) {
	each(t, func(r *rig) {
		same := found(models.Noted, "Faded")
		tomorrow := now.Add(80 * time.Hour)
		for want, in := range map[string]gear.Inspection{
			"/kind fault.not_one_of":                {Kind: "glance"},
			"/person fault.competent_person":        {Kind: models.PeriodicInspection},
			"/findings/0/severity fault.not_one_of": {Kind: models.PreUseInspection, Findings: []gear.Finding{found("bad", "Bent")}},
			"/findings/0/note fault.empty":          {Kind: models.PreUseInspection, Findings: []gear.Finding{found(models.Noted, " ")}},
			"/findings/1/id fault.id_twice":         {Kind: models.PreUseInspection, Findings: []gear.Finding{same, same}},
			"/findings/0/id fault.id_not_made":      {Kind: models.PreUseInspection, Findings: []gear.Finding{{Severity: models.Noted, Note: "Faded"}}},
			"/happened_at fault.day_implausible":    {Kind: models.PreUseInspection, Stamp: gear.Stamp{HappenedAt: &tomorrow}},
		} {
			in.ID = models.NewID()
			r.refused(want, func(tx *models.Tx) error {
				_, _, err := gear.Inspect(tx, r.ladder, in)
				return err
			})
		}
		r.refused("problem.not_found", func(tx *models.Tx) error {
			_, _, err := gear.Inspect(tx, models.NewID(), gear.Inspection{Stamp: gear.Stamp{ID: models.NewID()}, Kind: models.PreUseInspection})
			return err
		})
		if c, version := r.state(r.ladder); c.State != models.InService || version != 1 {
			t.Errorf("%+v, version %d", c, version)
		}
	})
}

// A look every year by the rulebook (12 months, house practice after ANSI Z359, from memory) or, where the maker is stricter, by the manual; through the same
// calendar day, that day included.
func TestOverdueInspections(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	each(t, func(r *rig) {
		last := time.Date(2025, 3, 4, 18, 0, 0, 0, time.UTC)
		r.inspect(r.ladder, gear.Inspection{Stamp: gear.Stamp{HappenedAt: &last}, Kind: models.PeriodicInspection, Person: "Olga Prieto"})
		r.inspect(r.harness, gear.Inspection{Stamp: gear.Stamp{HappenedAt: &last}, Kind: models.PeriodicInspection, Person: "Olga Prieto"})
		r.in(func(tx *models.Tx) error {
			keep(r, tx, models.Create[models.EquipmentContent], models.EquipmentContent{
				GardenID: r.garden, Kind: models.Lanyard, Code: "C-01", Description: "Chain", InspectionMonths: new(int64(6)), InspectionSource: "Manual, p. 9",
				FirstUsedOn: models.Day(dated.MustDate("2025-09-01")), RetireBy: models.Day(today.AddDays(-1)),
			})
			return nil
		})
		overdue := func(by dated.Date) (all []string) {
			r.in(func(tx *models.Tx) error {
				due, err := gear.Overdue(tx, books, by)
				for _, d := range due {
					all = append(all, d.Code+" "+string(d.What)+" "+d.DueOn.String())
				}
				return err
			})
			return all
		}
		if got, want := overdue(today), []string{"C-01 inspection 2025-09-01", "C-01 retirement 2026-03-03"}; !slices.Equal(got, want) {
			t.Errorf("on the last day: %q", got)
		}
		if got := overdue(today.AddDays(1)); len(got) != 4 || got[2] != "H-02 inspection 2026-03-04" || got[3] != "L-07 inspection 2026-03-04" {
			t.Errorf("the day after: %q", got)
		}
	})
}

// Every kind of equipment that a rulebook knows can be in the register.
func TestTheRegisterKnowsTheRulebooksKinds(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range books.Keys() {
		book, _ := books.Book(key)
		table, err := book.Clearance(today)
		if err != nil {
			t.Fatal(err)
		}
		for kind := range table.Value.Equipment {
			if !slices.Contains(models.EquipmentKinds, models.EquipmentKind(kind)) {
				t.Errorf("%s: %s", key, kind)
			}
		}
	}
}
