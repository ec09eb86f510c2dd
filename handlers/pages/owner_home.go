package pages

import (
	"slices"

	"palmero/models"
	"palmero/models/access"
	"palmero/models/localbooks"
	"palmero/models/payrun"
	"palmero/models/progress"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// ownerPages are those for whoever sets up the farm and answers for it.
func ownerPages() []Page {
	return slices.Concat(progressPages(), gardenPages(), crewPages(), workerPages(), operationPages(), endingPages(), ratesPages(), accountsPages(), settingsPages())
}

// ownerFirst is the first page of an administrator.
type ownerFirst struct {
	Needs  []Need
	Then   []Need // what else the farm lacks, in order
	Today  dated.Date
	Lately []progress.Workday
}

// endingWithin is how many days ahead the end of a value of the law is told.
const endingWithin = 60

func ownerHome(v *visit) (*answer, error) {
	var first ownerFirst
	err := v.view(func(tx *models.Tx) (err error) {
		if first.Today, err = payrun.Today(tx); err != nil {
			return err
		}
		if first.Needs, first.Then, err = v.setUpSteps(tx, first.Today); err != nil {
			return err
		}
		for _, needs := range []func(*models.Tx, dated.Date) ([]Need, error){v.approvalNeeds, v.bookNeeds, v.accountNeeds, v.blockNeeds} {
			some, err := needs(tx, first.Today)
			if err != nil {
				return err
			}
			first.Needs = append(first.Needs, some...)
		}
		first.Lately, err = progress.Lately(tx, first.Today, daysBack)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("owner_home", first), nil
}

func (v *visit) need(kind, key string, terms payroll.Terms, path, verb string) Need {
	return Need{Mark{kind, v.say("page.owner."+key, terms)}, path, v.say("page.owner."+verb, nil)}
}

// approvalNeeds are the pay runs that wait for a second person.
func (v *visit) approvalNeeds(tx *models.Tx, _ dated.Date) ([]Need, error) {
	needs, _, err := v.payNeeds(tx)
	return needs, err
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
		for _, e := range v.bookEnds(law, key, today) {
			mark, said := "look", "book_ends"
			if e.Over {
				mark, said = "stop", "book_ended"
			}
			need := v.need(mark, said, payroll.Terms{"rule": e.Rule, "book": e.Book, "date": e.Last}, "/books#ending", "look_at_book")
			if !slices.Contains(needs, need) {
				needs = append(needs, need)
			}
		}
	}
	for _, key := range law.Leftovers() {
		needs = append(needs, v.need("stop", "book_left", payroll.Terms{"book": key}, "/books#own", "look_at_books"))
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
