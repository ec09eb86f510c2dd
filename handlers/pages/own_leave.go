package pages

import (
	"strconv"

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
	before, err := strconv.ParseInt(v.gin.DefaultQuery("before", "0"), 10, 64)
	if err != nil {
		before = 0
	}
	var page ownLeave
	var entries []payrun.SickEntry
	err = v.view(func(tx *models.Tx) error {
		today, err := payrun.Today(tx)
		if err != nil {
			return err
		}
		if page.SickAccount, err = payrun.SickAccountOf(tx, v.Books, *v.caller.Worker, today); err != nil {
			return err
		}
		entries, err = payrun.LatestSickEntries(tx, *v.caller.Worker, before, leaveAtOnce+1)
		return err
	})
	if err != nil {
		return nil, err
	}
	if len(entries) > leaveAtOnce {
		entries = entries[:leaveAtOnce]
		page.Older = entries[leaveAtOnce-1].EntryNo
	}
	for _, e := range entries {
		page.Entries = append(page.Entries, leaveEntry{e, e.ChangedTo.Minutes() - (e.ChangedTo - e.Change).Minutes()})
	}
	return show("my_leave", page), nil
}
