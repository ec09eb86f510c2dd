package models

import (
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
)

// Palm is one palm of a block: a bad one among three hundred must be findable.
type Palm = Kept[PalmContent]

// PalmContent is what is set of a palm. Whether it is to be avoided follows from its events.
type PalmContent struct {
	BlockID   uuid.UUID  `json:"block_id"`
	Label     string     `json:"label"` // row and number as the farm writes them, such as "3-12"; unique in the block
	AvoidedBy *uuid.UUID `json:"-"`     // the event for which nobody goes up; nil: in use
}

func (*PalmContent) table() string { return "palms" }

func (p *PalmContent) keep(old *PalmContent) { p.AvoidedBy = old.AvoidedBy }

func (p *PalmContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/block_id", "blocks", p.BlockID)
	c.Text("/label", &p.Label, PalmLabel)
	return c.Done()
}

// PalmLabel is how long a palm's label may be, in characters.
const PalmLabel = 20

// PalmRange is a stretch of a block's palms that was taken into the register at once.
type PalmRange struct {
	Keyed
	BlockID    uuid.UUID `json:"block_id"`
	Prefix     string    `json:"prefix"` // what stands before the number, such as "3-"
	First      int64     `gorm:"column:first_no" json:"first"`
	Last       int64     `gorm:"column:last_no" json:"last"`
	Digits     int64     `json:"digits"` // the number is filled up with zeros to so many digits; 0: not at all
	RecordedAt time.Time `json:"recorded_at"`
	RecordedBy uuid.UUID `json:"recorded_by"`
}

// TableName tells gorm the table.
func (PalmRange) TableName() string { return "palm_ranges" }

// PalmEvent is a word on a palm: that nobody is to go up, or that it is in use again. It is never changed.
type PalmEvent struct {
	Keyed
	PalmID     uuid.UUID     `json:"palm_id"`
	Kind       PalmEventKind `json:"kind"`
	Reason     PalmReason    `json:"reason,omitempty"` // why it is to be avoided
	Note       string        `json:"note"`
	Person     string        `json:"competent_person,omitempty"` // who put it back in use
	HappenedAt time.Time     `json:"happened_at"`                // by the clock of the device
	ReceivedAt time.Time     `json:"received_at"`
	RecordedBy uuid.UUID     `json:"recorded_by"`
}

// TableName tells gorm the table.
func (PalmEvent) TableName() string { return "palm_events" }

// PalmEventKind says what a word on a palm does.
type PalmEventKind string

// The kinds of palm events.
const (
	PalmAvoid     PalmEventKind = "avoid"
	PalmBackInUse PalmEventKind = "back_in_use"
)

// PalmReason is why a palm is to be avoided.
type PalmReason string

// PalmReasons lists why a palm is to be avoided. The last wants a note.
var PalmReasons = []PalmReason{"bees", "loose_fronds", "leaning", "rotten_trunk", "loose_roots", "ladder_fastening", "storm_damage", "power_line", "animals", "other"}

// AvoidedPalms keeps the palms that are to be avoided, or with false the others.
func AvoidedPalms(avoided bool) Condition {
	if avoided {
		return Where("avoided_by IS NOT NULL")
	}
	return Where("avoided_by IS NULL")
}
