// Package plot draws plain pictures of figures as SVG: what they show is told by shape and not by colour, so that they can be printed in black and white, and
// each has a title and a description. The table with the figures stands beside them.
package plot

import (
	"fmt"
	"html"
	"html/template"
	"strings"
)

// Words are what a picture says of itself: its title, and a sentence that tells what it shows.
type Words struct{ ID, Title, Text string }

// Bar is one bar of a picture: how many hundredths of the whole it has, at most 100 drawn, with the words before and behind it.
type Bar struct {
	Label  string
	Share  int // below 0: unknown, and none is drawn
	Figure string
}

// The measures, in units of which a phone shows about one for each of its own.
const (
	wide   = 340
	line   = 28
	before = 58 // room for a label
	behind = 52 // room for a figure
)

// Bars draws bars below one another, each in the frame of its whole.
func Bars(w Words, bars []Bar) template.HTML {
	p := begin(w, len(bars)*line+4)
	whole := wide - before - behind
	for i, b := range bars {
		y := i*line + 4
		p.text(before-8, y+15, "end", b.Label)
		p.rect("frame", before, y, whole, line-8)
		if b.Share > 0 {
			p.rect("full", before, y, min(b.Share, 100)*whole/100, line-8)
		}
		p.text(wide, y+15, "end", b.Figure)
	}
	return p.end()
}

// Pair is two columns side by side: the first full, the second only its frame. The label stands below, where it is not "".
type Pair struct {
	Label         string
	First, Second int64
}

// Columns draws pairs of columns over one line, the highest as high as the picture; top says how much that is.
func Columns(w Words, top string, pairs []Pair) template.HTML {
	const high, foot = 150, 22
	p := begin(w, high+foot+16)
	highest := int64(1)
	for _, c := range pairs {
		highest = max(highest, c.First, c.Second)
	}
	p.text(0, 12, "start", top)
	step := max(wide/max(len(pairs), 1), 4)
	step = min(step, 60)
	column := max((step-2)/2, 1)
	for i, c := range pairs {
		x := i * step
		first, second := int(c.First*high/highest), int(c.Second*high/highest)
		p.rect("full", x, 16+high-first, column, first)
		p.rect("frame", x+column, 16+high-second, column, second)
		if c.Label != "" {
			p.text(x, 16+high+16, "start", c.Label)
		}
	}
	fmt.Fprintf(p, `<line x1="0" y1="%d" x2="%d" y2="%[1]d"/>`, 16+high, wide)
	return p.end()
}

// picture is one that is being drawn.
type picture struct{ strings.Builder }

func begin(w Words, high int) *picture {
	p := &picture{}
	fmt.Fprintf(p, `<svg class="plot" viewBox="0 0 %d %d" role="img" aria-labelledby="%s-title %[3]s-text"><title id="%[3]s-title">%[4]s</title><desc id="%[3]s-text">%[5]s</desc>`,
		wide, high, html.EscapeString(w.ID), html.EscapeString(w.Title), html.EscapeString(w.Text))
	return p
}

func (p *picture) rect(class string, x, y, width, height int) {
	fmt.Fprintf(p, `<rect class="%s" x="%d" y="%d" width="%d" height="%d"/>`, class, x, y, max(width, 0), max(height, 0))
}

func (p *picture) text(x, y int, anchor, words string) {
	fmt.Fprintf(p, `<text x="%d" y="%d" text-anchor="%s">%s</text>`, x, y, anchor, html.EscapeString(words))
}

func (p *picture) end() template.HTML {
	p.WriteString(`</svg>`)
	return template.HTML(p.String())
}
