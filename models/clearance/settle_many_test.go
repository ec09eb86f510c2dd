package clearance_test

import (
	"testing"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/clearance"
)

// One word settles a crew's day: once however often it is sent, with one entry in the audit trail, all or none.
func TestSettleMany(t *testing.T) {
	each(t, func(r *rig) {
		r.in(r.payWeek)
		yesterday := models.Day(today.AddDays(-1))
		in := clearance.Settlements{
			ID: models.NewID(), Days: []clearance.WorkerDay{{WorkerID: r.lead, Workday: models.Day(today)}, {WorkerID: r.ana, Workday: models.Day(today)}, {WorkerID: r.ana, Workday: yesterday}},
			Finding: models.WasSafe, Reason: " asked the lead ",
		}
		settle := func(in clearance.Settlements) (kept []models.ClearanceException, repeated bool, err error) {
			err = r.store.In(r.Context(), r.scope, func(tx *models.Tx) (err error) {
				kept, repeated, err = clearance.SettleMany(tx, in)
				return err
			})
			return kept, repeated, err
		}
		before := r.entries()
		for n := range 2 {
			kept, repeated, err := settle(in)
			if err != nil || len(kept) != 3 || repeated != (n == 1) || kept[0].Reason != "asked the lead" {
				r.Fatalf("%v %v %v", kept, repeated, err)
			}
			in.Days[0], in.Days[2] = in.Days[2], in.Days[0] // in whatever order they come again
		}
		if n := r.entries() - before; n != 1 {
			r.Errorf("%d entries in the audit trail", n)
		}
		other := in
		other.Reason = "asked nobody"
		if _, _, err := settle(other); models.KindOf(err) != models.Conflict {
			r.Errorf("the same identifier with another reason: %v", err)
		}
		other.ID = models.NewID()
		if _, _, err := settle(other); models.KindOf(err) != models.Conflict {
			r.Errorf("days that are settled: %v", err)
		}
		nobody := clearance.Settlements{ID: models.NewID(), Finding: "fine", Days: []clearance.WorkerDay{{WorkerID: uuid.New(), Workday: yesterday}, {WorkerID: r.lead, Workday: yesterday}, {WorkerID: r.lead, Workday: yesterday}}}
		_, _, err := settle(nobody)
		var at []string
		for _, f := range models.FaultsOf(err) {
			at = append(at, f.Pointer)
		}
		if len(at) != 4 {
			r.Errorf("faults at %v", at)
		}
	})
}

// entries counts the audit trail.
func (r *rig) entries() (n int64) {
	r.Helper()
	r.in(func(tx *models.Tx) error { return tx.DB().Model(&models.AuditEntry{}).Count(&n).Error })
	return n
}
