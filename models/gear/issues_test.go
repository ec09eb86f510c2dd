package gear_test

import (
	"testing"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
)

// line is an issue of two pairs of gloves.
func (r *rig) line(worker uuid.UUID) gear.Issue {
	return gear.Issue{ID: models.NewID(), WorkerID: worker, GearKindID: r.gloves, Quantity: 2, Condition: "new", IssuedOn: models.Day(today)}
}

func (r *rig) hand(issues ...gear.Issue) (lines []gear.Line) {
	r.Helper()
	r.in(func(tx *models.Tx) (err error) {
		lines, err = gear.Hand(tx, gear.Sheet{Issues: issues})
		return err
	})
	return lines
}

func (r *rig) onHand(kind uuid.UUID) (n int64) {
	r.Helper()
	r.in(func(tx *models.Tx) error {
		kept, err := models.Get[models.GearKindContent](tx, kind)
		if err == nil {
			n = kept.Content.OnHand
		}
		return err
	})
	return n
}

func (r *rig) stock(kind uuid.UUID, move models.GearMove, n int64) {
	r.Helper()
	r.in(func(tx *models.Tx) error {
		_, _, err := gear.MoveStock(tx, kind, gear.Stock{ID: models.NewID(), Move: move, Quantity: n})
		return err
	})
}

// A sheet may come again with more lines; what was handed out is handed out once.
func TestACrewsSheetComesAgain(t *testing.T) {
	each(t, func(r *rig) {
		r.stock(r.gloves, models.GearReceived, 10)
		ana, berta := r.line(r.ana), r.line(r.berta)
		ana.TypedName = "Ana Rojas"
		before := r.audited()
		r.hand(ana)
		lines := r.hand(ana, berta)
		if lines[0].Outcome != "repeated" || lines[1].Outcome != "recorded" || lines[1].Pointer != "/issues/1" {
			t.Errorf("%+v", lines)
		}
		r.hand(ana, berta)
		if n := r.onHand(r.gloves); n != 6 {
			t.Errorf("%d on hand", n)
		}
		if after := r.audited(); after != before+2 {
			t.Errorf("%d entries in the trail for two sheets with something new", after-before)
		}
		changed := ana
		changed.Quantity = 3
		r.refused("/issues/0/id fault.id_reused", func(tx *models.Tx) error {
			_, err := gear.Hand(tx, gear.Sheet{Issues: []gear.Issue{changed}})
			return err
		})
		r.in(func(tx *models.Tx) error {
			issues, err := models.List[models.GearIssue](tx, models.Page{Limit: 9}, models.Unacknowledged(false))
			if err != nil || len(issues) != 1 || issues[0].WorkerID != r.ana {
				t.Errorf("acknowledged: %+v, %v", issues, err)
			}
			return nil
		})
	})
}

func TestWrongSheetsTellEveryFault(t *testing.T) {
	each(t, func(r *rig) {
		nobody, nothing, many, due := r.line(models.NewID()), r.line(r.ana), r.line(r.ana), r.line(r.ana)
		nothing.GearKindID, nothing.EquipmentID = models.NewID(), new(models.NewID())
		many.Quantity, many.Condition, many.ID = 5_000, "shiny", uuid.Nil
		due.DueOn = models.Day(today.AddDays(-1))
		r.refused("/issues/2/id fault.id_not_made, /issues/2/quantity fault.not_between, /issues/2/condition fault.not_one_of, /issues/3/due_on fault.ends_before_start, "+
			"/issues/4/id fault.id_twice, /issues/0/worker_id fault.unknown_worker_id, /issues/1/gear_kind_id fault.unknown_gear_kind, /issues/1/equipment_id fault.unknown_equipment",
			func(tx *models.Tx) error {
				_, err := gear.Hand(tx, gear.Sheet{Issues: []gear.Issue{nobody, nothing, many, due, due}})
				return err
			})
		r.refused("/issues fault.not_between", func(tx *models.Tx) error {
			_, err := gear.Hand(tx, gear.Sheet{})
			return err
		})
	})
}

// A harness is in one pair of hands, and in none while it is out of service.
func TestANumberedPieceIsInOnePairOfHands(t *testing.T) {
	each(t, func(r *rig) {
		mine := r.line(r.ana)
		mine.GearKindID, mine.EquipmentID, mine.Quantity = r.strap, &r.harness, 1
		r.hand(mine)
		yours := mine
		yours.ID, yours.WorkerID = models.NewID(), r.berta
		hand := func(tx *models.Tx) error {
			_, err := gear.Hand(tx, gear.Sheet{Issues: []gear.Issue{yours}})
			return err
		}
		r.refused("/issues/0/equipment_id fault.equipment_held", hand)
		r.in(func(tx *models.Tx) error {
			_, _, err := gear.TakeBack(tx, mine.ID, gear.GiveBack{Stamp: gear.Stamp{ID: models.NewID()}, Reason: "wrong_size", Restock: true})
			return err
		})
		r.in(hand)
		r.in(func(tx *models.Tx) error {
			_, _, err := gear.TakeBack(tx, yours.ID, gear.GiveBack{Stamp: gear.Stamp{ID: models.NewID()}, Reason: "damaged"})
			if err == nil {
				_, _, err = gear.Withdraw(tx, r.harness, gear.Withdrawal{Stamp: gear.Stamp{ID: models.NewID()}, Kind: models.Withdrawn, Note: "Buckle"})
			}
			return err
		})
		yours.ID = models.NewID()
		r.refused("/issues/0/equipment_id fault.equipment_out", hand)
	})
}

// Gear comes back, is lost or replaced once, with the reason, and the stock follows.
func TestGearComesBack(t *testing.T) {
	each(t, func(r *rig) {
		r.stock(r.gloves, models.GearCounted, 10)
		first, second := r.line(r.ana), r.line(r.berta)
		second.DueOn = models.Day(today)
		r.hand(first, second)
		in := gear.GiveBack{Stamp: gear.Stamp{ID: models.NewID()}, Reason: "wrong_size", Restock: true, Replacement: &gear.Replacement{
			ID: models.NewID(), GearKindID: r.gloves, Quantity: 1, Condition: "new", IssuedOn: models.Day(today),
		}}
		back := func(issue uuid.UUID, in gear.GiveBack) func(tx *models.Tx) error {
			return func(tx *models.Tx) error {
				_, _, err := gear.TakeBack(tx, issue, in)
				return err
			}
		}
		r.in(back(first.ID, in))
		r.in(back(first.ID, in))
		if n := r.onHand(r.gloves); n != 7 { // 10 - 2 - 2 + 2 - 1
			t.Errorf("%d on hand", n)
		}
		r.in(func(tx *models.Tx) error {
			due, err := models.List[models.GearIssue](tx, models.Page{Limit: 9}, models.DueBefore(today.AddDays(1)))
			if err != nil || len(due) != 1 || due[0].ID != second.ID {
				t.Errorf("overdue: %+v, %v", due, err)
			}
			if due, err = models.List[models.GearIssue](tx, models.Page{Limit: 9}, models.DueBefore(today)); err != nil || len(due) != 0 {
				t.Errorf("on the day itself: %+v, %v", due, err)
			}
			return nil
		})
		lost := gear.GiveBack{Stamp: gear.Stamp{ID: models.NewID()}, Reason: "lost", Restock: true}
		r.refused("/restock fault.restock", back(second.ID, lost))
		lost.Restock = false
		r.in(back(second.ID, lost))
		again := gear.GiveBack{Stamp: gear.Stamp{ID: models.NewID()}, Reason: "worn"}
		r.refused("problem.gear_closed", back(second.ID, again))
		other := gear.GiveBack{Stamp: gear.Stamp{ID: models.NewID()}, Reason: "other"}
		r.refused("/note fault.empty", back(in.Replacement.ID, other))
		r.in(func(tx *models.Tx) error {
			held, err := gear.HeldOn(tx, []uuid.UUID{r.ana, r.berta}, today.AddDays(1))
			if err != nil || len(held) != 1 || len(held[r.ana]) != 1 {
				t.Fatalf("%+v, %v", held, err)
			}
			// ANSI/ISEA 105 puncture level 4 is 100 N, EN 388 level 3 (both scales from memory)
			if g := held[r.ana][0].Gear; g.Kind != "gloves" || *g.PunctureLevel != 3 {
				t.Errorf("%+v", g)
			}
			return nil
		})
		r.stock(r.gloves, models.GearDiscarded, 3)
		r.in(func(tx *models.Tx) error {
			low, err := models.List[models.GearKind](tx, models.Page{Limit: 9}, models.LowStock(true))
			if err != nil || len(low) != 1 || low[0].ID != r.gloves || low[0].Content.OnHand != 4 {
				t.Errorf("low: %+v, %v", low, err)
			}
			return nil
		})
	})
}

func TestWhoAcknowledges(t *testing.T) {
	each(t, func(r *rig) {
		issue := r.line(r.ana)
		r.hand(issue)
		acknowledge := func(worker *uuid.UUID, in gear.Acknowledgement) func(tx *models.Tx) error {
			in.ID = models.NewID()
			return func(tx *models.Tx) error {
				_, _, err := gear.Acknowledge(tx, worker, issue.ID, in)
				return err
			}
		}
		r.refused("problem.not_found", acknowledge(&r.berta, gear.Acknowledgement{}))
		r.refused("/typed_name fault.empty", acknowledge(nil, gear.Acknowledgement{}))
		r.refused("/typed_name fault.own_account", acknowledge(&r.ana, gear.Acknowledgement{TypedName: "Ana"}))
		r.in(acknowledge(nil, gear.Acknowledgement{TypedName: "Ana Rojas"}))
		r.in(acknowledge(&r.ana, gear.Acknowledgement{}))
		r.in(func(tx *models.Tx) error {
			var events []models.GearIssueEvent
			err := tx.DB().Order("seq").Find(&events).Error
			if len(events) != 2 || events[0].TypedName != "Ana Rojas" || events[0].ByWorker || !events[1].ByWorker {
				t.Errorf("%+v", events)
			}
			return err
		})
	})
}

// What was recorded cannot be changed in either database, but for the marks, once.
func TestIssuesAreEvidence(t *testing.T) {
	each(t, func(r *rig) {
		issue := r.line(r.ana)
		issue.TypedName = "Ana"
		r.hand(issue)
		for _, change := range []map[string]any{{"quantity": 1}, {"acknowledged_by": models.NewID()}, {"acknowledged_by": nil}, {"worker_id": r.berta}} {
			r.refused("problem.append_only", func(tx *models.Tx) error {
				return tx.DB().Model(&models.GearIssue{}).Where("id = ?", issue.ID).UpdateColumns(change).Error
			})
		}
	})
}
