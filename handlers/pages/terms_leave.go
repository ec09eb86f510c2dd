package pages

import (
	"strconv"
	"strings"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

// leavePages are the workers' sick leave as the office sees it. The leave that was taken, with why, is the clerk's alone.
func leavePages() []Page {
	return []Page{
		{Method: "GET", Path: "/sick-leave", Roles: office, Nav: "page.nav.leave", Under: "/set-up", handle: findLeave},
		{Method: "GET", Path: "/sick-leave/{id}", Roles: office, handle: func(v *visit) (*answer, error) { return leavePage(v, nil) }},
		{Method: "POST", Path: "/sick-leave/{id}", Roles: clerks, handle: recordLeave},
		{Method: "POST", Path: "/sick-leave/{id}/balance", Roles: clerks, handle: enterLeave},
		{Method: "GET", Path: "/sick-leave/uses/{id}", Roles: clerks, handle: func(v *visit) (*answer, error) { return leaveUsePage(v, nil) }},
		{Method: "POST", Path: "/sick-leave/uses/{id}", Roles: clerks, handle: correctLeave},
	}
}

// leaveSearch leads to a worker's sick leave, and lists for the clerk what was taken last.
type leaveSearch struct {
	Asked  string
	Nobody bool
	Lately []leaveUse
	Clerk  bool
}

// leaveUse is leave taken, with whose it is and which week pays it.
type leaveUse struct {
	models.SickUse
	Name   string
	Number int64
	Week   dated.Date
}

const leaveLately = 20

func findLeave(v *visit) (*answer, error) {
	page := leaveSearch{Asked: v.gin.Query("number"), Clerk: v.caller.Role == models.RoleClerk}
	var found *models.Worker
	err := v.view(func(tx *models.Tx) (err error) {
		if number, err := strconv.ParseInt(page.Asked, 10, 64); err == nil {
			if found, err = workerByNumber(tx, number); err != nil {
				return err
			}
		}
		if page.Clerk {
			page.Lately, err = leaveUses(tx, nil, leaveLately)
		}
		return err
	})
	switch {
	case err != nil:
		return nil, err
	case found != nil:
		return seeOther("/sick-leave/"+found.ID.String(), ""), nil
	}
	page.Nobody = page.Asked != ""
	return show("leave_find", &page), nil
}

// leaveUses reads what was taken last and stands: by everybody, or by one worker.
func leaveUses(tx *models.Tx, worker *uuid.UUID, limit int) ([]leaveUse, error) {
	found, err := models.LatestSickUses(tx, worker, limit)
	if err != nil {
		return nil, err
	}
	profile, err := tx.Profile()
	if err != nil {
		return nil, err
	}
	ids := make([]uuid.UUID, len(found))
	for i := range found {
		ids[i] = found[i].Content.WorkerID
	}
	workers, err := termsWorkers(tx, ids)
	uses := make([]leaveUse, len(found))
	for i := range found {
		uses[i] = leaveUse{SickUse: found[i], Week: models.WeekOf(found[i].Content.Workday.Date, profile.Content.WeekStart)}
		if w := workers[found[i].Content.WorkerID]; w != nil {
			uses[i].Name, uses[i].Number = w.Content.Name, w.Content.Number
		}
	}
	return uses, err
}

// workerLeave is a worker's sick leave.
type workerLeave struct {
	Worker  *models.Worker
	Account *payrun.SickAccount
	Unknown string // why nobody can tell how it stands
	Uses    []leaveUse
	Entries []leaveEntry
	Gardens []Option
	Kinds   []Option
	Clerk   bool
	Older   int64
}

func leavePage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	page := workerLeave{Clerk: v.caller.Role == models.RoleClerk}
	var today dated.Date
	err = v.view(func(tx *models.Tx) (err error) {
		if today, err = payrun.Today(tx); err != nil {
			return err
		}
		return page.read(tx, v, id, today)
	})
	if err != nil {
		return nil, err
	}
	if f == nil {
		f = newForm(map[string]string{"workday": today.String(), "on_date": today.String(), "kind": string(payrun.SickAdjustment)})
		if len(page.Entries) == 0 {
			f.Set("kind", string(payrun.SickOpening))
		}
		if page.Worker.Content.UsualDayMinutes > 0 {
			f.Set("hours", decimalHours(page.Worker.Content.UsualDayMinutes).String())
		}
	}
	for _, kind := range []payrun.SickEntryKind{payrun.SickOpening, payrun.SickAdjustment} {
		page.Kinds = append(page.Kinds, Option{Value: string(kind), Label: v.say("page.leave.kind_"+string(kind), nil)})
	}
	return show("leave", &page).with(f), nil
}

func (p *workerLeave) read(tx *models.Tx, v *visit, id uuid.UUID, today dated.Date) (err error) {
	if p.Worker, err = models.Get[models.WorkerContent](tx, id); err != nil {
		return err
	}
	p.Account, err = payrun.SickAccountOf(tx, v.Books, id, today)
	if p.Unknown, err = v.explained(err); err != nil {
		return err
	}
	if p.Entries, p.Older, err = leaveEntries(tx, id, v.number("before")); err != nil || !p.Clerk {
		return err
	}
	if p.Uses, err = leaveUses(tx, &id, leaveLately); err != nil {
		return err
	}
	p.Gardens, err = leaveGardens(tx)
	return err
}

// leaveGardens are the gardens where somebody would have worked, where there are several to choose among.
func leaveGardens(tx *models.Tx) (options []Option, err error) {
	var gardens []models.Garden
	err = tx.DB().Order("number").Find(&gardens).Error
	for _, g := range gardens {
		options = append(options, Option{Value: g.ID.String(), Label: g.Content.Name})
	}
	return options, err
}

// recordLeave records sick leave that a worker took.
func recordLeave(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("workday", "hours", "garden", "leave_note")
	if err != nil {
		return nil, err
	}
	c := models.SickUseContent{WorkerID: id, Workday: models.Day(f.Day("workday")), Minutes: f.usualDay("hours", 0), GardenID: f.Ref("garden"), Note: f.Value("leave_note")}
	f.needDay("workday")
	if c.GardenID == uuid.Nil {
		f.fault("garden", "page.fault.choose", nil)
	}
	err = f.Faulty()
	if err == nil {
		err = v.in(func(tx *models.Tx) error {
			if _, err := models.Get[models.WorkerContent](tx, id); err != nil {
				return err
			}
			_, _, err := payrun.RecordSickUse(tx, v.Books, f.ID, c, models.Recording{RecordedAt: tx.Now})
			return leaveFaults(err)
		})
	}
	if err != nil {
		return v.again(f, err, leavePage)
	}
	return seeOther("/sick-leave/"+id.String(), "leave_recorded"), nil
}

// leaveFaults points what is wrong with leave taken at its form.
func leaveFaults(err error) error {
	return inForm(err, "/minutes", "/hours", "/garden_id", "/garden", "/note", "/leave_note", "/supersedes", "/hours", "/worker_id", "/workday")
}

// enterLeave brings a balance in from before, or adjusts one.
func enterLeave(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("kind", "on_date", "balance_hours", "used_hours", "reason")
	if err != nil {
		return nil, err
	}
	q := payrun.SickEntryRequest{ID: f.ID, Kind: payrun.SickEntryKind(f.Value("kind")), OnDate: models.Day(f.Day("on_date")), Minutes: f.signedHours("balance_hours"), Used: f.usualDay("used_hours", 0), Reason: f.Value("reason")}
	f.needDay("on_date")
	err = f.Faulty()
	if err == nil {
		err = v.in(func(tx *models.Tx) error {
			_, _, err := payrun.EnterSick(tx, id, q)
			return inForm(err, "/minutes", "/balance_hours", "/used_this_year_minutes", "/used_hours")
		})
	}
	if err != nil {
		return v.again(f, err, leavePage)
	}
	return seeOther("/sick-leave/"+id.String(), "leave_entered"), nil
}

// signedHours reads hours with decimals that may take away.
func (f *Form) signedHours(name string) payroll.Minutes {
	return readField(f, name, "input.not_decimal", func(s string) (payroll.Minutes, error) {
		s, negative := strings.CutPrefix(strings.Replace(s, "−", "-", 1), "-")
		hours, err := payroll.ParsePieces(strings.TrimPrefix(s, "+"))
		minutes := payroll.Minutes((int64(hours)*60 + 500) / 1000)
		if negative {
			minutes = -minutes
		}
		return minutes, err
	})
}

// oneLeaveUse is leave taken, to be corrected.
type oneLeaveUse struct {
	leaveUse
	Gardens []Option
	Head    bool
}

func leaveUsePage(v *visit, f *Form) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	var page oneLeaveUse
	err = v.view(func(tx *models.Tx) error {
		use, err := recordOf[models.SickUseContent](tx, id)
		if err != nil {
			return err
		}
		profile, err := tx.Profile()
		if err != nil {
			return err
		}
		w, err := models.Get[models.WorkerContent](tx, use.Content.WorkerID)
		if err != nil {
			return err
		}
		page.leaveUse = leaveUse{*use, w.Content.Name, w.Content.Number, models.WeekOf(use.Content.Workday.Date, profile.Content.WeekStart)}
		page.Head = use.SupersededBy == nil
		page.Gardens, err = leaveGardens(tx)
		return err
	})
	if err != nil {
		return nil, err
	}
	if f == nil {
		c := page.Content
		f = newForm(map[string]string{"workday": c.Workday.String(), "hours": decimalHours(c.Minutes).String(), "garden": c.GardenID.String(), "leave_note": c.Note})
	}
	return show("leave_use", &page).with(f), nil
}

// correctLeave puts another record in the place of one of leave taken; with no hours, the leave was not taken after all.
func correctLeave(v *visit) (*answer, error) {
	id, err := v.id()
	if err != nil {
		return nil, err
	}
	f, err := v.form("workday", "hours", "garden", "leave_note", "reason")
	if err != nil {
		return nil, err
	}
	c := models.SickUseContent{Workday: models.Day(f.Day("workday")), Minutes: f.usualDay("hours", 0), GardenID: f.Ref("garden"), Note: f.Value("leave_note")}
	f.needDay("workday")
	if f.Value("hours") == "" {
		f.fault("hours", "fault.empty", nil)
	}
	err = f.Faulty()
	if err == nil {
		err = v.in(func(tx *models.Tx) error {
			old, err := recordOf[models.SickUseContent](tx, id)
			if err != nil {
				return err
			}
			c.WorkerID = old.Content.WorkerID
			_, _, err = payrun.RecordSickUse(tx, v.Books, f.ID, c, models.Recording{RecordedAt: tx.Now, Supersedes: &id, Reason: f.Value("reason")})
			return leaveFaults(err)
		})
	}
	if err != nil {
		return v.again(f, err, leaveUsePage)
	}
	return seeOther("/sick-leave/"+c.WorkerID.String(), "leave_corrected"), nil
}
