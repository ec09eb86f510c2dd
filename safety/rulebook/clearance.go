package rulebook

import (
	"maps"
	"slices"

	"palmero/payroll/dated"
)

// Clearance is the table of what each way up needs.
type Clearance struct {
	Facts     map[string][]Facts // groups by name
	Ways      map[string]*Way
	Equipment map[string]*Equipment
	Topics    map[string]*Topic
}

// Facts are facts of a document, by JSON pointer, that are asked for when all of the conditions hold.
type Facts struct {
	Pointers []string
	When     []Condition
	dated.Basis
}

// Condition is a circumstance in which something is asked for.
type Condition string

// The conditions. Those on the height, on what is worn and on the ladder are met as well where the fact itself is unknown.
const (
	Above       Condition = "above"       // higher than where fall protection begins
	Cutting     Condition = "cutting"     // a cutting tool is in use
	Arrest      Condition = "arrest"      // the system of fall protection
	Positioning Condition = "positioning" //
	Restraint   Condition = "restraint"   //
	Chain       Condition = "chain"       // the lanyard is a chain
	Boom        Condition = "boom"        // the lift is a boom lift
	Leaning     Condition = "leaning"     // the ladder leans on the palm: single or extension
	Extension   Condition = "extension"   // the ladder is an extension ladder
	Treated     Condition = "treated"     // an entry restriction ended not long ago
	Returning   Condition = "returning"   // today is not the worker's first day
)

// Conditions lists them all.
func Conditions() []Condition {
	return []Condition{Above, Cutting, Arrest, Positioning, Restraint, Chain, Boom, Leaning, Extension, Treated, Returning}
}

// Way is a way to reach the work.
type Way struct {
	Aloft     bool     // leaves the ground
	Facts     []string // groups
	Equipment []string // kinds of which one at least is there
	Topics    []string
	Checklist string
}

// Equipment is a kind of equipment and how often it is looked over. A nil inspection is not asked for.
type Equipment struct {
	When     []Condition // in which it is asked for
	Required Rule
	PreUse   *Rule
	Periodic *Periodic
}

// Periodic is an inspection that comes again after some months.
type Periodic struct {
	Months int
	Rule
}

// Topic is something that people are trained in.
type Topic struct {
	When    []Condition
	Missing Rule
	Expires *Periodic // nil: does not expire
	Record  Record
}

// Record is what the record of a training must carry, and how long it is kept.
type Record struct {
	Carries    []string // such as "trainer"
	KeepMonths int      // 0: the latest is kept, for as long as it stands
	dated.Basis
}

// Carries lists what a record of training can be asked to carry.
func Carries() []string {
	return []string{"worker", "held_on", "topic", "trainer", "qualification", "language", "understanding", "detail", "acknowledgement", "through_date"}
}

// WayNames lists the ways in alphabetical order.
func (c *Clearance) WayNames() []string { return slices.Sorted(maps.Keys(c.Ways)) }

func readClearance(n dated.Node, sources *dated.Sources) *Clearance {
	f := n.Fields([]string{"facts", "ways", "equipment", "topics"})
	c := &Clearance{Facts: map[string][]Facts{}, Ways: map[string]*Way{}, Equipment: map[string]*Equipment{}, Topics: map[string]*Topic{}}
	for _, group := range f["facts"].Entries() {
		for _, item := range group.Items() {
			c.Facts[group.Key] = append(c.Facts[group.Key], readFacts(item, sources))
		}
	}
	for _, e := range f["equipment"].Entries() {
		c.Equipment[e.Key] = readEquipment(e.Node, sources)
	}
	for _, e := range f["topics"].Entries() {
		c.Topics[e.Key] = readTopic(e.Node, sources)
	}
	for _, e := range f["ways"].Entries() {
		c.Ways[e.Key] = c.readWay(e.Node)
	}
	return c
}

func readFacts(n dated.Node, sources *dated.Sources) Facts {
	f := n.Fields(append([]string{"facts"}, dated.BasisKeys...), "when")
	return Facts{readWords(f["facts"]), readConditions(f), sources.Basis(f)}
}

func readConditions(f dated.Fields) (all []Condition) {
	if !f.Has("when") {
		return nil
	}
	var words []string
	for _, c := range Conditions() {
		words = append(words, string(c))
	}
	for _, item := range f["when"].Items() {
		all = append(all, Condition(item.Word(words...)))
	}
	return all
}

func readEquipment(n dated.Node, sources *dated.Sources) *Equipment {
	f := n.Fields([]string{"required"}, "when", "pre_use", "periodic")
	e := &Equipment{When: readConditions(f), Required: readRule(f["required"], sources)}
	if f.Has("pre_use") {
		e.PreUse = new(readRule(f["pre_use"], sources))
	}
	if f.Has("periodic") {
		e.Periodic = readPeriodic(f["periodic"], sources)
	}
	return e
}

func readTopic(n dated.Node, sources *dated.Sources) *Topic {
	f := n.Fields([]string{"missing", "record"}, "when", "expires")
	t := &Topic{When: readConditions(f), Missing: readRule(f["missing"], sources), Record: readRecord(f["record"], sources)}
	if f.Has("expires") {
		t.Expires = readPeriodic(f["expires"], sources)
	}
	return t
}

func readRecord(n dated.Node, sources *dated.Sources) Record {
	f := n.Fields(append([]string{"carries"}, dated.BasisKeys...), "keep_months")
	r := Record{Basis: sources.Basis(f)}
	for _, item := range f["carries"].Items() {
		r.Carries = append(r.Carries, item.Word(Carries()...))
	}
	if f.Has("keep_months") {
		r.KeepMonths = f["keep_months"].Int(1)
	}
	return r
}

func readPeriodic(n dated.Node, sources *dated.Sources) *Periodic {
	f := n.Fields(append([]string{"months", "class"}, dated.BasisKeys...))
	return &Periodic{f["months"].Int(1), Rule{readClass(f["class"]), sources.Basis(f)}}
}

func (c *Clearance) readWay(n dated.Node) *Way {
	f := n.Fields([]string{"place", "facts", "topics", "checklist"}, "equipment")
	w := &Way{Aloft: f["place"].Word("aloft", "ground") == "aloft", Checklist: f["checklist"].Text()}
	w.Facts = readNames(f["facts"], c.Facts)
	w.Topics = readNames(f["topics"], c.Topics)
	if f.Has("equipment") {
		w.Equipment = readNames(f["equipment"], c.Equipment)
	}
	return w
}

// readNames reads a list of names, each of something that the table holds.
func readNames[T any](n dated.Node, known map[string]T) (names []string) {
	for _, item := range n.Items() {
		name := item.Text()
		if _, ok := known[name]; !ok && name != "" {
			item.Report("names %q, which the table does not hold; add it", name)
		}
		names = append(names, name)
	}
	return names
}
