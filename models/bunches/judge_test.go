package bunches_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"palmero/models"
	"palmero/models/bunches"
	"palmero/payroll/dated"
	"palmero/safety/quantity"
)

// The figures are common practice of the trade, no source: a typical bunch keeps 30 to 35 strands, cutting the centre takes out about 40 % of the flowers, a cotton tie
// is about 18 inches long.
func TestJudge(t *testing.T) {
	for name, tc := range map[string]struct {
		point models.StandardPoint
		mark  models.BunchMark
		want  bunches.Verdict
	}{
		"at the lower bound":           {strands, number("strands_kept", 30), bunches.AsAsked},
		"at the upper bound":           {strands, number("strands_kept", 35), bunches.AsAsked},
		"a thousandth below":           {strands, models.BunchMark{Number: thousandths(29_999)}, bunches.Under},
		"a thousandth above":           {strands, models.BunchMark{Number: thousandths(35_001)}, bunches.Over},
		"about 40 % cut":               {cut, number("share_cut", 40), bunches.AsAsked},
		"a fifth cut":                  {cut, number("share_cut", 20), bunches.Under},
		"a tie of 18 inches":           {tie, number("tie_length", 18), bunches.AsAsked},
		"a tie of a foot":              {tie, number("tie_length", 12), bunches.Under},
		"thorns off":                   {thorns, yes("thorns_off", true), bunches.AsAsked},
		"thorns on":                    {thorns, yes("thorns_off", false), bunches.NotSo},
		"no upper bound":               {models.StandardPoint{Kind: models.NumberPoint, Low: whole(1)}, number("", 9000), bunches.AsAsked},
		"no lower bound, and one puff": {models.StandardPoint{Kind: models.NumberPoint, High: whole(1)}, number("", 2), bunches.Over},
	} {
		if got := bunches.Judge(&tc.point, &tc.mark); got != tc.want {
			t.Errorf("%s: %s; want %s", name, got, tc.want)
		}
	}
}

func TestJudgeAll(t *testing.T) {
	sample := models.SampledBunches{
		bunch(number("strands_kept", 33), yes("thorns_off", true)),
		bunch(number("strands_kept", 29), yes("thorns_off", true)),
		bunch(number("strands_kept", 36), yes("thorns_off", false)),
		bunch(number("strands_kept", 35)), // nobody looked at its thorns
	}
	want := bunches.Outcome{LookedAt: 4, AsAsked: 2, Points: []models.PointCount{
		{Point: "strands_kept", LookedAt: 4, AsAsked: 2, Under: 1, Over: 1}, {Point: "thorns_off", LookedAt: 3, AsAsked: 2}, {Point: "tie_length"},
	}}
	got := bunches.JudgeAll(models.StandardPoints{strands, thorns, tie}, sample)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	if n := got.Points[1].Not(); n != 1 {
		t.Errorf("thorns on at %d bunches", n)
	}
}

func TestFits(t *testing.T) {
	sample := models.SampledBunches{bunch(number("strands_kept", 33)), bunch(yes("thorns_off", true))}
	wider, counted := strands, strands
	wider.Low, counted.Unit = nil, "count"
	for name, tc := range map[string]struct {
		to   models.StandardPoints
		fits bool
	}{
		"other bounds and more": {models.StandardPoints{tie, thorns, wider}, true},
		"another unit":          {models.StandardPoints{counted, thorns}, false},
		"one point less":        {models.StandardPoints{strands}, false},
		"nothing":               {nil, false},
	} {
		if got := bunches.Fits(sample, models.StandardPoints{strands, thorns}, tc.to); got != tc.fits {
			t.Errorf("%s: %v", name, got)
		}
	}
}

func TestTrend(t *testing.T) {
	week := func(asAsked, lookedAt int64) bunches.Week {
		return bunches.Week{Start: dated.MustDate("2026-03-01"), Counts: bunches.Counts{Checks: 1, LookedAt: lookedAt, AsAsked: asAsked}}
	}
	for name, tc := range map[string]struct {
		weeks []bunches.Week
		want  bunches.Trend
	}{
		"nothing":                     {nil, bunches.TooFew},
		"one week":                    {[]bunches.Week{week(5, 10)}, bunches.TooFew},
		"too few last week":           {[]bunches.Week{week(5, 10), week(9, 9)}, bunches.TooFew},
		"ten in a hundred better":     {[]bunches.Week{week(5, 10), week(6, 10)}, bunches.Better},
		"a little less than that":     {[]bunches.Week{week(51, 100), week(6, 10)}, bunches.Same},
		"ten in a hundred worse":      {[]bunches.Week{week(70, 100), week(6, 10)}, bunches.Worse},
		"against all before together": {[]bunches.Week{week(10, 10), week(0, 10), week(6, 10)}, bunches.Better},
		"weeks without a check":       {[]bunches.Week{week(5, 10), week(0, 0), week(6, 10), week(0, 0)}, bunches.Better},
	} {
		if got := bunches.TrendOf(tc.weeks); got != tc.want {
			t.Errorf("%s: %s; want %s", name, got, tc.want)
		}
	}
	for _, tc := range []struct {
		asAsked, lookedAt int64
		want              int
	}{{0, 0, -1}, {0, 3, 0}, {2, 3, 66}, {7, 10, 70}, {3, 3, 100}} {
		if got := bunches.Share(tc.asAsked, tc.lookedAt); got != tc.want {
			t.Errorf("%d of %d are %d %%", tc.asAsked, tc.lookedAt, got)
		}
	}
}

// An inch is 2.54 cm by definition.
func TestTwin(t *testing.T) {
	for _, tc := range []struct {
		n          quantity.Number
		unit, want string
	}{{quantity.Of(18), "in", "45.72 cm"}, {quantity.Thousandths(45_720), "cm", "18 in"}, {quantity.Of(33), "strand", "33 "}} {
		n, unit := models.Twin(tc.n, tc.unit)
		if got := n.String() + " " + unit; got != tc.want {
			t.Errorf("%s %s is %s; want %s", tc.n, tc.unit, got, tc.want)
		}
	}
}
