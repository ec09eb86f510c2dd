package safety

import (
	"slices"

	"palmero/safety/quantity"
)

// Ratings are what a plate, a manual or a tape measure says of a piece of equipment: those facts of a clearance that stay the same from day to day, in the units
// and within the ranges of the documents. Which part a kind of equipment has, Check knows.
type Ratings struct {
	Ladder  *RatedLadder  `json:"ladder,omitempty"`
	Lift    *RatedLift    `json:"lift,omitempty"`
	Lanyard *RatedLanyard `json:"lanyard,omitempty"`
	Anchor  *RatedAnchor  `json:"anchor,omitempty"`
}

// RatedLadder is a ladder of either way up.
type RatedLadder struct {
	Kind          string           `json:"kind,omitempty" oneof:"single extension stepladder orchard attached"`
	DutyType      string           `json:"duty_type,omitempty" oneof:"IAA IA I II III"`
	Length        *quantity.Number `json:"length_ft,omitempty" twin:"length_m" range:"1 200"`
	Rungs         *int             `json:"rungs,omitempty" range:"1 200"`
	Wires         *int             `json:"wires,omitempty" range:"0 100"`
	WireGauge     *int             `json:"wire_gauge,omitempty" range:"0 40"`
	Sections      *int             `json:"sections,omitempty" range:"1 20"`
	SectionLength *quantity.Number `json:"section_length_ft,omitempty" twin:"section_length_m" range:"0 100"`
	RungSpacing   *quantity.Number `json:"rung_spacing_in,omitempty" twin:"rung_spacing_mm" range:"0 100"`
	RungLength    *quantity.Number `json:"rung_length_in,omitempty" twin:"rung_length_mm" range:"0 100"`
	RatedLoad     *quantity.Number `json:"rated_load_lb,omitempty" twin:"rated_load_kg" range:"0 10000"`
	ChainUltimate *quantity.Number `json:"chain_ultimate_lb,omitempty" twin:"chain_ultimate_kg" range:"0 1000000"`
	Material      string           `json:"material,omitempty" oneof:"metal wood fiberglass"`
}

// RatedLift is a lift by its plate.
type RatedLift struct {
	Type       string           `json:"type,omitempty" oneof:"boom scissor orchard_tower forklift_basket"`
	Rated      *quantity.Number `json:"rated_lb,omitempty" twin:"rated_kg" range:"0 100000"`
	WindLimit  *quantity.Number `json:"wind_limit_mph,omitempty" twin:"wind_limit_m_s" range:"0 250"`
	SlopeLimit *quantity.Number `json:"slope_limit_deg,omitempty" range:"0 90"`
}

// RatedLanyard is what ties somebody to an anchor.
type RatedLanyard struct {
	Kind          string           `json:"lanyard,omitempty" oneof:"synthetic wire_rope chain"`
	Length        *quantity.Number `json:"lanyard_ft,omitempty" twin:"lanyard_m" range:"0 100"`
	ChainUltimate *quantity.Number `json:"chain_ultimate_lb,omitempty" twin:"chain_ultimate_kg" range:"0 1000000"`
	WorkingLoad   *quantity.Number `json:"working_load_lb,omitempty" twin:"working_load_kg" range:"1 100000"`
}

// RatedAnchor is what a lanyard is tied to, as a competent person judged it.
type RatedAnchor struct {
	Anchor   string           `json:"anchor,omitempty" oneof:"trunk crown structure boom"`
	JudgedBy string           `json:"anchor_judged_by,omitempty"`
	Holds    *quantity.Number `json:"anchor_lb,omitempty" twin:"anchor_kg" range:"0 1000000"`
}

// ratedParts says which kinds of equipment have a part of the ratings.
var ratedParts = []struct {
	name  string
	there func(r *Ratings) bool
	kinds []string
}{
	{"ladder", func(r *Ratings) bool { return r.Ladder != nil }, []string{"portable_ladder", "attached_ladder"}},
	{"lift", func(r *Ratings) bool { return r.Lift != nil }, []string{"lift"}},
	{"lanyard", func(r *Ratings) bool { return r.Lanyard != nil }, []string{"lanyard", "climbing_gear"}},
	{"anchor", func(r *Ratings) bool { return r.Anchor != nil }, []string{"anchor"}},
}

// Check finds everything in the ratings of a kind of equipment that cannot be: quantities out of their range, words that are none of the list, parts that the
// kind does not have, a ladder of the other way up.
func (r Ratings) Check(kind string) []Fault {
	faults := check(&r)
	for _, part := range ratedParts {
		if part.there(&r) && !slices.Contains(part.kinds, kind) {
			faults = append(faults, Fault{"/" + part.name, "fault.rating_of_kind", Terms{"part": part.name, "kind": kind}})
		}
	}
	if l := r.Ladder; l != nil && l.Kind != "" && (l.Kind == "attached") != (kind == "attached_ladder") {
		faults = append(faults, Fault{"/ladder/kind", "fault.ladder_of_way", Terms{"kind": l.Kind, "way": kind}})
	}
	return faults
}

// ladder returns the ladder as a clearance wants it; nothing of the day is in it yet.
func (r Ratings) ladder() *Ladder {
	l := r.Ladder
	if l == nil {
		return nil
	}
	return &Ladder{
		Kind: l.Kind, DutyType: l.DutyType, Length: l.Length, Rungs: l.Rungs, Wires: l.Wires, WireGauge: l.WireGauge, Sections: l.Sections, SectionLength: l.SectionLength,
		RungSpacing: l.RungSpacing, RungLength: l.RungLength, RatedLoad: l.RatedLoad, ChainUltimate: l.ChainUltimate, Material: l.Material,
	}
}

// Into fills what the ratings know into the parts of a clearance; what the day brings stays to be filled in.
func (r Ratings) Into(access *Access, hold *FallProtection) {
	if r.Ladder != nil {
		access.Ladder = r.ladder()
	}
	if l := r.Lift; l != nil {
		access.Lift = &Lift{Type: l.Type, Rated: l.Rated, WindLimit: l.WindLimit, SlopeLimit: l.SlopeLimit}
	}
	if l := r.Lanyard; l != nil {
		hold.Lanyard, hold.ChainUltimate, hold.WorkingLoad = l.Kind, l.ChainUltimate, l.WorkingLoad
		if l.Length != nil {
			fill(&hold.Clearance)
			hold.Clearance.Lanyard = l.Length
		}
	}
	if a := r.Anchor; a != nil {
		hold.Anchor, hold.AnchorJudgedBy, hold.AnchorLb = a.Anchor, a.JudgedBy, a.Holds
	}
}
