package gear_test

import (
	"testing"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/gear"
)

func TestPalmsComeInByTheRange(t *testing.T) {
	each(t, func(r *rig) {
		r.in(func(tx *models.Tx) error {
			palms, err := models.List[models.Palm](tx, models.Page{Limit: 100}, models.Equal("block_id", r.block))
			if err != nil || len(palms) != 10 || palms[0].Content.Label != "3-01" || palms[9].Content.Label != "3-10" || palms[3].ID != r.palm("3-04") {
				t.Errorf("%d palms, %v", len(palms), err)
			}
			_, repeated, err := gear.AddPalms(tx, gear.PalmRange{ID: r.palms, BlockID: r.block, Prefix: "3-", First: 1, Last: 10, Digits: 2})
			if err != nil || !repeated {
				t.Errorf("again: %v, %v", repeated, err)
			}
			return nil
		})
		r.refused("problem.id_reused", func(tx *models.Tx) error {
			_, _, err := gear.AddPalms(tx, gear.PalmRange{ID: r.palms, BlockID: r.block, Prefix: "3-", First: 1, Last: 11, Digits: 2})
			return err
		})
		for want, in := range map[string]gear.PalmRange{
			"/first fault.palm_taken":           {BlockID: r.block, Prefix: "3-", First: 9, Last: 12, Digits: 2},
			"/last fault.not_between":           {BlockID: r.block, First: 9, Last: 8},
			"/digits fault.not_between":         {BlockID: r.block, First: 1, Last: 2, Digits: 99},
			"/block_id fault.unknown_reference": {BlockID: models.NewID(), First: 1, Last: 2},
			"/prefix fault.too_long":            {BlockID: r.block, Prefix: "the third row from the road", First: 1, Last: 2},
			"/first fault.not_between":          {BlockID: r.block, First: -1, Last: 2},
		} {
			in.ID = models.NewID()
			r.refused(want, func(tx *models.Tx) error {
				_, _, err := gear.AddPalms(tx, in)
				return err
			})
		}
	})
}

// One bad palm among many is found, named with who said so, and goes back in use by a competent person's word alone.
func TestAPalmToAvoid(t *testing.T) {
	each(t, func(r *rig) {
		before := r.audited()
		in := gear.Avoid{BlockID: &r.block, Label: "3-07", Reason: "bees"}
		in.ID = models.NewID()
		r.in(func(tx *models.Tx) error {
			_, _, err := gear.AvoidPalm(tx, in)
			return err
		})
		palm := r.palm("3-07")
		second := gear.Avoid{PalmID: &palm, Reason: "leaning"}
		second.ID = models.NewID()
		r.in(func(tx *models.Tx) error {
			if _, repeated, err := gear.AvoidPalm(tx, in); err != nil || !repeated {
				t.Errorf("again: %v, %v", repeated, err)
			}
			_, _, err := gear.AvoidPalm(tx, second)
			return err
		})
		r.in(func(tx *models.Tx) error {
			palms, err := gear.PalmsToAvoid(tx, models.Page{Limit: 10}, models.Equal("b.garden_id", r.garden))
			if err != nil || len(palms) != 1 {
				t.Fatalf("%+v, %v", palms, err)
			}
			if p := palms[0]; p.ID != palm || p.Reason != "bees" || p.Block != "B-07" || p.RecordedBy != "Olga Prieto" || !p.Since.Equal(now) || p.Version != 3 {
				t.Errorf("%+v", p)
			}
			return nil
		})
		for want, wrong := range map[string]gear.Avoid{
			"/label fault.unknown_palm_of_block": {BlockID: &r.block, Label: "3-99", Reason: "bees"},
			"/palm_id fault.unknown_palm":        {PalmID: new(models.NewID()), Reason: "bees"},
			"/palm_id fault.palm_or_label":       {PalmID: &palm, Label: "3-07", Reason: "bees"},
			"/reason fault.not_one_of":           {PalmID: &palm, Reason: "I do not like it"},
			"/note fault.empty":                  {PalmID: &palm, Reason: "other"},
			"/block_id fault.unknown_reference":  {BlockID: new(models.NewID()), Label: "3-07", Reason: "bees"},
		} {
			wrong.ID = models.NewID()
			r.refused(want, func(tx *models.Tx) error {
				_, _, err := gear.AvoidPalm(tx, wrong)
				return err
			})
		}
		back := gear.BackInUse{CompetentPerson: "Olga Prieto", Note: "The swarm was moved on Tuesday"}
		back.ID = models.NewID()
		release := func(palm uuid.UUID, version int64, in gear.BackInUse) func(tx *models.Tx) error {
			return func(tx *models.Tx) error {
				_, _, err := gear.ReleasePalm(tx, palm, version, in)
				return err
			}
		}
		r.refused("problem.stale_version", release(palm, 2, back))
		nobody := back
		nobody.ID, nobody.CompetentPerson = models.NewID(), " "
		r.refused("/competent_person fault.empty", release(palm, 3, nobody))
		r.in(release(palm, 3, back))
		r.in(release(palm, 3, back)) // the answer was lost
		other := back
		other.ID = models.NewID()
		r.refused("problem.palm_in_use", release(palm, 4, other))
		r.in(func(tx *models.Tx) error {
			if palms, err := gear.PalmsToAvoid(tx, models.Page{Limit: 10}); err != nil || len(palms) != 0 {
				t.Errorf("%+v, %v", palms, err)
			}
			events, err := gear.PalmEvents(tx, palm)
			if err != nil || len(events) != 3 || events[2].Person != "Olga Prieto" {
				t.Errorf("%+v, %v", events, err)
			}
			return nil
		})
		if after := r.audited(); after != before+3 {
			t.Errorf("%d entries in the trail for three commands", after-before)
		}
	})
}
