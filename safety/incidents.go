package safety

import (
	"slices"
	"time"

	"palmero/payroll/dated"
	"palmero/safety/quantity"
	"palmero/safety/rulebook"
)

func incidentRate(s *sum, in *IncidentRate) *RateAnswer {
	byKind := in.Away != nil || in.Restricted != nil || in.Other != nil || in.Deaths != nil
	if byKind == (in.Cases != nil) {
		s.fault("/cases", "fault.cases_ways", nil)
		return nil
	}
	a := &RateAnswer{}
	if in.Cases != nil {
		a.Rate = s.rate(*in.Cases, *in.Hours)
		s.part("cases", whole(*in.Cases), "")
	} else if !s.ratesByKind(in, a) {
		return nil
	}
	s.part("hours", *in.Hours, "h")
	s.part("rate_hours", s.limit(rulebook.RateHours), "h")
	if in.Hours.Under(s.limit(rulebook.RateHours)) {
		s.note("small_crew", nil)
	}
	a.Base = s.base
	return a
}

func (s *sum) ratesByKind(in *IncidentRate, a *RateAnswer) bool {
	for _, kind := range []struct {
		name  string
		count *int
	}{{"away", in.Away}, {"restricted", in.Restricted}, {"other", in.Other}} {
		if kind.count == nil {
			s.fault("/"+kind.name, "fault.needed", nil)
			continue
		}
		s.part(kind.name, whole(*kind.count), "")
	}
	if len(s.faults) > 0 {
		return false
	}
	deaths := 0
	if in.Deaths == nil {
		s.note("deaths_not_counted", nil)
	} else {
		deaths = *in.Deaths
		s.part("deaths", whole(deaths), "")
	}
	a.Rate = s.rate(deaths+*in.Away+*in.Restricted+*in.Other, *in.Hours)
	a.TotalRecordable = new(a.Rate)
	a.AwayOrRestricted = new(s.rate(*in.Away+*in.Restricted, *in.Hours))
	a.DaysAway = new(s.rate(*in.Away, *in.Hours))
	return true
}

// rate is cases for every hundred people in a year, to one decimal.
func (s *sum) rate(cases int, hours quantity.Number) quantity.Number {
	return whole(cases).Times(s.limit(rulebook.RateHours)).Per(hours).Round(1)
}

// none is the treatment of an injury that was only looked at.
const none = "none"

func recordable(s *sum, in *Recordable) *RecordableAnswer {
	a := &RecordableAnswer{Reasons: []Criterion{}}
	list, err := s.book.FirstAid(s.day)
	if !s.ok(err) {
		return nil
	}
	medical := in.Treatment == "medical"
	if in.Treatment != "" && !medical && in.Treatment != none && !slices.Contains(list.Value, in.Treatment) {
		s.fault("/treatment", "fault.not_one_of", Terms{"value": in.Treatment, "allowed": append(slices.Clone(list.Value), "medical", none)})
		return nil
	}
	general := s.basis(rulebook.DaysCap) // stands where recording is told of in general
	found := a.criteria(s, in, medical, basisOf(list), general)
	if unknown := unknownOf(in); len(unknown) == 0 || found {
		a.Recordable = &found
	} else {
		for _, fact := range unknown {
			a.Reasons = append(a.Reasons, Criterion{Code: "fact_missing", Authority: general.Source.Section, Fact: fact, terms: Terms{"fact": nameIn(fact)}})
		}
	}
	a.report(s, in)
	if found {
		years := int(s.limit(rulebook.KeepYears).Float())
		s.note("keep_records", Terms{"date": dated.NewDate(s.day.Year()+years, time.December, 31), "size": s.limit(rulebook.LogExempt)})
	}
	a.Base = s.base
	return a
}

// criteria lists what makes the injury one to record.
func (a *RecordableAnswer) criteria(s *sum, in *Recordable, medical bool, firstAid, general dated.Basis) bool {
	s.rest(general)
	add := func(met bool, code, fact string, b dated.Basis) {
		if met {
			s.rest(b)
			a.Reasons = append(a.Reasons, Criterion{Code: code, Authority: b.Source.Section, Fact: fact})
		}
	}
	days := func(n *int) bool { return n != nil && *n > 0 }
	add(isTrue(in.Death), "death", "/death", general)
	add(days(in.DaysAway), "days_away", "/days_away", general)
	add(days(in.RestrictedDays), "restricted", "/restricted_days", general)
	add(medical, "medical", "/treatment", firstAid)
	add(isTrue(in.Unconscious), "unconscious", "/loss_of_consciousness", general)
	add(isTrue(in.Inpatient), "inpatient", "/inpatient", general)
	add(isTrue(in.Amputation), "amputation", "/amputation", general)
	add(isTrue(in.EyeLoss), "eye_loss", "/eye_loss", general)
	add(isTrue(in.Disfigurement), "disfigurement", "/disfigurement", general)
	recorded := len(a.Reasons) > 0
	for _, n := range []*int{in.DaysAway, in.RestrictedDays} {
		if limit := s.limit(rulebook.DaysCap); n != nil && whole(*n).Over(limit) {
			s.note("days_capped", Terms{"limit": limit})
		}
	}
	if !recorded && in.Treatment != "" && in.Treatment != none {
		s.rest(firstAid)
		a.Reasons = append(a.Reasons, Criterion{Code: "first_aid", Authority: firstAid.Source.Section, Fact: "/treatment"})
	}
	return recorded
}

// unknownOf lists the facts without which an injury cannot be called one that is not recorded.
func unknownOf(in *Recordable) (unknown []string) {
	for _, fact := range []string{"/treatment", "/days_away", "/restricted_days", "/loss_of_consciousness", "/death", "/inpatient", "/amputation", "/eye_loss", "/disfigurement"} {
		if !given(in, fact) {
			unknown = append(unknown, fact)
		}
	}
	return unknown
}

// report finds the soonest report that is asked for.
func (a *RecordableAnswer) report(s *sum, in *Recordable) {
	for _, event := range []struct {
		happened *bool
		hours    rulebook.Number
	}{{in.Death, rulebook.DeathHours}, {in.Inpatient, rulebook.InpatientHours}, {in.Amputation, rulebook.AmputationHrs}, {in.EyeLoss, rulebook.EyeLossHours}, {in.Disfigurement, rulebook.DisfigureHours}} {
		v, err := s.book.Number(event.hours, s.day)
		if !isTrue(event.happened) || err != nil {
			continue // a book that names no hours asks for no report
		}
		s.rest(basisOf(v))
		if a.ReportWithinHours == nil || v.Value.Under(*a.ReportWithinHours) {
			a.ReportWithinHours = new(v.Value)
		}
	}
}
