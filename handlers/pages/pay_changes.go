package pages

import (
	"time"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
)

func payChangePages() []Page {
	return []Page{
		{Method: "GET", Path: "/pay/{id}/changes", Roles: office, handle: showPayChanges},
	}
}

const payChangesAtOnce = 40

// payChangesPage is what moved from the last draft of a run to this one, by worker and kind of pay, with the records by which it did.
type payChangesPage struct {
	Run       payrun.Run
	Sum       payrun.MoveSum
	Zone      *time.Location
	People    []payChangesOf
	Everybody []payBecause // what came between and may bear on anybody
	More      int64        // the number after which more people follow; 0: there are none
}

// payChangesOf is what moved for one worker.
type payChangesOf struct {
	*payrun.Moved
	Why []payBecause
}

// payBecause is a record in the reader's words.
type payBecause struct {
	payrun.Because
	Text string
}

func showPayChanges(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page payChangesPage
	err = v.view(func(tx *models.Tx) error {
		brief, err := payrun.ReadRun(tx, id)
		if err != nil {
			return err
		}
		page.Run = brief.Run
		if page.Zone, err = payrun.HomeZone(tx); err != nil {
			return err
		}
		if page.Sum, err = payrun.SumMoves(tx, id); err != nil {
			return err
		}
		moved, err := payrun.MovedSince(tx, &page.Run, v.number("after"), payChangesAtOnce+1)
		if err != nil {
			return err
		}
		if len(moved) > payChangesAtOnce {
			moved = moved[:payChangesAtOnce]
			page.More = moved[payChangesAtOnce-1].Number
		}
		for _, m := range moved {
			page.People = append(page.People, payChangesOf{m, v.payBecause(m.Because)})
		}
		all, err := payrun.ForEverybody(tx, &page.Run)
		page.Everybody = v.payBecause(all)
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("pay_changes", &page), nil
}

// payBecause says records in the reader's words.
func (v *visit) payBecause(all []payrun.Because) []payBecause {
	said := make([]payBecause, len(all))
	for i := range all {
		said[i] = payBecause{all[i], v.say(payBecauseKey(&all[i]), v.payBecauseTerms(&all[i]))}
	}
	return said
}

// payBecauseKey is the message of a record: parts of lots have no count of their own, and a rate holds in a block or wherever no other does.
func payBecauseKey(b *payrun.Because) string {
	key := "page.pay.change.because." + string(b.Kind)
	switch {
	case (b.Kind == payrun.CountAdded || b.Kind == payrun.CountCorrected) && b.Pieces == nil:
		return key + "_lot"
	case b.Kind == payrun.PieceRateGiven && b.Block != "":
		return key + "_block"
	}
	return key
}

func (v *visit) payBecauseTerms(b *payrun.Because) payroll.Terms {
	terms := payroll.Terms{"operation": b.Operation, "block": b.Block, "date": b.Date, "name": b.Name}
	if b.Pieces != nil {
		terms["count"] = v.catalogue().Count(*b.Pieces, b.Unit)
	}
	if b.Rate != nil {
		terms["rate"] = *b.Rate
	}
	return terms
}
