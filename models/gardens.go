package models

import (
	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// Garden is a date garden: a place with a time zone and the rulebook that governs work in it.
type Garden = Kept[GardenContent]

// GardenContent is what is set of a garden.
type GardenContent struct {
	Number   int64  `json:"number,omitempty"`
	Name     string `json:"name"`
	TimeZone string `json:"time_zone"` // IANA name
	Rulebook string `json:"rulebook"`  // key of the rulebook, such as "us-ca"
	// The grower who engaged the employer, where the employer is a farm labor contractor.
	EngagingEntity        string `json:"engaging_entity,omitempty"`
	EngagingEntityAddress string `json:"engaging_entity_address,omitempty"`
}

func (*GardenContent) table() string      { return "gardens" }
func (g *GardenContent) numberIn() *int64 { return &g.Number }

func (g *GardenContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Range("/number", g.Number, 0, maxNumber)
	c.Text("/name", &g.Name, shortText)
	c.Zone("/time_zone", g.TimeZone)
	c.Text("/rulebook", &g.Rulebook, shortText)
	c.OptionalText("/engaging_entity", &g.EngagingEntity, longText)
	c.OptionalText("/engaging_entity_address", &g.EngagingEntityAddress, longText)
	return c.Done()
}

func (g *GardenContent) keep(old *GardenContent) { keepNumber(&g.Number, old.Number) }

// maxNumber is the highest short number: more digits than that nobody calls across a garden.
const maxNumber = 999_999

// keepNumber leaves a record its short number where an update names none.
func keepNumber(n *int64, old int64) {
	if *n == 0 {
		*n = old
	}
}

// Block is a part of a garden planted with one variety.
type Block = Kept[BlockContent]

// BlockContent is what is set of a block.
type BlockContent struct {
	GardenID  uuid.UUID `json:"garden_id"`
	Code      string    `json:"code"` // as painted on its first palm, such as "B-07"
	Variety   string    `json:"variety"`
	Palms     int64     `json:"palms"`
	TallestCM int64     `gorm:"column:tallest_cm" json:"tallest_cm"` // height of the tallest palm, to the crown
	// Bunches expected on one palm, so that progress can be told against what there is to do; 0 where nobody has said.
	BunchesPerPalm int64 `json:"bunches_per_palm,omitempty"`
	Ending
}

// Ending is the last day on which there is work in a block or at an operation: its palms were uprooted then, a lease ended, nobody does it any more. From the next day on it is not offered for
// work, and what is recorded there all the same is paid and asked about. All that was recorded stays.
type Ending struct {
	EndedOn Date `json:"ended_on,omitempty,omitzero"` // the zero date: it goes on
}

// InUse tells whether there may be work on a day.
func (e Ending) InUse(day dated.Date) bool { return e.EndedOn.IsZero() || !day.After(e.EndedOn.Date) }

func (e Ending) checkEnding(c *Checker) {
	if !e.EndedOn.IsZero() {
		c.Planned("/ended_on", e.EndedOn.Date)
	}
}

func (*BlockContent) table() string { return "blocks" }

func (b *BlockContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/garden_id", "gardens", b.GardenID)
	c.Text("/code", &b.Code, shortText)
	c.Text("/variety", &b.Variety, shortText)
	c.Range("/palms", b.Palms, 1, 1_000_000)
	c.Range("/tallest_cm", b.TallestCM, 1, 4_000)
	c.Range("/bunches_per_palm", b.BunchesPerPalm, 0, 100)
	b.checkEnding(c)
	return c.Done()
}

// Operation is a kind of hand work, with the unit in which it is counted.
type Operation = Kept[OperationContent]

// OperationContent is what is set of an operation.
type OperationContent struct {
	Code       string         `json:"code"`        // such as "pollination"
	Unit       string         `json:"unit"`        // such as "bunch" or "palm"
	DailyLimit payroll.Pieces `json:"daily_limit"` // what one worker can do in a day at the most; above it a count is looked at
	Ending
}

func (*OperationContent) table() string { return "operations" }

func (o *OperationContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Text("/code", &o.Code, shortText)
	c.Text("/unit", &o.Unit, shortText)
	if o.DailyLimit <= 0 {
		c.Fault("/daily_limit", "fault.not_positive", nil)
	}
	o.checkEnding(c)
	return c.Done()
}
