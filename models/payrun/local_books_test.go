package payrun_test

import (
	"strings"
	"testing"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll/rulebook"
)

// localText is an invented local book with a wage that nobody earns by the piece.
const localText = `
book: NAME
title: The book NAME
parent: PARENT
local: KIND
sources:
  source: {title: Invented, section: NAME 1, link: "https://law.example/NAME"}
parameters:
  minimum_wage:
    about: What is set
    way: higher
    values: [{from: 2026-01-01, through: 2026-12-31, value: "WAGE", source: source, read: 2026-02-01, standing: read}]
authorities: {}
`

func localBook(name, parent, kind, wage string) string {
	return strings.NewReplacer("NAME", name, "PARENT", parent, "KIND", kind, "WAGE", wage).Replace(localText)
}

func (f *farm) enterBook(t testing.TB, library *rulebook.Library, e localbooks.Entry) *models.LocalBook {
	t.Helper()
	e.ID = models.NewID()
	var book *models.LocalBook
	f.in(t, f.owner, func(tx *models.Tx) (err error) {
		book, _, err = localbooks.Enter(tx, library, e, "")
		return err
	})
	return book
}

// moved are the parts of a review's differences by worker.
func moved(found []payrun.Difference) map[string][2]string {
	m := map[string][2]string{}
	for _, d := range found {
		m[d.WorkerName] = [2]string{d.Records.String(), d.Rules.String()}
	}
	return m
}

// A contract applies to the workers that it names and to nobody else. What it changes about a week already paid is a difference of the rules, and so is its end.
func TestAContractAppliesToWhomItNames(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := paidWeek(t, store, library)
		contract := localbooks.Entry{Text: localBook("union", "us-ca", "contract", "60.00"), WorkerIDs: []uuid.UUID{f.ana}}
		first := f.enterBook(t, library, contract)
		found := f.review(t, library)
		if len(found) != 1 || found[0].WorkerName != "Ana Rojas" || found[0].Records != 0 || found[0].Rules <= 0 || found[0].Adjustment == nil {
			t.Fatalf("%v", moved(found))
		}
		rules := found[0].Rules
		f.in(t, f.owner, func(tx *models.Tx) error {
			_, _, err := localbooks.Withdraw(tx, first.ID, localbooks.Withdrawal{ID: models.NewID(), Reason: "never signed"}, "")
			return err
		})
		if left := f.review(t, library); len(left) != 0 {
			t.Errorf("a contract that was withdrawn still moves %v", moved(left))
		}
		contract.WorkerIDs, contract.GardenIDs = nil, []uuid.UUID{f.garden}
		f.enterBook(t, library, contract)
		everybody := f.review(t, library)
		if len(everybody) < 2 || everybody[0].Rules != rules {
			t.Errorf("in the garden it moves %v", moved(everybody))
		}
	})
}

// An ordinance applies where a garden names it; its text is kept with what was reckoned by it, under an announcement too.
func TestAnOrdinanceAppliesWhereAGardenNamesIt(t *testing.T) {
	library := books(t)
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.submit(t, f.mondaySheet())
		f.enterBook(t, library, localbooks.Entry{Text: localBook("oasis", "us-ca", "ordinance", "50.00")})
		f.enterBook(t, library, localbooks.Entry{Text: localBook("us-2026", "us", "announcement", "8.00")})
		before := f.draft(t, library, week)
		f.in(t, f.owner, func(tx *models.Tx) error {
			garden, err := models.Get[models.GardenContent](tx, f.garden)
			if err != nil {
				return err
			}
			c := garden.Content
			c.Rulebook = "oasis"
			_, err = models.Update(tx, f.garden, garden.Version, c)
			return err
		})
		err := store.In(t.Context(), f.owner, func(tx *models.Tx) error {
			_, err := payrun.Approve(tx, library, before.ID, before.Version)
			return err
		})
		if models.KindOf(err) != models.Stale {
			t.Errorf("a draft under the old book is approved: %v", err)
		}
		run := before
		f.in(t, f.clerk, func(tx *models.Tx) (err error) {
			run, err = payrun.Redraft(tx, library, before.ID, before.Version)
			return err
		})
		s := f.statementsOf(t, f.payAll(t, f.approve(t, library, run)))[0]
		var marks []string
		for _, m := range s.Heading.LocalBooks {
			marks = append(marks, m.Key)
		}
		if s.Figures.Rulebook != "oasis" || strings.Join(marks, " ") != "oasis us-2026" || s.Heading.RulebookTitle != "The book oasis + The book us-2026" {
			t.Errorf("%s: %+v", s.Figures.Rulebook, s.Heading)
		}
		if left := f.review(t, library); len(left) != 0 {
			t.Errorf("nothing has changed, and it moves %v", moved(left))
		}
	})
}

// What comes with the program may overtake a local book: its lower wage has no effect then, and it holds nobody up.
func TestAnOvertakenLocalBook(t *testing.T) {
	library := books(t)
	text := localBook("oasis", "us-ca", "ordinance", "17.00")
	dearer := rulebook.Texts()
	dearer["us-ca.yaml"] = []byte(strings.ReplaceAll(string(dearer["us-ca.yaml"]), `"16.90"`, `"17.30"`))
	later, err := rulebook.Parse(dearer)
	if err != nil {
		t.Fatal(err)
	}
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		f.enterBook(t, library, localbooks.Entry{Text: text})
		f.in(t, f.owner, func(tx *models.Tx) error {
			law, err := localbooks.Of(tx, later)
			if err != nil {
				return err
			}
			book, ok := law.Governing("oasis")
			if !ok || len(law.Left) > 0 {
				t.Fatalf("left out: %v", law.Left)
			}
			if wage, err := book.MinimumWage(weekStart.Date, nil); err != nil || wage != 173_000 {
				t.Errorf("%v, %v", wage, err)
			}
			return nil
		})
		_, left := later.Standing(map[string][]byte{"orphan.yaml": []byte(localBook("orphan", "us-xx", "ordinance", "20.00")), "us-nv.yaml": []byte(text)})
		if len(left) != 2 {
			t.Errorf("left out: %v", left)
		}
	})
}
