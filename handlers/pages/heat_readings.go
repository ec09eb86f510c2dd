package pages

import (
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"palmero/handlers/figuring"
	"palmero/models"
	"palmero/models/heatday"
)

// readingsPage is a day's readings one by one, with the forms that take in many.
type readingsPage struct {
	heatPlace
	Units    []Option
	Readings []models.HeatReading // those that stand
	By       map[uuid.UUID]string // the names of those who recorded them
	Open     []openHour           // the hours that nobody measured yet
	Columns  string               // the heading of a file
}

// openHour is an hour of the workday without a reading, and the fields of its line.
type openHour struct {
	N     int // which hour of the workday
	Begin time.Time
}

// Clock is when it begins.
func (h openHour) Clock() string { return h.Begin.Format("15:04") }

// Temperature is the name of the field of its temperature.
func (h openHour) Temperature() string { return hourField(h.N, "temperature_f") }

// Humidity is the name of the field of its humidity.
func (h openHour) Humidity() string { return hourField(h.N, "relative_humidity") }

func hourField(n int, name string) string { return "rows." + strconv.Itoa(n) + "." + name }

func showReadings(v *visit) (*answer, error) {
	return readingsPageOf(v, newForm(map[string]string{"unit": "f"}))
}

func readingsPageOf(v *visit, f *Form) (*answer, error) {
	page := readingsPage{Units: v.heatUnits(), Columns: heatday.Heading}
	err := v.view(func(tx *models.Tx) (err error) {
		if page.heatPlace, err = v.heatPlace(tx, f); err != nil {
			return err
		}
		plan, err := heatday.FindPlan(tx, figuring.Books(), page.Garden.ID, page.On, nil)
		if err != nil {
			return err
		}
		begin, end := plan.Span()
		page.Readings, err = models.List[models.HeatReading](tx, models.Page{Limit: heatday.MostReadings}, models.Equal("garden_id", page.Garden.ID), models.ReadFrom(begin), models.ReadBefore(end), models.Standing(true))
		if err != nil {
			return err
		}
		page.Open = openHours(plan, tx.Now, page.Zone)
		page.By, err = accountNames(tx)
		return err
	})
	if err == errNoGarden {
		return show("heat_none", nil), nil
	}
	if err != nil {
		return nil, err
	}
	return show("heat_readings", page).with(f), nil
}

// openHours are the hours of the workday that have begun and that nobody measured.
func openHours(plan *heatday.Plan, now time.Time, zone *time.Location) (open []openHour) {
	begin, end := plan.Span()
	read := map[int64]bool{}
	for _, h := range plan.Hours {
		read[h.Hour.Unix()] = true
	}
	for n, at := 0, models.HourOf(begin, zone); at.Before(end) && !at.After(now); n, at = n+1, at.Add(time.Hour) {
		if !read[at.Unix()] {
			open = append(open, openHour{n, at.In(zone)})
		}
	}
	return open
}

// keepReadings takes in the lines of a day's hours, or the text of a file.
func keepReadings(v *visit) (*answer, error) {
	f, err := v.form("garden", "on", "unit", "csv", "source")
	if err != nil {
		return nil, err
	}
	var place heatPlace
	var taken []openHour // the hours of the lines that were filled in, in their order
	err = v.in(func(tx *models.Tx) (err error) {
		if place, err = v.heatPlace(tx, f); err != nil {
			return err
		}
		in := heatday.Import{ID: f.ID, GardenID: place.Garden.ID, CSV: f.Value("csv")}
		if f.Value("do") == "hours" {
			in.CSV = ""
			if in.Rows, taken, err = v.hoursIn(tx, f, place); err != nil {
				return err
			}
		}
		if err := f.Faulty(); err != nil {
			return err
		}
		_, _, err = heatday.TakeIn(tx, in)
		return err
	})
	if err != nil {
		return v.again(f, inFahrenheit(atHours(err, taken)), readingsPageOf)
	}
	return seeOther("/heat"+place.Query(place.On), "heat_readings"), nil
}

// hoursIn reads the lines that were filled in.
func (v *visit) hoursIn(tx *models.Tx, f *Form, place heatPlace) (rows []heatday.ImportRow, hours []openHour, err error) {
	plan, err := heatday.FindPlan(tx, figuring.Books(), place.Garden.ID, place.On, nil)
	if err != nil {
		return nil, nil, err
	}
	begin, end := plan.Span()
	for n, at := 0, models.HourOf(begin, place.Zone); at.Before(end); n, at = n+1, at.Add(time.Hour) {
		h := openHour{n, at.In(place.Zone)}
		f.Knows(h.Temperature())
		f.Knows(h.Humidity())
		if f.Value(h.Temperature()) == "" && f.Value(h.Humidity()) == "" {
			continue
		}
		row := heatday.ImportRow{ReadAt: at, Source: f.Value("source")}
		row.Temperature, row.Humidity = f.air(h.Temperature(), h.Humidity())
		rows, hours = append(rows, row), append(hours, h)
	}
	return rows, hours, nil
}

// atHours moves the faults of an import's rows to the lines of their hours.
func atHours(err error, hours []openHour) error {
	return movingFaults(err, func(pointer string) string {
		parts := strings.SplitN(strings.TrimPrefix(pointer, "/rows/"), "/", 2)
		n, wrong := strconv.Atoi(parts[0])
		if wrong != nil || len(parts) < 2 || n >= len(hours) || !strings.HasPrefix(pointer, "/rows/") {
			if strings.HasPrefix(pointer, "/csv") {
				return "/csv"
			}
			return pointer
		}
		return "/rows/" + strconv.Itoa(hours[n].N) + "/" + parts[1]
	})
}

// readingPage is one reading, to be corrected.
type readingPage struct {
	heatPlace
	*models.HeatReading
	Units []Option
	By    string
}

func showReading(v *visit) (*answer, error) { return readingPageOf(v, newForm(nil)) }

func readingPageOf(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := readingPage{Units: v.heatUnits()}
	err = v.view(func(tx *models.Tx) (err error) {
		if page.HeatReading, err = findReading(tx, id); err != nil {
			return err
		}
		f.Set("garden", page.Content.GardenID.String())
		if page.heatPlace, err = v.heatPlace(tx, f); err != nil {
			return err
		}
		profile, err := tx.Profile()
		if err != nil {
			return err
		}
		page.On = models.WorkdayOf(page.Content.ReadAt, int(profile.Content.WorkdayStart), page.Zone)
		f.Set("on", page.On.String())
		names, err := accountNames(tx)
		page.By = names[page.RecordedBy]
		return err
	})
	if err != nil {
		return nil, err
	}
	if !f.Has("unit") {
		f.Set("unit", "f")
		f.Set("temperature_f", page.Content.Temperature.String())
		if h := page.Content.Humidity; h != nil {
			f.Set("relative_humidity", strconv.FormatInt(*h, 10))
		}
	}
	return show("heat_reading", page).with(f), nil
}

func findReading(tx *models.Tx, id uuid.UUID) (*models.HeatReading, error) {
	found, err := models.List[models.HeatReading](tx, models.Page{Limit: 1}, models.Equal("id", id))
	if err == nil && len(found) == 0 {
		err = errNotFound
	}
	if err != nil {
		return nil, err
	}
	return &found[0], nil
}

// correctReading puts another reading in a reading's place.
func correctReading(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("temperature_f", "unit", "relative_humidity", "reason")
	if err != nil {
		return nil, err
	}
	var to string
	err = v.in(func(tx *models.Tx) error {
		old, err := findReading(tx, id)
		if err != nil {
			return err
		}
		reading := old.Content
		reading.ImportID = nil
		reading.Temperature, reading.Humidity = f.air("temperature_f", "relative_humidity")
		if err := f.Faulty(); err != nil {
			return err
		}
		if _, _, err = models.Record(tx, f.ID, reading, models.Recording{RecordedAt: tx.Now, Supersedes: &id, Reason: f.Value("reason")}); err != nil {
			return err
		}
		place, err := v.heatPlace(tx, f)
		to = "/heat/readings" + place.Query(place.On)
		return err
	})
	if err != nil {
		return v.again(f, inFahrenheit(err), readingPageOf)
	}
	return seeOther(to, "heat_corrected"), nil
}
