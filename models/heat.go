package models

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// HeatReading is the air as somebody or something measured it in a garden: dry-bulb, unshaded, the sensor itself out of the sun.
type HeatReading = Recorded[HeatReadingContent]

// HeatReadingContent says when and what. The moment is kept to the minute.
type HeatReadingContent struct {
	GardenID    uuid.UUID  `json:"garden_id"`
	ReadAt      time.Time  `json:"read_at"`
	Temperature Quantity   `gorm:"column:temperature_f" json:"temperature_f" twin:"temperature_c"`
	Humidity    *int64     `gorm:"column:relative_humidity" json:"relative_humidity,omitempty"` // percent
	Source      string     `json:"source,omitempty"`                                            // what it was read from
	ImportID    *uuid.UUID `json:"-"`                                                           // the import that it came in with
}

func (*HeatReadingContent) table() string { return "heat_readings" }

// What the air can be at all, in °F: the same bounds as the safety figures have.
const coldest, hottest = -60, 150

// clockSlack is how far a device's clock may be ahead of the server's.
const clockSlack = 10 * time.Minute

func (h *HeatReadingContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/garden_id", "gardens", h.GardenID)
	h.Check(c, "")
	return c.Done()
}

// Check notes what cannot be in a reading, whose fields stand under a pointer.
func (h *HeatReadingContent) Check(c *Checker, at string) {
	c.Moment(at+"/read_at", &h.ReadAt, c.tx.Now.Add(clockSlack))
	c.Quantity(at+"/temperature_f", &h.Temperature, coldest, hottest)
	c.OptionalRange(at+"/relative_humidity", h.Humidity, 0, 100)
	c.OptionalText(at+"/source", &h.Source, shortText)
}

// ReadFrom keeps the readings from an instant on.
func ReadFrom(at time.Time) Condition { return Where("read_at >= ?", at.UTC()) }

// ReadBefore keeps the readings before an instant.
func ReadBefore(at time.Time) Condition { return Where("read_at < ?", at.UTC()) }

// HeatImport is the envelope of readings of one garden that came in together.
type HeatImport struct {
	Keyed
	GardenID   uuid.UUID `json:"garden_id"`
	Readings   int64     `json:"readings"`
	RecordedAt time.Time `json:"recorded_at"`
	ReceivedAt time.Time `json:"received_at"`
	RecordedBy uuid.UUID `json:"recorded_by"`
}

// TableName tells gorm the table.
func (HeatImport) TableName() string { return "heat_imports" }

// HeatHour is an hour of a garden's clock in which the air was measured.
type HeatHour struct {
	GardenID    uuid.UUID `json:"garden_id"`
	Hour        time.Time `json:"hour"`          // its beginning, UTC
	Temperature Quantity  `json:"temperature_f"` // of the hottest reading
	Humidity    *int64    `json:"relative_humidity,omitempty"`
	Readings    int       `json:"readings"`
}

// HeatOn tells the heat in some gardens by the hour, from one instant to before another, by garden and hour; hours in which nobody measured are left out. It takes two statements whatever the
// number of gardens and hours. What the pay for recovery periods asks of the heat is asked here.
func HeatOn(tx *Tx, gardens []uuid.UUID, from, before time.Time) ([]HeatHour, error) {
	var readings []HeatReading
	b := tx.Batch()
	FindReadings(b, tx.Among("garden_id", gardens), from, before, &readings)
	if b.err != nil || len(readings) == 0 {
		return nil, b.err
	}
	zones, err := zonesOf(tx, gardens)
	if err != nil {
		return nil, err
	}
	return HeatHours(readings, zones), nil
}

// FindReadings asks for the readings of some gardens that stand, from one instant to before another, by garden and time.
func FindReadings(b *Batch, gardens Condition, from, before time.Time, into *[]HeatReading) {
	b.Find(b.DB().Scopes(gardens, ReadFrom(from), ReadBefore(before)).Where("superseded_by IS NULL").Order("garden_id, read_at, seq"), into)
}

// HeatHours makes hours of readings, which come by garden and time, given the zones of the gardens.
func HeatHours(readings []HeatReading, zones map[uuid.UUID]*time.Location) []HeatHour {
	var hours []HeatHour
	for i := range readings {
		r := &readings[i].Content
		hour := HourOf(r.ReadAt, zones[r.GardenID])
		if last := len(hours) - 1; last < 0 || hours[last].GardenID != r.GardenID || !hours[last].Hour.Equal(hour) {
			hours = append(hours, HeatHour{GardenID: r.GardenID, Hour: hour, Temperature: r.Temperature, Humidity: r.Humidity, Readings: 1})
			continue
		}
		h := &hours[len(hours)-1]
		h.Readings++
		if r.Temperature.Over(h.Temperature.Number) {
			h.Temperature, h.Humidity = r.Temperature, r.Humidity
		}
	}
	return hours
}

// HourOf is the beginning of the hour that an instant falls in where the clocks show loc, in UTC.
func HourOf(at time.Time, loc *time.Location) time.Time {
	_, offset := at.In(loc).Zone()
	shift := time.Duration(offset) * time.Second
	return at.Add(shift).UTC().Truncate(time.Hour).Add(-shift)
}

// zonesOf are the time zones of some gardens.
func zonesOf(tx *Tx, gardens []uuid.UUID) (map[uuid.UUID]*time.Location, error) {
	var rows []Garden
	if err := tx.DB().Scopes(tx.Among("id", gardens)).Find(&rows).Error; err != nil {
		return nil, translate(err)
	}
	zones := map[uuid.UUID]*time.Location{}
	for _, g := range rows {
		loc, err := Zone(g.Content.TimeZone)
		if err != nil {
			return nil, fmt.Errorf("garden %s: %w", g.ID, err)
		}
		zones[g.ID] = loc
	}
	return zones, nil
}

// HeatPlan is what is ready for a garden's day in the heat. Of those that stand for a day the one that came in last counts.
type HeatPlan = Recorded[HeatPlanContent]

// HeatPlanContent says what is ready. What is nil is unknown.
type HeatPlanContent struct {
	GardenID     uuid.UUID `json:"garden_id"`
	Workday      Date      `json:"workday"`
	ForecastHigh *Quantity `gorm:"column:forecast_high_f" json:"forecast_high_f,omitempty" twin:"forecast_high_c"`
	WaterQuarts  *int64    `json:"water_quarts,omitempty"` // carried along or to be had there
	ShadePlaces  *int64    `json:"shade_places,omitempty"` // for how many people at a time
	WaterReady   *bool     `json:"water_ready,omitempty"`
	ShadeUp      *bool     `json:"shade_up,omitempty"`
	HighHeatPlan *bool     `json:"high_heat_plan,omitempty"`
	Observers    IDs       `json:"observers,omitempty"`   // the workers who watch the others
	Observation  string    `json:"observation,omitempty"` // another way of watching: buddies, radio
	Note         string    `json:"note,omitempty"`
}

func (*HeatPlanContent) table() string { return "heat_plans" }

// mostObservers is more than any garden has.
const mostObservers = 200

func (h *HeatPlanContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/garden_id", "gardens", h.GardenID)
	c.DayUntil("/workday", h.Workday.Date, dated.DateOf(tx.Now).AddDays(31))
	c.Quantity("/forecast_high_f", h.ForecastHigh, coldest, hottest)
	c.OptionalRange("/water_quarts", h.WaterQuarts, 0, 100_000)
	c.OptionalRange("/shade_places", h.ShadePlaces, 0, 100_000)
	if len(h.Observers) > mostObservers {
		c.Fault("/observers", "fault.too_many_items", payroll.Terms{"limit": mostObservers})
		return c.Done()
	}
	c.References("/observers", "workers", h.Observers)
	c.OptionalText("/observation", &h.Observation, longText)
	c.OptionalText("/note", &h.Note, longText)
	return c.Done()
}

// References wants each of a list of identifiers to be a record of this employer in a table.
func (c *Checker) References(pointer, table string, ids []uuid.UUID) {
	missing, err := c.tx.Missing(table, ids)
	if err != nil {
		c.err = err
	}
	for i, id := range ids {
		if missing[id] {
			c.Fault(fmt.Sprintf("%s/%d", pointer, i), "fault.unknown_reference", nil)
		}
	}
}

// HeatPlansOn returns the plan of each of some gardens for a day, of those that have one.
func HeatPlansOn(tx *Tx, gardens []uuid.UUID, day dated.Date) (map[uuid.UUID]*HeatPlan, error) {
	var rows []HeatPlan
	err := tx.DB().Scopes(tx.Among("garden_id", gardens)).Where("workday = ? AND superseded_by IS NULL", Day(day)).Order("seq").Find(&rows).Error
	plans := map[uuid.UUID]*HeatPlan{}
	for i := range rows {
		plans[rows[i].Content.GardenID] = &rows[i]
	}
	return plans, translate(err)
}

// IDs is a list of identifiers as a column.
type IDs []uuid.UUID

// Value writes JSON text.
func (l IDs) Value() (driver.Value, error) {
	if l == nil {
		return "[]", nil
	}
	b, err := json.Marshal([]uuid.UUID(l))
	return string(b), err
}

// Scan reads JSON text.
func (l *IDs) Scan(v any) error {
	var d Document
	if err := d.Scan(v); err != nil {
		return err
	}
	*l = nil
	return json.Unmarshal(d, (*[]uuid.UUID)(l))
}

// GormDataType names the column type for gorm.
func (IDs) GormDataType() string { return "text" }
