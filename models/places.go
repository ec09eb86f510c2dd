package models

import (
	"time"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
)

// EntryRestriction says until when a block that was treated may not be entered (40 CFR 170).
type EntryRestriction = Recorded[EntryRestrictionContent]

// EntryRestrictionContent says which block, what was put on it, and the interval that the label asks for. Moments are kept to the minute.
type EntryRestrictionContent struct {
	BlockID         uuid.UUID `json:"block_id"`
	Product         string    `json:"product"`
	RestrictedFrom  time.Time `json:"restricted_from"` // when the treatment began
	RestrictedUntil time.Time `json:"restricted_until"`
	IntervalHours   int64     `json:"interval_hours"` // the restricted-entry interval, which counts from the end of the treatment
	Source          string    `json:"source"`         // where the interval stands, such as the label's registration number
	PostedBy        string    `json:"posted_by"`
	Note            string    `json:"note,omitempty"`
}

func (*EntryRestrictionContent) table() string { return "entry_restrictions" }

// longestInterval is a year of hours: no label asks for more.
const longestInterval = 366 * 24

func (r *EntryRestrictionContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/block_id", "blocks", r.BlockID)
	c.Text("/product", &r.Product, shortText)
	c.Range("/interval_hours", r.IntervalHours, 0, longestInterval)
	c.Text("/source", &r.Source, shortText)
	c.Text("/posted_by", &r.PostedBy, shortText)
	c.OptionalText("/note", &r.Note, longText)
	ahead := tx.Now.AddDate(2, 0, 0)
	from, until := c.Moment("/restricted_from", &r.RestrictedFrom, ahead), c.Moment("/restricted_until", &r.RestrictedUntil, ahead)
	if from && until && r.RestrictedUntil.Sub(r.RestrictedFrom) < time.Duration(r.IntervalHours)*time.Hour {
		c.Fault("/restricted_until", "fault.interval_cut_short", payroll.Terms{"hours": int(r.IntervalHours)})
	}
	return c.Done()
}

// Moment wants a plausible moment, from 1990 through last, and cuts it down to the minute in UTC. It tells whether it is plausible.
func (c *Checker) Moment(pointer string, t *time.Time, last time.Time) bool {
	*t = t.UTC().Truncate(time.Minute)
	plausible := !dated.DateOf(*t).Before(earliest) && !t.After(last)
	if !plausible {
		c.Fault(pointer, "fault.moment_implausible", payroll.Terms{"last": last.UTC().Format(time.RFC3339)})
	}
	return plausible
}

// RestrictionsOf lists the entry restrictions that stand for some blocks and are in force at some moment from one instant through another.
func RestrictionsOf(tx *Tx, blocks []uuid.UUID, from, through time.Time) ([]EntryRestriction, error) {
	var all []EntryRestriction
	err := tx.DB().Scopes(tx.Among("block_id", blocks)).
		Where("superseded_by IS NULL AND restricted_until > ? AND restricted_from <= ?", from.UTC(), through.UTC()).Order("seq").Find(&all).Error
	return all, translate(err)
}

// RestrictedUntil tells, of some blocks, until when those may not be entered that may not be at an instant. A block that is not in the answer has no restriction on record.
func RestrictedUntil(tx *Tx, blocks []uuid.UUID, at time.Time) (map[uuid.UUID]time.Time, error) {
	all, err := RestrictionsOf(tx, blocks, at, at)
	until := map[uuid.UUID]time.Time{}
	for _, r := range all {
		if last := until[r.Content.BlockID]; r.Content.RestrictedUntil.After(last) {
			until[r.Content.BlockID] = r.Content.RestrictedUntil.UTC()
		}
	}
	return until, err
}

// RestrictedAt keeps the entry restrictions that are in force at an instant.
func RestrictedAt(at time.Time) Condition {
	return Where("restricted_from <= ? AND restricted_until > ?", at.UTC(), at.UTC())
}

// PowerLine is a line over or beside a block, or the word of somebody who looked that there is none.
type PowerLine = Kept[PowerLineContent]

// PowerLineContent is what is set of a line. Of kind "none" the distance is how far around the block was looked: no line is nearer.
type PowerLineContent struct {
	BlockID   uuid.UUID `json:"block_id"`
	Kind      string    `json:"kind"`                                                        // one of PowerLineKinds
	Volts     *int64    `json:"volts,omitempty"`                                             // nil: unknown
	Distance  Quantity  `gorm:"column:distance_ft" json:"distance_ft" twin:"distance_m"`     // from the nearest place where somebody or a tool can be
	Height    *Quantity `gorm:"column:height_ft" json:"height_ft,omitempty" twin:"height_m"` // of the lowest wire above the ground
	RemovedOn Date      `json:"removed_on,omitempty,omitzero"`                               // the first day without it
	Note      string    `json:"note,omitempty"`
}

// NoPowerLine is the kind of a record that somebody looked and found no line.
const NoPowerLine = "none"

// PowerLineKinds lists what a line can be.
var PowerLineKinds = []string{"overhead", "service_drop", "transmission", NoPowerLine}

func (*PowerLineContent) table() string { return "power_lines" }

func (l *PowerLineContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/block_id", "blocks", l.BlockID)
	c.OneOf("/kind", l.Kind, PowerLineKinds...)
	c.OptionalRange("/volts", l.Volts, 1, 1_000_000)
	c.Quantity("/distance_ft", &l.Distance, 0, 100_000)
	c.Quantity("/height_ft", l.Height, 0, 500)
	if !l.RemovedOn.IsZero() {
		c.Planned("/removed_on", l.RemovedOn.Date)
	}
	c.OptionalText("/note", &l.Note, longText)
	return c.Done()
}

// PowerLinesOn lists the lines at some blocks on a day.
func PowerLinesOn(tx *Tx, blocks []uuid.UUID, day dated.Date) ([]PowerLine, error) {
	var all []PowerLine
	err := tx.DB().Scopes(tx.Among("block_id", blocks)).Where("removed_on IS NULL OR removed_on > ?", Day(day)).Order("seq").Find(&all).Error
	return all, translate(err)
}

// NearestPowerLine tells how near the nearest line is to each of some blocks on a day, in feet; at a block where somebody looked and found none, that none is nearer
// than so much. A block that is not in the answer was never looked at: how near a line is there is unknown.
func NearestPowerLine(tx *Tx, blocks []uuid.UUID, day dated.Date) (map[uuid.UUID]Quantity, error) {
	all, err := PowerLinesOn(tx, blocks, day)
	nearest := map[uuid.UUID]Quantity{}
	for _, l := range all {
		known, ok := nearest[l.Content.BlockID]
		if !ok || l.Content.Distance.Under(known.Number) {
			nearest[l.Content.BlockID] = l.Content.Distance
		}
	}
	return nearest, err
}
