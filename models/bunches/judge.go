package bunches

import (
	"slices"

	"palmero/models"
)

// Verdict is how a bunch is in one point.
type Verdict string

// The verdicts: as asked; a number below or above what is asked; not so.
const (
	AsAsked Verdict = "as_asked"
	Under   Verdict = "under"
	Over    Verdict = "over"
	NotSo   Verdict = "not_so"
)

// Judge holds what was seen against what is asked. What is exactly at a bound is as asked.
func Judge(p *models.StandardPoint, m *models.BunchMark) Verdict {
	switch {
	case m.Yes != nil && !*m.Yes:
		return NotSo
	case m.Number != nil && p.Low != nil && m.Number.Under(p.Low.Number):
		return Under
	case m.Number != nil && p.High != nil && m.Number.Over(p.High.Number):
		return Over
	}
	return AsAsked
}

// Outcome is what a sample comes to.
type Outcome struct {
	LookedAt int64               // bunches
	AsAsked  int64               // of those, the ones of which every point that was looked at is as asked
	Points   []models.PointCount // in the order of the standard; those that nobody looked at too
}

// JudgeAll holds a sample against a standard. What was not looked at counts for nothing.
func JudgeAll(points models.StandardPoints, sample models.SampledBunches) Outcome {
	o := Outcome{Points: make([]models.PointCount, len(points))}
	at := map[string]int{}
	for i := range points {
		o.Points[i].Point = points[i].Point
		at[points[i].Point] = i
	}
	for _, bunch := range sample {
		if len(bunch.Marks) == 0 {
			continue
		}
		o.LookedAt++
		good := true
		for j := range bunch.Marks {
			i, known := at[bunch.Marks[j].Point]
			if !known {
				continue // which the check refuses
			}
			verdict := Judge(&points[i], &bunch.Marks[j])
			o.Points[i].Add(verdict.count())
			good = good && verdict == AsAsked
		}
		if good {
			o.AsAsked++
		}
	}
	return o
}

// Fits tells whether what was noted by the points of one standard can be held against another's: whether that asks for each point that was noted in the same way, whatever
// its bounds.
func Fits(sample models.SampledBunches, from, to models.StandardPoints) bool {
	asked := map[string]bool{} // the points that both ask for
	for i := range from {
		p := &from[i]
		asked[p.Point] = slices.ContainsFunc(to, func(o models.StandardPoint) bool { return o.Point == p.Point && o.Kind == p.Kind && o.Unit == p.Unit })
	}
	for _, bunch := range sample {
		for _, m := range bunch.Marks {
			if !asked[m.Point] {
				return false
			}
		}
	}
	return true
}

// count is one look at a point.
func (v Verdict) count() models.PointCount {
	c := models.PointCount{LookedAt: 1}
	switch v {
	case AsAsked:
		c.AsAsked = 1
	case Under:
		c.Under = 1
	case Over:
		c.Over = 1
	}
	return c
}

// Share is how many of a hundred bunches are as asked, rounded down; -1 where none was looked at.
func Share(asAsked, lookedAt int64) int {
	if lookedAt <= 0 {
		return -1
	}
	return int(asAsked * 100 / lookedAt)
}

// Trend is how the latest week compares with those before.
type Trend string

// The trends.
const (
	Better Trend = "better"
	Same   Trend = "same"
	Worse  Trend = "worse"
	TooFew Trend = "too_few" // bunches to tell
)

// The rule of a trend: so many bunches on either side at least, and a difference of so many in a hundred.
const (
	TrendBunches    = 10
	TrendDifference = 10
)

// TrendOf compares the last of some weeks in which bunches were looked at with all earlier ones together.
func TrendOf(weeks []Week) Trend {
	var last, before Counts
	for _, w := range weeks {
		if w.LookedAt > 0 {
			before.add(last)
			last = w.Counts
		}
	}
	if last.LookedAt < TrendBunches || before.LookedAt < TrendBunches {
		return TooFew
	}
	// last/n - before/m in hundredths, without a division.
	difference := (last.AsAsked*before.LookedAt - before.AsAsked*last.LookedAt) * 100
	bar := TrendDifference * last.LookedAt * before.LookedAt
	switch {
	case difference >= bar:
		return Better
	case difference <= -bar:
		return Worse
	}
	return Same
}
