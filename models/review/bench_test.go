package review_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/climbs"
	"palmero/models/review"
	"palmero/models/season"
	"palmero/models/testdb"
	payrules "palmero/payroll/rulebook"
	"palmero/safety"
)

// BenchmarkLook asks what waits for the officer after the season, and after the same season with years of like ones behind it: counts, checklists with their reviews, inspections, readings, training, and
// stops that were lifted.
func BenchmarkLook(b *testing.B) {
	books, laws := must(climbs.Load()), must(payrules.Load())
	for _, dialect := range testdb.Dialects() {
		for _, years := range []int{0, 5} {
			b.Run(fmt.Sprintf("%s/years=%d", dialect, years), func(b *testing.B) {
				clock := &season.Clock{}
				store := databases.Store(b, dialect, clock.Now)
				if err := season.Seed(b.Context(), store, clock, laws, func(key string, _ safety.Terms) string { return key }); err != nil {
					b.Fatal(err)
				}
				scope := models.Scope{Employer: must(store.FindEmployer(b.Context(), "media-tarde")).ID}
				if err := store.In(b.Context(), scope, func(tx *models.Tx) error { return repeat(tx, years) }); err != nil {
					b.Fatal(err)
				}
				for b.Loop() {
					err := store.View(b.Context(), scope, func(tx *models.Tx) error {
						queue, err := review.Look(tx, books, review.Question{Within: -1, Limit: 20})
						if err == nil && len(queue.Items) < 9 {
							err = fmt.Errorf("%d things wait", len(queue.Items))
						}
						return err
					})
					if err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// seasonsAYear makes the three weeks of the season a year's work.
const seasonsAYear = 6

// repeat records the season again for the years before it.
func repeat(tx *models.Tx, years int) error {
	last = map[string]int64{}
	for n := range years * seasonsAYear {
		back := -(n + 1) * 365 / seasonsAYear
		for _, again := range []func() error{
			func() error {
				return copied(tx, func(t *models.Tally) {
					t.Keyed, t.Content.Workday = key(tx), earlier(t.Content.Workday, back)
					t.Content.LotID, t.Content.SheetID = nil, nil
				}, "lot_id IS NULL AND superseded_by IS NULL")
			},
			func() error {
				return copied(tx, func(e *models.EquipmentEvent) { e.Keyed, e.HappenedOn = key(tx), earlier(e.HappenedOn, back) }, "kind = 'pre_use' AND state = ''")
			},
			func() error {
				return copied(tx, func(h *models.HeatReading) {
					h.Keyed, h.Content.ReadAt, h.Content.ImportID = key(tx), h.Content.ReadAt.AddDate(0, 0, back), nil
				}, "superseded_by IS NULL")
			},
			func() error {
				return copied(tx, func(s *models.SignOff) {
					s.Keyed, s.Content.HeldOn, s.Content.MeetingID = key(tx), earlier(s.Content.HeldOn, back), nil
				}, "superseded_by IS NULL")
			},
			func() error { return lists(tx, back) },
			func() error { return stops(tx, back) },
		} {
			if err := again(); err != nil {
				return err
			}
		}
	}
	return nil
}

func key(tx *models.Tx) models.Keyed { return models.Keyed{ID: tx.NewID()} }

func earlier(d models.Date, days int) models.Date { return models.Day(d.AddDays(days)) }

// last is where the season itself ends in each table, and what was copied from it begins.
var last map[string]int64

// copied records rows of the season again as change makes them.
func copied[R interface{ TableName() string }](tx *models.Tx, change func(*R), where string) error {
	var rows []R
	var zero R
	table := zero.TableName()
	if _, known := last[table]; !known {
		var seq int64
		if err := tx.DB().Raw("SELECT coalesce(max(seq), 0) FROM "+table+" WHERE employer_id = ?", tx.Employer).Scan(&seq).Error; err != nil {
			return err
		}
		last[table] = seq
	}
	if err := tx.DB().Where("seq <= ?", last[table]).Where(where).Find(&rows).Error; err != nil {
		return err
	}
	for i := range rows {
		change(&rows[i])
	}
	if len(rows) == 0 {
		return nil
	}
	return tx.DB().CreateInBatches(rows, 100).Error
}

// lists fills the season's checklists again, each with its review.
func lists(tx *models.Tx, back int) error {
	var reviews []models.ChecklistReview
	err := copied(tx, func(l *models.FilledChecklist) {
		l.Keyed, l.Content.Workday, l.Content.FilledOn = key(tx), earlier(l.Content.Workday, back), earlier(l.Content.FilledOn, back)
		reviews = append(reviews, models.ChecklistReview{Keyed: key(tx), ChecklistID: l.ID, Decision: models.Accepted, Reason: "in order", ReviewedAt: tx.Now, ReviewedBy: l.RecordedBy})
	}, "superseded_by IS NULL")
	if err != nil {
		return err
	}
	return tx.DB().CreateInBatches(reviews, 100).Error
}

// stops stops the climb again, and lifts each stop.
func stops(tx *models.Tx, back int) error {
	var lifts []models.StopLift
	err := copied(tx, func(s *models.Stop) {
		s.Keyed, s.Workday, s.StoppedAt = key(tx), earlier(s.Workday, back), s.StoppedAt.Add(time.Duration(back)*24*time.Hour)
		lifts = append(lifts, models.StopLift{Keyed: key(tx), StopID: s.ID, CompetentPerson: "O. Peralta", Reason: "over", LiftedAt: tx.Now, LiftedBy: s.StoppedBy})
	}, "id <> '"+uuid.Nil.String()+"'")
	if err != nil || len(lifts) == 0 {
		return err
	}
	return tx.DB().Create(&lifts).Error
}
