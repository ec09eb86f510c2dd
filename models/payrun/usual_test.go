package payrun

import (
	"testing"

	"github.com/google/uuid"

	"palmero/payroll"
)

// at is pay by the hour for forty hours.
func at(cents payroll.Cents) Earned { return Earned{cents * 40, 40 * 60} }

func TestFarFromUsual(t *testing.T) {
	crew, small := uuid.New(), uuid.New()
	for name, c := range map[string]struct {
		people []Pace // who stands out is looked for in the first
		own    bool
		crew   bool
	}{
		"as ever":                                {[]Pace{{Now: at(2000), Before: at(2100), Weeks: 4}}, false, false},
		"a third more is not far":                {[]Pace{{Now: at(2000), Before: at(1500), Weeks: 2}}, false, false},
		"a cent over a third more is far":        {[]Pace{{Now: at(2001), Before: at(1500), Weeks: 2}}, true, false},
		"a third less is not far":                {[]Pace{{Now: at(1000), Before: at(1500), Weeks: 2}}, false, false},
		"a cent below a third less is far":       {[]Pace{{Now: at(999), Before: at(1500), Weeks: 2}}, true, false},
		"one week is no habit":                   {[]Pace{{Now: at(9000), Before: at(1500), Weeks: 1}}, false, false},
		"other hours, the same pace":             {[]Pace{{Now: Earned{1500 * 5, 5 * 60}, Before: at(1500), Weeks: 4}}, false, false},
		"no time worked":                         {[]Pace{{Now: Earned{5000, 0}, Before: at(1500), Weeks: 4}}, false, false},
		"far from the middle of the crew":        {[]Pace{{Crew: crew, Now: at(3000)}, {Crew: crew, Now: at(2000)}, {Crew: crew, Now: at(1900)}, {Crew: crew, Now: at(2100)}}, false, true},
		"three are no crew to be measured by":    {[]Pace{{Crew: small, Now: at(3000)}, {Crew: small, Now: at(2000)}, {Crew: small, Now: at(1900)}}, false, false},
		"nobody of no crew is measured by it":    {[]Pace{{Now: at(3000)}, {Now: at(2000)}, {Now: at(1900)}, {Now: at(2100)}}, false, false},
		"one who outruns all does not move them": {[]Pace{{Crew: crew, Now: at(2000)}, {Crew: crew, Now: at(90000)}, {Crew: crew, Now: at(1900)}, {Crew: crew, Now: at(2100)}}, false, false},
	} {
		t.Run(name, func(t *testing.T) {
			for i := range c.people {
				c.people[i].Worker = uuid.New()
			}
			var own, crew bool
			for _, u := range FarFromUsual(c.people) {
				if u.Worker == c.people[0].Worker {
					own, crew = u.OwnUsual != nil, u.CrewUsual != nil
				}
			}
			if own != c.own || crew != c.crew {
				t.Errorf("far from their own %t, from the crew's %t; want %t and %t", own, crew, c.own, c.crew)
			}
		})
	}
}

func TestHourly(t *testing.T) {
	for _, c := range []struct {
		Earned
		want payroll.Cents
	}{{at(1234), 1234}, {Earned{100, 90}, 67}, {Earned{5, 600}, 1}, {Earned{100, 0}, 0}} {
		if got := c.Hourly(); got != c.want {
			t.Errorf("%v by the hour: %v; want %v", c.Earned, got, c.want)
		}
	}
}
