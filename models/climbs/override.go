package climbs

import (
	"slices"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/payroll"
	"palmero/safety"
	"palmero/safety/rulebook"
)

// Setting sets a rule of the house aside for a crew's day as it is sent in, or with Supersedes corrects or withdraws what was set aside.
type Setting struct {
	ID         uuid.UUID  `json:"id"`
	Supersedes *uuid.UUID `json:"supersedes,omitempty"`
	Reason     string     `json:"reason,omitempty"` // why it takes the place of another
	models.RuleOverrideContent
}

// SetAside keeps a competent person's word that a rule of the house may be set aside. What the law asks is refused, with the provision, as is a code that gives
// no reason on the way. Repeats are answered as by models.Create.
func SetAside(tx *models.Tx, books Books, in Setting) (*models.RuleOverride, bool, error) {
	faults, err := in.faults(tx, books)
	if err != nil {
		return nil, false, err
	}
	o, repeated, err := models.Record(tx, in.ID, in.RuleOverrideContent, models.Recording{RecordedAt: tx.Now, Supersedes: in.Supersedes, Reason: in.Reason})
	return o, repeated, unlessRepeated(repeated, err, faults)
}

func (in *Setting) faults(tx *models.Tx, books Books) ([]payroll.Fault, error) {
	ground, faults, err := books.groundOf(tx, in.GardenID, in.Workday.Date)
	if in.Withdrawn && in.Supersedes == nil {
		faults = append(faults, payroll.Fault{Pointer: "/supersedes", Key: "fault.withdraws_nothing"})
	}
	if err != nil || ground == nil {
		return faults, err
	}
	if _, wrong := ground.way(in.Way); wrong != nil {
		return append(faults, wrong...), nil
	}
	rules, err := safety.RulesOf(ground.book, in.Workday.Date, in.Way, in.Code)
	if err != nil {
		return nil, err
	}
	isHouse := func(r rulebook.Rule) bool { return r.Class == rulebook.House }
	switch {
	case len(rules) == 0:
		faults = append(faults, payroll.Fault{Pointer: "/code", Key: "fault.override_unknown", Terms: payroll.Terms{"code": in.Code}})
	case !slices.ContainsFunc(rules, isHouse):
		source := rules[0].Source
		terms := payroll.Terms{"code": in.Code, "section": source.Section, "title": source.Title}
		faults = append(faults, payroll.Fault{Pointer: "/code", Key: "fault.override_law", Terms: terms})
	}
	return faults, nil
}
