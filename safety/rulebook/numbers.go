package rulebook

import (
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// Number names a number of a book. Its ending tells the unit, as in a document.
type Number string

// The numbers that every book has, but for those that are marked optional.
const (
	TriggerHeight       Number = "trigger_height_ft"
	ArrestFreeFall      Number = "arrest_free_fall_ft"
	ArrestForce         Number = "arrest_force_lb"
	Deceleration        Number = "deceleration_ft"
	ArrestAnchor        Number = "arrest_anchor_lb"
	PositioningFreeFall Number = "positioning_free_fall_ft"
	PositioningAnchor   Number = "positioning_anchor_lb"
	RestraintFactor     Number = "restraint_anchor_factor"
	ChainFactor         Number = "chain_factor"
	ClearanceMargin     Number = "clearance_margin_ft"

	BaseShare         Number = "ladder_base_share"
	BaseTolerance     Number = "ladder_base_tolerance"
	TopRungs          Number = "ladder_top_rungs"
	TopSteps          Number = "stepladder_top_steps"
	AttachedWires     Number = "attached_wires"
	AttachedGauge     Number = "attached_wire_gauge"
	AttachedLoad      Number = "attached_load_lb"
	AttachedChain     Number = "attached_chain_factor"
	AttachedSections  Number = "attached_sections"
	AttachedLength    Number = "attached_section_length_ft"
	AttachedSpacing   Number = "attached_rung_spacing_in"
	AttachedRungWidth Number = "attached_rung_length_in"
	AttachedWorkers   Number = "attached_workers"

	LiftWind      Number = "lift_wind_mph"
	StormGust     Number = "storm_gust_mph"
	PowerLineHand Number = "power_line_hand_ft"
	PowerLineBoom Number = "power_line_boom_ft"

	HeatModerate     Number = "heat_moderate_from_f"
	HeatHigh         Number = "heat_high_from_f"
	HeatVeryHigh     Number = "heat_very_high_over_f"
	ShadeOver        Number = "shade_over_f"
	WaterOver        Number = "water_over_f"
	HighHeat         Number = "high_heat_from_f"
	WeatherHours     Number = "weather_hours"
	TrainingNotice   Number = "training_notice_days"
	NewWorkerDays    Number = "new_worker_days"
	NewWorkerShare   Number = "new_worker_share"
	AwayDays         Number = "away_days"
	WaterQuarts      Number = "water_quarts_an_hour"
	PerObserver      Number = "employees_per_observer"
	CoolDownMinutes  Number = "cool_down_minutes"
	CoolDownHours    Number = "cool_down_every_hours"
	SanitationPeople Number = "sanitation_per_people"

	MinorAge       Number = "minor_age"
	MinorHeight    Number = "minor_height_ft"
	TreatedDays    Number = "treated_area_days"
	RateHours      Number = "rate_hours"
	LogExempt      Number = "log_exempt_size"
	KeepYears      Number = "keep_years"
	DaysCap        Number = "days_cap"
	RecordDays     Number = "record_within_days"
	SummaryMonth   Number = "summary_from_month"
	SummaryDay     Number = "summary_from_day"
	SummaryToMonth Number = "summary_through_month"
	SummaryToDay   Number = "summary_through_day"
	DeathHours     Number = "report_death_hours"
	InpatientHours Number = "report_inpatient_hours"
	AmputationHrs  Number = "report_amputation_hours"
	EyeLossHours   Number = "report_eye_loss_hours"
	DisfigureHours Number = "report_disfigurement_hours" // optional: a book without it asks no report
)

var numberNames = []Number{
	TriggerHeight, ArrestFreeFall, ArrestForce, Deceleration, ArrestAnchor, PositioningFreeFall, PositioningAnchor, RestraintFactor, ChainFactor, ClearanceMargin,
	BaseShare, BaseTolerance, TopRungs, TopSteps, AttachedWires, AttachedGauge, AttachedLoad, AttachedChain, AttachedSections, AttachedLength, AttachedSpacing,
	AttachedRungWidth, AttachedWorkers, LiftWind, StormGust, PowerLineHand, PowerLineBoom, HeatModerate, HeatHigh, HeatVeryHigh, ShadeOver, WaterOver, HighHeat,
	WeatherHours, TrainingNotice, NewWorkerDays, NewWorkerShare, AwayDays, WaterQuarts, PerObserver, CoolDownMinutes, CoolDownHours, SanitationPeople, MinorAge, MinorHeight,
	TreatedDays, RateHours, LogExempt, KeepYears, DaysCap, RecordDays, SummaryMonth, SummaryDay, SummaryToMonth, SummaryToDay, DeathHours, InpatientHours, AmputationHrs, EyeLossHours,
}

// Numbers lists the names of all numbers that a book may have.
func Numbers() []Number { return append([]Number{DisfigureHours}, numberNames...) }

// Number returns what a number is on a day. The error is a [*dated.NoValueError] where the book is silent.
func (b *Book) Number(name Number, day dated.Date) (*dated.Value[quantity.Number], error) {
	s, ok := b.numbers[string(name)]
	if !ok {
		return nil, &dated.NoValueError{Book: b.key, Parameter: string(name), Date: day}
	}
	return s.On(day)
}

func (b *Book) readNumbers(n dated.Node, sources *dated.Sources) {
	b.numbers = map[string]*dated.Series[quantity.Number]{}
	known := map[string]bool{}
	for _, name := range Numbers() {
		known[string(name)] = true
	}
	for _, e := range n.Entries() {
		if !known[e.Key] {
			e.Report("is no number that the engine knows; correct the name")
			continue
		}
		b.numbers[e.Key] = dated.ReadSeries(e.Node, b.key, e.Key, sources, readNumber)
	}
	for _, name := range numberNames {
		if _, ok := b.numbers[string(name)]; !ok && n.IsMapping() {
			n.Report("lacks %s; add it", name)
		}
	}
}

func readNumber(n dated.Node) quantity.Number { return quantity.Thousandths(n.Decimal(3)) }
