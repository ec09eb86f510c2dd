package payrun_test

import (
	"errors"
	"testing"
	"time"

	"palmero/models"
)

// A workweek is chosen before the first day is recorded, and stays from then on; the other settings still move.
func TestWorkweekStays(t *testing.T) {
	databases.Each(t, now, func(t *testing.T, store *models.Store) {
		f := newFarm(t, store)
		begin := func(day, payday time.Weekday) error {
			return store.In(t.Context(), f.owner, func(tx *models.Tx) error {
				p, err := tx.Profile()
				if err != nil {
					return err
				}
				p.Content.WeekStart, p.Content.Payday = day, payday
				_, err = tx.UpdateProfile(p.Version, p.Content)
				return err
			})
		}
		for _, day := range []time.Weekday{time.Monday, time.Sunday} {
			if err := begin(day, time.Friday); err != nil {
				t.Errorf("before the first day of work: %v", err)
			}
		}
		f.submit(t, f.mondaySheet())
		err := begin(time.Monday, time.Friday)
		var e *models.Error
		if !errors.As(err, &e) || len(e.Faults) != 1 || e.Faults[0].Pointer != "/week_start" || e.Faults[0].Key != "fault.workweek_fixed" {
			t.Errorf("after it: %v", err)
		}
		if err := begin(time.Sunday, time.Thursday); err != nil {
			t.Errorf("another payday: %v", err)
		}
	})
}
