package safety

import (
	"reflect"

	"palmero/safety/quantity"
)

// Setup is how people go up on a day, as whoever leads them sees it: the facts of a clearance that neither the register of equipment nor another record knows. What is not
// given is unknown. Ranges are those of the documents.
type Setup struct {
	CuttingTool    *bool            `json:"cutting_tool,omitempty"`
	Height         *quantity.Number `json:"height_ft,omitempty" twin:"height_m" range:"0 200"` // of the feet on the tallest palm
	Others         *int             `json:"others_on_palm,omitempty" range:"0 100"`
	Heaviest       *quantity.Number `json:"heaviest_lb,omitempty" twin:"heaviest_kg" range:"30 1000"` // of those who go up, with what they wear and carry
	Ladder         *Ladder          `json:"ladder,omitempty"`
	Lift           *Lift            `json:"lift,omitempty"`
	FallProtection *FallProtection  `json:"fall_protection,omitempty"`
	Site           *SeenSite        `json:"site,omitempty"`
	Crew           *Crew            `json:"crew,omitempty"`
	Weather        *Weather         `json:"weather,omitempty"`
}

// SeenSite is the place as it looks. How near power lines are, and until when entry is restricted, stands in records of their own.
type SeenSite struct {
	EntryPosted *bool            `json:"entry_posted,omitempty"` // whether a sign forbids to enter
	Gust        *quantity.Number `json:"gust_mph,omitempty" twin:"gust_m_s" range:"0 250"`
	Lightning   *bool            `json:"lightning,omitempty"`
	Dark        *bool            `json:"dark,omitempty"`
	Bees        *bool            `json:"bees,omitempty"`
	Wet         *bool            `json:"wet,omitempty"`
	PeopleBelow *bool            `json:"people_below,omitempty"`
}

// Check finds everything in a setup that cannot be.
func (s *Setup) Check() []Fault { return check(s) }

// Passing are the parts of a setup that change within hours: what was seen of them long ago says nothing of now. Of a lift it is none.
func (s *Setup) forget() {
	if s.Site != nil {
		s.Site = &SeenSite{EntryPosted: s.Site.EntryPosted}
	}
	s.Weather = nil
}

// Into fills a clearance's document with what the lead saw; what the document knew already it knows better only where the setup is silent. Stale says that the setup was
// seen so long ago that its weather no longer counts.
func (s Setup) Into(c *Clearance, stale bool) {
	if stale {
		s.forget()
	}
	overlay(&c.CuttingTool, s.CuttingTool)
	overlay(&c.Access.Height, s.Height)
	overlay(&c.Access.Others, s.Others)
	overlay(&c.Access.Ladder, s.Ladder)
	overlay(&c.Access.Lift, s.Lift)
	overlay(&c.FallProtection, s.FallProtection)
	overlay(&c.Crew, s.Crew)
	overlay(&c.Weather, s.Weather)
	if w := s.Heaviest; w != nil {
		fill(&c.Worker)
		overlay(&c.Worker.Weight, w)
	}
	if seen := s.Site; seen != nil {
		overlay(&c.Site, &Site{Gust: seen.Gust, Lightning: seen.Lightning, Dark: seen.Dark, Bees: seen.Bees, Wet: seen.Wet, PeopleBelow: seen.PeopleBelow})
		s.posted(c.Site, c)
	}
}

// posted takes a sign that forbids entry for a restriction through the workday, and its absence for none, where no record says more.
func (s *Setup) posted(site *Site, c *Clearance) {
	switch posted := s.Site.EntryPosted; {
	case posted == nil:
	case *posted:
		site.EntryRestricted = Restriction{Known: true, Last: c.Workday}
	case !site.EntryRestricted.Known:
		site.EntryRestricted = Restriction{Known: true}
	}
}

// overlay puts what is known above over what is below: a fact over a fact, and within an object each fact on its own. Nothing above is changed by what comes later.
func overlay[T any](below **T, above *T) {
	if above == nil {
		return
	}
	v := reflect.ValueOf(above).Elem()
	if v.Kind() != reflect.Struct || v.Type() == reflect.TypeFor[quantity.Number]() || *below == nil {
		*below = new(*above)
		return
	}
	merged := **below
	into := reflect.ValueOf(&merged).Elem()
	for i := range v.NumField() {
		if !v.Field(i).IsZero() {
			into.Field(i).Set(v.Field(i))
		}
	}
	*below = &merged
}
