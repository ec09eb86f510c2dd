package review_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/climbs"
	"palmero/models/review"
	"palmero/models/season"
	"palmero/models/testdb"
	"palmero/payroll"
	payrules "palmero/payroll/rulebook"
	"palmero/safety"
)

var databases *testdb.Databases

func TestMain(m *testing.M) {
	os.Exit(testdb.Run(m, func(d *testdb.Databases) { databases = d }))
}

// opening is what waits when the season's records end, the worst and oldest first.
const opening = `danger 2026-02-26 stop_unheard: Gudelia Ríos Eusebio Talamantes; crew_lead POST my/stops/*/acknowledgement
danger 2026-03-02 cool_down_owed: Fermín Aguayo; crew_lead POST crew-sheets
decide 2026-01-28 inspection_due: AR-2; safety_officer POST equipment/*/inspections
decide 2026-03-02 checklist: Norte; safety_officer POST filled-checklists/*/review
decide 2026-03-02 equipment_out: L-23; safety_officer POST equipment/*/returns
decide 2026-03-02 without_clearance: Clayton Webb; safety_officer POST clearance-exceptions
plan 2026-02-27 gear_due: Eusebio Talamantes Radio; safety_officer POST gear-issues/*/return
plan 2026-03-02 stock_low: Guantes de espina G; safety_officer POST gear-kinds/*/stock
plan 2026-03-12 training_ends: Aurelio Duarte; safety_officer POST training-sign-offs
`

func TestWhatWaits(t *testing.T) {
	books, laws := must(climbs.Load()), must(payrules.Load())
	clock := &season.Clock{}
	databases.Each(t, clock.Now, func(t *testing.T, store *models.Store) {
		if err := season.Seed(t.Context(), store, clock, laws, func(key string, _ safety.Terms) string { return key }); err != nil {
			t.Fatal(err)
		}
		employer := must(store.FindEmployer(t.Context(), "media-tarde"))
		look := func(of uuid.UUID, q review.Question) (queue *review.Queue) {
			t.Helper()
			err := store.View(t.Context(), models.Scope{Employer: of}, func(tx *models.Tx) (err error) {
				queue, err = review.Look(tx, books, q)
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			return queue
		}
		whole := look(employer.ID, review.Question{Within: -1, Limit: 100})
		if diff := cmp.Diff(opening, told(whole)); diff != "" {
			t.Errorf("(-want +got)\n%s", diff)
		}
		if whole.Next != "" || len(whole.Cut) > 0 {
			t.Errorf("next %q, cut %v", whole.Next, whole.Cut)
		}
		if soon := look(employer.ID, review.Question{Within: 9, Limit: 100}); strings.Contains(told(soon), "training_ends") {
			t.Errorf("within nine days: %s", told(soon))
		}
		var pages strings.Builder
		for after := ""; ; {
			page := look(employer.ID, review.Question{Within: -1, Limit: 2, After: after})
			pages.WriteString(told(page))
			if after = page.Next; after == "" {
				break
			}
			if !review.IsPlace(after) {
				t.Errorf("%q is no place", after)
			}
		}
		if diff := cmp.Diff(opening, pages.String()); diff != "" {
			t.Errorf("in pages (-want +got)\n%s", diff)
		}
		requireSettled(t, store, employer.ID, whole, func() string { return told(look(employer.ID, review.Question{Within: -1, Limit: 100})) })
	})
}

// requireSettled has the officer review the list and acknowledges nothing else: that item is gone, and nothing but that.
func requireSettled(t *testing.T, store *models.Store, employer uuid.UUID, queue *review.Queue, again func() string) {
	t.Helper()
	for _, item := range queue.Items {
		if item.Kind != review.Checklist {
			continue
		}
		err := store.In(t.Context(), models.Scope{Employer: employer}, func(tx *models.Tx) error {
			var officer models.Account
			if err := tx.DB().Where("role = ?", models.RoleSafetyOfficer).Take(&officer).Error; err != nil {
				return err
			}
			tx.Actor = officer.ID
			_, _, err := climbs.Review(tx, item.Subjects[0].ID, climbs.Reviewing{ID: models.NewID(), Decision: models.Accepted, Reason: "seen"})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	var left []string
	for line := range strings.Lines(opening) {
		if !strings.Contains(line, " checklist:") {
			left = append(left, line)
		}
	}
	if diff := cmp.Diff(strings.Join(left, ""), again()); diff != "" {
		t.Errorf("after the review (-want +got)\n%s", diff)
	}
}

// told writes a queue with a line for each item, its identifiers left out.
func told(q *review.Queue) string {
	q.Speak(func(key string, _ payroll.Terms) string { return key })
	var b strings.Builder
	for _, i := range q.Items {
		var names []string
		path := strings.TrimPrefix(i.Action.Path, "/api/v1/")
		for _, s := range i.Subjects {
			if s.Name != "" {
				names = append(names, s.Name)
			}
			path = strings.ReplaceAll(path, s.ID.String(), "*")
		}
		fmt.Fprintf(&b, "%s %s %s: %s; %s %s %s\n", i.Severity, i.Since, i.Kind, strings.Join(names, " "), i.Action.By, i.Action.Method, path)
	}
	return b.String()
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
