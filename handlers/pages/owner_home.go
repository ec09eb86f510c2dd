package pages

import (
	"slices"

	"palmero/handlers/rulebooks"
	"palmero/models"
	"palmero/models/access"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// ownerPages are those for whoever sets up the farm and answers for it.
func ownerPages() []Page { return slices.Concat(progressPages()) }

// ownerFirst is the first page of an administrator.
type ownerFirst struct {
	Needs []Need
	Today dated.Date
}

// endingWithin is how many days ahead the end of a value of the law is told.
const endingWithin = 60

func ownerHome(v *visit) (*answer, error) {
	var first ownerFirst
	err := v.view(func(tx *models.Tx) (err error) {
		if first.Today, err = payrun.Today(tx); err != nil {
			return err
		}
		for _, needs := range []func(*models.Tx, dated.Date) ([]Need, error){v.runNeeds, v.bookNeeds, v.accountNeeds, v.setUpNeeds} {
			some, err := needs(tx, first.Today)
			if err != nil {
				return err
			}
			first.Needs = append(first.Needs, some...)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return show("owner_home", first), nil
}

func (v *visit) need(kind, key string, terms payroll.Terms, path, verb string) Need {
	return Need{Mark{kind, v.say("page.owner."+key, terms)}, path, v.say("page.owner."+verb, nil)}
}

// runNeeds are the drafts that wait for a second person.
func (v *visit) runNeeds(tx *models.Tx, _ dated.Date) ([]Need, error) {
	profile, err := tx.Profile()
	if err != nil {
		return nil, err
	}
	var runs []payrun.Run
	if err := tx.DB().Where("state = ?", payrun.Draft).Order("seq").Limit(10).Find(&runs).Error; err != nil {
		return nil, err
	}
	var needs []Need
	for _, r := range runs {
		if profile.Content.SecondApprover && r.DraftedBy == tx.Actor {
			continue
		}
		needs = append(needs, v.need("look", "run_waits", payroll.Terms{"number": int(r.Number), "date": r.WeekStart.Date, "payday": r.Payday.Date}, "/pay/"+r.ID.String(), "look_at_run"))
	}
	return needs, nil
}

// bookNeeds are the values of the law that end soon with nothing after them, and the local books that hold no more.
func (v *visit) bookNeeds(tx *models.Tx, today dated.Date) ([]Need, error) {
	law, err := localbooks.Of(tx, v.Books)
	if err != nil {
		return nil, err
	}
	var keys []string
	if err := tx.DB().Model(&models.Garden{}).Distinct("rulebook").Order("rulebook").Pluck("rulebook", &keys).Error; err != nil {
		return nil, err
	}
	var needs []Need
	for _, key := range keys {
		for _, e := range rulebooks.Ending(law.Library, key, today, today.AddDays(endingWithin), v.catalogue()) {
			terms := payroll.Terms{"rule": e.Rule, "book": e.Book, "date": e.Last}
			needs = append(needs, v.need("look", "book_ends", terms, "/rulebooks/"+key, "look_at_book"))
		}
	}
	for key := range law.Left {
		needs = append(needs, v.need("stop", "book_left", payroll.Terms{"book": key}, "/rulebooks", "look_at_books"))
	}
	return needs, nil
}

// accountNeeds are the accounts that nobody has signed in to yet.
func (v *visit) accountNeeds(tx *models.Tx, _ dated.Date) ([]Need, error) {
	waiting, err := access.NeverSignedIn(tx)
	if err != nil || len(waiting) == 0 {
		return nil, err
	}
	if len(waiting) == 1 {
		return []Need{v.need("look", "account_waits", payroll.Terms{"name": waiting[0].Content.Name}, "/accounts/"+waiting[0].ID.String(), "look_at_account")}, nil
	}
	return []Need{v.need("look", "accounts_wait", payroll.Terms{"count": len(waiting)}, "/accounts", "look_at_accounts")}, nil
}

// setUpNeeds is what the set-up lacks.
func (v *visit) setUpNeeds(tx *models.Tx, _ dated.Date) ([]Need, error) {
	var lacking, blocks int64
	db := tx.DB().Model(&models.Block{})
	if err := db.Count(&blocks).Error; err != nil {
		return nil, err
	}
	if blocks == 0 {
		return []Need{v.need("look", "no_blocks", nil, "/farm", "set_up")}, nil
	}
	if err := tx.DB().Model(&models.Block{}).Where("bunches_per_palm = 0").Count(&lacking).Error; err != nil || lacking == 0 {
		return nil, err
	}
	return []Need{v.need("plain", "blocks_lack", payroll.Terms{"count": int(lacking)}, "/farm", "set_up")}, nil
}
