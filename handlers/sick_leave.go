package handlers

import (
	"net/http"
	"time"

	"github.com/google/uuid"

	"palmero/models"
	"palmero/models/payrun"
	"palmero/payroll"
	"palmero/payroll/dated"
)

const (
	sickUsesPath  = "/api/v1/sick-uses"
	sickLeavePath = "/api/v1/workers/{id}/sick-leave"
)

// sickLeaveRoutes: what a worker has of sick leave and how it came about is the office's and the worker's to see; the leave that was taken, with why, is the
// clerk's alone.
func sickLeaveRoutes() []Route {
	return []Route{
		{Method: "GET", Path: sickUsesPath, Roles: clerks, Query: pageQuery(workFilters), Status: http.StatusOK, handle: listSickUses},
		{Method: "POST", Path: sickUsesPath, Roles: clerks, Status: http.StatusCreated, handle: taking(postSickUse)},
		{Method: "GET", Path: sickUsesPath + "/{id}", Roles: clerks, Status: http.StatusOK, handle: getSickUse},
		{Method: "GET", Path: sickLeavePath, Roles: office, Query: []string{"on"}, Status: http.StatusOK, handle: getSickLeave},
		{Method: "GET", Path: sickLeavePath + "/entries", Roles: office, Query: pageQuery(nil), Status: http.StatusOK, handle: listSickEntries},
		{Method: "POST", Path: sickLeavePath + "/entries", Roles: clerks, Status: http.StatusCreated, handle: taking(postSickEntry)},
		{Method: "GET", Path: "/api/v1/my/sick-leave", Roles: hands, Query: []string{"on"}, Status: http.StatusOK, handle: mySickLeave},
		{Method: "GET", Path: "/api/v1/my/sick-leave/entries", Roles: hands, Query: pageQuery(nil), Status: http.StatusOK, handle: mySickEntries},
	}
}

// takingSick is sick leave taken as it is sent in.
type takingSick struct {
	ID         uuid.UUID       `json:"id"`
	Supersedes *uuid.UUID      `json:"supersedes,omitempty"`
	Reason     string          `json:"reason,omitempty"`
	WorkerID   uuid.UUID       `json:"worker_id"`
	Workday    models.Date     `json:"workday"`
	GardenID   uuid.UUID       `json:"garden_id"`
	Minutes    payroll.Minutes `json:"minutes"`
	Note       string          `json:"note,omitempty"`
}

// sickUse is sick leave taken as the clerk reads it.
type sickUse struct {
	ID           uuid.UUID       `json:"id"`
	WorkerID     uuid.UUID       `json:"worker_id"`
	Workday      models.Date     `json:"workday"`
	GardenID     uuid.UUID       `json:"garden_id"`
	Minutes      payroll.Minutes `json:"minutes"`
	Note         string          `json:"note"`
	RecordedAt   time.Time       `json:"recorded_at"`
	RecordedBy   uuid.UUID       `json:"recorded_by"`
	Reason       string          `json:"reason"`
	SupersededBy *uuid.UUID      `json:"superseded_by"`
}

func showSickUse(u *models.SickUse) sickUse {
	c := u.Content
	return sickUse{u.ID, c.WorkerID, c.Workday, c.GardenID, c.Minutes, c.Note, u.RecordedAt, u.RecordedBy, u.Reason, u.SupersededBy}
}

func postSickUse(rq *request, in takingSick) (*reply, error) {
	var use *models.SickUse
	var repeated bool
	err := rq.in(func(tx *models.Tx) error {
		c := models.NewChecker(tx)
		c.OptionalText("/reason", &in.Reason, reasonLimit)
		faults, err := c.Done()
		if err != nil {
			return err
		}
		content := models.SickUseContent{WorkerID: in.WorkerID, Workday: in.Workday, GardenID: in.GardenID, Minutes: in.Minutes, Note: in.Note}
		how := models.Recording{RecordedAt: tx.Now, Supersedes: in.Supersedes, Reason: in.Reason}
		use, repeated, err = payrun.RecordSickUse(tx, rq.Books, in.ID, content, how)
		return withFaults(err, repeated, append(checkID("/id", in.ID), faults...))
	})
	if err != nil {
		return nil, err
	}
	return plain(showSickUse(use)).at(sickUsesPath, use.ID, repeated), nil
}

func listSickUses(rq *request) (*reply, error) {
	p, conditions, err := rq.page(workFilters...)
	if err != nil {
		return nil, err
	}
	var uses []models.SickUse
	err = rq.view(func(tx *models.Tx) (err error) {
		uses, err = models.List[models.SickUse](tx, p, conditions...)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(uses, p.Limit, func(u *models.SickUse) int64 { return u.Seq }, showSickUse)), nil
}

func getSickUse(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	var uses []models.SickUse
	err = rq.view(func(tx *models.Tx) (err error) {
		uses, err = models.List[models.SickUse](tx, models.Page{Limit: 1}, models.Equal("id", id))
		return err
	})
	if err == nil && len(uses) == 0 {
		err = errNotFound
	}
	if err != nil {
		return nil, err
	}
	return plain(showSickUse(&uses[0])), nil
}

func getSickLeave(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	return rq.sickLeave(id)
}

func mySickLeave(rq *request) (*reply, error) { return rq.sickLeave(*rq.caller.Worker) }

// sickLeave answers with how a worker's sick leave stands, today or on the day asked.
func (rq *request) sickLeave(worker uuid.UUID) (*reply, error) {
	var on dated.Date
	if _, _, err := rq.page(readsDay("on", &on)); err != nil {
		return nil, err
	}
	var account *payrun.SickAccount
	err := rq.view(func(tx *models.Tx) (err error) {
		if on.IsZero() {
			if on, err = payrun.Today(tx); err != nil {
				return err
			}
		}
		account, err = payrun.SickAccountOf(tx, rq.Books, worker, on)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(account), nil
}

func listSickEntries(rq *request) (*reply, error) {
	id, err := rq.id()
	if err != nil {
		return nil, err
	}
	return rq.sickEntries(id)
}

func mySickEntries(rq *request) (*reply, error) { return rq.sickEntries(*rq.caller.Worker) }

func (rq *request) sickEntries(worker uuid.UUID) (*reply, error) {
	p, _, err := rq.page()
	if err != nil {
		return nil, err
	}
	var entries []payrun.SickEntry
	err = rq.view(func(tx *models.Tx) (err error) {
		entries, err = payrun.SickEntries(tx, worker, p)
		return err
	})
	if err != nil {
		return nil, err
	}
	return plain(paged(entries, p.Limit, func(e *payrun.SickEntry) int64 { return e.Seq }, func(e *payrun.SickEntry) *payrun.SickEntry { return e })), nil
}

func postSickEntry(rq *request, in payrun.SickEntryRequest) (*reply, error) {
	worker, err := rq.id()
	if err != nil {
		return nil, err
	}
	var entry *payrun.SickEntry
	var repeated bool
	err = rq.in(func(tx *models.Tx) (err error) {
		entry, repeated, err = payrun.EnterSick(tx, worker, in)
		return withFaults(err, repeated, checkID("/id", in.ID))
	})
	if err != nil {
		return nil, err
	}
	return &reply{body: entry, repeated: repeated}, nil
}
