package models

import (
	"database/sql/driver"
	"fmt"

	"github.com/google/uuid"

	"palmero/payroll"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// The records of bunch checks: what is asked of a bunch at an operation, and samples of bunches that were looked at against it. How they are held against one another is
// the business of package bunches. They coach, and nothing that reckons pay reads them.

// WorkStandard says what is asked of a bunch at an operation from a day on. One in force is never edited: a later one takes its place from a day.
type WorkStandard = Recorded[WorkStandardContent]

// WorkStandardContent says at which operation, of which variety, from when, and what is asked, point by point.
type WorkStandardContent struct {
	OperationID uuid.UUID      `json:"operation_id"`
	Variety     string         `json:"variety,omitempty"` // "": every variety that has no standard of its own
	EffectiveOn Date           `json:"effective_on"`
	Withdrawn   bool           `json:"withdrawn,omitempty"` // from the day on this asks nothing; there are no points then
	Points      StandardPoints `json:"points,omitempty"`
}

func (*WorkStandardContent) table() string { return "work_standards" }

// StandardPoint is one thing that is asked of a bunch: that something is so, or a number between two others, both included.
type StandardPoint struct {
	Point  string    `json:"point"` // its key, such as "strands_kept", which it keeps in later standards
	NameEN string    `json:"name_en"`
	NameES string    `json:"name_es"`
	Kind   PointKind `json:"kind"`
	Unit   string    `json:"unit,omitempty"` // of a number: one of PointUnits
	Low    *Quantity `json:"low,omitempty"`  // nil: no lower bound
	High   *Quantity `json:"high,omitempty"` // nil: no upper bound
	Reason string    `json:"reason"`         // why it is asked, or by what source
}

// PointKind is how a point is answered.
type PointKind string

// The kinds of point. Of the first, yes is as asked.
const (
	YesNoPoint  PointKind = "yes_no"
	NumberPoint PointKind = "number"
)

// PointUnits lists the units of numbers. Lengths are shown in both inches and centimetres.
var PointUnits = []string{"strand", "percent", "in", "cm", "count"}

// Bounds of a standard and of a sample.
const (
	MostPoints  = 12
	MostBunches = 50
	mostOfPoint = 10_000
)

// StandardPoints are the points of a standard, kept as JSON.
type StandardPoints []StandardPoint

// Value writes JSON.
func (p StandardPoints) Value() (driver.Value, error) { return jsonText(p) }

// Scan reads JSON.
func (p *StandardPoints) Scan(v any) error { return readJSON(p, v) }

// GormDataType names the column type for gorm.
func (StandardPoints) GormDataType() string { return "text" }

// Find returns a point, nil where there is none of the key.
func (p StandardPoints) Find(key string) *StandardPoint {
	for i := range p {
		if p[i].Point == key {
			return &p[i]
		}
	}
	return nil
}

func (s *WorkStandardContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/operation_id", "operations", s.OperationID)
	c.OptionalText("/variety", &s.Variety, shortText)
	c.Planned("/effective_on", s.EffectiveOn.Date)
	switch n := len(s.Points); {
	case s.Withdrawn && n > 0:
		c.Fault("/points", "fault.points_withdrawn", nil)
	case !s.Withdrawn && n == 0:
		c.Fault("/points", "fault.points_needed", nil)
	case n > MostPoints:
		c.Fault("/points", "fault.too_many_items", payroll.Terms{"limit": MostPoints})
		return c.Done()
	}
	seen := map[string]bool{}
	for i := range s.Points {
		at := fmt.Sprintf("/points/%d", i)
		if key := s.Points[i].Point; seen[key] {
			c.Fault(at+"/point", "fault.listed_twice", payroll.Terms{"value": key})
		}
		seen[s.Points[i].Point] = true
		s.Points[i].check(c, at)
	}
	return c.Done()
}

func (p *StandardPoint) check(c *Checker, at string) {
	if !topicKey.MatchString(p.Point) {
		c.Fault(at+"/point", "fault.point_key", nil)
	}
	c.Text(at+"/name_en", &p.NameEN, shortText)
	c.Text(at+"/name_es", &p.NameES, shortText)
	c.Text(at+"/reason", &p.Reason, longText)
	c.OneOf(at+"/kind", string(p.Kind), string(YesNoPoint), string(NumberPoint))
	if p.Kind == YesNoPoint {
		if p.Unit != "" || p.Low != nil || p.High != nil {
			c.Fault(at+"/unit", "fault.yes_no_has_no_range", nil)
		}
		return
	}
	c.OneOf(at+"/unit", p.Unit, PointUnits...)
	if p.Low == nil && p.High == nil {
		c.Fault(at+"/low", "fault.range_needed", nil)
	}
	most := mostOf(p.Unit)
	c.Quantity(at+"/low", p.Low, 0, most)
	c.Quantity(at+"/high", p.High, 0, most)
	if p.Low != nil && p.High != nil && p.High.Under(p.Low.Number) {
		c.Fault(at+"/high", "fault.range_backwards", nil)
	}
}

func mostOf(unit string) int64 {
	if unit == "percent" {
		return 100
	}
	return mostOfPoint
}

// perInch is how many centimetres an inch has, by definition.
var perInch = quantity.Thousandths(2_540)

// Twin is a length in the other of inches and centimetres, with that unit; "" where the unit is none of length.
func Twin(n quantity.Number, unit string) (quantity.Number, string) {
	switch unit {
	case "in":
		return n.Times(perInch), "cm"
	case "cm":
		return n.Per(perInch), "in"
	}
	return n, ""
}

// BunchCheck is a sample of bunches that somebody looked at.
type BunchCheck = Recorded[BunchCheckContent]

// BunchCheckContent says against which standard, whose work, where, and what was seen of each bunch. The operation follows from the standard, and how many were as asked
// from the bunches.
type BunchCheckContent struct {
	StandardID  uuid.UUID      `json:"standard_id"`
	OperationID uuid.UUID      `json:"operation_id"`
	CrewID      uuid.UUID      `json:"crew_id"`
	WorkerID    *uuid.UUID     `json:"worker_id,omitempty"` // nil: the crew's, and nobody is named
	Workday     Date           `json:"workday"`
	BlockID     uuid.UUID      `json:"block_id"`
	PalmID      *uuid.UUID     `json:"palm_id,omitempty"`
	Bunches     SampledBunches `json:"bunches"`
	LookedAt    int64          `json:"looked_at"` // bunches
	AsAsked     int64          `json:"as_asked"`  // of those, the ones of which every point that was looked at is as asked
	Remark      string         `json:"remark,omitempty"`
}

func (*BunchCheckContent) table() string { return "bunch_checks" }

// SampledBunch is what was seen of one bunch. A point without a mark was not looked at.
type SampledBunch struct {
	Marks []BunchMark `json:"marks"`
}

// BunchMark is what was seen of one point: whether it is so, or a number in the point's unit.
type BunchMark struct {
	Point  string    `json:"point"`
	Yes    *bool     `json:"yes,omitempty"`
	Number *Quantity `json:"number,omitempty"`
}

// SampledBunches are the bunches of a sample, kept as JSON.
type SampledBunches []SampledBunch

// Value writes JSON.
func (b SampledBunches) Value() (driver.Value, error) { return jsonText(b) }

// Scan reads JSON.
func (b *SampledBunches) Scan(v any) error { return readJSON(b, v) }

// GormDataType names the column type for gorm.
func (SampledBunches) GormDataType() string { return "text" }

func (b *BunchCheckContent) check(tx *Tx, _ uuid.UUID) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	c.Reference("/standard_id", "work_standards", b.StandardID)
	c.Reference("/crew_id", "crews", b.CrewID)
	if b.WorkerID != nil {
		c.Reference("/worker_id", "workers", *b.WorkerID)
	}
	c.Day("/workday", b.Workday.Date)
	c.Reference("/block_id", "blocks", b.BlockID)
	if b.PalmID != nil {
		c.Reference("/palm_id", "palms", *b.PalmID)
	}
	c.OptionalText("/remark", &b.Remark, longText)
	if n := len(b.Bunches); n == 0 || n > MostBunches {
		c.Fault("/bunches", "fault.not_between", payroll.Terms{"low": 1, "high": MostBunches})
		return c.Done()
	}
	for i := range b.Bunches {
		if n := len(b.Bunches[i].Marks); n == 0 || n > MostPoints {
			c.Fault(fmt.Sprintf("/bunches/%d/marks", i), "fault.not_between", payroll.Terms{"low": 1, "high": MostPoints})
		}
	}
	return c.Done()
}

// CheckMarks returns what is wrong with the marks of a sample by its standard, and keeps numbers to the thousandth.
func (b *BunchCheckContent) CheckMarks(tx *Tx, points StandardPoints) ([]payroll.Fault, error) {
	c := NewChecker(tx)
	for i := range min(len(b.Bunches), MostBunches) {
		at := fmt.Sprintf("/bunches/%d/marks", i)
		seen := map[string]bool{}
		for j := range min(len(b.Bunches[i].Marks), MostPoints) {
			m := &b.Bunches[i].Marks[j]
			if seen[m.Point] {
				c.Fault(fmt.Sprintf("%s/%d/point", at, j), "fault.listed_twice", payroll.Terms{"value": m.Point})
			}
			seen[m.Point] = true
			m.check(c, fmt.Sprintf("%s/%d", at, j), points.Find(m.Point))
		}
	}
	return c.Done()
}

func (m *BunchMark) check(c *Checker, at string, p *StandardPoint) {
	switch {
	case p == nil:
		c.Fault(at+"/point", "fault.point_not_asked", payroll.Terms{"point": m.Point})
	case p.Kind == YesNoPoint && (m.Yes == nil || m.Number != nil):
		c.Fault(at+"/yes", "fault.point_yes_no", nil)
	case p.Kind == NumberPoint && (m.Number == nil || m.Yes != nil):
		c.Fault(at+"/number", "fault.point_number", nil)
	case p.Kind == NumberPoint:
		c.Quantity(at+"/number", m.Number, 0, mostOf(p.Unit))
	}
}

// BunchCheckPoint is what a check found of one point of its standard, added up over its bunches. It is never changed.
type BunchCheckPoint struct {
	EmployerID uuid.UUID `gorm:"primaryKey" json:"-"`
	CheckID    uuid.UUID `gorm:"primaryKey" json:"-"`
	No         int64     `gorm:"primaryKey" json:"-"`
	PointCount `gorm:"embedded"`
}

// TableName tells gorm the table.
func (BunchCheckPoint) TableName() string { return "bunch_check_points" }

// PointCount is of how many bunches a point was looked at, and how it was: as asked, or a number below or above what is asked. What is none of these was not so.
type PointCount struct {
	Point    string `json:"point"`
	LookedAt int64  `json:"looked_at"`
	AsAsked  int64  `json:"as_asked"`
	Under    int64  `json:"under"`
	Over     int64  `json:"over"`
}

// Not is of how many bunches the point was not so, without being a number.
func (p PointCount) Not() int64 { return p.LookedAt - p.AsAsked - p.Under - p.Over }

// Add adds counts of the same point.
func (p *PointCount) Add(other PointCount) {
	p.LookedAt += other.LookedAt
	p.AsAsked += other.AsAsked
	p.Under += other.Under
	p.Over += other.Over
}

// StandardOn keeps the work standards that are in force on a day: those that stand, the latest of its operation and variety, and no withdrawal.
func StandardOn(day dated.Date) Condition {
	return Where(`superseded_by IS NULL AND NOT withdrawn AND effective_on <= ? AND NOT EXISTS (SELECT 1 FROM work_standards later
		WHERE later.employer_id = work_standards.employer_id AND later.operation_id = work_standards.operation_id AND later.variety = work_standards.variety
		  AND later.superseded_by IS NULL AND later.effective_on <= ?
		  AND (later.effective_on > work_standards.effective_on OR later.effective_on = work_standards.effective_on AND later.seq > work_standards.seq))`, Day(day), Day(day))
}
