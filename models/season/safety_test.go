package season_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/models"
	"palmero/models/clearance"
	"palmero/models/climbs"
	"palmero/models/gear"
	"palmero/models/heatday"
	"palmero/models/injuries"
	"palmero/models/season"
	"palmero/payroll/dated"
)

// safetyOnOpening is what the safety officer finds on the day on which the demo's calendar begins.
const safetyOnOpening = `Norte, attached_ladder in A-4: 8 of 8
Canal, lift in B-1: 8 of 8
Sur, portable_ladder in C-1: 7 of 8; Clayton Webb: gloves_missing
Sur, portable_ladder in A-3: 7 of 8; Clayton Webb: gloves_missing
without clearance: Clayton Webb on 2026-03-02
cool-downs: Fermín Aguayo lacks 1
out of service: L-23
to be avoided: 4-61
not reviewed: crew of attached_ladder on 2026-03-02
expiring: Aurelio Duarte, fall_protection through 2026-03-12
overdue: AR-2 since 2026-01-28
case 1: thorn_puncture, logged true, days_away, 3 days away
case 2: near_miss, logged false, other, 0 days away
due back: Radio, Eusebio Talamantes
low: Guantes de espina G, 0 on hand
`

func requireSafety(t *testing.T, store *models.Store) {
	t.Helper()
	books, err := climbs.Load()
	if err != nil {
		t.Fatal(err)
	}
	employer, err := store.FindEmployer(t.Context(), "media-tarde")
	if err != nil {
		t.Fatal(err)
	}
	day := dated.DateOf(season.Opening)
	var b strings.Builder
	err = store.View(t.Context(), models.Scope{Employer: employer.ID}, func(tx *models.Tx) error {
		for _, tell := range []func(*strings.Builder, *models.Tx, climbs.Books, dated.Date) error{tellClearance, tellPeople, tellThings} {
			if err := tell(&b, tx, books, day); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(safetyOnOpening, b.String()); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func tellClearance(b *strings.Builder, tx *models.Tx, books climbs.Books, day dated.Date) error {
	crews, err := models.List[models.Crew](tx, models.Page{Limit: 10})
	for _, k := range crews {
		a, err := clearance.Look(tx, books.Rules, clearance.Question{Crew: k.ID, Day: day})
		if err != nil {
			return err
		}
		a.Speak(keys)
		for _, w := range a.Ways {
			fmt.Fprintf(b, "%s, %s in %s: %d of %d", a.Name, w.Way, w.Block, w.Cleared, len(w.Workers))
			for _, worker := range w.Workers {
				if !worker.Cleared {
					fmt.Fprintf(b, "; %s: %s", worker.Name, worker.Reasons[0].Code)
				}
			}
			fmt.Fprintln(b)
		}
	}
	return err
}

func tellPeople(b *strings.Builder, tx *models.Tx, books climbs.Books, day dated.Date) error {
	open, err := clearance.Exceptions(tx, clearance.Recent(tx.Now), day, nil, 100)
	if err != nil {
		return err
	}
	for _, x := range open {
		fmt.Fprintf(b, "without clearance: %s on %s\n", x.Name, x.Workday.Date)
	}
	owed, err := heatday.FindOwed(tx, books.Rules, day, nil)
	for _, o := range owed {
		if o.Unrecorded() {
			fmt.Fprintf(b, "cool-downs: %s lacks %d\n", o.Name, o.Missing)
		}
	}
	return err
}

func tellThings(b *strings.Builder, tx *models.Tx, books climbs.Books, day dated.Date) error {
	pieces, err := models.List[models.Equipment](tx, models.Page{Limit: 10}, models.Equal("state", models.OutOfService))
	for _, p := range pieces {
		fmt.Fprintf(b, "out of service: %s\n", p.Content.Code)
	}
	if err != nil {
		return err
	}
	palms, err := models.List[models.Palm](tx, models.Page{Limit: 10}, models.AvoidedPalms(true))
	for _, p := range palms {
		fmt.Fprintf(b, "to be avoided: %s\n", p.Content.Label)
	}
	if err != nil {
		return err
	}
	lists, err := models.List[models.FilledChecklist](tx, models.Page{Limit: 10}, models.Standing(true), models.Reviewed(false))
	for _, l := range lists {
		fmt.Fprintf(b, "not reviewed: crew of %s on %s\n", l.Content.Way, l.Content.Workday.Date)
	}
	if err != nil {
		return err
	}
	expiring, err := climbs.Expiring(tx, books, day, 30)
	for _, e := range expiring {
		fmt.Fprintf(b, "expiring: %s, %s through %s\n", e.Worker, e.Topic.Key, e.Through)
	}
	if err != nil {
		return err
	}
	due, err := gear.Overdue(tx, books.Rules, day)
	for _, d := range due {
		fmt.Fprintf(b, "overdue: %s since %s\n", d.Code, d.DueOn)
	}
	if err != nil {
		return err
	}
	cases, err := injuries.List(tx, books.Rules, models.Page{Limit: 10})
	if err != nil {
		return err
	}
	for _, c := range cases {
		fmt.Fprintf(b, "case %d: %s, logged %v, %s, %d days away\n", c.Incident.Content.Number, c.Incident.Content.Kind, c.Logged(), c.Class(), c.Days.Away)
	}
	deadlines, err := injuries.Deadlines(tx, books.Rules)
	for _, d := range deadlines {
		fmt.Fprintf(b, "due: %s of case %d\n", d.Code, d.Number)
	}
	if err != nil {
		return err
	}
	back, err := gear.Issues(tx, models.Page{Limit: 10}, models.DueBefore(day))
	for _, i := range back {
		fmt.Fprintf(b, "due back: %s, %s\n", i.Gear, i.Worker)
	}
	if err != nil {
		return err
	}
	low, err := models.List[models.GearKind](tx, models.Page{Limit: 10}, models.LowStock(true))
	for _, k := range low {
		fmt.Fprintf(b, "low: %s %s, %d on hand\n", k.Content.Name, k.Content.Size, k.Content.OnHand)
	}
	return err
}
