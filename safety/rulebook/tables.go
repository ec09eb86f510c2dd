package rulebook

import (
	"slices"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// Class says whether a rule is the law's or the employer's own.
type Class string

// The classes: nobody may override the law; a competent person may override the house's own rule, for a day.
const (
	Law   Class = "law"
	House Class = "house"
)

// Rule is what a reason rests on.
type Rule struct {
	Class Class
	dated.Basis
}

// Length is how long a ladder of a kind may be.
type Length struct {
	Kind, Material string // Material "": any
	Sections       int    // 0: any
	Most           quantity.Number
}

// Duty is something that is owed to people who work in the heat.
type Duty struct {
	Name   string
	From   *quantity.Number // of the air temperature in °F from which it is owed; nil with Over nil: always
	Over   *quantity.Number // or above which
	Source dated.Basis
}

// Due tells whether the duty is owed at an air temperature.
func (d *Duty) Due(temperature quantity.Number) bool {
	return (d.From == nil || !temperature.Under(*d.From)) && (d.Over == nil || temperature.Over(*d.Over))
}

// DutyRatings returns what each duty type of a ladder carries, in pounds.
func (b *Book) DutyRatings(day dated.Date) (*dated.Value[map[string]quantity.Number], error) {
	return b.duty.On(day)
}

// LadderLengths returns how long ladders may be.
func (b *Book) LadderLengths(day dated.Date) (*dated.Value[[]Length], error) {
	return b.lengths.On(day)
}

// HeatDuties returns what is owed in the heat.
func (b *Book) HeatDuties(day dated.Date) (*dated.Value[[]Duty], error) { return b.heat.On(day) }

// FirstAid lists the treatments that are no more than first aid.
func (b *Book) FirstAid(day dated.Date) (*dated.Value[[]string], error) { return b.firstAid.On(day) }

// PunctureLevels returns the lower limits of the puncture levels of gloves from 1 up, in newtons.
func (b *Book) PunctureLevels(day dated.Date) (*dated.Value[[]quantity.Number], error) {
	return b.puncture.On(day)
}

// Reasons returns what each reason rests on, by its code, or by code and way as in "storm.lift".
func (b *Book) Reasons(day dated.Date) (*dated.Value[map[string]Rule], error) {
	return b.reasons.On(day)
}

// Clearance returns what each way up needs.
func (b *Book) Clearance(day dated.Date) (*dated.Value[*Clearance], error) {
	return b.clearance.On(day)
}

func (b *Book) readTables(n dated.Node, sources *dated.Sources) {
	f := n.Fields([]string{"duty_ratings", "ladder_lengths", "heat_duties", "first_aid", "puncture_levels", "reasons", "clearance"})
	b.duty = dated.ReadSeries(f["duty_ratings"], b.key, "duty_ratings", sources, readRatings)
	b.lengths = dated.ReadSeries(f["ladder_lengths"], b.key, "ladder_lengths", sources, readLengths)
	b.firstAid = dated.ReadSeries(f["first_aid"], b.key, "first_aid", sources, readWords)
	b.puncture = dated.ReadSeries(f["puncture_levels"], b.key, "puncture_levels", sources, readLevels)
	b.heat = dated.ReadSeries(f["heat_duties"], b.key, "heat_duties", sources, func(n dated.Node) (all []Duty) {
		for _, item := range n.Items() {
			all = append(all, readDuty(item, sources))
		}
		return all
	})
	b.reasons = dated.ReadSeries(f["reasons"], b.key, "reasons", sources, func(n dated.Node) map[string]Rule {
		rules := map[string]Rule{}
		for _, e := range n.Entries() {
			rules[e.Key] = readRule(e.Node, sources)
		}
		return rules
	})
	b.clearance = dated.ReadSeries(f["clearance"], b.key, "clearance", sources, func(n dated.Node) *Clearance { return readClearance(n, sources) })
}

func readRule(n dated.Node, sources *dated.Sources) Rule {
	f := n.Fields(append([]string{"class"}, dated.BasisKeys...))
	return Rule{readClass(f["class"]), sources.Basis(f)}
}

func readClass(n dated.Node) Class { return Class(n.Word(string(Law), string(House))) }

func readRatings(n dated.Node) map[string]quantity.Number {
	ratings := map[string]quantity.Number{}
	for name, node := range n.Fields([]string{"IAA", "IA", "I", "II", "III"}) {
		ratings[name] = readNumber(node)
	}
	return ratings
}

func readLengths(n dated.Node) (all []Length) {
	for _, item := range n.Items() {
		f := item.Fields([]string{"kind", "most_ft"}, "material", "sections")
		l := Length{Kind: f["kind"].Word("single", "extension", "stepladder", "orchard"), Most: readNumber(f["most_ft"])}
		if f.Has("material") {
			l.Material = f["material"].Word("metal", "wood", "fiberglass")
		}
		if f.Has("sections") {
			l.Sections = f["sections"].Int(1)
		}
		all = append(all, l)
	}
	return all
}

func readDuty(n dated.Node, sources *dated.Sources) Duty {
	f := n.Fields(append([]string{"duty"}, dated.BasisKeys...), "from_f", "over_f")
	d := Duty{Name: f["duty"].Word("water", "shade", "high_heat_plan", "observation", "cool_down"), Source: sources.Basis(f)}
	if f.Has("from_f") {
		d.From = new(readNumber(f["from_f"]))
	}
	if f.Has("over_f") {
		d.Over = new(readNumber(f["over_f"]))
	}
	return d
}

func readWords(n dated.Node) (words []string) {
	for _, item := range n.Items() {
		words = append(words, item.Text())
	}
	return words
}

func readLevels(n dated.Node) (levels []quantity.Number) {
	for _, item := range n.Items() {
		levels = append(levels, readNumber(item))
		if last := len(levels) - 1; last > 0 && !levels[last].Over(levels[last-1]) {
			item.Report("does not exceed the level before; list them upwards")
		}
	}
	return levels
}

// Ways lists the ways up that the book has known on any day, in alphabetical order.
func (b *Book) Ways() []string {
	var all []string
	for _, v := range b.clearance.Values {
		all = append(all, v.Value.WayNames()...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}
