package evidence_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/evidence"
	"palmero/payroll/rulebook"
)

// requireRetention wants the season's records kept as long as California and the federal government ask.
func requireRetention(t *testing.T, store *models.Store, employer uuid.UUID, books *rulebook.Library) {
	t.Helper()
	r := retention(t, store, employer, books)
	// Claims under the unfair competition law reach back four years (California, Business and Professions Code, section 17208); the season's first
	// week begins on Sunday 8 February 2026.
	if r.Before.String() != "2030-02-08" || r.First.String() != "2026-02-08" || r.Longest().Years != 4 || r.Longest().Book != "us-ca" {
		t.Errorf("before %s, first %s, longest %+v", r.Before, r.First, r.Longest())
	}
	want := map[string]string{
		"workers": "2030-03-02", "pay_runs": "2030-02-27", "statements": "2030-02-21", "time_entries": "2030-03-02", "tallies": "2030-03-02",
		"crew_sheets": "2030-03-02", "piece_rates": "2030-03-02", "hourly_rates": "2030-03-02",
	}
	for _, k := range r.Kept {
		if until, ok := want[k.What]; ok && (k.Until.String() != until || k.Records == 0) {
			t.Errorf("%s: %d records, kept until %s; want %s", k.What, k.Records, k.Until, until)
		}
	}
}

func retention(t *testing.T, store *models.Store, employer uuid.UUID, books *rulebook.Library) (r *evidence.Retention) {
	t.Helper()
	err := store.View(t.Context(), models.Scope{Employer: employer}, func(tx *models.Tx) (err error) {
		r, err = evidence.FindRetention(tx, books)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestRetentionOfNothing(t *testing.T) {
	books, err := rulebook.Load()
	if err != nil {
		t.Fatal(err)
	}
	databases.Each(t, time.Now, func(t *testing.T, store *models.Store) {
		r := retention(t, store, found(t, store, "new"), books)
		if !r.Before.IsZero() || len(r.Periods) != 0 || r.Longest() != nil || len(r.Kept) == 0 {
			t.Errorf("%+v", r)
		}
	})
}
