package safety

import (
	"maps"
	"slices"
	"strconv"
	"time"

	"palmero/payroll/dated"
	"palmero/safety/rulebook"
)

// overrides hears the overrides. What a competent person set aside is returned; one that is not heard for a law is itself a reason.
func (c *clearing) overrides() []Overridden {
	heard := []Overridden{}
	for i := range c.in.Overrides {
		o, at := &c.in.Overrides[i], "/overrides/"+strconv.Itoa(i)
		house, law := c.found(o.Code)
		switch {
		case law || !house && c.isLaw(o.Code):
			c.violate("override_refused", at, Terms{"code": o.Code})
			continue
		case !house:
			continue // there is nothing to set aside
		}
		complete := true
		for fact, given := range map[string]bool{"/by": o.By != "", "/reason": o.Reason != "", "/at": o.At != nil} {
			if !given {
				c.miss(at+fact, dated.Basis{})
				complete = false
			}
		}
		if !complete {
			continue
		}
		if dated.DateOf(*o.At) != c.in.Workday {
			c.note("override_lapsed", Terms{"topic": o.Code, "date": dated.DateOf(*o.At)})
			continue
		}
		heard = append(heard, Overridden{o.Code, o.By, o.Reason, *o.At})
	}
	return heard
}

// found tells whether reasons of a code that block were found, the house's own and the law's.
func (c *clearing) found(code string) (house, law bool) {
	for _, r := range c.reasons {
		if r.Code == code && r.Blocks {
			house = house || r.Class == rulebook.House
			law = law || r.Class == rulebook.Law
		}
	}
	return house, law
}

// isLaw tells whether a code is the law's wherever it is found, or is none that can be found at all.
func (c *clearing) isLaw(code string) bool {
	if rule, ok := c.rules[code+"."+c.sum.way]; ok {
		return rule.Class == rulebook.Law
	}
	if rule, ok := c.rules[code]; ok {
		return rule.Class == rulebook.Law
	}
	switch code {
	case "training_missing", "training_expired", "equipment_missing", "inspection_missing", "inspection_overdue":
		return false // it depends on the topic or the equipment
	}
	return true
}

// stands tells whether a reason is left that blocks.
func (c *clearing) stands(overridden []Overridden) bool {
	aside := map[string]bool{}
	for _, o := range overridden {
		aside[o.Code] = true
	}
	for _, r := range c.reasons {
		if r.Blocks && !(r.Class == rulebook.House && aside[r.Code]) {
			return true
		}
	}
	return false
}

// validUntil is the end of the workday where it was asked, or sooner when the reading of the weather has aged.
func (c *clearing) validUntil() *time.Time {
	if c.in.At == nil {
		return nil
	}
	end := c.in.Workday.AddDays(1).Midnight(c.in.At.Location())
	hours := time.Duration(c.limit(rulebook.WeatherHours).Float() * float64(time.Hour))
	if aged := c.in.At.Add(hours); aged.Before(end) {
		return &aged
	}
	return &end
}

// RulesOf returns every rule of a book that can give a reason of a code on a way up: none where the code or the way is unknown. Only where one of them is of
// the house is there anything that a competent person may set aside.
func RulesOf(book *rulebook.Book, day dated.Date, way, code string) ([]rulebook.Rule, error) {
	reasons, err := book.Reasons(day)
	if err != nil {
		return nil, err
	}
	if rule, ok := reasons.Value[code+"."+way]; ok {
		return []rulebook.Rule{rule}, nil
	}
	if rule, ok := reasons.Value[code]; ok {
		return []rulebook.Rule{rule}, nil
	}
	table, err := book.Clearance(day)
	if err != nil || table.Value.Ways[way] == nil {
		return nil, err
	}
	return tableRules(table.Value, table.Value.Ways[way], code), nil
}

// tableRules returns the rules of a code that depends on the topic or the equipment.
func tableRules(table *rulebook.Clearance, way *rulebook.Way, code string) (rules []rulebook.Rule) {
	for _, name := range way.Topics {
		topic := table.Topics[name]
		switch {
		case code == "training_missing":
			rules = append(rules, topic.Missing)
		case code == "training_expired" && topic.Expires != nil:
			rules = append(rules, topic.Expires.Rule)
		}
	}
	if !way.Aloft {
		return rules
	}
	for _, kind := range slices.Sorted(maps.Keys(table.Equipment)) {
		row := table.Equipment[kind]
		switch {
		case code == "equipment_missing" && slices.Contains(way.Equipment, kind):
			rules = append(rules, row.Required)
		case code == "inspection_missing" || code == "inspection_overdue":
			if row.PreUse != nil {
				rules = append(rules, *row.PreUse)
			}
			if row.Periodic != nil {
				rules = append(rules, row.Periodic.Rule)
			}
		}
	}
	return rules
}
