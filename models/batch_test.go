package models_test

import (
	"strings"
	"testing"

	"palmero/models"
)

// What is asked together is what is asked one by one.
func TestAskIsAView(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope, other := found(t, store, "tres-pozos"), found(t, store, "dos-pozos")
		in(t, store, scope, createsTwo)
		in(t, store, other, createsTwo)
		var workers, direct []models.Worker
		var first models.Worker
		counted := 0
		err := store.Ask(t.Context(), scope, func(b *models.Batch) error {
			workers, counted = nil, 0
			b.Find(b.DB().Order("seq"), &workers)
			models.Take(b, b.DB().Order("seq"), &first)
			b.Then(func() error {
				counted = len(workers)
				return nil
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		if err := store.View(t.Context(), scope, func(tx *models.Tx) error { return tx.DB().Order("seq").Find(&direct).Error }); err != nil {
			t.Fatal(err)
		}
		if counted != 1 || len(direct) != 1 || !sameWorker(workers[0], direct[0]) || !sameWorker(first, direct[0]) {
			t.Errorf("%d: %+v, %+v; %+v", counted, workers, first, direct)
		}
	})
}

func sameWorker(a, b models.Worker) bool {
	return a.Keyed == b.Keyed && a.CreatedAt.Equal(b.CreatedAt) && a.Version == b.Version && a.Content.Name == b.Content.Name &&
		a.Content.StartedOn == b.Content.StartedOn && a.Content.EndedOn == b.Content.EndedOn
}

// A batch reaches nobody else's records, and an error of it is told as it is one by one.
func TestAskIsHeldToItsEmployer(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		var names []struct{ Name string }
		err := store.Ask(t.Context(), scope, func(b *models.Batch) error {
			b.Find(b.DB().Raw("SELECT name FROM workers"), &names)
			return nil
		})
		if err == nil || !strings.Contains(err.Error(), "outside any employer") {
			t.Errorf("unscoped: %v", err)
		}
		err = store.Ask(t.Context(), scope, func(b *models.Batch) error {
			var none models.Worker
			models.Take(b, b.DB().Where("name = ?", "nobody"), &none)
			return nil
		})
		if models.KindOf(err) != models.NotFound {
			t.Errorf("nobody: %v", err)
		}
	})
}

// A statement that depends on an answer is asked all the same, in one state with the others.
func TestAskWhatDependsOnAnAnswer(t *testing.T) {
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		in(t, store, scope, createsTwo)
		var byName []models.Worker
		err := store.Ask(t.Context(), scope, func(b *models.Batch) error {
			var all []models.Worker
			b.Find(b.DB(), &all)
			b.Then(func() error { return b.DB().Where("name = ?", all[0].Content.Name).Find(&byName).Error })
			return nil
		})
		if err != nil || len(byName) != 1 {
			t.Errorf("%v, %v", byName, err)
		}
	})
}

// What is known from the last time is held against what stands, and is never what is answered where that moved.
func TestKnownIsWhatStands(t *testing.T) {
	type named struct{ Name string }
	each(t, func(t *testing.T, store *models.Store) {
		scope := found(t, store, "tres-pozos")
		in(t, store, scope, createsTwo)
		ask := func() (names []named, same []models.Worker) {
			err := store.Ask(t.Context(), scope, func(b *models.Batch) (err error) {
				if names, err = models.Known[named](b, b.DB().Table("workers").Order("seq"), nil); err != nil {
					return err
				}
				same = nil
				b.Find(b.DB().Where("name = ?", names[0].Name), &same)
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			return names, same
		}
		for range 2 {
			if names, same := ask(); names[0].Name != "Ana Rojas" || len(same) != 1 {
				t.Errorf("%v, %v", names, same)
			}
		}
		in(t, store, scope, func(tx *models.Tx) error {
			var w models.Worker
			if err := tx.DB().Take(&w).Error; err != nil {
				return err
			}
			w.Content.Name = "Ana Luz"
			_, err := models.Update(tx, w.ID, w.Version, w.Content)
			return err
		})
		for range 2 {
			if names, same := ask(); names[0].Name != "Ana Luz" || len(same) != 1 {
				t.Errorf("after an update: %v, %v", names, same)
			}
		}
	})
}
