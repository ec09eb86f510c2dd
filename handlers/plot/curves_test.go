package plot

import (
	"strings"
	"testing"
)

// A curve breaks where nothing is known, limits are drawn whether anything reaches them or not, and what is said is escaped.
func TestCurves(t *testing.T) {
	values := []Value{{540, true}, {}, {880, true}, {920, true}}
	svg := string(Curves(Words{"heat", "A & B", "by <hour>"}, []string{"06:00", "07:00", "08:00", "09:00"}, []Curve{{Values: values}, {Values: values[:2], Hollow: true}}, []Limit{{950, "95 °F"}}))
	for want, times := range map[string]int{`class="curve"`: 1, `class="curve dashed"`: 0, `class="full"`: 3, `class="hollow"`: 1, `class="limit"`: 1, "A &amp; B": 1, "by &lt;hour&gt;": 1, ">08:00<": 1} {
		if n := strings.Count(svg, want); n != times {
			t.Errorf("%s is there %d times; want %d: %s", want, n, times, svg)
		}
	}
	if one := string(Curves(Words{}, []string{"06:00"}, []Curve{{Values: []Value{{7, true}}}}, nil)); !strings.Contains(one, "<circle") {
		t.Error(one)
	}
}
