package safety

import (
	"math"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// nws is where the formula of the heat index stands.
var nws = dated.Basis{
	Source: dated.Source{
		Title: "National Weather Service, heat index equation (Rothfusz 1990, after Steadman 1979)", Section: "NWS SR 90-23",
		Link: "https://www.wpc.ncep.noaa.gov/html/heatindex_equation.shtml",
	},
	ReadOn: dated.MustDate("2026-11-25"), Standing: dated.Read,
}

func heatIndex(s *sum, in *HeatIndex) *HeatIndexAnswer {
	index, parts := feelsLike(in.Temperature.Float(), in.Humidity.Float())
	s.rest(nws)
	for _, p := range parts {
		s.part(p.name, quantity.Near(p.value, 4), "°F")
	}
	a := &HeatIndexAnswer{HeatIndex: quantity.Near(index, 2), Duties: []Duty{}}
	a.Band = s.band(a.HeatIndex)
	switch {
	case isTrue(in.DirectSun):
		a.Band = a.Band.hotter()
		s.note("direct_sun", nil)
	case in.DirectSun == nil:
		s.note("sun_unknown", nil)
	}
	a.Duties = s.duties(*in.Temperature)
	a.Base = s.base
	return a
}

// term is one term of the formula.
type term struct {
	name  string
	value float64
}

// feelsLike is the heat index in °F by the Weather Service's algorithm, for a temperature in °F and a relative humidity in percent.
func feelsLike(t, rh float64) (float64, []term) {
	simple := 0.5 * (t + 61 + (t-68)*1.2 + rh*0.094)
	average := (simple + t) / 2
	parts := []term{{"simple", simple}, {"average", average}}
	if average < 80 {
		return average, parts
	}
	index := -42.379 + 2.04901523*t + 10.14333127*rh - .22475541*t*rh - .00683783*t*t - .05481717*rh*rh +
		.00122874*t*t*rh + .00085282*t*rh*rh - .00000199*t*t*rh*rh
	parts = append(parts, term{"regression", index})
	if rh < 13 && t >= 80 && t <= 112 {
		dry := -(13 - rh) / 4 * math.Sqrt((17-math.Abs(t-95))/17)
		return index + dry, append(parts, term{"dry_correction", dry})
	}
	if rh > 85 && t >= 80 && t <= 87 {
		humid := (rh - 85) / 10 * (87 - t) / 5
		return index + humid, append(parts, term{"humid_correction", humid})
	}
	return index, parts
}

func (s *sum) band(index quantity.Number) Band {
	switch {
	case index.Over(s.limit(rulebook.HeatVeryHigh)):
		return VeryHigh
	case !index.Under(s.limit(rulebook.HeatHigh)):
		return High
	case !index.Under(s.limit(rulebook.HeatModerate)):
		return Moderate
	}
	return Lower
}

// hotter is the band one step up.
func (b Band) hotter() Band {
	switch b {
	case Lower:
		return Moderate
	case Moderate:
		return High
	}
	return VeryHigh
}

// duties lists what is owed at an air temperature.
func (s *sum) duties(temperature quantity.Number) []Duty {
	table, err := s.book.HeatDuties(s.day)
	due := []Duty{}
	if !s.ok(err) {
		return due
	}
	for i := range table.Value {
		d := &table.Value[i]
		if !d.Due(temperature) {
			continue
		}
		s.rest(d.Source)
		due = append(due, Duty{Code: d.Name, Authority: d.Source.Source.Section, terms: s.dutyTerms(d.Name)})
	}
	return due
}

func (s *sum) dutyTerms(name string) Terms {
	switch name {
	case "water":
		return Terms{"quarts": s.limit(rulebook.WaterQuarts)}
	case "observation":
		return Terms{"people": s.limit(rulebook.PerObserver)}
	case "cool_down":
		return Terms{"minutes": s.limit(rulebook.CoolDownMinutes), "hours": s.limit(rulebook.CoolDownHours)}
	}
	return nil
}
