package pages

import (
	"net/url"
	"slices"

	"github.com/google/uuid"

	"palmero/handlers/rulebooks"
	"palmero/models"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll/dated"
	"palmero/payroll/rulebook"
)

// bookFixAt is where a problem of a pay run is settled that is about a rulebook; "" where it is none, or where the reader cannot settle it.
func (v *visit) bookFixAt(tx *models.Tx, run uuid.UUID, p *listedProblem) (string, error) {
	switch p.Fix {
	case fixValue:
		book, rule := valueWanted(&p.KeptProblem)
		return "/books/value?" + url.Values{"run": {run.String()}, "about": {book + " " + rule}}.Encode(), nil
	case fixBook:
		return "/books#own", nil
	case fixGarden:
		if v.caller.Role != models.RoleAdministrator {
			return "", nil
		}
		var gardens []models.Garden
		err := tx.DB().Select("id").Where("rulebook = ?", p.Terms["rulebook"]).Limit(2).Find(&gardens).Error
		if err != nil || len(gardens) != 1 {
			return "/books#gardens", err
		}
		return "/gardens/" + gardens[0].ID.String() + "#rulebook", nil
	}
	return "", nil
}

// valueWanted is the book and the rule of which a problem says that there is no value.
func valueWanted(p *payrun.KeptProblem) (book, rule string) {
	book, _ = p.Terms["book"].(string)
	rule, _ = p.Terms["parameter"].(string)
	return book, rule
}

// valuesEntered marks those problems as settled of which the rulebooks have the value by now.
func (v *visit) valuesEntered(tx *models.Tx, kept []payrun.KeptProblem, settled map[string]bool) error {
	var law *localbooks.Library
	for i := range kept {
		if fixOf(&kept[i]) != fixValue {
			continue
		}
		if law == nil {
			var err error
			if law, err = localbooks.Of(tx, v.Books); err != nil {
				return err
			}
		}
		book, rule := valueWanted(&kept[i])
		on, _ := kept[i].Terms["date"].(dated.Date)
		if on.IsZero() {
			on = kept[i].Date
		}
		if bookSaysOn(law, book, rule, on) {
			settled[kept[i].ID()] = true
		}
	}
	return nil
}

// bookSaysOn tells whether a book, with what is announced beside it, has a value of a rule on a day.
func bookSaysOn(law *localbooks.Library, key, rule string, on dated.Date) bool {
	governing, ok := law.Governing(key)
	if !ok || on.IsZero() {
		return false
	}
	chain := governing.Chain()
	if n := slices.IndexFunc(chain, func(b *rulebook.Book) bool { return b.Key() == key }); n >= 0 {
		chain = chain[:n+1]
	}
	return rulebooks.SaidOn(chain, rule, on)
}
