package plot

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
)

// Curve is a row of values, one over each label: a full one with full dots, or one of dashes with hollow dots.
type Curve struct {
	Values []Value
	Hollow bool
}

// Value is one value of a curve; an unknown one is left out, and the curve breaks there.
type Value struct {
	At    int64
	Known bool
}

// Limit is a line across the picture, with its words above it.
type Limit struct {
	At    int64
	Words string
}

// The measures of curves.
const (
	curveHigh = 190
	curveHead = 18
	curveFoot = 24
	curveSide = 8 // room for half a dot
)

// Curves draws values over labels, and limits across. Every so many labels are written, so that they do not run into one another.
func Curves(w Words, labels []string, curves []Curve, limits []Limit) template.HTML {
	p := begin(w, curveHead+curveHigh+curveFoot)
	low, high := bounds(curves, limits)
	y := func(v int64) int { return curveHead + curveHigh - int((v-low)*curveHigh/(high-low)) }
	x := func(i int) int { return curveSide + i*(wide-2*curveSide)/max(len(labels)-1, 1) }
	limits = slices.Clone(limits)
	slices.SortFunc(limits, func(a, b Limit) int { return cmp.Compare(a.At, b.At) })
	for _, l := range limits {
		fmt.Fprintf(p, `<line class="limit" x1="0" y1="%d" x2="%d" y2="%[1]d"/>`, y(l.At), wide)
	}
	for _, c := range curves {
		p.curve(c, x, y)
	}
	for _, l := range limits {
		p.text(0, y(l.At)-5, "start", l.Words)
	}
	fmt.Fprintf(p, `<line x1="0" y1="%d" x2="%d" y2="%[1]d"/>`, curveHead+curveHigh, wide)
	every := len(labels)/7 + 1
	for i, label := range labels {
		if i%every == 0 {
			anchor := "middle"
			switch {
			case i == 0:
				anchor = "start"
			case i == len(labels)-1:
				anchor = "end"
			}
			at := x(i)
			if anchor == "start" {
				at = 0
			} else if anchor == "end" {
				at = wide
			}
			p.text(at, curveHead+curveHigh+17, anchor, label)
		}
	}
	return p.end()
}

// curve draws the stretches of a curve of which both ends are known, and its dots.
func (p *picture) curve(c Curve, x func(int) int, y func(int64) int) {
	line, dot := "curve", "full"
	if c.Hollow {
		line, dot = "curve dashed", "hollow"
	}
	for i := 1; i < len(c.Values); i++ {
		if a, b := c.Values[i-1], c.Values[i]; a.Known && b.Known {
			fmt.Fprintf(p, `<line class="%s" x1="%d" y1="%d" x2="%d" y2="%d"/>`, line, x(i-1), y(a.At), x(i), y(b.At))
		}
	}
	for i, v := range c.Values {
		if v.Known {
			fmt.Fprintf(p, `<circle class="%s" cx="%d" cy="%d" r="4"/>`, dot, x(i), y(v.At))
		}
	}
}

// bounds are the lowest and the highest of all that is drawn, with a tenth to spare, and never the same.
func bounds(curves []Curve, limits []Limit) (low, high int64) {
	first := true
	reach := func(v int64) {
		if first || v < low {
			low = v
		}
		if first || v > high {
			high = v
		}
		first = false
	}
	for _, l := range limits {
		reach(l.At)
	}
	for _, c := range curves {
		for _, v := range c.Values {
			if v.Known {
				reach(v.At)
			}
		}
	}
	spare := max((high-low)/10, 1)
	return low - spare, high + spare
}
