package safety

import (
	"time"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// The documents of the figures. A pointer, a list or a text that is not given is unknown. "twin" names the other form of a field, mostly the same
// quantity in metric; "range" is what a quantity can be at all, in the customary unit; "oneof" lists the words that a text can be.

// Head is what every document begins with.
type Head struct {
	Rulebook string     `json:"rulebook"`
	On       dated.Date `json:"on" twin:"workday"`
}

// HeatIndex asks how hot it feels.
type HeatIndex struct {
	Head
	Temperature *quantity.Number `json:"temperature_f" twin:"temperature_c" range:"-60 150"`
	Humidity    *quantity.Number `json:"relative_humidity" range:"0 100"`
	DirectSun   *bool            `json:"direct_sun,omitempty"`
}

// FallClearance asks how much room a fall needs.
type FallClearance struct {
	Head
	Fall
}

// Fall is how somebody would fall. The free fall is given, or follows from the lanyard and the anchor's height above the D-ring.
type Fall struct {
	FreeFall     *quantity.Number `json:"free_fall_ft,omitempty" twin:"free_fall_m" range:"0 100"`
	Lanyard      *quantity.Number `json:"lanyard_ft,omitempty" twin:"lanyard_m" range:"0 100"`
	AnchorAbove  *quantity.Number `json:"anchor_above_d_ring_ft,omitempty" twin:"anchor_above_d_ring_m" range:"-100 100"`
	Deceleration *quantity.Number `json:"deceleration_ft,omitempty" twin:"deceleration_m" range:"0 100"`
	Shift        *quantity.Number `json:"shift_ft,omitempty" twin:"shift_m" range:"0 20"`
	DRingHeight  *quantity.Number `json:"d_ring_height_ft,omitempty" twin:"d_ring_height_m" range:"0 10"`
	Stretch      *quantity.Number `json:"stretch_ft,omitempty" twin:"stretch_m" range:"0 100"`
	Margin       *quantity.Number `json:"margin_ft,omitempty" twin:"margin_m" range:"0 100"`
	Available    *quantity.Number `json:"available_ft,omitempty" twin:"available_m" range:"0 500"`
	SwingLine    *quantity.Number `json:"swing_line_ft,omitempty" twin:"swing_line_m" range:"0 500"`
	SwingOffset  *quantity.Number `json:"swing_offset_ft,omitempty" twin:"swing_offset_m" range:"0 500"`
}

// LadderSetup asks whether a ladder may be used as it is.
type LadderSetup struct {
	Head
	Ladder
}

// Ladder is a ladder and what stands on it.
type Ladder struct {
	Kind          string            `json:"kind,omitempty" oneof:"single extension stepladder orchard attached"`
	WorkingLength *quantity.Number  `json:"working_length_ft,omitempty" twin:"working_length_m" range:"1 100"`
	Base          *quantity.Number  `json:"base_ft,omitempty" twin:"base_m" range:"0 100"`
	DutyType      string            `json:"duty_type,omitempty" oneof:"IAA IA I II III"`
	People        []quantity.Number `json:"people_lb,omitempty" twin:"people_kg" range:"0 1000"`
	Load          *quantity.Number  `json:"load_lb,omitempty" twin:"load_kg" range:"0 10000"`
	Length        *quantity.Number  `json:"length_ft,omitempty" twin:"length_m" range:"1 200"`
	Rungs         *int              `json:"rungs,omitempty" range:"1 200"`
	StandingRung  *int              `json:"standing_rung,omitempty" range:"0 200"`
	Wires         *int              `json:"wires,omitempty" range:"0 100"`
	WireGauge     *int              `json:"wire_gauge,omitempty" range:"0 40"`
	Sections      *int              `json:"sections,omitempty" range:"1 20"`
	SectionLength *quantity.Number  `json:"section_length_ft,omitempty" twin:"section_length_m" range:"0 100"`
	RungSpacing   *quantity.Number  `json:"rung_spacing_in,omitempty" twin:"rung_spacing_mm" range:"0 100"`
	RungLength    *quantity.Number  `json:"rung_length_in,omitempty" twin:"rung_length_mm" range:"0 100"`
	RatedLoad     *quantity.Number  `json:"rated_load_lb,omitempty" twin:"rated_load_kg" range:"0 10000"`
	ChainUltimate *quantity.Number  `json:"chain_ultimate_lb,omitempty" twin:"chain_ultimate_kg" range:"0 1000000"`
	Material      string            `json:"material,omitempty" oneof:"metal wood fiberglass"`
	Workers       *int              `json:"workers,omitempty" range:"0 100"`
}

// LiftLoad asks whether a lift may go up.
type LiftLoad struct {
	Head
	Rated       *quantity.Number  `json:"rated_lb,omitempty" twin:"rated_kg" range:"0 100000"`
	People      []quantity.Number `json:"people_lb,omitempty" twin:"people_kg" range:"0 1000"`
	Tools       *quantity.Number  `json:"tools_lb,omitempty" twin:"tools_kg" range:"0 100000"`
	Fruit       *quantity.Number  `json:"fruit_lb,omitempty" twin:"fruit_kg" range:"0 100000"`
	Attachments *quantity.Number  `json:"attachments_lb,omitempty" twin:"attachments_kg" range:"0 100000"`
	Wind        *quantity.Number  `json:"wind_mph,omitempty" twin:"wind_m_s" range:"0 250"`
	WindLimit   *quantity.Number  `json:"wind_limit_mph,omitempty" twin:"wind_limit_m_s" range:"0 250"`
	Slope       *quantity.Number  `json:"slope_deg,omitempty" range:"0 90"`
	SlopeLimit  *quantity.Number  `json:"slope_limit_deg,omitempty" range:"0 90"`
}

// IncidentRate asks how often people were hurt: all cases together, or by kind.
type IncidentRate struct {
	Head
	Cases      *int             `json:"cases,omitempty" range:"0 1000000"`
	Away       *int             `json:"away,omitempty" range:"0 1000000"`
	Restricted *int             `json:"restricted,omitempty" range:"0 1000000"`
	Other      *int             `json:"other,omitempty" range:"0 1000000"`
	Deaths     *int             `json:"deaths,omitempty" range:"0 1000000"`
	Hours      *quantity.Number `json:"hours" range:"1 10000000000"`
}

// Recordable asks whether an injury goes into the log.
type Recordable struct {
	Head
	Injury         string `json:"injury,omitempty"`
	Treatment      string `json:"treatment,omitempty"`
	DaysAway       *int   `json:"days_away,omitempty" range:"0 100000"`
	RestrictedDays *int   `json:"restricted_days,omitempty" range:"0 100000"`
	Unconscious    *bool  `json:"loss_of_consciousness,omitempty"`
	Death          *bool  `json:"death,omitempty"`
	Inpatient      *bool  `json:"inpatient,omitempty"`
	Amputation     *bool  `json:"amputation,omitempty"`
	EyeLoss        *bool  `json:"eye_loss,omitempty"`
	Disfigurement  *bool  `json:"disfigurement,omitempty"`
}

// Clearance asks whether a worker may go up this way today.
type Clearance struct {
	Rulebook       string          `json:"rulebook"`
	Workday        dated.Date      `json:"workday" twin:"on"`
	At             *time.Time      `json:"at,omitempty"`
	Operation      string          `json:"operation,omitempty"`
	CuttingTool    *bool           `json:"cutting_tool,omitempty"`
	Worker         *Worker         `json:"worker,omitempty"`
	Access         Access          `json:"access"`
	FallProtection *FallProtection `json:"fall_protection,omitempty"`
	Equipment      []Equipment     `json:"equipment,omitempty"`
	Checklist      *Checklist      `json:"checklist,omitempty"`
	Site           *Site           `json:"site,omitempty"`
	Crew           *Crew           `json:"crew,omitempty"`
	Weather        *Weather        `json:"weather,omitempty"`
	Overrides      []Override      `json:"overrides,omitempty"`
}

// Worker is who goes up.
type Worker struct {
	ID           string           `json:"id,omitempty"`
	BirthDate    *dated.Date      `json:"birth_date,omitempty"`
	Weight       *quantity.Number `json:"weight_lb,omitempty" twin:"weight_kg" range:"30 1000"`
	FirstWorkday *dated.Date      `json:"first_workday,omitempty"`
	LastWorkedOn *dated.Date      `json:"last_worked_on,omitempty"`
	SignOffs     []SignOff        `json:"sign_offs,omitempty"`
	Gear         []Gear           `json:"gear,omitempty"`
}

// SignOff is a training that somebody signed off.
type SignOff struct {
	Topic string     `json:"topic"`
	On    dated.Date `json:"on"`
}

// Gear is a thing that the worker wears or carries.
type Gear struct {
	Kind               string `json:"kind"`
	PunctureLevel      *int   `json:"puncture_level,omitempty" range:"0 5"`
	TetheredOrSheathed *bool  `json:"tethered_or_sheathed,omitempty"`
}

// Access is the way to the work. The height is that of the worker's feet on the day's tallest palm.
type Access struct {
	Way    string           `json:"way"`
	Height *quantity.Number `json:"height_ft,omitempty" twin:"height_m" range:"0 200"`
	Others *int             `json:"others_on_palm,omitempty" range:"0 100"`
	Ladder *Ladder          `json:"ladder,omitempty"`
	Lift   *Lift            `json:"lift,omitempty"`
}

// Lift is a lift as it stands under the palm.
type Lift struct {
	Type           string            `json:"type,omitempty" oneof:"boom scissor orchard_tower forklift_basket"`
	Rated          *quantity.Number  `json:"rated_lb,omitempty" twin:"rated_kg" range:"0 100000"`
	People         []quantity.Number `json:"people_lb,omitempty" twin:"people_kg" range:"0 1000"`
	Tools          *quantity.Number  `json:"tools_lb,omitempty" twin:"tools_kg" range:"0 100000"`
	Fruit          *quantity.Number  `json:"fruit_lb,omitempty" twin:"fruit_kg" range:"0 100000"`
	WindLimit      *quantity.Number  `json:"wind_limit_mph,omitempty" twin:"wind_limit_m_s" range:"0 250"`
	Slope          *quantity.Number  `json:"slope_deg,omitempty" range:"0 90"`
	SlopeLimit     *quantity.Number  `json:"slope_limit_deg,omitempty" range:"0 90"`
	SurfaceOK      *bool             `json:"surface_ok,omitempty"`
	OutriggersSet  Outriggers        `json:"outriggers_set,omitzero"`
	TiedTo         string            `json:"tied_to,omitempty" oneof:"boom palm none"`
	RestingOnPalm  *bool             `json:"resting_on_palm,omitempty"`
	MovingElevated *bool             `json:"moving_elevated,omitempty"`
}

// FallProtection is what holds the worker.
type FallProtection struct {
	System         string           `json:"system,omitempty" oneof:"none arrest restraint positioning lift_tie_off"`
	Body           string           `json:"body,omitempty" oneof:"none belt harness belt_and_harness"`
	Saddle         *bool            `json:"saddle,omitempty"`
	Lanyard        string           `json:"lanyard,omitempty" oneof:"synthetic wire_rope chain"`
	ChainUltimate  *quantity.Number `json:"chain_ultimate_lb,omitempty" twin:"chain_ultimate_kg" range:"0 1000000"`
	WorkingLoad    *quantity.Number `json:"working_load_lb,omitempty" twin:"working_load_kg" range:"1 100000"`
	FreeFall       *quantity.Number `json:"free_fall_ft,omitempty" twin:"free_fall_m" range:"0 100"`
	Anchor         string           `json:"anchor,omitempty" oneof:"trunk crown structure boom"`
	AnchorJudgedBy string           `json:"anchor_judged_by,omitempty"`
	AnchorLb       *quantity.Number `json:"anchor_lb,omitempty" twin:"anchor_kg" range:"0 1000000"`
	Clearance      *Fall            `json:"clearance,omitempty"`
}

// Equipment is a piece of equipment with its last inspections.
type Equipment struct {
	ID           string      `json:"id,omitempty"`
	Kind         string      `json:"kind"`
	InService    *bool       `json:"in_service,omitempty"`
	PreUseOn     *dated.Date `json:"pre_use_on,omitempty"`
	PeriodicOn   *dated.Date `json:"periodic_on,omitempty"`
	ImpactLoaded *bool       `json:"impact_loaded,omitempty"`
	ReturnedBy   string      `json:"returned_by,omitempty"`
}

// Checklist is what came of the way's checklist.
type Checklist struct {
	Passed *bool       `json:"passed,omitempty"`
	By     string      `json:"by,omitempty"`
	On     *dated.Date `json:"on,omitempty"`
}

// Site is the place and what may come down on it.
type Site struct {
	PowerLine       *quantity.Number `json:"power_line_ft,omitempty" twin:"power_line_m" range:"0 100000"`
	EntryRestricted Restriction      `json:"entry_restricted_until,omitzero"`
	Gust            *quantity.Number `json:"gust_mph,omitempty" twin:"gust_m_s" range:"0 250"`
	Lightning       *bool            `json:"lightning,omitempty"`
	Dark            *bool            `json:"dark,omitempty"`
	Bees            *bool            `json:"bees,omitempty"`
	Wet             *bool            `json:"wet,omitempty"`
	PeopleBelow     *bool            `json:"people_below,omitempty"`
}

// Crew is who would help.
type Crew struct {
	GroundPerson *bool  `json:"ground_person,omitempty"`
	ReachBy      string `json:"reach_by,omitempty"` // such as radio, or none
	RescuePlan   *bool  `json:"rescue_plan,omitempty"`
}

// Weather is the air and what is ready for the heat.
type Weather struct {
	Temperature  *quantity.Number `json:"temperature_f,omitempty" twin:"temperature_c" range:"-60 150"`
	ForecastHigh *quantity.Number `json:"forecast_high_f,omitempty" twin:"forecast_high_c" range:"-60 150"`
	ShadeUp      *bool            `json:"shade_up,omitempty"`
	WaterReady   *bool            `json:"water_ready,omitempty"`
	HighHeatPlan *bool            `json:"high_heat_plan,omitempty"`
}

// Override is a competent person's word that a rule of the house may be set aside today.
type Override struct {
	Code   string     `json:"code"`
	By     string     `json:"by,omitempty"`
	Reason string     `json:"reason,omitempty"`
	At     *time.Time `json:"at,omitempty"`
}
