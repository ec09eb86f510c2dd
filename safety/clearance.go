package safety

import (
	"strconv"
	"strings"
	"time"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

// clearing is the state of clearing one worker: the sum, the document with nothing nil in it, and the book's table.
type clearing struct {
	*sum
	in    *Clearance
	table *rulebook.Clearance
	way   *rulebook.Way // nil: unknown
	high  *bool         // whether it leaves the ground, once that was asked
}

func clearance(s *sum, in *Clearance) *ClearanceAnswer {
	table, err := s.book.Clearance(in.Workday)
	if !s.ok(err) {
		return nil
	}
	c := &clearing{sum: s, in: filled(in), table: table.Value, way: table.Value.Ways[in.Access.Way]}
	s.way = in.Access.Way
	if c.kindMismatch() || c.askedLate() {
		return nil
	}
	c.facts()
	c.people()
	c.paper()
	if c.way != nil {
		c.training()
		c.gear()
		if c.aloft() {
			c.falling()
			c.ladder()
		}
		if in.Access.Lift != nil && in.Access.Way == "lift" {
			s.lift(in.Access.Lift, in.FallProtection, c.in.Site.Gust)
		}
	}
	c.place()
	c.heat()
	a := &ClearanceAnswer{Overridden: c.overrides()}
	a.Cleared = !c.stands(a.Overridden)
	a.Reasons, a.ValidUntil, a.Base = s.reasons, c.validUntil(), s.base
	return a
}

// filled is a copy of the document in which every part is there; what its parts do not say stays unknown.
func filled(in *Clearance) *Clearance {
	full := *in
	fill(&full.Worker)
	fill(&full.FallProtection)
	fill(&full.Checklist)
	fill(&full.Site)
	fill(&full.Crew)
	fill(&full.Weather)
	return &full
}

func fill[T any](p **T) {
	if *p == nil {
		*p = new(T)
	}
}

// kindMismatch refuses a document whose ladder is of a kind that the way does not use.
func (c *clearing) kindMismatch() bool {
	l := c.in.Access.Ladder
	if l == nil || l.Kind == "" {
		return false
	}
	attached := l.Kind == "attached"
	if way := c.in.Access.Way; way == "attached_ladder" && !attached || way == "portable_ladder" && attached {
		c.fault("/access/ladder/kind", "fault.ladder_of_way", Terms{"kind": l.Kind, "way": way})
		return true
	}
	return false
}

// askedLate refuses a document that asks for a workday that is over.
func (c *clearing) askedLate() bool {
	if c.in.At == nil || !dated.DateOf(*c.in.At).After(c.in.Workday) {
		return false
	}
	c.fault("/at", "fault.after_workday", Terms{"workday": c.in.Workday})
	return true
}

// aloft tells whether the way leaves the ground, and goes higher than where protection against falling begins or nobody knows how high.
func (c *clearing) aloft() bool {
	if c.high == nil {
		c.high = new(c.way.Aloft && (c.in.Access.Height == nil || c.in.Access.Height.Over(c.limit(rulebook.TriggerHeight))))
	}
	return *c.high
}

// holds tells whether a condition of the table is met. What depends on a fact that is unknown counts as met where that asks for more.
func (c *clearing) holds(when rulebook.Condition) bool {
	f, a := c.in.FallProtection, c.in.Access
	switch when {
	case rulebook.Above:
		return c.aloft()
	case rulebook.Cutting:
		return !isFalse(c.in.CuttingTool)
	case rulebook.Arrest, rulebook.Positioning, rulebook.Restraint:
		return f.System == string(when)
	case rulebook.Chain:
		return f.Lanyard == "chain"
	case rulebook.Boom:
		return a.Lift != nil && a.Lift.Type == "boom"
	case rulebook.Leaning:
		return a.Ladder != nil && (a.Ladder.Kind == "single" || a.Ladder.Kind == "extension")
	case rulebook.Extension:
		return a.Ladder != nil && a.Ladder.Kind == "extension"
	case rulebook.Treated:
		last := c.in.Site.EntryRestricted.lastDay()
		return !last.IsZero() && c.in.Workday.DaysSince(last) <= int(c.limit(rulebook.TreatedDays).Float())
	case rulebook.Returning:
		return c.in.Worker.FirstWorkday == nil || c.in.Worker.FirstWorkday.Before(c.in.Workday)
	}
	return true
}

func (c *clearing) all(when []rulebook.Condition) bool {
	for _, w := range when {
		if !c.holds(w) {
			return false
		}
	}
	return true
}

// facts asks for what the table wants to know of the way. Of a way that is not known, it asks for what everybody has to tell.
func (c *clearing) facts() {
	groups := []string{"everywhere"}
	if c.way == nil {
		c.violate("way_unknown", "/access/way", Terms{"way": c.in.Access.Way, "known": strings.Join(c.table.WayNames(), ", ")})
	} else {
		groups = c.way.Facts
	}
	for _, group := range groups {
		for _, row := range c.table.Facts[group] {
			if !c.all(row.When) {
				continue
			}
			for _, fact := range row.Pointers {
				if !given(c.in, fact) {
					c.miss(fact, row.Basis)
				}
			}
		}
	}
}

// people looks at the worker and at who else is there.
func (c *clearing) people() {
	w := c.in.Worker
	c.gloves(w)
	c.young(w)
	c.newcomer(w)
	if c.way == nil || !c.way.Aloft {
		return
	}
	for i, g := range w.Gear {
		if g.Kind == "knife" || g.Kind == "saw" {
			fact := "/worker/gear/" + strconv.Itoa(i) + "/tethered_or_sheathed"
			if g.TetheredOrSheathed == nil {
				c.miss(fact, c.rule("knife_untethered").Basis)
			} else if !*g.TetheredOrSheathed {
				c.violate("knife_untethered", fact, nil)
			}
		}
	}
	if o := c.in.Access.Others; o != nil && *o > 0 {
		c.violate("palm_occupied", "/access/others_on_palm", Terms{"others": *o})
	}
	if isFalse(c.in.Crew.GroundPerson) && c.in.Crew.ReachBy == none {
		c.violate("alone_aloft", "/crew/ground_person", nil)
	}
	if isFalse(c.in.Crew.RescuePlan) {
		c.violate("rescue_missing", "/crew/rescue_plan", nil)
	}
}

func (c *clearing) gloves(w *Worker) {
	if w.Gear == nil {
		return // asked for as a fact
	}
	kinds := map[string]bool{}
	levels, err := c.book.PunctureLevels(c.day)
	for _, g := range w.Gear {
		kinds[g.Kind] = true
		if g.Kind == "gloves" && g.PunctureLevel != nil && *g.PunctureLevel > 0 && c.ok(err) && *g.PunctureLevel <= len(levels.Value) {
			c.part("glove_puncture", levels.Value[*g.PunctureLevel-1], "N")
		}
	}
	if !kinds["gloves"] {
		c.violate("gloves_missing", "/worker/gear", nil)
	}
	if !kinds["eye_protection"] {
		c.violate("eye_protection_missing", "/worker/gear", nil)
	}
}

// young holds workers below the age of the book to what they may do.
func (c *clearing) young(w *Worker) {
	if w.BirthDate == nil || !c.in.Workday.Before(yearsAfter(*w.BirthDate, int(c.limit(rulebook.MinorAge).Float()))) {
		return
	}
	height, limit := c.in.Access.Height, c.limit(rulebook.MinorHeight)
	if strings.HasSuffix(c.in.Access.Way, "_ladder") && height != nil && height.Over(limit) {
		c.violate("minor_height", height.Pointer("/access/height_ft"), Terms{"limit": limit, "age": c.limit(rulebook.MinorAge)})
	}
	if c.in.Access.Way == "lift" {
		c.violate("minor_equipment", "/worker/birth_date", Terms{"age": c.limit(rulebook.MinorAge)})
	}
}

// newcomer warns of workers whose bodies are not used to the heat.
func (c *clearing) newcomer(w *Worker) {
	if w.FirstWorkday != nil {
		day := c.in.Workday.DaysSince(*w.FirstWorkday) + 1
		if day < 1 {
			c.fault("/worker/first_workday", "fault.after_workday", Terms{"workday": c.in.Workday})
			return
		}
		if days := int(c.limit(rulebook.NewWorkerDays).Float()); day <= days {
			c.violate("close_observation", "/worker/first_workday", Terms{"day": day, "days": days})
			return
		}
	}
	if w.LastWorkedOn == nil {
		return
	}
	away := c.in.Workday.DaysSince(*w.LastWorkedOn)
	if limit := int(c.limit(rulebook.AwayDays).Float()); away > limit {
		c.violateAs("close_observation", "close_observation_away", "/worker/last_worked_on", Terms{"days": away})
	}
}

// paper looks at the checklist.
func (c *clearing) paper() {
	l := c.in.Checklist
	switch {
	case isFalse(l.Passed):
		c.violate("checklist_failed", "/checklist/passed", nil)
	case l.Passed == nil || l.By == "" || l.On == nil || *l.On != c.in.Workday:
		c.reason("checklist_missing", "checklist_missing", c.rule("checklist_missing"), Missing, "/checklist", Terms{"date": c.in.Workday})
	}
}

// training looks for the sign-offs of the way's topics.
func (c *clearing) training() {
	if c.in.Worker.SignOffs == nil {
		return // asked for as a fact
	}
	for _, name := range c.way.Topics {
		topic := c.table.Topics[name]
		if !c.all(topic.When) {
			continue
		}
		last := c.lastSignOff(name)
		if last.IsZero() {
			c.reason("training_missing", "training_missing", topic.Missing, Missing, "/worker/sign_offs", Terms{"topic": name})
			continue
		}
		if topic.Expires == nil {
			continue
		}
		through := MonthsAfter(last, topic.Expires.Months)
		if c.in.Workday.After(through) {
			c.reason("training_expired", "training_expired", topic.Expires.Rule, Violation, "/worker/sign_offs", Terms{"topic": name, "date": through})
		} else if days := through.DaysSince(c.in.Workday); days <= int(c.limit(rulebook.TrainingNotice).Float()) {
			c.note("training_expires", Terms{"topic": name, "date": through})
		}
	}
}

// lastSignOff is the last day on which a topic was signed off, up to the workday; the zero date where it never was.
func (c *clearing) lastSignOff(topic string) (last dated.Date) {
	for _, s := range c.in.Worker.SignOffs {
		if s.Topic == topic && !s.On.After(c.in.Workday) && s.On.After(last) {
			last = s.On
		}
	}
	return last
}

// MonthsAfter is the same calendar day so many months on; a day that the month does not have counts as the next one's first.
func MonthsAfter(d dated.Date, months int) dated.Date {
	year, month, day := d.Civil()
	return dated.NewDate(year, month+time.Month(months), day)
}

func yearsAfter(d dated.Date, years int) dated.Date { return MonthsAfter(d, 12*years) }

// gear looks at the equipment of a way that leaves the ground: that it is there, and that all of it is in order.
func (c *clearing) gear() {
	if !c.way.Aloft {
		return
	}
	for _, kind := range c.way.Equipment {
		row := c.table.Equipment[kind]
		if c.all(row.When) && !c.lists(kind) {
			c.reason("equipment_missing", "equipment_missing", row.Required, Missing, "/equipment", Terms{"kind": kind})
		}
	}
	for i := range c.in.Equipment {
		e := &c.in.Equipment[i]
		if row := c.table.Equipment[e.Kind]; row == nil && c.aloft() || row != nil && c.all(row.When) {
			c.inOrder(e, row, "/equipment/"+strconv.Itoa(i))
		}
	}
}

func (c *clearing) lists(kind string) bool {
	for i := range c.in.Equipment {
		if c.in.Equipment[i].Kind == kind {
			return true
		}
	}
	return false
}

// inOrder looks at one piece; of a kind that the table does not hold it cannot tell how often it is to be inspected.
func (c *clearing) inOrder(e *Equipment, row *rulebook.Equipment, at string) {
	id := e.ID
	if id == "" {
		id = at // where it stands in the document
	}
	terms := func() Terms { return Terms{"kind": e.Kind, "id": id} }
	if e.InService == nil {
		c.miss(at+"/in_service", c.rule("out_of_service").Basis)
	} else if !*e.InService {
		c.violate("out_of_service", at+"/in_service", terms())
	}
	if e.ImpactLoaded == nil {
		c.miss(at+"/impact_loaded", c.rule("impact_loaded").Basis)
	} else if *e.ImpactLoaded && e.ReturnedBy == "" {
		c.violate("impact_loaded", at+"/impact_loaded", terms())
	}
	if row == nil {
		c.note("kind_unknown", Terms{"topic": e.Kind})
		return
	}
	if row.PreUse != nil {
		c.inspected(*row.PreUse, "inspection_before_use", e.PreUseOn, 0, at+"/pre_use_on", terms)
	}
	if row.Periodic != nil {
		terms := func() Terms { return Terms{"kind": e.Kind, "id": id, "months": row.Periodic.Months} }
		c.inspected(row.Periodic.Rule, "inspection_periodic", e.PeriodicOn, row.Periodic.Months, at+"/periodic_on", terms)
	}
}

// inspected wants an inspection that is so many months old at most; 0: of the workday itself.
func (c *clearing) inspected(rule rulebook.Rule, text string, on *dated.Date, months int, fact string, terms func() Terms) {
	switch {
	case on == nil || on.After(c.in.Workday):
		c.reason("inspection_missing", text+"_missing", rule, Missing, fact, terms())
	case c.in.Workday.After(MonthsAfter(*on, months)):
		c.reason("inspection_overdue", text+"_overdue", rule, Violation, fact, terms())
	}
}

// falling looks at what holds the worker.
func (c *clearing) falling() {
	f := c.in.FallProtection
	if f.System == none && c.in.Access.Way != "lift" {
		c.violate("fall_protection_missing", "/fall_protection/system", Terms{"limit": c.limit(rulebook.TriggerHeight)})
	}
	c.saddle(f)
	if f.System == none || f.System == "" {
		return
	}
	if f.Lanyard == "synthetic" && !isFalse(c.in.CuttingTool) {
		c.violate("lanyard_can_be_cut", "/fall_protection/lanyard", nil)
	}
	if f.Lanyard == "chain" && f.ChainUltimate != nil && f.WorkingLoad != nil {
		factor := f.ChainUltimate.Per(*f.WorkingLoad)
		c.part("lanyard_chain_factor", factor, "")
		if limit := c.limit(rulebook.ChainFactor); factor.Under(limit) {
			c.violate("chain_factor_low", f.ChainUltimate.Pointer("/fall_protection/chain_ultimate_lb"), Terms{"factor": factor.Round(2), "limit": limit})
		}
	}
	if f.System == "arrest" && f.Body == "belt" {
		c.violate("belt_not_for_arrest", "/fall_protection/body", nil)
	}
	if f.Body == none {
		c.violate("body_belt_missing", "/fall_protection/body", nil)
	}
	c.freeFallLimit(f)
	c.anchor(f)
	c.room(f)
}

func (c *clearing) saddle(f *FallProtection) {
	if !isTrue(f.Saddle) {
		return
	}
	if f.System != "positioning" && f.System != "" {
		c.violate("saddle_needs_positioning", "/fall_protection/saddle", nil)
	}
	if f.Body == "harness" || f.Body == none && f.System == none {
		c.violateAs("body_belt_missing", "body_belt_missing_saddle", "/fall_protection/body", nil)
	}
}

func (c *clearing) freeFallLimit(f *FallProtection) {
	const at = "/fall_protection/free_fall_ft"
	switch f.System {
	case "arrest", "lift_tie_off":
		c.over("free_fall_over", "free_fall_over", f.FreeFall, rulebook.ArrestFreeFall, at)
	case "positioning":
		c.over("free_fall_over", "free_fall_over", f.FreeFall, rulebook.PositioningFreeFall, at)
	}
}

// anchor wants it strong enough and judged by somebody. What a crown or a frond bears for arrest nobody can type in.
func (c *clearing) anchor(f *FallProtection) {
	if f.System == "lift_tie_off" || f.Anchor == "boom" {
		return // the lift's maker answers for its own anchor
	}
	if f.AnchorJudgedBy == "" {
		c.violate("anchor_unjudged", "/fall_protection/anchor_judged_by", nil)
	}
	if f.System == "arrest" && f.Anchor == "crown" {
		c.violateAs("anchor_weak", "anchor_crown", "/fall_protection/anchor", nil)
		return
	}
	var least quantity.Number
	switch f.System {
	case "arrest":
		least = c.limit(rulebook.ArrestAnchor)
	case "positioning":
		least = c.limit(rulebook.PositioningAnchor)
	case "restraint":
		if c.in.Worker.Weight == nil {
			return
		}
		least = c.in.Worker.Weight.Times(c.limit(rulebook.RestraintFactor))
	}
	c.part("anchor_needed", least, "lb")
	if n := f.AnchorLb; n != nil && n.Under(least) {
		c.violate("anchor_weak", n.Pointer("/fall_protection/anchor_lb"), Terms{"value": *n, "limit": least})
	}
}

// room compares the room below with what a fall needs.
func (c *clearing) room(f *FallProtection) {
	const at = "/fall_protection/clearance"
	if f.System != "arrest" || f.Clearance == nil {
		return
	}
	before := len(c.faults)
	d := c.fall(f.Clearance, at)
	for _, fault := range c.faults[before:] {
		c.miss(fault.Pointer, c.rule("clearance_short").Basis)
	}
	c.faults = c.faults[:before]
	if f.Clearance.Available == nil {
		c.miss(at+"/available_ft", c.rule("clearance_short").Basis)
	} else if d != nil && f.Clearance.Available.Under(d.required) {
		c.violate("clearance_short", f.Clearance.Available.Pointer(at+"/available_ft"), Terms{"value": *f.Clearance.Available, "required": d.required})
	}
	if d != nil {
		c.part("clearance_required", d.required, "ft")
	}
}

// ladder holds the ladder of the way to its rules.
func (c *clearing) ladder() {
	l := c.in.Access.Ladder
	switch {
	case l == nil:
	case c.in.Access.Way == "attached_ladder":
		attached := *l
		attached.Kind = "attached"
		c.sum.ladder(&attached, "/access/ladder", c.in.Worker.Weight)
	case c.in.Access.Way == "portable_ladder" && l.Kind != "":
		c.sum.ladder(l, "/access/ladder", nil)
	}
}

// place looks at what is around the palm.
func (c *clearing) place() {
	site := c.in.Site
	aloft := c.way == nil || c.way.Aloft
	near := c.limit(rulebook.PowerLineHand)
	if c.in.Access.Way == "lift" {
		near = c.limit(rulebook.PowerLineBoom)
	}
	if n := site.PowerLine; n != nil && n.Under(near) {
		c.violate("power_line_near", n.Pointer("/site/power_line_ft"), Terms{"value": *n, "limit": near})
	}
	if site.EntryRestricted.holds(c.in.Workday, c.in.At) {
		c.violate("entry_restricted", "/site/entry_restricted_until", nil)
	}
	if isTrue(site.Lightning) {
		c.violate("storm", "/site/lightning", nil)
	}
	if n := site.Gust; aloft && c.in.Access.Way != "lift" && n != nil && !n.Under(c.limit(rulebook.StormGust)) {
		c.violateAs("storm", "storm_gust", n.Pointer("/site/gust_mph"), Terms{"value": *n, "limit": c.limit(rulebook.StormGust)})
	}
	for _, danger := range []struct {
		there      *bool
		code, fact string
	}{{site.Dark, "too_dark", "dark"}, {site.Bees, "bees", "bees"}, {site.Wet, "wet", "wet"}, {site.PeopleBelow, "overhead_work", "people_below"}} {
		if isTrue(danger.there) {
			c.violate(danger.code, "/site/"+danger.fact, nil)
		}
	}
}

// heat looks at the air and at what is ready for it.
func (c *clearing) heat() {
	w := c.in.Weather
	high := c.limit(rulebook.HighHeat)
	if t := w.Temperature; t != nil {
		at := t.Pointer("/weather/temperature_f")
		c.readiness(w.ShadeUp, t.Over(c.limit(rulebook.ShadeOver)), "shade_missing", "/weather/shade_up", t)
		c.readiness(w.WaterReady, t.Over(c.limit(rulebook.WaterOver)), "water_missing", "/weather/water_ready", t)
		c.readiness(w.HighHeatPlan, !t.Under(high), "high_heat_plan_missing", "/weather/high_heat_plan", t)
		if !t.Under(high) {
			c.highHeat("high_heat_duties", at, *t)
			return
		}
	}
	if t := w.ForecastHigh; t != nil && !t.Under(high) {
		c.highHeat("high_heat_forecast", t.Pointer("/weather/forecast_high_f"), *t)
	}
}

func (c *clearing) highHeat(text, fact string, temperature quantity.Number) {
	terms := Terms{
		"temperature": temperature, "minutes": c.limit(rulebook.CoolDownMinutes), "hours": c.limit(rulebook.CoolDownHours), "people": c.limit(rulebook.PerObserver), "quarts": c.limit(rulebook.WaterQuarts),
	}
	c.violateAs("high_heat_duties", text, fact, terms)
}

func (c *clearing) readiness(ready *bool, asked bool, code, fact string, temperature *quantity.Number) {
	if asked && isFalse(ready) {
		c.violate(code, fact, Terms{"temperature": *temperature})
	}
}
