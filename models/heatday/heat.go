package heatday

import (
	"errors"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// heat is what was measured in some gardens, by the hour.
type heat struct {
	hours map[uuid.UUID][]models.HeatHour // in the order of time
	stale time.Duration                   // how long a reading is good to go by
}

func readHeat(tx *models.Tx, gardens []uuid.UUID, from, before time.Time, stale time.Duration) (heat, error) {
	h := heat{map[uuid.UUID][]models.HeatHour{}, stale}
	hours, err := models.HeatOn(tx, gardens, from.Add(-stale), before)
	for _, hour := range hours {
		h.hours[hour.GardenID] = append(h.hours[hour.GardenID], hour)
	}
	return h, err
}

// hottest is the highest temperature that was measured at a garden.
func (h heat) hottest(garden uuid.UUID) (t quantity.Number, known bool) {
	for _, hour := range h.hours[garden] {
		if !known || hour.Temperature.Over(t) {
			t, known = hour.Temperature.Number, true
		}
	}
	return t, known
}

// at is the temperature at a garden at an instant: that of its hour; else the higher of the last before and the next after, while a reading is good to go by. whole tells whether that is all
// that there is to know: the hour itself, or both its neighbors.
func (h heat) at(garden uuid.UUID, at time.Time) (t quantity.Number, known, whole bool) {
	before, after := false, false
	for _, hour := range h.hours[garden] {
		since := at.Sub(hour.Hour)
		switch {
		case since >= 0 && since < time.Hour:
			return hour.Temperature.Number, true, true
		case since >= time.Hour && since < time.Hour+h.stale:
			t, before = hour.Temperature.Number, true // the latest of them
		case since < 0 && -since <= h.stale && !after:
			after = true
			if !before || hour.Temperature.Over(t) {
				t = hour.Temperature.Number
			}
		}
	}
	return t, before || after, before && after
}

// noValue turns a rulebook's silence on a day into an error that can be explained.
func noValue(err error) error {
	var missing *dated.NoValueError
	if errors.As(err, &missing) {
		terms := payroll.Terms{"book": missing.Book, "parameter": missing.Parameter, "date": missing.Date}
		return &models.Error{Kind: models.Conflict, Key: "fault.no_safety_value", Terms: terms, Cause: err}
	}
	return err
}

// Today is the workday that it is now where the garden of the lowest number is; the day in UTC where there is no garden yet.
func Today(tx *models.Tx) (dated.Date, error) {
	profile, err := tx.Profile()
	if err != nil {
		return dated.Date{}, err
	}
	var gardens []models.Garden
	if err := tx.DB().Order("number").Limit(1).Find(&gardens).Error; err != nil {
		return dated.Date{}, err
	}
	zone := time.UTC
	if len(gardens) > 0 {
		if zone, err = models.Zone(gardens[0].Content.TimeZone); err != nil {
			return dated.Date{}, err
		}
	}
	return models.WorkdayOf(tx.Now, int(profile.Content.WorkdayStart), zone), nil
}
