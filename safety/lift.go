package safety

import (
	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

func liftLoad(s *sum, in *LiftLoad) *LiftAnswer {
	needs := []string{"/rated_lb", "/people_lb", "/tools_lb", "/fruit_lb", "/wind_mph"}
	if in.Slope != nil || in.SlopeLimit != nil {
		needs = append(needs, "/slope_deg", "/slope_limit_deg")
	}
	for _, fact := range needs {
		if !given(in, fact) {
			s.miss(fact, dated.Basis{})
		}
	}
	a := &LiftAnswer{Load: s.liftLoad(in.People, in.Tools, in.Fruit, in.Attachments)}
	if in.Attachments == nil {
		s.note("no_attachments", nil)
	}
	if a.Load != nil && in.Rated != nil {
		a.Margin = new(in.Rated.Minus(*a.Load))
	}
	s.overloaded(a.Load, in.Rated, "/rated_lb")
	s.windy(in.Wind, in.WindLimit, "/wind_mph")
	s.slope(in.Slope, in.SlopeLimit, "/slope_deg")
	a.OK, a.Reasons, a.Base = !s.blocked(), s.reasons, s.base
	return a
}

// liftLoad adds up what a lift carries; nil where part of it is not known.
func (s *sum) liftLoad(people []quantity.Number, tools, fruit, attachments *quantity.Number) *quantity.Number {
	if len(people) == 0 || tools == nil || fruit == nil {
		return nil
	}
	load := quantity.Sum(people)
	s.part("people", load, "lb")
	s.part("tools", *tools, "lb")
	s.part("fruit", *fruit, "lb")
	load = load.Plus(*tools).Plus(*fruit)
	if attachments != nil {
		s.part("attachments", *attachments, "lb")
		load = load.Plus(*attachments)
	}
	return &load
}

func (s *sum) overloaded(load, rated *quantity.Number, at string) {
	if rated == nil {
		return
	}
	s.part("rated", *rated, "lb")
	if load != nil && load.Over(*rated) {
		s.violate("lift_overloaded", rated.Pointer(at), Terms{"load": *load, "limit": *rated})
	}
}

// windy holds the wind to the book's limit or the maker's, whichever is lower. At the limit is too much.
func (s *sum) windy(wind, makers *quantity.Number, at string) {
	limit := s.limit(rulebook.LiftWind)
	if makers != nil {
		limit = quantity.Min(limit, *makers)
	} else {
		s.note("makers_wind", nil)
	}
	s.part("wind_limit", limit, "mph")
	if wind != nil && !wind.Under(limit) {
		s.violate("wind_limit", wind.Pointer(at), Terms{"wind": *wind, "limit": limit})
	}
}

func (s *sum) slope(slope, limit *quantity.Number, at string) {
	if slope != nil && limit != nil && slope.Over(*limit) {
		s.violate("lift_slope", at, Terms{"slope": *slope, "limit": *limit})
	}
}

// lift holds a lift to its rules.
func (s *sum) lift(l *Lift, f *FallProtection, wind *quantity.Number) {
	const at = "/access/lift"
	s.overloaded(s.liftLoad(l.People, l.Tools, l.Fruit, nil), l.Rated, at+"/rated_lb")
	s.windy(wind, l.WindLimit, "/site/gust_mph")
	s.slope(l.Slope, l.SlopeLimit, at+"/slope_deg")
	if isFalse(l.SurfaceOK) {
		s.violate("lift_surface", at+"/surface_ok", nil)
	}
	if o := l.OutriggersSet; o.Known && !o.None && !o.Set {
		s.violate("outriggers", at+"/outriggers_set", nil)
	}
	if l.TiedTo == "palm" {
		s.violate("tied_to_palm", at+"/tied_to", nil)
	}
	if l.Type == "boom" && l.TiedTo != "" && l.TiedTo != "boom" {
		s.violate("tie_off_missing", at+"/tied_to", nil)
	} else if l.Type == "boom" && f != nil && f.System == "none" {
		s.violate("tie_off_missing", "/fall_protection/system", nil)
	}
	if isTrue(l.RestingOnPalm) {
		s.violate("basket_on_palm", at+"/resting_on_palm", nil)
	}
	if isTrue(l.MovingElevated) {
		s.violate("moving_elevated", at+"/moving_elevated", nil)
	}
}
