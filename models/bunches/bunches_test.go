package bunches_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/bunches"
	"palmero/payroll/dated"
)

// What was asked on a day stays what it was: a later standard takes the place of the one before from its day on, a variety's own goes before the one of all, and where it is
// withdrawn the one of all holds again.
func TestStandardsInForce(t *testing.T) {
	each(t, func(r *rig) {
		general := models.WorkStandardContent{OperationID: r.pollination, EffectiveOn: day("2026-03-04"), Points: models.StandardPoints{strands}}
		all := r.set(general)
		general.Points = models.StandardPoints{strands, thorns}
		general.EffectiveOn = day("2026-03-09")
		next := r.set(general)
		forty := strands
		forty.Low, forty.High = whole(38), whole(42) // a heavy variety is cut down to about 40 strands: common practice, no source
		own := r.set(models.WorkStandardContent{OperationID: r.pollination, Variety: "barhi", EffectiveOn: day("2026-03-05"), Points: models.StandardPoints{forty}})
		r.set(models.WorkStandardContent{OperationID: r.pollination, Variety: "barhi", EffectiveOn: day("2026-03-12"), Withdrawn: true})
		r.view(func(tx *models.Tx) error {
			for _, tc := range []struct {
				variety, day string
				want         *models.WorkStandard
			}{
				{"barhi", "2026-03-03", nil}, {"barhi", "2026-03-04", all}, {"barhi", "2026-03-05", own}, {"barhi", "2026-03-11", own}, {"barhi", "2026-03-12", next},
				{"deglet noor", "2026-03-08", all}, {"deglet noor", "2026-03-09", next},
			} {
				got, err := bunches.InForce(tx, r.pollination, tc.variety, dated.MustDate(tc.day))
				if err != nil || (got == nil) != (tc.want == nil) || got != nil && got.ID != tc.want.ID {
					r.Errorf("%s on %s: %v, %v", tc.variety, tc.day, got, err)
				}
			}
			for on, want := range map[string][]uuid.UUID{"2026-03-03": nil, "2026-03-05": {all.ID, own.ID}, "2026-03-12": {next.ID}} {
				var got []uuid.UUID
				listed, err := bunches.OnDay(tx, dated.MustDate(on))
				for _, s := range listed {
					got = append(got, s.ID)
				}
				if diff := cmp.Diff(want, got); diff != "" || err != nil {
					r.Errorf("on %s (-want +got)\n%s%v", on, diff, err)
				}
			}
			return nil
		})
	})
}

func TestStandardsAreNotEditedInThePast(t *testing.T) {
	each(t, func(r *rig) {
		c := models.WorkStandardContent{OperationID: r.pollination, EffectiveOn: day("2026-03-04"), Points: models.StandardPoints{strands}}
		begun := r.set(c)
		c.EffectiveOn = day("2026-03-10")
		ahead := r.set(c)
		for want, change := range map[string]func(c *models.WorkStandardContent, how *models.Recording){
			"/effective_on fault.standard_past": func(c *models.WorkStandardContent, _ *models.Recording) { c.EffectiveOn = day("2026-03-03") },
			"/supersedes fault.standard_begun": func(_ *models.WorkStandardContent, how *models.Recording) {
				how.Supersedes, how.Reason = &begun.ID, "a slip"
			},
			"/points fault.points_needed":    func(c *models.WorkStandardContent, _ *models.Recording) { c.Points = nil },
			"/points fault.points_withdrawn": func(c *models.WorkStandardContent, _ *models.Recording) { c.Withdrawn = true },
			"/points/1/point fault.listed_twice": func(c *models.WorkStandardContent, _ *models.Recording) {
				c.Points = models.StandardPoints{strands, strands}
			},
			"/points/0/high fault.range_backwards": func(c *models.WorkStandardContent, _ *models.Recording) {
				c.Points[0].Low, c.Points[0].High = whole(35), whole(30)
			},
			"/points/0/low fault.range_needed": func(c *models.WorkStandardContent, _ *models.Recording) {
				c.Points[0].Low, c.Points[0].High = nil, nil
			},
			"/points/0/high fault.beyond_range": func(c *models.WorkStandardContent, _ *models.Recording) {
				c.Points[0].Unit, c.Points[0].High = "percent", whole(101)
			},
			"/points/0/point fault.point_key":          func(c *models.WorkStandardContent, _ *models.Recording) { c.Points[0].Point = "Strands kept" },
			"/points/0/unit fault.yes_no_has_no_range": func(c *models.WorkStandardContent, _ *models.Recording) { c.Points[0].Kind = models.YesNoPoint },
			"/points/0/reason fault.empty":             func(c *models.WorkStandardContent, _ *models.Recording) { c.Points[0].Reason = " " },
			"/operation_id fault.unknown_reference":    func(c *models.WorkStandardContent, _ *models.Recording) { c.OperationID = models.NewID() },
		} {
			wrong, how := c, models.Recording{RecordedAt: noon}
			wrong.Points = models.StandardPoints{strands}
			change(&wrong, &how)
			err := r.try(func(tx *models.Tx) error {
				_, _, err := bunches.SetStandard(tx, models.NewID(), wrong, how)
				return err
			})
			if got := faults(err); !strings.Contains(got, want) {
				r.Errorf("%s; want %s", got, want)
			}
		}
		// One that has not begun is corrected, and what came once comes again, even when its day has passed.
		id := models.NewID()
		c.Points = models.StandardPoints{thorns}
		how := models.Recording{RecordedAt: noon, Supersedes: &ahead.ID, Reason: "Thorns first"}
		for i := range 2 {
			r.in(func(tx *models.Tx) error {
				_, repeated, err := bunches.SetStandard(tx, id, c, how)
				if repeated != (i == 1) {
					r.Errorf("try %d: repeated %v", i, repeated)
				}
				return err
			})
			r.clock.Store(noon.AddDate(0, 0, 30).UnixNano())
		}
	})
}

func TestBunchChecks(t *testing.T) {
	each(t, func(r *rig) {
		standard := r.set(models.WorkStandardContent{OperationID: r.pollination, EffectiveOn: day("2026-03-04"), Points: models.StandardPoints{strands, thorns}})
		in := bunches.Look{ID: models.NewID(), StandardID: standard.ID, CrewID: r.crew, WorkerID: &r.ana, Workday: day("2026-03-04"), BlockID: r.heavy, PalmID: &r.palm, RecordedAt: noon,
			Remark: " Bien ", Bunches: models.SampledBunches{bunch(number("strands_kept", 33), yes("thorns_off", true)), bunch(number("strands_kept", 50), yes("thorns_off", true))}}
		for i := range 2 {
			r.in(func(tx *models.Tx) error {
				check, repeated, err := bunches.Record(tx, in)
				if err != nil {
					return err
				}
				if c := check.Content; repeated != (i == 1) || c.LookedAt != 2 || c.AsAsked != 1 || c.OperationID != r.pollination || c.Remark != "Bien" {
					r.Errorf("try %d: %v %+v", i, repeated, c)
				}
				return nil
			})
		}
		other := in
		other.Remark = "Otra cosa"
		if got := faults(r.try(func(tx *models.Tx) error { _, _, err := bunches.Record(tx, other); return err })); got != "problem.id_reused" {
			r.Error(got)
		}
		// It was 34: the correction takes its place, and the one before stays.
		first := in.ID
		in.ID, in.Supersedes, in.Bunches = models.NewID(), &first, models.SampledBunches{bunch(number("strands_kept", 33)), bunch(number("strands_kept", 34))}
		if got := faults(r.try(func(tx *models.Tx) error { _, _, err := bunches.Record(tx, in); return err })); !strings.Contains(got, "/reason fault.reason_needed") {
			r.Error(got)
		}
		in.Reason = "34, not 50"
		r.in(func(tx *models.Tx) error { _, _, err := bunches.Record(tx, in); return err })
		r.view(func(tx *models.Tx) error {
			checks, err := bunches.Latest(tx, 10, bunches.OfWorker(tx.Employer, r.ana))
			if err != nil || len(checks) != 1 || checks[0].ID != in.ID {
				r.Fatalf("%v, %v", checks, err)
			}
			told, err := bunches.Tell(tx, checks)
			if err != nil || told[0].Points[0].AsAsked != 2 || told[0].Points[1].LookedAt != 0 || told[0].Points[0].Asked.NameES != "Hebras que quedan" {
				r.Errorf("%+v, %v", told, err)
			}
			chain, err := models.Chain[models.BunchCheckContent](tx, first)
			if err != nil || len(chain) != 2 {
				r.Errorf("%v, %v", chain, err)
			}
			return nil
		})
	})
}

func TestBunchChecksRefused(t *testing.T) {
	each(t, func(r *rig) {
		standard := r.set(models.WorkStandardContent{OperationID: r.pollination, Variety: "barhi", EffectiveOn: day("2026-03-04"), Points: models.StandardPoints{strands, thorns}})
		good := bunches.Look{StandardID: standard.ID, CrewID: r.crew, Workday: day("2026-03-04"), BlockID: r.heavy, RecordedAt: noon, Bunches: models.SampledBunches{bunch(yes("thorns_off", true))}}
		kept := good
		kept.ID = models.NewID()
		r.in(func(tx *models.Tx) error { _, _, err := bunches.Record(tx, kept); return err })
		elsewhere := models.NewID()
		for want, change := range map[string]func(l *bunches.Look){
			"/standard_id fault.unknown_reference":           func(l *bunches.Look) { l.StandardID = elsewhere },
			"/standard_id fault.standard_not_in_force":       func(l *bunches.Look) { l.BlockID = r.tall },
			"/workday fault.day_implausible":                 func(l *bunches.Look) { l.Workday = day("2026-04-04") },
			"/crew_id fault.unknown_reference":               func(l *bunches.Look) { l.CrewID = elsewhere },
			"/worker_id fault.unknown_reference":             func(l *bunches.Look) { l.WorkerID = &elsewhere },
			"/block_id fault.unknown_reference":              func(l *bunches.Look) { l.BlockID = elsewhere },
			"/palm_id fault.unknown_reference":               func(l *bunches.Look) { l.PalmID = &elsewhere },
			"/bunches fault.not_between":                     func(l *bunches.Look) { l.Bunches = nil },
			"/bunches/0/marks fault.not_between":             func(l *bunches.Look) { l.Bunches = models.SampledBunches{{}} },
			"/bunches/0/marks/0/point fault.point_not_asked": func(l *bunches.Look) { l.Bunches = models.SampledBunches{bunch(yes("bag_on", true))} },
			"/bunches/0/marks/1/point fault.listed_twice": func(l *bunches.Look) {
				l.Bunches = models.SampledBunches{bunch(yes("thorns_off", true), yes("thorns_off", false))}
			},
			"/bunches/0/marks/0/yes fault.point_yes_no":    func(l *bunches.Look) { l.Bunches = models.SampledBunches{bunch(number("thorns_off", 1))} },
			"/bunches/0/marks/0/number fault.point_number": func(l *bunches.Look) { l.Bunches = models.SampledBunches{bunch(yes("strands_kept", true))} },
			"/bunches/0/marks/0/number fault.beyond_range": func(l *bunches.Look) { l.Bunches = models.SampledBunches{bunch(number("strands_kept", 10_001))} },
			"/recorded_at fault.moment_implausible":        func(l *bunches.Look) { l.RecordedAt = noon.AddDate(0, 0, 2) },
			"/supersedes fault.other_bunch_check":          func(l *bunches.Look) { l.Supersedes, l.Reason, l.CrewID = &kept.ID, "the other crew", r.other },
			"/remark fault.too_long":                       func(l *bunches.Look) { l.Remark = strings.Repeat("x", 501) },
		} {
			wrong := good
			wrong.ID = models.NewID()
			change(&wrong)
			err := r.try(func(tx *models.Tx) error { _, _, err := bunches.Record(tx, wrong); return err })
			if got := faults(err); !strings.Contains(got, want) {
				r.Errorf("%s; want %s", got, want)
			}
		}
		palm := good
		palm.ID, palm.PalmID = models.NewID(), &r.palm
		r.in(func(tx *models.Tx) error {
			general := models.WorkStandardContent{OperationID: r.pollination, EffectiveOn: day("2026-03-04"), Points: models.StandardPoints{thorns}}
			s, _, err := bunches.SetStandard(tx, models.NewID(), general, models.Recording{RecordedAt: tx.Now})
			palm.StandardID, palm.BlockID = s.ID, r.tall
			return err
		})
		if got := faults(r.try(func(tx *models.Tx) error { _, _, err := bunches.Record(tx, palm); return err })); !strings.Contains(got, "/palm_id fault.palm_of_other_block") {
			r.Error(got)
		}
	})
}

// A phone without signal goes by what it knew: what was asked when somebody looked is good, although another standard of the day came meanwhile.
func TestLateLooksGoByWhatWasAsked(t *testing.T) {
	each(t, func(r *rig) {
		c := models.WorkStandardContent{OperationID: r.pollination, EffectiveOn: day("2026-03-04"), Points: models.StandardPoints{strands}}
		morning := r.set(c)
		r.clock.Store(noon.Add(2 * time.Hour).UnixNano())
		c.Points = models.StandardPoints{strands, thorns}
		r.set(c)
		r.clock.Store(noon.Add(5 * time.Hour).UnixNano())
		look := bunches.Look{ID: models.NewID(), StandardID: morning.ID, CrewID: r.crew, Workday: day("2026-03-04"), BlockID: r.heavy, RecordedAt: noon.Add(time.Hour),
			Bunches: models.SampledBunches{bunch(number("strands_kept", 33))}}
		r.in(func(tx *models.Tx) error { _, _, err := bunches.Record(tx, look); return err })
		look.ID, look.RecordedAt = models.NewID(), noon.Add(3*time.Hour)
		if got := faults(r.try(func(tx *models.Tx) error { _, _, err := bunches.Record(tx, look); return err })); !strings.Contains(got, "fault.standard_not_in_force") {
			r.Error(got)
		}
	})
}

func TestResults(t *testing.T) {
	each(t, func(r *rig) {
		standard := r.set(models.WorkStandardContent{OperationID: r.pollination, EffectiveOn: day("2026-03-04"), Points: models.StandardPoints{strands, thorns}})
		look := func(crew uuid.UUID, worker *uuid.UUID, on string, marks ...models.BunchMark) uuid.UUID {
			at := noon.AddDate(0, 0, dated.MustDate(on).DaysSince(dated.MustDate("2026-03-04")))
			r.clock.Store(at.UnixNano())
			l := bunches.Look{ID: models.NewID(), StandardID: standard.ID, CrewID: crew, WorkerID: worker, Workday: day(on), BlockID: r.heavy, RecordedAt: at}
			for _, m := range marks {
				l.Bunches = append(l.Bunches, bunch(m))
			}
			r.in(func(tx *models.Tx) error { _, _, err := bunches.Record(tx, l); return err })
			return l.ID
		}
		look(r.crew, &r.ana, "2026-03-04", number("strands_kept", 33), number("strands_kept", 20))
		look(r.crew, nil, "2026-03-08", yes("thorns_off", false), number("strands_kept", 36), number("strands_kept", 35))
		look(r.other, &r.ana, "2026-03-14", yes("thorns_off", true))
		ask := bunches.Results{By: "worker", First: dated.MustDate("2026-03-04"), Last: dated.MustDate("2026-03-14")}
		got := r.results(ask)
		if len(got) != 2 {
			r.Fatalf("%+v", got)
		}
		nobody, ana := got[0], got[1]
		if nobody.ID != uuid.Nil || nobody.Total != (bunches.Counts{Checks: 1, LookedAt: 3, AsAsked: 1}) || nobody.Points[1].Not() != 1 || nobody.Points[0].Over != 1 {
			r.Errorf("of nobody: %+v", nobody)
		}
		want := []bunches.Week{{Start: dated.MustDate("2026-03-01"), Counts: bunches.Counts{Checks: 1, LookedAt: 2, AsAsked: 1}}, {Start: dated.MustDate("2026-03-08"), Counts: bunches.Counts{Checks: 1, LookedAt: 1, AsAsked: 1}}}
		if !slices.Equal(want, ana.Weeks) || ana.ID != r.ana || ana.Trend != bunches.TooFew || ana.Points[0].NameEN != "Strands kept" || ana.Points[0].Under != 1 {
			r.Errorf("of Ana: %+v", ana)
		}
		// The lead sees the crew that was led, and a correction counts once.
		ask.By, ask.Lead = "crew", &r.lead
		if got := r.results(ask); len(got) != 1 || got[0].ID != r.crew || got[0].Total.Checks != 2 {
			r.Errorf("of the lead's crews: %+v", got)
		}
		ask.Lead, ask.Worker, ask.By = nil, &r.ana, "block"
		if got := r.results(ask); len(got) != 1 || got[0].ID != r.heavy || got[0].Total.LookedAt != 3 {
			r.Errorf("of Ana by block: %+v", got)
		}
		ask.Worker, ask.Operation, ask.By = nil, &r.bagging, "operation"
		if got := r.results(ask); len(got) != 0 {
			r.Errorf("of another operation: %+v", got)
		}
		ask.By = "palm"
		r.view(func(tx *models.Tx) error {
			if _, err := ask.Find(tx); models.KindOf(err) != models.Invalid {
				r.Errorf("by palm: %v", err)
			}
			return nil
		})
	})
}

func (r *rig) results(ask bunches.Results) (got []bunches.Group) {
	r.Helper()
	r.view(func(tx *models.Tx) (err error) {
		got, err = ask.Find(tx)
		return err
	})
	return got
}
