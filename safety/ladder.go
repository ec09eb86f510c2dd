package safety

import (
	"math"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

func ladderSetup(s *sum, in *LadderSetup) *LadderAnswer {
	if in.Kind == "" {
		s.fault("/kind", "fault.needed", nil)
		return nil
	}
	for _, fact := range ladderNeeds(&in.Ladder) {
		if !given(in, fact) {
			s.miss(fact, dated.Basis{})
		}
	}
	a := s.ladder(&in.Ladder, "", nil)
	a.OK, a.Reasons, a.Base = !s.blocked(), s.reasons, s.base
	return a
}

// ladderNeeds are the facts without which a ladder of a kind cannot be judged. Where its foot stands is not one: the answer says where to put it.
func ladderNeeds(l *Ladder) []string {
	needs := []string{"/duty_type", "/people_lb", "/load_lb", "/length_ft", "/rungs", "/standing_rung"}
	switch l.Kind {
	case "attached":
		return []string{"/wires", "/wire_gauge", "/sections", "/section_length_ft", "/rung_spacing_in", "/rung_length_in", "/rated_load_lb", "/chain_ultimate_lb", "/material", "/workers"}
	case "single":
		return append(needs, "/working_length_ft")
	case "extension":
		return append(needs, "/working_length_ft", "/sections", "/material")
	}
	return needs
}

// ladder computes the figures of a ladder and holds it to its rules. The weight is that of the one person who goes up, where it is known apart.
func (s *sum) ladder(l *Ladder, at string, weight *quantity.Number) *LadderAnswer {
	a := &LadderAnswer{}
	s.pitch(l, at, a)
	people := quantity.Sum(l.People)
	known := len(l.People) > 0
	if !known && weight != nil && l.Kind == "attached" {
		people, known = *weight, true
	}
	if known && (l.Load != nil || l.Kind == "attached") {
		a.Total = new(people)
		s.part("people", people, "lb")
		if l.Load != nil {
			a.Total = new(people.Plus(*l.Load))
			s.part("load", *l.Load, "lb")
		}
	}
	if l.Kind == "attached" {
		s.attached(l, at, a.Total)
		return a
	}
	s.duty(l, at, a)
	s.standing(l, at)
	s.length(l, at)
	return a
}

// pitch tells where the foot of a leaning ladder goes.
func (s *sum) pitch(l *Ladder, at string, a *LadderAnswer) {
	if l.WorkingLength == nil || l.Kind != "single" && l.Kind != "extension" {
		return
	}
	share := s.limit(rulebook.BaseShare)
	base := l.WorkingLength.Times(share)
	s.part("working_length", *l.WorkingLength, "ft")
	s.part("base_share", share, "")
	a.BaseFt = &base
	set := base
	if l.Base != nil {
		set = *l.Base
		off := set.Minus(base)
		slack := base.Times(s.limit(rulebook.BaseTolerance))
		if off.Over(slack) || off.Under(quantity.Number{}.Minus(slack)) {
			pointer := l.Base.Pointer(at + "/base_ft")
			s.violate("ladder_pitch", pointer, Terms{"base": set, "wanted": base.Round(2)})
		}
	}
	length, foot := l.WorkingLength.Float(), set.Float()
	if foot > length {
		s.fault(l.Base.Pointer(at+"/base_ft"), "fault.base_beyond_length", nil)
		return
	}
	a.TopSupport = new(quantity.Near(math.Sqrt(length*length-foot*foot), 2))
	a.Angle = new(quantity.Near(math.Acos(foot/length)*180/math.Pi, 2))
}

func (s *sum) duty(l *Ladder, at string, a *LadderAnswer) {
	ratings, err := s.book.DutyRatings(s.day)
	if l.DutyType == "" || !s.ok(err) {
		return
	}
	a.DutyLimit = new(ratings.Value[l.DutyType])
	s.rest(basisOf(ratings))
	s.part("duty_limit", *a.DutyLimit, "lb")
	if a.Total != nil && a.Total.Over(*a.DutyLimit) {
		s.violate("duty_rating_exceeded", at+"/duty_type", Terms{"total": *a.Total, "limit": *a.DutyLimit, "type": l.DutyType})
	}
}

func (s *sum) standing(l *Ladder, at string) {
	if l.Rungs == nil || l.StandingRung == nil {
		return
	}
	top := s.limit(rulebook.TopSteps)
	if l.Kind == "single" || l.Kind == "extension" {
		top = s.limit(rulebook.TopRungs)
	}
	highest := quantity.Max(whole(*l.Rungs).Minus(top), quantity.Number{})
	s.part("highest_standing_rung", highest, "")
	if whole(*l.StandingRung).Over(highest) {
		s.violate("ladder_standing_rung", at+"/standing_rung", Terms{"rung": *l.StandingRung, "highest": highest})
	}
}

// length holds a portable ladder to the length that its kind may have. A kind of which the book says nothing is not held to any, and the answer says so.
func (s *sum) length(l *Ladder, at string) {
	rows, err := s.book.LadderLengths(s.day)
	if l.Length == nil || !s.ok(err) {
		return
	}
	found := false
	for _, row := range rows.Value {
		if row.Kind != l.Kind || row.Material != "" && row.Material != l.Material || row.Sections != 0 && (l.Sections == nil || *l.Sections != row.Sections) {
			continue
		}
		found = true
		s.part("longest", row.Most, "ft")
		if pointer := l.Length.Pointer(at + "/length_ft"); l.Length.Over(row.Most) {
			s.violate("ladder_too_long", pointer, Terms{"length": *l.Length, "limit": row.Most})
		}
	}
	if !found {
		s.note("no_length_known", nil)
	}
}

// attached holds a ladder that is wired and chained to a palm to its rules.
func (s *sum) attached(l *Ladder, at string, total *quantity.Number) {
	if l.Wires != nil && whole(*l.Wires).Under(s.limit(rulebook.AttachedWires)) {
		s.violate("ladder_wires", at+"/wires", Terms{"wires": *l.Wires, "limit": s.limit(rulebook.AttachedWires)})
	}
	if l.WireGauge != nil && whole(*l.WireGauge).Over(s.limit(rulebook.AttachedGauge)) {
		s.violateAs("ladder_wires", "ladder_wires_thin", at+"/wire_gauge", Terms{"gauge": *l.WireGauge, "limit": s.limit(rulebook.AttachedGauge)})
	}
	if l.Sections != nil && whole(*l.Sections).Over(s.limit(rulebook.AttachedSections)) {
		s.violate("ladder_sections", at+"/sections", Terms{"sections": *l.Sections, "limit": s.limit(rulebook.AttachedSections)})
	}
	if l.Workers != nil && whole(*l.Workers).Over(s.limit(rulebook.AttachedWorkers)) {
		s.violate("ladder_occupied", at+"/workers", Terms{"workers": *l.Workers, "limit": s.limit(rulebook.AttachedWorkers)})
	}
	if l.Material != "" && l.Material != "metal" {
		s.violate("ladder_material", at+"/material", Terms{"material": l.Material})
	}
	s.over("ladder_section_length", "ladder_section_length", l.SectionLength, rulebook.AttachedLength, at+"/section_length_ft")
	s.over("ladder_rungs", "ladder_rungs", l.RungSpacing, rulebook.AttachedSpacing, at+"/rung_spacing_in")
	if n := l.RungLength; n != nil && n.Under(s.limit(rulebook.AttachedRungWidth)) {
		s.violateAs("ladder_rungs", "ladder_rungs_short", n.Pointer(at+"/rung_length_in"), Terms{"value": *n, "limit": s.limit(rulebook.AttachedRungWidth)})
	}
	s.attachedLoad(l, at, total)
	if l.Sections != nil && l.SectionLength != nil {
		s.part("reach", whole(*l.Sections).Times(*l.SectionLength), "ft")
	}
}

// attachedLoad compares the strength of the ladder and of its chain with what they carry: the people and their load, or where that is not known the
// load that the ladder is rated for.
func (s *sum) attachedLoad(l *Ladder, at string, total *quantity.Number) {
	if l.RatedLoad == nil {
		return
	}
	pointer := l.RatedLoad.Pointer(at + "/rated_load_lb")
	s.part("rated_load", *l.RatedLoad, "lb")
	if l.RatedLoad.Under(s.limit(rulebook.AttachedLoad)) {
		s.violate("ladder_load", pointer, Terms{"value": *l.RatedLoad, "limit": s.limit(rulebook.AttachedLoad)})
	}
	load := *l.RatedLoad
	if total != nil {
		if load = *total; load.Over(*l.RatedLoad) {
			s.violateAs("ladder_load", "ladder_load_over", pointer, Terms{"total": load, "limit": *l.RatedLoad})
		}
	}
	if l.ChainUltimate == nil || !load.Over(quantity.Number{}) {
		return
	}
	factor := l.ChainUltimate.Per(load)
	s.part("chain_factor", factor, "")
	if factor.Under(s.limit(rulebook.AttachedChain)) {
		s.violate("ladder_chain", l.ChainUltimate.Pointer(at+"/chain_ultimate_lb"), Terms{"factor": factor.Round(2), "limit": s.limit(rulebook.AttachedChain)})
	}
}

// over adds a reason where a quantity is known and more than a limit.
func (s *sum) over(code, text string, n *quantity.Number, name rulebook.Number, customary string) {
	if n == nil {
		return
	}
	limit := s.limit(name)
	if n.Over(limit) {
		s.violateAs(code, text, n.Pointer(customary), Terms{"value": *n, "limit": limit})
	}
}
