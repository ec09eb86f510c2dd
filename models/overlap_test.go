package models_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// stretch is a time entry of a worker, named by a workday that need not be that of its hours.
type stretch struct {
	workday    dated.Date
	start, end time.Time
}

func (s stretch) overlaps(o stretch) bool { return s.start.Before(o.end) && o.start.Before(s.end) }

// put tries to record a stretch, past everything but the database.
func (s stretch) put(t *testing.T, store *models.Store, scope models.Scope, worker, garden uuid.UUID) error {
	return store.In(t.Context(), scope, func(tx *models.Tx) error {
		return models.InsertAll(tx, []models.TimeEntry{{
			Keyed:      models.Keyed{ID: models.NewID(), ContentHash: "-"},
			RecordedAt: tx.Now, ReceivedAt: tx.Now, RecordedBy: scope.Actor,
			Content: models.TimeEntryContent{WorkerID: worker, Workday: models.Day(s.workday), Kind: payroll.Hourly, GardenID: garden, StartedAt: &s.start, EndedAt: &s.end},
		}})
	})
}

// Whatever the order in which they come and the workday that they are named by, the entries that stand do not overlap, and those that do not overlap are taken.
func TestEntriesOfAWorkerDoNotOverlap(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		garden, _, _ := ground(t, store, scope)
		ana, beto := models.NewID(), models.NewID()
		scope.Actor = models.NewID()
		in(t, store, scope, func(tx *models.Tx) error {
			_, _, err := models.Create(tx, scope.Actor, models.AccountContent{SignInName: "clerk", Name: "Clerk", Role: models.RoleClerk, Language: "en"})
			for id, name := range map[uuid.UUID]string{ana: "Ana Rojas", beto: "Beto Luz"} {
				if err == nil {
					_, _, err = models.Create(tx, id, worker(name))
				}
			}
			return err
		})
		random := rand.New(rand.NewPCG(14, 0))
		var standing []stretch
		refused := 0
		for range 150 {
			start := noon.Add(time.Duration(random.IntN(6*24*4)) * 15 * time.Minute)
			s := stretch{dated.DateOf(start).AddDays(random.IntN(3) - 1), start, start.Add(time.Duration(1+random.IntN(12)) * 15 * time.Minute)}
			free := true
			for _, o := range standing {
				free = free && !s.overlaps(o)
			}
			switch err := s.put(t, store, scope, ana, garden); {
			case free && err == nil:
				standing = append(standing, s)
			case !free && models.KindOf(err) == models.Conflict:
				refused++
			default:
				t.Fatalf("%v from %v to %v among %v, where it is free: %v; got %v", s.workday, s.start, s.end, standing, free, err)
			}
		}
		if len(standing) < 30 || refused < 30 {
			t.Errorf("%d taken and %d refused say little", len(standing), refused)
		}
		if err := standing[0].put(t, store, scope, beto, garden); err != nil {
			t.Errorf("another worker at the same time: %v", err)
		}
	})
}
