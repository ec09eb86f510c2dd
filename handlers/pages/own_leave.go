package pages

import (
	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
)

// ownLeavePages show people their own sick leave.
func ownLeavePages() []Page {
	return []Page{{Method: "GET", Path: "/my/sick-leave", Roles: hands, handle: showOwnLeave}}
}

// leaveAtOnce is how many entries a page shows: those of about a year.
const leaveAtOnce = 60

// ownLeave is somebody's sick leave today and how it came about, the latest entry first.
type ownLeave struct {
	*payrun.SickAccount
	Entries []leaveEntry
	Older   int64 // the number of the entry before which older ones follow; 0: there are none
}

// leaveEntry is an entry with what it changed in the whole minutes that are shown, so that what is shown adds up.
type leaveEntry struct {
	payrun.SickEntry
	Shown payroll.Minutes
}

func showOwnLeave(v *visit) (*answer, error) {
	var page ownLeave
	err := v.view(func(tx *models.Tx) error {
		today, err := payrun.Today(tx)
		if err != nil {
			return err
		}
		if page.SickAccount, err = payrun.SickAccountOf(tx, v.Books, *v.caller.Worker, today); err != nil {
			return err
		}
		page.Entries, page.Older, err = leaveEntries(tx, *v.caller.Worker, v.number("before"))
		return err
	})
	if err != nil {
		return nil, err
	}
	return show("my_leave", page), nil
}

// leaveEntries reads a part of a worker's entries, the latest first, and before which one older ones follow; 0 where there are none.
func leaveEntries(tx *models.Tx, worker uuid.UUID, before int64) (shown []leaveEntry, older int64, err error) {
	entries, err := payrun.LatestSickEntries(tx, worker, before, leaveAtOnce+1)
	if len(entries) > leaveAtOnce {
		entries = entries[:leaveAtOnce]
		older = entries[leaveAtOnce-1].EntryNo
	}
	for _, e := range entries {
		shown = append(shown, leaveEntry{e, e.ChangedTo.Minutes() - (e.ChangedTo - e.Change).Minutes()})
	}
	return shown, older, err
}
