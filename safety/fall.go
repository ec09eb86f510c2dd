package safety

import (
	"math"

	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

func fallClearance(s *sum, in *FallClearance) *FallClearanceAnswer {
	f := s.fall(&in.Fall, "")
	if f == nil {
		return nil
	}
	a := &FallClearanceAnswer{FreeFall: f.free, Required: f.required, SwingDrop: f.swing}
	if in.Available != nil {
		a.Enough = new(!in.Available.Under(f.required))
	}
	s.base.Parts = append(s.base.Parts, f.parts...)
	if f.free.Over(s.limit(rulebook.ArrestFreeFall)) {
		s.note("free_fall_long", Terms{"limit": s.limit(rulebook.ArrestFreeFall)})
	}
	if in.Deceleration.Over(s.limit(rulebook.Deceleration)) {
		s.note("deceleration_long", Terms{"limit": s.limit(rulebook.Deceleration)})
	}
	if in.DRingHeight.Cmp(quantity.Number{}) == 0 {
		s.note("from_surface", nil)
	} else {
		s.note("from_anchor", nil)
	}
	a.Base = s.base
	return a
}

// drop is how far somebody would fall.
type drop struct {
	free, required quantity.Number
	swing          *quantity.Number
	parts          []Part
}

// fall adds up the room that a fall needs; nil where the document at a pointer does not say enough, which it notes as faults.
func (s *sum) fall(in *Fall, at string) *drop {
	before := len(s.faults)
	free := s.freeFall(in, at)
	for pointer, n := range map[string]*quantity.Number{"/deceleration_ft": in.Deceleration, "/shift_ft": in.Shift, "/d_ring_height_ft": in.DRingHeight} {
		if n == nil {
			s.fault(at+pointer, "fault.needed", nil)
		}
	}
	swing := s.swing(in, at)
	if len(s.faults) > before {
		return nil
	}
	margin := s.limit(rulebook.ClearanceMargin)
	if in.Margin != nil {
		margin = *in.Margin
	}
	d := &drop{free: free, swing: swing}
	add := func(name string, n *quantity.Number) {
		if n != nil {
			d.parts = append(d.parts, Part{name, *n, "ft"})
			d.required = d.required.Plus(*n)
		}
	}
	add("free_fall", &free)
	add("deceleration", in.Deceleration)
	add("shift", in.Shift)
	add("d_ring_height", in.DRingHeight)
	add("stretch", in.Stretch)
	add("swing_drop", swing)
	add("margin", &margin)
	return d
}

// freeFall is given, or is the lanyard less the height of its anchor above the D-ring, and never below zero.
func (s *sum) freeFall(in *Fall, at string) quantity.Number {
	switch byLanyard := in.Lanyard != nil && in.AnchorAbove != nil; {
	case in.FreeFall != nil && in.Lanyard == nil && in.AnchorAbove == nil:
		return *in.FreeFall
	case in.FreeFall == nil && byLanyard:
		return quantity.Max(in.Lanyard.Minus(*in.AnchorAbove), quantity.Number{})
	}
	s.fault(at+"/free_fall_ft", "fault.free_fall_ways", nil)
	return quantity.Number{}
}

// swing is how much deeper the bottom of the swing lies than the fall straight down, rounded up; nil where nothing is said of a swing.
func (s *sum) swing(in *Fall, at string) *quantity.Number {
	if in.SwingLine == nil && in.SwingOffset == nil {
		return nil
	}
	if in.SwingLine == nil || in.SwingOffset == nil {
		s.fault(at+"/swing_line_ft", "fault.swing_ways", nil)
		return nil
	}
	if in.SwingOffset.Over(*in.SwingLine) {
		s.fault(in.SwingOffset.Pointer(at+"/swing_offset_ft"), "fault.swing_offset", nil)
		return nil
	}
	line, offset := in.SwingLine.Float(), in.SwingOffset.Float()
	extra := line - math.Sqrt(line*line-offset*offset)
	return new(quantity.Near(math.Ceil(extra*1e6-1e-3)/1e6, 6))
}
